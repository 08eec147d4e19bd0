#include "geom/sound/response.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/sound/output.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kDegrees = 180.0 / std::numbers::pi;
constexpr double kInfinite = std::numeric_limits<double>::infinity();

/// The factors that make curves of the circuit's ratios; none: the driver lacks what it needs.
struct Factors {
    std::optional<double> spl_db, spl_sheet_db;  ///< of the passband
    std::optional<double> spl_1w_db;
    std::optional<double> excursion_mm;  ///< at 0 Hz without a box
    std::optional<double> port_m_s;      ///< for 1 Hz
    std::optional<double> most;          ///< excursion ratio that is xmax
    std::optional<double> power_w, re_ohm;
};

Factors factors_of(const SmallSignal& driver, const std::optional<Box>& box, const ResponseOptions& options) {
    Factors f;
    if (driver.power_w) f.power_w = driver.power_w->value;
    if (driver.re_ohm && driver.qes) f.re_ohm = driver.re_ohm->value;
    if (driver.efficiency) {
        f.spl_1w_db = level_of_efficiency_db(driver.efficiency->value, options.air);
        f.spl_db = *f.spl_1w_db + 10.0 * std::log10(options.watts);
        if (driver.re_ohm)
            f.spl_sheet_db = *f.spl_1w_db + 10.0 * std::log10(kSheetVolts * kSheetVolts / driver.re_ohm->value);
        const Volume moved = displacement_at_rest(driver, options.watts, options.air);
        if (driver.sd) f.excursion_mm = moved.mm3() / driver.sd->value.mm2();
        if (driver.vd) f.most = driver.vd->value / moved;
        if (box && box->has_port() && box->port_area.mm2() > 0.0)
            f.port_m_s = 2.0 * std::numbers::pi * cubic_metres(moved) / square_metres(box->port_area);
    }
    return f;
}

std::vector<std::string> left_out(const SmallSignal& driver, const std::optional<Box>& box, const Factors& f) {
    std::vector<std::string> out;
    const auto say = [&](bool is_there, const char* what, std::initializer_list<std::pair<const char*, bool>> wanted) {
        if (is_there) return;
        std::vector<std::string> missing;
        for (const auto& [name, has] : wanted)
            if (!has) missing.emplace_back(name);
        out.push_back(fmt::format("{}: wants {}", what, listed(missing)));
    };
    const std::pair<const char*, bool> vas{"vas", driver.vas.has_value()}, qes{"qes or qms", driver.qes.has_value()},
        sd{"sd", driver.sd.has_value()}, xmax{"xmax", driver.xmax.has_value()}, re{"re", driver.re_ohm.has_value()};
    say(f.spl_db.has_value(), "level in dB", {vas, qes});
    say(f.spl_sheet_db.has_value(), "level at 2.83 V", {vas, qes, re});
    say(f.excursion_mm.has_value(), "excursion", {vas, qes, sd});
    if (!f.most && !f.power_w)
        out.emplace_back("most output: wants power, or xmax with sd");
    else
        say(f.most.has_value(), "most output within the excursion", {vas, qes, sd, xmax});
    say(f.re_ohm.has_value(), "impedance", {qes, re});
    if (box && box->has_port())
        say(f.port_m_s.has_value(), "air speed in the port",
            {vas, qes, {"the port's area", box->port_area.mm2() > 0.0}});
    return out;
}

}  // namespace

Result<Response> response(const SmallSignal& driver, const std::optional<Box>& box, std::vector<double> f_hz,
                          const ResponseOptions& options) {
    EXPECTS(options.watts > 0.0);
    GAPWRIGHT_TRY(values, box ? circuit_values(driver, *box) : circuit_values_in_baffle(driver));
    const Circuit circuit(values);
    const Factors k = factors_of(driver, box, options);
    Response r;
    r.left_out = left_out(driver, box, k);
    r.f_hz = std::move(f_hz);
    const std::size_t n = r.f_hz.size();
    const auto room = [n](std::vector<double>& list, bool is_there) { list.resize(is_there ? n : 0); };
    const bool has_most = k.spl_1w_db && (k.most || k.power_w);
    room(r.response_db, true), room(r.phase_deg, true), room(r.group_delay_s, true);
    room(r.spl_db, k.spl_db.has_value()), room(r.spl_sheet_db, k.spl_sheet_db.has_value());
    room(r.excursion_mm, k.excursion_mm.has_value()), room(r.port_m_s, k.port_m_s.has_value());
    room(r.spl_most_db, has_most), room(r.watts_most, has_most);
    room(r.impedance_ohm, k.re_ohm.has_value()), room(r.impedance_phase_deg, k.re_ohm.has_value());
    for (std::size_t i = 0; i < n; ++i) {
        const Circuit::State s = circuit.at(r.f_hz[i]);
        const double db = 10.0 * std::log10(std::norm(s.response));
        const double excursion2 = std::norm(s.excursion);
        r.response_db[i] = db;
        r.phase_deg[i] = std::arg(s.response) * kDegrees;
        r.group_delay_s[i] = s.group_delay_s;
        if (k.spl_db) r.spl_db[i] = *k.spl_db + db;
        if (k.spl_sheet_db) r.spl_sheet_db[i] = *k.spl_sheet_db + db;
        if (k.excursion_mm) r.excursion_mm[i] = *k.excursion_mm * std::sqrt(excursion2);
        if (k.port_m_s) r.port_m_s[i] = *k.port_m_s * r.f_hz[i] * std::sqrt(std::norm(s.port));
        if (has_most) {
            const double by_excursion = k.most ? options.watts * *k.most * *k.most / excursion2 : kInfinite;
            r.watts_most[i] = std::min(by_excursion, k.power_w.value_or(kInfinite));
            r.spl_most_db[i] = *k.spl_1w_db + 10.0 * std::log10(r.watts_most[i]) + db;
        }
        if (k.re_ohm) {
            r.impedance_ohm[i] = *k.re_ohm * std::sqrt(std::norm(s.impedance));
            r.impedance_phase_deg[i] = std::arg(s.impedance) * kDegrees;
        }
    }
    return r;
}

std::vector<double> frequencies(double lo_hz, double hi_hz, std::size_t count) {
    EXPECTS(0.0 < lo_hz && lo_hz < hi_hz && count >= 2);
    std::vector<double> f(count);
    for (std::size_t i = 0; i < count; ++i)
        f[i] = lo_hz * std::pow(hi_hz / lo_hz, static_cast<double>(i) / static_cast<double>(count - 1));
    f.back() = hi_hz;
    return f;
}

std::vector<Band> bands_above(const std::vector<double>& f_hz, const std::vector<double>& values, double limit) {
    EXPECTS(f_hz.size() == values.size());
    std::vector<Band> bands;
    bool is_inside = false;
    for (std::size_t i = 0; i < f_hz.size(); ++i) {
        const bool is_above = values[i] > limit;
        if (is_above != is_inside) {
            double at = f_hz[i];
            if (i > 0)
                at = f_hz[i - 1] + (f_hz[i] - f_hz[i - 1]) * (limit - values[i - 1]) / (values[i] - values[i - 1]);
            if (is_above)
                bands.push_back({at, f_hz.back()});
            else
                bands.back().to_hz = at;
            is_inside = is_above;
        }
    }
    return bands;
}

}  // namespace geom::sound
