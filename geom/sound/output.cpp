#include "geom/sound/output.h"

#include "geom/core/checks.h"

#include <cmath>
#include <numbers>

namespace geom::sound {

namespace {
constexpr double kTwoPi = 2.0 * std::numbers::pi;
}

double level_of_displacement_db(Volume peak, double f_hz, const Air& air) {
    EXPECTS(peak.mm3() > 0.0 && f_hz > 0.0);
    const double w = kTwoPi * f_hz;
    const double pressure = air.density_kg_m3 * w * w * cubic_metres(peak) / (kTwoPi * std::numbers::sqrt2);
    return 20.0 * std::log10(pressure / kReferencePressure_Pa);
}

double power_of_displacement_w(Volume peak, double f_hz, const Air& air) {
    EXPECTS(peak.mm3() >= 0.0 && f_hz > 0.0);
    const double f2v = f_hz * f_hz * cubic_metres(peak);
    return 4.0 * std::pow(std::numbers::pi, 3) * air.density_kg_m3 / air.speed_m_s * f2v * f2v;
}

Volume displacement_at_rest(const SmallSignal& driver, double watts, const Air& air) {
    EXPECTS(driver.fs_hz && driver.qes && driver.vas && watts >= 0.0);
    // (Sd Bl Cms)^2 / Re with Cms and Bl written in Vas and Qes.
    const double square =
        cubic_metres(driver.vas->value) / (air.stiffness_Pa() * kTwoPi * driver.fs_hz->value * driver.qes->value);
    return Volume::mm3(1e9 * std::sqrt(2.0 * watts * square));
}

}  // namespace geom::sound
