// One electrical, mechanical and acoustical circuit for a driver in a box, closed or with a port: a closed box is the
// same circuit with nothing in the port's branch.
//
//   coil    re, and le in series with it
//   driver  mass, compliance and resistance of the cone
//   box     compliance of its air with the loss of absorption in series; beside it the leak, a resistance; beside it
//           the port, its air's mass with the loss of its friction in series
//
// With p = s/omega_s, h = fb/fs, alpha = Vas/V, and losses at their frequency h_r = f_r/fs:
//   e = 1 + p omega_s le/re          a = 1 + p/(QA h_r)          r = p + h/QP         g = h_r/QL
//   box   alpha a p r / (p r + g a r + h^2 a)                    driver  p^2 + p/Qms + 1
// Everything asked is a ratio of polynomials in p, of degree five at most, so that delays are exact derivatives and no
// curve costs more than a few multiplications a frequency.
//
// Theory  Small, "Closed-Box Loudspeaker Systems", JAES 20(10), 1972 and 21(1), 1973; "Vented-Box Loudspeaker Systems",
//         JAES 21(5) to 21(8), 1973 (cited from memory; the response read in a page that quotes it).
#pragma once

#include <array>
#include <complex>
#include <limits>

namespace geom::sound {

/// Q of a loss, at the frequency f_r that the box is tuned to (fb; closed: fc). Infinite: no such loss.
struct BoxLosses {
    double leakage = std::numeric_limits<double>::infinity();     ///< QL
    double absorption = std::numeric_limits<double>::infinity();  ///< QA
    double port = std::numeric_limits<double>::infinity();        ///< QP
};

/// What the circuit is made of, by ratios.
struct CircuitValues {
    double fs_hz = 0.0;
    double qes = 0.0, qms = 0.0;  ///< with qms infinite, qes is the total Q
    double coil = 0.0;            ///< omega_s le/re
    double alpha = 0.0;           ///< Vas over the apparent volume; 0: no box, in a baffle
    double h = 0.0;               ///< fb/fs; 0: no port
    double h_losses = 0.0;        ///< f_r/fs; of no account when all losses are infinite
    BoxLosses losses;
};

/// Real polynomial in p, lowest power first.
using Polynomial = std::array<double, 6>;

class Circuit {
public:
    /// EXPECTS: fs, qes, qms positive; the others not negative; Qs of losses positive.
    explicit Circuit(const CircuitValues& values);

    /// What stands at one frequency. All are ratios to the passband or to the cone's excursion at 0 Hz without a box.
    struct State {
        std::complex<double> response;   ///< sound pressure far off; 1 is the passband without le
        std::complex<double> excursion;  ///< of the cone; 1 is force over the suspension's stiffness
        std::complex<double> port;       ///< air moved by the port, in the unit of excursion times Sd
        std::complex<double> impedance;  ///< over re
        double group_delay_s = 0.0;      ///< -d(phase of response)/d(omega)
    };
    /// EXPECTS: f_hz > 0.
    State at(double f_hz) const;

    /// Squares of the moduli alone: what searches and limits ask for.
    double response2(double f_hz) const;
    double excursion2(double f_hz) const;
    double port2(double f_hz) const;

    double fs_hz() const { return fs_hz_; }

private:
    double fs_hz_;
    Polynomial total_, cone_, air_, port_;  ///< response = air/total, excursion = cone/total, port = port/total
    Polynomial coil_, motion_, standing_;   ///< impedance = coil + motion/standing
};

}  // namespace geom::sound
