// A closed box in closed form.
//
// Theory  Small, "Closed-Box Loudspeaker Systems", JAES 20(10), 1972 and 21(1), 1973 (cited from memory):
//         Qtc/Qts = fc/fs = sqrt(1 + Vas/V), a high-pass of second order. Without le; with losses
//         1/Qtc gains alpha/(1 + alpha) (1/QA + 1/QL): exact for QA, to first order in 1/QL, whose true response is of
//         third order far below fc. The curves of response.h are exact for both.
#pragma once

#include "geom/sound/box.h"

#include <optional>
#include <vector>

namespace geom::sound {

struct Peak {
    double db = 0.0;  ///< over the passband, or over the cone's excursion at 0 Hz
    double at = 0.0;  ///< f/fc, or Hz
};

// Of a second-order high-pass with this Q; frequencies over fc. EXPECTS: Q > 0.
/// Where the response is `drop_db` > 0 under the passband, on the way down.
double frequency_of_drop(double q, double drop_db);
/// None for Q up to 1/sqrt 2.
std::optional<Peak> response_peak(double q);
/// Of the excursion over that at 0 Hz; none for Q up to 1/sqrt 2.
std::optional<Peak> excursion_peak(double q);
/// Largest excursion at any frequency over that at 0 Hz, at least 1.
double largest_excursion(double q);
/// Where the excursion is `limit` times that at 0 Hz: none, one or two frequencies, the lower first.
std::vector<double> frequencies_of_excursion(double q, double limit);
/// Rating constants of Small 1972: eta0/(f3^3 V) of a box whose air does all the springing and whose driver has all its
/// damping from the coil, s^3/m^3; and acoustic power within the displacement over f3^4 VD^2, W s^4/m^6.
double efficiency_constant(double q, const Air& air = {});
double displacement_constant(double q, const Air& air = {});

struct ClosedFigures {
    double alpha = 0.0;  ///< Vas over the apparent volume
    double fc_hz = 0.0, qtc = 0.0;
    double f3_hz = 0.0, f10_hz = 0.0;      ///< 3.0103 and 10 dB under the passband
    std::optional<Peak> peak;              ///< of the response; at in Hz
    std::optional<Peak> excursion_peak;    ///< at in Hz
    std::optional<double> within_xmax_w;   ///< power into re that no frequency takes beyond xmax at
    std::optional<double> rated_output_w;  ///< acoustic power within xmax from f3 up
};
/// EXPECTS: `box` has no port.
/// Faults:  those of circuit_values()
Result<ClosedFigures> closed_figures(const SmallSignal& driver, const Box& box, const Air& air = {});

/// The net volume that gives this Qtc, losses and lining left out of account.
/// Faults: Impossible  `qtc` is not above qts: no box is large enough
///         BadJob      the driver lacks qts or vas
Result<Volume> closed_volume_for(const SmallSignal& driver, double qtc);

}  // namespace geom::sound
