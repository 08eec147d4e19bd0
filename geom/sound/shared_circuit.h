// Cones of unlike kinds before one box: each has its own motor and suspension, all meet the same pressure behind them,
// and those of one string the same current. In SI units, part by part, because unlike drivers have no ratios in common.
//
// Unknown are the cones' speeds v, the strings' currents i and the pressure p of the box's air; at s = j omega
//   cone    (s m + r + k/s) v + Sd p = Bl i           forces on it
//   string  sum(re + s le) i + sum(Bl v) = 1 V        voltages round it, sums over its drivers
//   box     (air + leak + port) p = sum(Sd v)         flows into it; air sC/(1 + s C Ra), port 1/(s M + Rp)
// The matrix is an arrow: a cone meets its own string and the box alone, a string its cones and the box. Elimination in
// that order is exact in as many steps as there are cones, and serves the derivative too: M dx = -dM x.
//
// Theory  the parts of circuit.h, of which this is the same network with more branches.
#pragma once

#include "geom/sound/wiring.h"

#include <complex>
#include <vector>

namespace geom::sound {

/// A driver's moving part and coil.
struct Cone {
    double mass_kg = 0.0, stiffness_n_m = 0.0, resistance_kg_s = 0.0;
    double bl_tm = 0.0, re_ohm = 0.0, le_h = 0.0;
    double sd_m2 = 0.0;
};

/// What all cones work on.
struct SharedAir {
    double compliance_m3_pa = 0.0;
    double absorption_pa_s_m3 = 0.0;  ///< resistance in series with the compliance
    double leak_m3_s_pa = 0.0;        ///< conductance beside it; 0: tight
    double port_mass_kg_m4 = 0.0;     ///< 0: no port
    double port_pa_s_m3 = 0.0;        ///< resistance in series with the port's mass
};

class SharedCircuit {
public:
    /// Strings are filled in the order of the cones: the first `in_series` are the first string.
    /// EXPECTS: as many cones as the wiring counts; masses, stiffnesses, bl, re, sd and the box's compliance positive,
    /// the others not negative.
    SharedCircuit(std::vector<Cone> cones, const Wiring& wiring, const SharedAir& air);

    /// What stands at one frequency, at 1 V of the amplifier. Positive: cones into the box, port and leak out of it.
    struct State {
        std::vector<std::complex<double>> excursion_m;  ///< of each cone
        std::vector<std::complex<double>> current_a;    ///< of each string
        std::complex<double> pressure_pa;               ///< in the box
        std::complex<double> port_m3;                   ///< displaced by the port
        /// Of all air that is moved, cones less port and leak: what presses the air in the box. Sound far off goes
        /// with it.
        std::complex<double> acceleration_m3_s2;
        std::complex<double> impedance_ohm;
        double group_delay_s = 0.0;  ///< -d(phase of acceleration)/d(omega)
    };
    /// EXPECTS: f_hz > 0.
    State at(double f_hz) const;

    /// Of all strings side by side at 0 Hz.
    double resistance_ohm() const;
    /// What a coil turns to heat of one watt into resistance_ohm(); all add up to 1.
    double share_of(std::size_t cone) const;
    /// Of the acceleration at 1 V far above all resonances, without le.
    double passband_m3_s2() const;

    const std::vector<Cone>& cones() const { return cones_; }
    const SharedAir& air() const { return air_; }

private:
    struct Vector;
    struct Matrix;
    Matrix matrix_at(std::complex<double> s) const;
    Vector solved(const Matrix& m, const Vector& right) const;
    std::size_t string_of(std::size_t cone) const { return cone / in_series_; }

    std::vector<Cone> cones_;
    std::size_t in_series_;
    std::vector<double> string_ohm_, string_h_;  ///< sums of re and le
    SharedAir air_;
};

}  // namespace geom::sound
