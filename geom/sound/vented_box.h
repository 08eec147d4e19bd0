// A box with a port: its figures, and how to tune it for a given driver.
//
// Theory  Thiele 1971; Small, "Vented-Box Loudspeaker Systems", JAES 21(5) to 21(8), 1973 (cited from memory; the
//         response as read in a page that quotes Small's equations 22 to 24). A high-pass of fourth order
//             s^4/(s^4 + a1 s^3 + a2 s^2 + a3 s + 1), s in units of sqrt(omega_s omega_b).
#pragma once

#include "geom/sound/closed_box.h"

#include <array>
#include <string_view>

namespace geom::sound {

struct VentedFigures {
    double alpha = 0.0, h = 0.0;
    double f3_hz = 0.0, f10_hz = 0.0;  ///< 3.0103 and 10 dB under the passband, for good on the way down
    std::optional<Peak> peak;          ///< of the response where it is above the passband by 0.0001 dB; at in Hz
};
/// Without le, losses contained. EXPECTS: `box` has a port.
/// Faults: those of circuit_values()
Result<VentedFigures> vented_figures(const SmallSignal& driver, const Box& box);

/// a1, a2, a3 of the response with the leak as the only loss.
std::array<double, 3> vented_coefficients(double qts, double h, double alpha, double leakage);

/// Families of flat responses. QuasiButterworth is flat and falls as third order first; Chebyshev ripples.
enum class Alignment { QuasiButterworth, Butterworth, Chebyshev, Bessel };
std::string_view name_of(Alignment alignment);

struct AlignmentRow {
    Alignment alignment = Alignment::Butterworth;
    double qts = 0.0, h = 0.0, alpha = 0.0;
    double f3 = 0.0;  ///< over fs
};
/// The one driver that gets it exactly. EXPECTS: leakage > 1.
AlignmentRow butterworth(double leakage);
AlignmentRow bessel(double leakage);
/// The flattest for this qts: Chebyshev above Butterworth's, quasi-Butterworth below.
/// Faults: Impossible  no member of the families has this qts: told with the span that they have
Result<AlignmentRow> flattest(double qts, double leakage);

/// Air speed's worst place, against its limits.
struct PortSpeed {
    double m_s = 0.0;  ///< peak
    double at_hz = 0.0;
};
/// The fastest air in the port at `watts` into re between the two frequencies.
/// EXPECTS: the driver has fs, qts, qes and vas; the box has a port with an area; 0 < from < to.
PortSpeed fastest_port_air(const SmallSignal& driver, const Box& box, double watts, double from_hz, double to_hz,
                           const Air& air = {});

}  // namespace geom::sound
