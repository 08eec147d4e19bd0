// The wall is what lies between the two bodies that the shell was made of, before holes: from points of the air's
// surface to the nearest place of the outer one. What faces the baffle is left out: it has a thickness of its own, and
// where that is thinner than the wall, the air beside it as far behind as the wall; so is the face of a filler pad. The
// tube of a sleeve may be thinner than the wall and is held to its own.
#include "geom/check/internal/case.h"

#include "geom/measure/wall.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

/// Round the tube of a sleeve, where the air ends on it.
struct Tube {
    std::string name;
    Point3 at;
    Vec3 axis, along;
    double half_mm = 0.0, radius_mm = 0.0, wall_mm = 0.0;

    bool is_on(Point3 p) const {
        Vec3 d = p - at;
        d = d - axis * dot(d, axis);
        d = d - along * std::clamp(dot(d, along), -half_mm, half_mm);
        return norm(d) < radius_mm + 0.1;
    }
};

std::vector<Tube> tubes_of(const Case& c) {
    std::vector<Tube> tubes;
    for (const parts::FixingMade& f : c.enclosure().fixings) {
        if (f.kind != parts::FixingKind::Sleeve) continue;
        Tube tube{.name = f.name, .at = f.point, .axis = unit(f.axis), .along = {}};
        tube.wall_mm = c.request.wall.mm();
        for (const parts::Sleeve& sleeve : c.request.sleeves)
            if (sleeve.name == f.name && sleeve.tube_wall) tube.wall_mm = sleeve.tube_wall->mm();
        tube.radius_mm = f.hole_mm / 2.0 + tube.wall_mm;
        if (f.use.slot) {
            tube.along = unit(f.use.slot->along - tube.axis * dot(f.use.slot->along, tube.axis));
            tube.half_mm = f.use.slot->length.mm() / 2.0;
        }
        tubes.push_back(tube);
    }
    return tubes;
}

CheckLine median_line(std::string name, const measure::WallMeasure& wall, double asked_mm) {
    return at_most(std::move(name), Kind::Fit, 100.0 * std::abs(wall.median_mm - asked_mm) / asked_mm, 1.0, "%",
                   fmt::format("median {:.3f} mm against {:.3f} mm asked", wall.median_mm, asked_mm));
}

/// A place of the inner surface is a plane side's where it lies in its plane, and otherwise the bent one's.
bool is_on_side(const std::vector<parts::WallSide>& sides, const parts::WallSide& side, Point3 p) {
    constexpr double kOn_mm = 1e-3;
    const auto lies_in = [&](const parts::WallSide& s) { return s.inner && std::abs(s.inner->height(p)) < kOn_mm; };
    return side.inner ? lies_in(side) : std::none_of(sides.begin(), sides.end(), lies_in);
}

}  // namespace

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
    const std::vector<Tube> tubes = tubes_of(c);
    const measure::WallMeasure wall = measure::measure_wall(c.air_body, c.outer_body, [&](Point3 p) {
        return !c.is_on_baffle(p) && baffle.height(p) < -behind && (!pad || pad->height(p) < -0.05) &&
               std::none_of(tubes.begin(), tubes.end(), [&](const Tube& tube) { return tube.is_on(p); });
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
    if (c.request.follows_scan()) verdict.lines.push_back(median_line("wall, median", wall, asked));
    for (const parts::WallSide& side : c.request.sides) {
        const auto is_on = [&](Point3 p) { return is_on_side(c.request.sides, side, p); };
        const measure::WallMeasure own = measure::measure_wall(c.air_body, c.outer_body, is_on);
        if (own.samples == 0) continue;  // all of it stands behind battens
        verdict.lines.push_back(median_line("wall, " + side.name, own, side.thickness_mm));
    }
    for (const Tube& tube : tubes) {
        const measure::WallMeasure round =
            measure::measure_wall(c.air_body, c.outer_body, [&](Point3 p) { return tube.is_on(p); });
        if (round.samples == 0) continue;  // all of it stands in solid
        verdict.lines.push_back(
            at_least("sleeve \"" + tube.name + "\", tube's wall", Kind::Fit, round.least_mm, 0.93 * tube.wall_mm, "mm",
                     fmt::format("{}; {} points of the tube to bore and skin", place(round.at), round.samples)));
    }
}

}  // namespace geom::check
