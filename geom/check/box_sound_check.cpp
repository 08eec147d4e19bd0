// What the driver, or all of them, do in the finished box: told for the measured net volume. What its port does is
// judged in port_check.cpp.
#include "geom/check/internal/case.h"
#include "geom/parts/port.h"

namespace geom::check {

void tell_sound(const Case& c, Verdict& verdict) {
    if (!c.request.driver || c.enclosure().net_by_brep.mm3() <= 0.0) return;
    sound::Box box;
    box.net = c.enclosure().net_by_brep;
    std::optional<sound::SizedPort> port;
    if (const auto& made = c.enclosure().port) {
        port = sound::SizedPort{parts::port_air(*c.request.port), Length::mm(made->length_mm)};
        box.fb_hz = made->tuning_hz;
        box.port_area = port->port.area();
    }
    if (c.request.lining) box.lining_gain = c.request.lining->gain;
    std::vector<sound::SmallSignal> drivers;
    for (const parts::DriverMount& mount : c.request.drivers()) drivers.push_back(sound::derived(mount.driver));
    verdict.sound = sound::box_sound(drivers, c.request.wiring, box, c.enclosure().uncertainty_rel, port);
}

}  // namespace geom::check
