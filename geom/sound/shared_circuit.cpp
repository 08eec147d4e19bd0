#include "geom/sound/shared_circuit.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
using Complex = std::complex<double>;

bool is_sound(const Cone& c) {
    return c.mass_kg > 0.0 && c.stiffness_n_m > 0.0 && c.resistance_kg_s >= 0.0 && c.bl_tm > 0.0 && c.re_ohm > 0.0 &&
           c.le_h >= 0.0 && c.sd_m2 > 0.0;
}

}  // namespace

/// Unknowns, or what stands on the right: a value for each cone, each string, and the box.
struct SharedCircuit::Vector {
    std::vector<Complex> cone, string;
    Complex box;
};

/// What is worked out once a frequency. Slopes are d/ds of what stands on the diagonal, as all else is constant.
struct SharedCircuit::Matrix {
    std::vector<Complex> cone, cone_slope;  ///< mechanical impedance of each
    std::vector<Complex> string;            ///< with what its cones add to it
    std::vector<Complex> pushed;            ///< of each string, sum of Bl Sd over its cones' impedances
    Complex pressed, pressed_slope;         ///< admittance of the box's air alone
    Complex port, all_slope;                ///< of the port alone; slope of all three ways
    Complex box;                            ///< of all three ways, with what the cones and strings add
};

SharedCircuit::SharedCircuit(std::vector<Cone> cones, const Wiring& wiring, const SharedAir& air)
    : cones_(std::move(cones)), in_series_(static_cast<std::size_t>(wiring.in_series)), air_(air) {
    EXPECTS(wiring.in_series >= 1 && wiring.in_parallel >= 1);
    EXPECTS(cones_.size() == static_cast<std::size_t>(wiring.count()));
    EXPECTS(std::all_of(cones_.begin(), cones_.end(), is_sound));
    EXPECTS(air.compliance_m3_pa > 0.0 && air.absorption_pa_s_m3 >= 0.0 && air.leak_m3_s_pa >= 0.0);
    EXPECTS(air.port_mass_kg_m4 >= 0.0 && air.port_pa_s_m3 >= 0.0);
    string_ohm_.assign(static_cast<std::size_t>(wiring.in_parallel), 0.0);
    string_h_ = string_ohm_;
    for (std::size_t i = 0; i < cones_.size(); ++i) {
        string_ohm_[string_of(i)] += cones_[i].re_ohm;
        string_h_[string_of(i)] += cones_[i].le_h;
    }
}

SharedCircuit::Matrix SharedCircuit::matrix_at(Complex s) const {
    Matrix m;
    const Complex loss = 1.0 + s * air_.compliance_m3_pa * air_.absorption_pa_s_m3;
    m.pressed = s * air_.compliance_m3_pa / loss;
    m.pressed_slope = air_.compliance_m3_pa / (loss * loss);
    m.all_slope = m.pressed_slope;
    if (air_.port_mass_kg_m4 > 0.0) {
        m.port = 1.0 / (s * air_.port_mass_kg_m4 + air_.port_pa_s_m3);
        m.all_slope -= air_.port_mass_kg_m4 * m.port * m.port;
    }
    m.box = m.pressed + air_.leak_m3_s_pa + m.port;
    for (std::size_t k = 0; k < string_ohm_.size(); ++k) m.string.push_back(string_ohm_[k] + s * string_h_[k]);
    m.pushed.assign(m.string.size(), 0.0);
    for (std::size_t i = 0; i < cones_.size(); ++i) {
        const Cone& c = cones_[i];
        const Complex spring = c.stiffness_n_m / s;
        m.cone.push_back(s * c.mass_kg + c.resistance_kg_s + spring);
        m.cone_slope.push_back(c.mass_kg - spring / s);
        m.string[string_of(i)] += c.bl_tm * c.bl_tm / m.cone[i];
        m.pushed[string_of(i)] += c.bl_tm * c.sd_m2 / m.cone[i];
        m.box += c.sd_m2 * c.sd_m2 / m.cone[i];
    }
    for (std::size_t k = 0; k < m.string.size(); ++k) m.box -= m.pushed[k] * m.pushed[k] / m.string[k];
    return m;
}

SharedCircuit::Vector SharedCircuit::solved(const Matrix& m, const Vector& right) const {
    Vector x = right;
    for (std::size_t i = 0; i < cones_.size(); ++i) {
        const Complex freely = right.cone[i] / m.cone[i];
        x.string[string_of(i)] -= cones_[i].bl_tm * freely;
        x.box += cones_[i].sd_m2 * freely;
    }
    for (std::size_t k = 0; k < x.string.size(); ++k) x.box += m.pushed[k] * x.string[k] / m.string[k];
    x.box /= m.box;
    for (std::size_t k = 0; k < x.string.size(); ++k) x.string[k] = (x.string[k] + m.pushed[k] * x.box) / m.string[k];
    for (std::size_t i = 0; i < cones_.size(); ++i)
        x.cone[i] = (right.cone[i] + cones_[i].bl_tm * x.string[string_of(i)] - cones_[i].sd_m2 * x.box) / m.cone[i];
    return x;
}

SharedCircuit::State SharedCircuit::at(double f_hz) const {
    EXPECTS(f_hz > 0.0);
    const Complex s(0.0, kTwoPi * f_hz);
    const Matrix m = matrix_at(s);
    Vector right{std::vector<Complex>(cones_.size()), std::vector<Complex>(string_ohm_.size(), 1.0), 0.0};
    const Vector x = solved(m, right);
    for (std::size_t i = 0; i < cones_.size(); ++i) right.cone[i] = -m.cone_slope[i] * x.cone[i];
    for (std::size_t k = 0; k < string_ohm_.size(); ++k) right.string[k] = -string_h_[k] * x.string[k];
    right.box = -m.all_slope * x.box;
    const Vector slope = solved(m, right);

    State state;
    for (const Complex& speed : x.cone) state.excursion_m.push_back(speed / s);
    state.current_a = x.string;
    state.pressure_pa = x.box;
    state.port_m3 = m.port * x.box / s;
    state.acceleration_m3_s2 = s * m.pressed * x.box;
    Complex current;
    for (const Complex& each : x.string) current += each;
    state.impedance_ohm = 1.0 / current;
    // d(ln acceleration)/ds, its real part: of each factor its slope over its value.
    state.group_delay_s = -(1.0 / s + m.pressed_slope / m.pressed + slope.box / x.box).real();
    return state;
}

double SharedCircuit::resistance_ohm() const {
    double conductance = 0.0;
    for (const double ohm : string_ohm_) conductance += 1.0 / ohm;
    return 1.0 / conductance;
}

double SharedCircuit::share_of(std::size_t cone) const {
    EXPECTS(cone < cones_.size());
    const double ohm = string_ohm_[string_of(cone)];
    return cones_[cone].re_ohm / (ohm * ohm) * resistance_ohm();
}

double SharedCircuit::passband_m3_s2() const {
    double sum = 0.0;
    for (std::size_t i = 0; i < cones_.size(); ++i)
        sum += cones_[i].sd_m2 * cones_[i].bl_tm / (cones_[i].mass_kg * string_ohm_[string_of(i)]);
    return sum;
}

}  // namespace geom::sound
