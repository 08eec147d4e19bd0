#include "geom/sound/box.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace geom::sound {

namespace {

std::string title(const SmallSignal& driver) {
    return driver.name.empty() ? std::string("driver") : fmt::format("driver \"{}\"", driver.name);
}

}  // namespace

BoxLosses default_losses(bool has_port) {
    BoxLosses losses;
    if (has_port) losses.leakage = 7.0;
    return losses;
}

Result<CircuitValues> circuit_values_in_baffle(const SmallSignal& driver) {
    std::vector<std::string> missing;
    if (!driver.fs_hz) missing.emplace_back("fs");
    if (!driver.qts) missing.emplace_back("qts");
    if (!missing.empty())
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: {} not given, and no other value gives {}; wanted fs and qts", title(driver),
                                 listed(missing), missing.size() > 1 ? "them" : "it"),
                     "take them from its data sheet; qts also follows from qes and qms, fs from mms and cms",
                     {},
                     ""};
    CircuitValues v;
    v.fs_hz = driver.fs_hz->value;
    if (driver.qes && driver.qms) {
        v.qes = driver.qes->value, v.qms = driver.qms->value;
        // A sheet may give all three, not quite in agreement. The total is what the response hangs on, and the
        // electrical part what the sensitivity does: the mechanical part takes the difference.
        const double rest = 1.0 / driver.qts->value - 1.0 / v.qes;
        if (driver.qts->is_given && rest > 0.0) v.qms = 1.0 / rest;
    } else {
        v.qes = driver.qts->value, v.qms = std::numeric_limits<double>::infinity();
    }
    if (driver.le_h && driver.re_ohm && driver.qes)
        v.coil = 2.0 * std::numbers::pi * v.fs_hz * driver.le_h->value / driver.re_ohm->value;
    return v;
}

Result<CircuitValues> circuit_values(const SmallSignal& driver, const Box& box) {
    EXPECTS(box.net.mm3() > 0.0 && box.fb_hz >= 0.0);
    EXPECTS(box.lining_gain >= kLeastGain && box.lining_gain <= kMostGain);
    GAPWRIGHT_TRY(v, circuit_values_in_baffle(driver));
    if (!driver.vas)
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: vas is not given, and no other value gives it; wanted vas", title(driver)),
                     "take it from the data sheet; it also follows from sd with cms, or from sd with fs and mms",
                     {},
                     ""};
    v.alpha = driver.vas->value / box.apparent();
    v.h = box.fb_hz / v.fs_hz;
    v.h_losses = box.has_port() ? v.h : std::sqrt(1.0 + v.alpha);
    v.losses = box.losses_used();
    return v;
}

}  // namespace geom::sound
