// What the driver does in the finished box: told for the measured net volume. A closed box is judged by nobody here.
#include "geom/check/internal/case.h"

namespace geom::check {

void tell_sound(const Case& c, Verdict& verdict) {
    if (!c.request.driver || c.enclosure().net_by_brep.mm3() <= 0.0) return;
    sound::Box box;
    box.net = c.enclosure().net_by_brep;
    if (c.request.lining) box.lining_gain = c.request.lining->gain;
    verdict.sound = sound::box_sound(sound::derived(c.request.driver->driver), box, c.enclosure().uncertainty_rel);
}

}  // namespace geom::check
