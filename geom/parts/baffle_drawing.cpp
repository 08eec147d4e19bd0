// Its outline is that of splines: straight pieces within 0.01 mm of them. Holes are circles.
#include "geom/parts/internal/baffle_drawing.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace geom::parts {

FlatDrawing baffle_drawing(const Site& site, const Outline& flat, const Outline& back, const DriverPlans& drivers,
                           const PortPlan* port, const std::vector<Hole>& screws) {
    const auto area = [](const Outline& outline) { return std::abs(signed_area(outline.loop())); };
    const Outline& border = area(flat) > area(back) ? flat : back;
    FlatDrawing drawing{.name = "baffle", .thickness_mm = site.thickness_mm(), .paths = {}, .circles = {}, .texts = {}};
    FlatPath outline{Operation::Outline, {}, true};
    for (const Point2 p : border.loop()) outline.points.push_back({p.x, p.y, 0.0});
    if (signed_area(border.loop()) < 0.0) std::reverse(outline.points.begin(), outline.points.end());
    drawing.paths.push_back(outline);
    const auto circle = [&](Operation operation, Point2 centre, double radius) {
        drawing.circles.push_back({operation, centre.x, centre.y, radius});
    };
    const double height = 5.0;
    int row = 0;
    const auto text = [&](const std::string& words) {
        drawing.texts.push_back({border.lo().x, border.lo().y - 2.0 * height * ++row, height, words});
    };
    text(fmt::format("baffle: {} mm {}, seen from the front", plain_number(site.thickness_mm()),
                     site.baffle_material().name));
    for (const Hole& screw : screws) circle(Operation::ThroughHole, screw.centre, screw.radius_mm);
    for (const DriverPlan* driver : drivers) {
        circle(Operation::ThroughHole, driver->centre, driver->cutout_radius_mm);
        for (const Hole& bolt : driver->bolts)
            circle(bolt.is_through ? Operation::ThroughHole : Operation::Pocket, bolt.centre, bolt.radius_mm);
        if (driver->recess_radius_mm > 0.0) circle(Operation::Pocket, driver->centre, driver->recess_radius_mm);
        if (!driver->form.front.empty()) circle(Operation::Pocket, driver->centre, driver->form.foot_radius_mm());
    }
    std::set<std::string> said;  // of several drivers once
    for (const DriverPlan* driver : drivers) {
        std::vector<std::string> words;
        if (!driver->bolts.empty() && !driver->bolts.front().is_through)
            words.push_back(fmt::format(
                "driver's holes of {} mm: {} mm deep from {}", plain_number(2.0 * driver->bolts.front().radius_mm),
                plain_number(driver->bolts.front().depth_mm), driver->mount.from_behind ? "behind" : "its seat"));
        if (driver->recess_radius_mm > 0.0)
            words.push_back(fmt::format("recess of {} mm: {} mm deep", tenths(2.0 * driver->recess_radius_mm),
                                        plain_number(driver->seat_depth_mm - driver->form.face_mm)));
        for (const std::string& each : words)
            if (said.insert(each).second) text(each);
    }
    if (!drivers.empty()) {
        const DriverPlan& driver = *drivers.front();
        if (!driver.form.front.empty())
            text(driver.form.face_mm > 0.0
                     ? fmt::format("dish: {} mm deep; its back stands out of the plate behind",
                                   plain_number(driver.form.face_mm))
                     : fmt::format("ring: stands {} mm before the face", plain_number(-driver.form.face_mm)));
    }
    if (port != nullptr) {
        draw_port(drawing, *port);
        for (const std::string& line : port_lines(*port)) text(line);
    }
    if (const double rounded = site.request.baffle.rim_radius.mm(); rounded > 0.0 && &border == &back)
        text(fmt::format("front edge rounded by {} mm", plain_number(rounded)));
    return drawing;
}

}  // namespace geom::parts
