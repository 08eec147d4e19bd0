#include "geom/sound/port.h"

#include "geom/core/checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kPi = std::numbers::pi;

/// Integral of r^2/rho(x)^2 over a flare of radius R from a tube of radius r, rho = r + R - sqrt(R^2 - x^2).
double flare_length(double r, double big_r) {
    if (big_r <= 0.0) return 0.0;
    // With x = R sin t the integrand is smooth; Simpson's rule, to all digits a length needs.
    constexpr int kParts = 64;
    double sum = 0.0;
    for (int i = 0; i <= kParts; ++i) {
        const double t = 0.5 * kPi * i / kParts;
        const double rho = r + big_r * (1.0 - std::cos(t));
        sum += (i == 0 || i == kParts ? 1.0 : i % 2 == 1 ? 4.0 : 2.0) * r * r / (rho * rho) * big_r * std::cos(t);
    }
    return sum * 0.5 * kPi / kParts / 3.0;
}

}  // namespace

PortSection PortSection::round(Length diameter) {
    EXPECTS(diameter.mm() > 0.0);
    PortSection s;
    s.width_ = s.height_ = diameter;
    return s;
}

PortSection PortSection::slot(Length width, Length height, Length corner_radius) {
    EXPECTS(width.mm() > 0.0 && height.mm() > 0.0);
    EXPECTS(corner_radius.mm() >= 0.0 && corner_radius * 2.0 <= std::min(width, height));
    PortSection s;
    s.is_round_ = false;
    s.width_ = width, s.height_ = height, s.corner_ = corner_radius;
    return s;
}

Area PortSection::area() const {
    return is_round_ ? width_ * width_ * (kPi / 4.0) : width_ * height_ - corner_ * corner_ * (4.0 - kPi);
}

double slot_end_factor(Length width, Length height) {
    EXPECTS(width.mm() > 0.0 && height.mm() > 0.0);
    const double a = std::max(width.mm(), height.mm()) / std::min(width.mm(), height.mm());  // b = 1
    const double c = std::sqrt(a * a + 1.0);
    // c^3 - a^3 - 1 written without the difference of large numbers.
    const double pairs =
        2.0 * (a * a * std::asinh(1.0 / a) + a * std::asinh(a)) - 2.0 / 3.0 * (a * a / (a + c) + c - 1.0);
    // Piston's correction over that of the circle, 8 r / (3 pi).
    return pairs / (2.0 * kPi * a) / (8.0 / (3.0 * kPi) * std::sqrt(a / kPi));
}

Length end_correction(const PortSection& section, const PortMouth& mouth, const EndRules& rules) {
    EXPECTS(mouth.rounding.mm() >= 0.0 && mouth.walls >= 0 && mouth.walls <= 2);
    const double k = mouth.is_flush ? rules.flush_end : rules.free_end;
    const double r = std::sqrt(section.area().mm2() / kPi), big_r = mouth.rounding.mm();
    const double mouths = std::exp2(mouth.walls);
    double shape = 1.0;
    if (!section.is_round() && rules.slot_by_shape) {
        const double height = section.height().mm() * (mouth.walls >= 1 ? 2.0 : 1.0);
        const double width = section.width().mm() * (mouth.walls >= 2 ? 2.0 : 1.0);
        shape = slot_end_factor(Length::mm(width + 2.0 * big_r), Length::mm(height + 2.0 * big_r));
    }
    const double wide = r + big_r;
    return Length::mm(flare_length(r, big_r) - big_r + k * shape * std::sqrt(mouths) * r * r / wide);
}

Length effective_length(const Port& port, Length length, const EndRules& rules) {
    return length + end_correction(port.section, port.inner, rules) + end_correction(port.section, port.outer, rules);
}

double tuning_hz(const Port& port, Length length, Volume box, const Air& air, const EndRules& rules) {
    EXPECTS(length.mm() >= 0.0 && box.mm3() > 0.0 && port.count >= 1);
    const double stiff_over_mass =
        square_metres(port.area()) / (cubic_metres(box) * metres(effective_length(port, length, rules)));
    return air.speed_m_s / (2.0 * kPi) * std::sqrt(stiff_over_mass);
}

Result<Length> port_length(const Port& port, double fb_hz, Volume box, const Air& air, const EndRules& rules) {
    EXPECTS(fb_hz > 0.0 && box.mm3() > 0.0 && port.count >= 1);
    const double k = 2.0 * kPi * fb_hz / air.speed_m_s;
    const Length effective = Length::m(square_metres(port.area()) / (cubic_metres(box) * k * k));
    const Length ends = effective_length(port, Length{}, rules);
    const Length length = effective - ends;
    const Length flares = port.inner.rounding + port.outer.rounding;
    if (length <= flares)
        return Fault{
            FaultCode::Impossible,
            fmt::format(
                "port: {:.1f} cm2 tuned to {:.1f} Hz by {:.2f} L asks for {:.1f} mm of moving air, and its ends "
                "alone have {:.1f} mm; wanted a length above {:.1f} mm",
                port.area().cm2(), fb_hz, box.litres(), effective.mm(), ends.mm(), flares.mm()),
            "take a larger area, or tune it lower",
            {},
            ""};
    return length;
}

double pipe_resonance_hz(const Port& port, Length length, const Air& air, const EndRules& rules) {
    EXPECTS(length.mm() >= 0.0);
    return air.speed_m_s / (2.0 * metres(effective_length(port, length, rules)));
}

PortAir judged(double m_s, const PortSpeedLimits& limits) {
    EXPECTS(limits.warn_m_s <= limits.fail_m_s);
    return m_s > limits.fail_m_s ? PortAir::Choked : m_s > limits.warn_m_s ? PortAir::Heard : PortAir::Calm;
}

}  // namespace geom::sound
