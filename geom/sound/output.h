// What a moving cone radiates, free field, half space. A cabin is neither: it lifts low notes, and nothing here knows
// which cabin.
//
// Theory  Beranek, "Acoustics", 1954; Small, JAES 20(5), 1972 (both cited from memory; the two agree).
#pragma once

#include "geom/sound/derived.h"

namespace geom::sound {

/// Level at a distance of 1 m of air that is displaced by `peak` each way at f.
double level_of_displacement_db(Volume peak, double f_hz, const Air& air = {});
/// Acoustic power of the same: 4 pi^3 rho f^4 V^2 / c, in W.
double power_of_displacement_w(Volume peak, double f_hz, const Air& air = {});

/// Peak volume displaced by a cone without a box at 0 Hz, at `watts` into re. Times Circuit's excursion or port it is
/// what those displace; over Sd it is the excursion. Needs fs, qes and vas only: neither re nor Sd.
/// EXPECTS: they are there.
Volume displacement_at_rest(const SmallSignal& driver, double watts, const Air& air = {});

}  // namespace geom::sound
