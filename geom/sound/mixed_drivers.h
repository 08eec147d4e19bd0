// Drivers of unlike kinds that share one box and one amplifier: what they are together, their figures and their curves.
//
// Each has its own values, loads the others through the air of the box and, in series, through their common current.
// Nothing parts the notes between them, and their sound is added as if they stood in one place (kOneSignal).
// What one kind has in one figure they have not: fs, the Qs, Qtc, alpha and what would be flattest.
#pragma once

#include "geom/sound/response.h"
#include "geom/sound/shared_circuit.h"
#include "geom/sound/vented_box.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::sound {

/// What is said beside curves and figures of unlike drivers.
inline constexpr const char* kOneSignal =
    "unlike drivers: all get the same signal through no crossover, and their sound is added as if they stood in one "
    "place; with a crossover, or farther apart than a quarter of a wave, they do otherwise";
inline constexpr const char* kNoneInCommon =
    "Qtc, resonance, alpha and a flattest box: unlike drivers have none in common";

/// Whether all values are the same, so that they are as_one() of the first.
bool are_alike(const std::vector<SmallSignal>& drivers);

/// "woofer + 2 x mid", in the order in which they first come.
std::string names_together(const std::vector<SmallSignal>& drivers);

struct MixedDrivers {
    std::vector<SmallSignal> each;    ///< the first `in_series` make the first string, and so on
    std::vector<std::string> titles;  ///< name of each; its place behind it where two have one name
    std::vector<Cone> cones;          ///< of each
    Wiring wiring;
    /// What the amplifier meets: re is the resistance of all coils as wired, into which watts are counted; power what
    /// no coil takes more than its own of; efficiency and levels are those of the passband above all resonances; sd and
    /// vas are sums. All else is left out.
    SmallSignal together;
    std::optional<std::size_t> power_by;  ///< the driver whose coil limits that power
};

/// Masses, springs and motors are those that fs, qes, qms, vas, sd and re of a sheet ask for, as everywhere else.
/// EXPECTS: as many drivers as the wiring counts.
/// Faults:  BadJob  a driver lacks one of these, and it does not follow from the rest: all that lack are named
Result<MixedDrivers> mixed_drivers(std::vector<SmallSignal> each, const Wiring& wiring, const Air& air = {});

/// Where the Qs of losses count: the port's tuning. Closed: where the cones move on their own springs and the box's,
/// each by as much as one pressure would move it if it were free (Rayleigh's quotient; of one kind that is fc).
double losses_hz(const MixedDrivers& drivers, const Box& box, const Air& air = {});

SharedCircuit shared_circuit(const MixedDrivers& drivers, const Box& box, const Air& air = {});

/// The most at one state of the circuit, in watts into `together`'s re, and the driver that sets it.
struct Limit {
    double watts = 0.0;
    std::size_t by = 0;
};
/// None: a driver's xmax is not given.
std::optional<Limit> within_xmax(const MixedDrivers& drivers, const SharedCircuit::State& state);

/// Without le, as those of one kind.
struct MixedFigures {
    double f3_hz = 0.0, f10_hz = 0.0;  ///< 3.0103 and 10 dB under the passband, where it first falls so far going down
    std::optional<Peak> peak;          ///< of the response; at in Hz
    std::optional<Limit> within_xmax;  ///< that no frequency takes a cone beyond its xmax at; of a closed box only
};
MixedFigures mixed_figures(const MixedDrivers& drivers, const Box& box, const Air& air = {});

/// As that of one driver, but for `excursion_mm`, which is empty: `each_cone` has them.
/// EXPECTS: every frequency positive; watts positive.
Response response(const MixedDrivers& drivers, const Box& box, std::vector<double> f_hz,
                  const ResponseOptions& options = {});

/// EXPECTS: the box has a port with an area; 0 < from < to.
PortSpeed fastest_port_air(const MixedDrivers& drivers, const Box& box, double watts, double from_hz, double to_hz,
                           const Air& air = {});

}  // namespace geom::sound
