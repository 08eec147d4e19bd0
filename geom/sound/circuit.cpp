#include "geom/sound/circuit.h"

#include "geom/core/checks.h"

#include <cmath>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

Polynomial operator*(const Polynomial& a, const Polynomial& b) {
    Polynomial out{};
    for (std::size_t i = 0; i < a.size(); ++i)
        for (std::size_t j = 0; i + j < out.size(); ++j) out[i + j] += a[i] * b[j];
    return out;
}

Polynomial operator+(Polynomial a, const Polynomial& b) {
    for (std::size_t i = 0; i < a.size(); ++i) a[i] += b[i];
    return a;
}

/// At p = ju: even powers make the real part, odd ones the imaginary one.
std::complex<double> value(const Polynomial& c, double u, double u2) {
    return {c[0] - u2 * (c[2] - u2 * c[4]), u * (c[1] - u2 * (c[3] - u2 * c[5]))};
}

/// Of the derivative with respect to p.
std::complex<double> slope(const Polynomial& c, double u, double u2) {
    return {c[1] - u2 * (3.0 * c[3] - u2 * 5.0 * c[5]), u * (2.0 * c[2] - u2 * 4.0 * c[4])};
}

}  // namespace

Circuit::Circuit(const CircuitValues& v) : fs_hz_(v.fs_hz) {
    EXPECTS(v.fs_hz > 0.0 && v.qes > 0.0 && v.qms > 0.0);
    EXPECTS(v.coil >= 0.0 && v.alpha >= 0.0 && v.h >= 0.0 && v.h_losses >= 0.0);
    EXPECTS(v.losses.leakage > 0.0 && v.losses.absorption > 0.0 && v.losses.port > 0.0);
    const double leak = v.h_losses / v.losses.leakage;
    const double absorbed = std::isinf(v.losses.absorption) ? 0.0 : 1.0 / (v.losses.absorption * v.h_losses);
    const Polynomial one{1.0}, p{0.0, 1.0};
    const Polynomial e{1.0, v.coil}, a{1.0, absorbed};
    const Polynomial driver{1.0, 1.0 / v.qms, 1.0}, motor{0.0, 1.0 / v.qes};

    // The box as a ratio stiff/loose. A port that is closed and a leak that is not there take a factor p or r with
    // them, which would make 0/0 at 0 Hz.
    Polynomial stiff{}, loose{}, through{};  // `through`: what of the cone's flow presses the air, over `loose`
    port_ = {};
    if (v.h > 0.0) {
        const Polynomial r{v.h / v.losses.port, 1.0}, h2{v.h * v.h};
        through = p * r;
        port_ = h2 * a;
        loose = through + Polynomial{leak} * a * r + port_;
    } else if (leak > 0.0) {
        through = p;
        loose = p + Polynomial{leak} * a;
    } else {
        through = one;
        loose = one;
    }
    stiff = Polynomial{v.alpha} * a * through;

    standing_ = driver * loose + stiff;
    motion_ = motor * loose;
    total_ = (driver * e + motor) * loose + stiff * e;
    cone_ = loose;
    air_ = p * p * through;
    coil_ = e;
}

Circuit::State Circuit::at(double f_hz) const {
    EXPECTS(f_hz > 0.0);
    const double u = f_hz / fs_hz_, u2 = u * u;
    const std::complex<double> total = value(total_, u, u2), air = value(air_, u, u2);
    // One division serves three ratios.
    const std::complex<double> over = std::conj(total) / std::norm(total);
    State s;
    s.response = air * over;
    s.excursion = value(cone_, u, u2) * over;
    s.port = value(port_, u, u2) * over;
    const std::complex<double> standing = value(standing_, u, u2);
    s.impedance = value(coil_, u, u2) + value(motion_, u, u2) * std::conj(standing) / std::norm(standing);
    // Real part of d(ln response)/dp: of each polynomial its slope over its value.
    const std::complex<double> air_slope = slope(air_, u, u2) * std::conj(air) / std::norm(air);
    s.group_delay_s = ((slope(total_, u, u2) * over).real() - air_slope.real()) / (kTwoPi * fs_hz_);
    return s;
}

double Circuit::response2(double f_hz) const {
    const double u = f_hz / fs_hz_, u2 = u * u;
    return std::norm(value(air_, u, u2)) / std::norm(value(total_, u, u2));
}

double Circuit::excursion2(double f_hz) const {
    const double u = f_hz / fs_hz_, u2 = u * u;
    return std::norm(value(cone_, u, u2)) / std::norm(value(total_, u, u2));
}

double Circuit::port2(double f_hz) const {
    const double u = f_hz / fs_hz_, u2 = u * u;
    return std::norm(value(port_, u, u2)) / std::norm(value(total_, u, u2));
}

}  // namespace geom::sound
