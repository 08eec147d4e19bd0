// The wall is what lies between the two bodies that the shell was made of, before holes: from points of the air's
// surface to the nearest place of the outer one. What faces the baffle is left out: it has a thickness of its own, and
// where that is thinner than the wall, the air beside it as far behind as the wall; so is the face of a filler pad.
#include "geom/check/internal/case.h"

#include "geom/measure/wall.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

void check_wall(const Case& c, Verdict& verdict) {
    const double asked = c.request.wall.mm();
    verdict.wall.asked_mm = asked;
    if (c.outer_body.triangles.empty() || c.air_body.triangles.empty()) {
        verdict.lines.push_back(
            {"wall, least", Kind::Fit, false, 0.0, 0.93 * asked, "mm", "no bodies were kept to measure it on"});
        return;
    }
    const Plane baffle = c.enclosure().baffle_plane;
    const double behind = std::max(c.request.baffle.thickness.mm() + 0.05, asked);
    const std::optional<Plane> pad = c.enclosure().pad_plane;
    const measure::WallMeasure wall = measure::measure_wall(c.air_body, c.outer_body, [&](Point3 p) {
        return !c.is_on_baffle(p) && baffle.height(p) < -behind && (!pad || pad->height(p) < -0.05);
    });
    verdict.wall.min_mm = wall.least_mm;
    verdict.wall.median_mm = wall.median_mm;
    verdict.wall.at = wall.at;
    const std::string how = fmt::format(
        "{} points of the inner surface to the outer one; 1 % under {:.2f} mm, 1 % over {:.2f} mm; "
        "the baffle left out; within {:.2f} mm (two chord errors)",
        wall.samples, wall.p1_mm, wall.p99_mm, 2.0 * c.request.make.chord_error.mm());
    verdict.lines.push_back(
        at_least("wall, least", Kind::Fit, wall.least_mm, 0.93 * asked, "mm", place(wall.at) + "; " + how));
    verdict.lines.push_back(at_most("wall, median", Kind::Fit, 100.0 * std::abs(wall.median_mm - asked) / asked, 1.0,
                                    "%",
                                    fmt::format("median {:.3f} mm against {:.3f} mm asked", wall.median_mm, asked)));
}

}  // namespace geom::check
