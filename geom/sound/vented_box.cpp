#include "geom/sound/vented_box.h"

#include "geom/core/checks.h"
#include "geom/sound/internal/search.h"
#include "geom/sound/output.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr double kLeastPeak_db = 1e-4;

/// The same circuit's f3 and f10 and peak, in Hz.
struct Shape {
    double f3 = 0.0, f10 = 0.0;
    std::optional<Peak> peak;
};

Shape shape_of(const CircuitValues& values) {
    const Circuit circuit(values);
    const auto curve = [&](double f) { return circuit.response2(f); };
    const double top = 200.0 * values.fs_hz * std::max(1.0, values.h), bottom = 1e-4 * values.fs_hz;
    Shape s;
    s.f3 = internal::falls_under(curve, 0.5, top, bottom).value_or(0.0);
    s.f10 = internal::falls_under(curve, 0.1, top, bottom).value_or(0.0);
    const internal::Highest best = internal::highest(curve, bottom, top);
    if (const double db = 10.0 * std::log10(best.value); db > kLeastPeak_db) s.peak = Peak{db, best.at};
    return s;
}

using Coefficients = std::array<double, 3>;

/// qts, h and alpha that give a1, a2, a3 with this leak. From a1 and a3, x = sqrt h:
/// a1 x^3 - x^4/QL - a3 x + 1/QL = 0, with the root that is sqrt(a3/a1) without a leak.
AlignmentRow row_of(Alignment alignment, const Coefficients& a, double leakage) {
    const double leak = 1.0 / leakage;
    double x = std::sqrt(a[2] / a[0]);
    for (int i = 0; i < 50; ++i) {
        const double value = ((a[0] - leak * x) * x * x - a[2]) * x + leak;
        const double slope = (3.0 * a[0] - 4.0 * leak * x) * x * x - a[2];
        const double step = value / slope;
        x -= step;
        if (std::abs(step) < 1e-15 * x) break;
    }
    AlignmentRow row;
    row.alignment = alignment;
    row.h = x * x;
    row.qts = 1.0 / ((a[0] - leak * x) * x);
    row.alpha = (a[1] - leak / row.qts) * row.h - 1.0 - row.h * row.h;
    return row;
}

AlignmentRow with_f3(AlignmentRow row, double leakage) {
    CircuitValues v;
    v.fs_hz = 1.0, v.qes = row.qts, v.qms = kInfinite;
    v.alpha = row.alpha, v.h = v.h_losses = row.h;
    v.losses.leakage = leakage;
    row.f3 = shape_of(v).f3;
    return row;
}

/// Of |G|^2 = w^8/(w^8 + (a1^2 - 2 a2) w^6 + (a2^2 + 2 - 2 a1 a3) w^4 + ...) both brackets are nothing.
Coefficients quasi_butterworth(double a1) {
    const double a2 = 0.5 * a1 * a1;
    return {a1, a2, (a2 * a2 + 2.0) / (2.0 * a1)};
}

/// Butterworth's poles with their real parts times k, as a low-pass turned over: Chebyshev's of ripple
/// 1/sinh(4 artanh k) for k < 1.
Coefficients chebyshev(double k) {
    const double s1 = std::sin(std::numbers::pi / 8.0), s2 = std::cos(std::numbers::pi / 8.0);
    const double b1 = 2.0 * k * s1, b2 = 2.0 * k * s2;
    const double c1 = k * k * s1 * s1 + s2 * s2, c2 = k * k * s2 * s2 + s1 * s1;
    const double root = std::sqrt(c1 * c2), fourth = std::sqrt(root);
    return {(b1 * c2 + b2 * c1) / (root * fourth), (c1 + c2 + b1 * b2) / root, (b1 + b2) / fourth};
}

constexpr double kLeastK = 0.22;  // a ripple of 3 dB
constexpr double kMostA1 = 12.0;  // qts of about 0.02

}  // namespace

std::string_view name_of(Alignment alignment) {
    switch (alignment) {
        case Alignment::QuasiButterworth:
            return "quasi-Butterworth";
        case Alignment::Butterworth:
            return "Butterworth";
        case Alignment::Chebyshev:
            return "Chebyshev";
        case Alignment::Bessel:
            return "Bessel";
    }
    return "";
}

Coefficients vented_coefficients(double qts, double h, double alpha, double leakage) {
    EXPECTS(qts > 0.0 && h > 0.0 && alpha >= 0.0 && leakage > 0.0);
    const double leak = 1.0 / leakage, root = std::sqrt(h);
    return {(1.0 / qts + h * leak) / root, leak / qts + (alpha + 1.0 + h * h) / h, (h / qts + leak) / root};
}

AlignmentRow butterworth(double leakage) {
    EXPECTS(leakage > 1.0);
    return with_f3(row_of(Alignment::Butterworth, chebyshev(1.0), leakage), leakage);
}

AlignmentRow bessel(double leakage) {
    EXPECTS(leakage > 1.0);
    // s^4 + 10 s^3 + 45 s^2 + 105 s + 105, its last coefficient brought to 1, turned over.
    const double root = std::sqrt(105.0), fourth = std::sqrt(root);
    return with_f3(row_of(Alignment::Bessel, {105.0 / (root * fourth), 45.0 / root, 10.0 / fourth}, leakage), leakage);
}

Result<AlignmentRow> flattest(double qts, double leakage) {
    EXPECTS(qts > 0.0 && leakage > 1.0);
    const AlignmentRow middle = butterworth(leakage);
    const bool is_quasi = qts < middle.qts;
    const auto row_at = [&](double t) {
        return is_quasi ? row_of(Alignment::QuasiButterworth, quasi_butterworth(t), leakage)
                        : row_of(Alignment::Chebyshev, chebyshev(t), leakage);
    };
    // Along both families qts falls as the parameter grows.
    const double butterworth_a1 = std::sqrt(4.0 + 2.0 * std::numbers::sqrt2);
    double lo = is_quasi ? butterworth_a1 : kLeastK, hi = is_quasi ? kMostA1 : 1.0;
    const double least = row_of(Alignment::QuasiButterworth, quasi_butterworth(kMostA1), leakage).qts;
    const double most = row_of(Alignment::Chebyshev, chebyshev(kLeastK), leakage).qts;
    if (qts < least || qts > most)
        return Fault{FaultCode::Impossible,
                     fmt::format("box with a port: the driver's qts is {:.3g}; wanted {:.2g} to {:.2g} for a flat "
                                 "response with a leak of QL {:.3g}",
                                 qts, least, most, leakage),
                     "take a closed box, or say volume and tuning yourself",
                     {},
                     ""};
    for (int i = 0; i < 100 && hi - lo > 1e-15 * hi; ++i) {
        const double mid = 0.5 * (lo + hi);
        (row_at(mid).qts > qts ? lo : hi) = mid;
    }
    const AlignmentRow row = row_at(0.5 * (lo + hi));
    if (row.alpha <= 0.0)
        return Fault{FaultCode::Impossible,
                     fmt::format("box with a port: qts {:.3g} asks for a box without end; wanted a lower one", qts),
                     "take a closed box, or say volume and tuning yourself",
                     {},
                     ""};
    return with_f3(row, leakage);
}

Result<VentedFigures> vented_figures(const SmallSignal& driver, const Box& box) {
    EXPECTS(box.has_port());
    GAPWRIGHT_TRY(v, circuit_values(driver, box));
    v.coil = 0.0;
    const Shape shape = shape_of(v);
    return VentedFigures{v.alpha, v.h, shape.f3, shape.f10, shape.peak};
}

PortSpeed fastest_port_air(const SmallSignal& driver, const Box& box, double watts, double from_hz, double to_hz,
                           const Air& air) {
    EXPECTS(box.has_port() && box.port_area.mm2() > 0.0 && 0.0 < from_hz && from_hz < to_hz);
    const auto v = circuit_values(driver, box);
    EXPECTS(v.has_value());
    const Circuit circuit(*v);
    const double swept = cubic_metres(displacement_at_rest(driver, watts, air)) / square_metres(box.port_area);
    const internal::Highest best =
        internal::highest([&](double f) { return f * std::sqrt(circuit.port2(f)); }, from_hz, to_hz);
    return {best.value * 2.0 * std::numbers::pi * swept, best.at};
}

}  // namespace geom::sound
