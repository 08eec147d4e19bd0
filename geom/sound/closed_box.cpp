#include "geom/sound/closed_box.h"

#include "geom/core/checks.h"
#include "geom/sound/output.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kPi = std::numbers::pi;

bool has_peak(double q) {
    return 2.0 * q * q > 1.0;
}

}  // namespace

double frequency_of_drop(double q, double drop_db) {
    EXPECTS(q > 0.0 && drop_db > 0.0);
    // y = (f/fc)^2: y^2 (1/L - 1) + y (2 - 1/q^2) - 1 = 0.
    const double a = std::pow(10.0, drop_db / 10.0) - 1.0, b = 1.0 / (q * q) - 2.0;
    return std::sqrt((b + std::sqrt(b * b + 4.0 * a)) / (2.0 * a));
}

double largest_excursion(double q) {
    EXPECTS(q > 0.0);
    return has_peak(q) ? q * q / std::sqrt(q * q - 0.25) : 1.0;
}

std::optional<Peak> response_peak(double q) {
    EXPECTS(q > 0.0);
    if (!has_peak(q)) return std::nullopt;
    return Peak{20.0 * std::log10(largest_excursion(q)), 1.0 / std::sqrt(1.0 - 0.5 / (q * q))};
}

std::optional<Peak> excursion_peak(double q) {
    EXPECTS(q > 0.0);
    if (!has_peak(q)) return std::nullopt;
    return Peak{20.0 * std::log10(largest_excursion(q)), std::sqrt(1.0 - 0.5 / (q * q))};
}

std::vector<double> frequencies_of_excursion(double q, double limit) {
    EXPECTS(q > 0.0 && limit > 0.0);
    // y^2 + y (1/q^2 - 2) + 1 - 1/limit^2 = 0; the smaller root by the product, which loses no digits.
    const double b = 0.5 / (q * q) - 1.0, c = 1.0 - 1.0 / (limit * limit);
    const double under_root = b * b - c;
    if (under_root < 0.0) return {};
    const double far = b > 0.0 ? -b - std::sqrt(under_root) : -b + std::sqrt(under_root);
    std::vector<double> y{far, far != 0.0 ? c / far : 0.0};
    std::sort(y.begin(), y.end());
    std::vector<double> at;
    for (const double each : y)
        if (each > 0.0) at.push_back(std::sqrt(each));
    return at;
}

double efficiency_constant(double q, const Air& air) {
    const double f3 = frequency_of_drop(q, 10.0 * std::log10(2.0));
    return 4.0 * kPi * kPi / std::pow(air.speed_m_s, 3) / (std::pow(f3, 3) * q);
}

double displacement_constant(double q, const Air& air) {
    const double f3 = frequency_of_drop(q, 10.0 * std::log10(2.0)), x = largest_excursion(q);
    return 4.0 * std::pow(kPi, 3) * air.density_kg_m3 / air.speed_m_s / (std::pow(f3, 4) * x * x);
}

Result<ClosedFigures> closed_figures(const SmallSignal& driver, const Box& box, const Air& air) {
    EXPECTS(!box.has_port());
    GAPWRIGHT_TRY(v, circuit_values(driver, box));
    const double root = std::sqrt(1.0 + v.alpha);
    ClosedFigures f;
    f.alpha = v.alpha;
    f.fc_hz = v.fs_hz * root;
    const double lost = v.alpha / (1.0 + v.alpha) * (1.0 / v.losses.absorption + 1.0 / v.losses.leakage);
    f.qtc = 1.0 / ((1.0 / v.qes + 1.0 / v.qms) / root + lost);
    f.f3_hz = f.fc_hz * frequency_of_drop(f.qtc, 10.0 * std::log10(2.0));
    f.f10_hz = f.fc_hz * frequency_of_drop(f.qtc, 10.0);
    f.peak = response_peak(f.qtc);
    f.excursion_peak = excursion_peak(f.qtc);
    if (f.peak) f.peak->at *= f.fc_hz;
    if (f.excursion_peak) f.excursion_peak->at *= f.fc_hz;
    if (driver.vd) {
        const double x = largest_excursion(f.qtc);
        f.rated_output_w = power_of_displacement_w(driver.vd->value, f.fc_hz, air) / (x * x);
        if (driver.qes) {
            const double one_watt = displacement_at_rest(driver, 1.0, air) / (1.0 + v.alpha) * x / driver.vd->value;
            f.within_xmax_w = 1.0 / (one_watt * one_watt);
        }
    }
    return f;
}

Result<Volume> closed_volume_for(const SmallSignal& driver, double qtc) {
    EXPECTS(qtc > 0.0);
    Box box;
    box.net = Volume::litres(1);  // any: only qts is asked of it
    GAPWRIGHT_TRY(v, circuit_values(driver, box));
    const double qts = 1.0 / (1.0 / v.qes + 1.0 / v.qms);
    if (qtc <= qts)
        return Fault{
            FaultCode::Impossible,
            fmt::format("closed box: Qtc {:.3g} asked, and the driver's qts is {:.3g} already; wanted Qtc above "
                        "qts",
                        qtc, qts),
            "any box raises Q: ask for a higher Qtc, or take a driver of lower qts",
            {},
            ""};
    return driver.vas->value / (qtc * qtc / (qts * qts) - 1.0);
}

}  // namespace geom::sound
