// The force of all cones is Bl times the sum of the currents through them: in series the amplifier's current flows
// through every coil of a string, in parallel it is shared, so that Bl grows with the drivers in series alone.
#include "geom/sound/wiring.h"

#include "geom/core/checks.h"

#include <cmath>

namespace geom::sound {

namespace {

template <class T>
void scale(std::optional<Told<T>>& told, double factor) {
    if (told) told->value = told->value * factor;
}

}  // namespace

SmallSignal as_one(SmallSignal one, const Wiring& wiring) {
    EXPECTS(wiring.in_series >= 1 && wiring.in_parallel >= 1);
    const double n = wiring.count(), s = wiring.in_series, p = wiring.in_parallel;
    for (auto* each : {&one.mms_kg, &one.rms_kg_per_s, &one.power_w, &one.efficiency}) scale(*each, n);
    scale(one.cms_m_per_n, 1.0 / n);
    scale(one.vas, n);
    scale(one.sd, n);
    scale(one.vd, n);
    scale(one.bl_tm, s);
    scale(one.re_ohm, s / p);
    scale(one.le_h, s / p);
    // Per watt, n times the efficiency; per volt, besides, p/s times the power.
    if (one.spl_1w_db) one.spl_1w_db->value += 10.0 * std::log10(n);
    if (one.spl_sheet_db) one.spl_sheet_db->value += 10.0 * std::log10(n * p / s);
    return one;
}

}  // namespace geom::sound
