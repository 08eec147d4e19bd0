// Joints by what was made of them: screws no farther apart than asked, tape on flat enough, a cord's groove away from
// holes and edges. Holes of all kinds against one another as solid cylinders: the distance of two lengths of line less
// both radii is exact but at their ends, where it is the lesser.
#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

constexpr double kLeastLand_mm = 6.0;     // flat that tape wants [common practice]
constexpr double kBesideGroove_mm = 1.5;  // [common practice]
constexpr double kBetweenHoles_mm = 1.0;  // solid between two holes, at least

struct Hole {
    std::string name;
    Point3 from, to;
    double radius_mm = 0.0;
};

/// Distance of two segments, and the place midway between where they are nearest.
double distance_of(const Hole& a, const Hole& b, Point3& midway) {
    const Vec3 u = a.to - a.from, v = b.to - b.from, w = a.from - b.from;
    const double uu = norm2(u), vv = norm2(v), uv = dot(u, v), uw = dot(u, w), vw = dot(v, w);
    const auto along = [](double above, double below) {
        return below > 0.0 ? std::clamp(above / below, 0.0, 1.0) : 0.0;
    };
    double least = 1e300;
    const auto take = [&](double s, double t) {
        const Point3 p = a.from + u * s, q = b.from + v * t;
        if (const double d = distance(p, q); d < least) least = d, midway = (p + q) * 0.5;
    };
    // Nearest within both lengths, or at an end of one.
    if (const double det = uu * vv - uv * uv; det > 1e-12 * uu * vv) {
        const double s = along(uv * vw - vv * uw, det);
        const double t = along(vw + uv * s, vv);
        take(along(uv * t - uw, uu), t);
    }
    for (const double end : {0.0, 1.0}) {
        take(end, along(vw + uv * end, vv));
        take(along(uv * end - uw, uu), end);
    }
    return least;
}

std::vector<Hole> holes_of(const Case& c) {
    std::vector<Hole> holes;
    const auto add = [&](const parts::BoltMade& bolt, const std::string& name, double length_mm) {
        if (norm(bolt.axis) == 0.0 || bolt.hole.hole_mm <= 0.0) return;
        holes.push_back({name, bolt.head_seat, bolt.head_seat + unit(bolt.axis) * length_mm,
                         (bolt.hole.hole_mm + bolt.hole.slot_mm) / 2.0});
    };
    for (const parts::FixingMade& f : c.enclosure().fixings)
        add(f.bolt, "the bolt of \"" + f.name + "\"", std::max(f.grip_mm, f.bolt.reach_mm));
    for (const parts::BoltMade& screw : c.enclosure().screws) add(screw, screw.name, screw.reach_mm);
    for (const measure::Opening& o : c.enclosure().openings)
        if (o.name == "terminal") {
            const Vec3 through = unit(o.plane.outward) * c.request.wall.mm();
            holes.push_back({"the terminal's hole", o.plane.point - through, o.plane.point + through,
                             c.request.terminal ? c.request.terminal->diameter.mm() / 2.0 : o.radius_mm});
        }
    return holes;
}

void check_holes(const Case& c, Verdict& verdict) {
    const std::vector<Hole> holes = holes_of(c);
    if (holes.size() < 2) return;
    double least = 1e300;
    Point3 at;
    std::string which;
    for (std::size_t i = 0; i < holes.size(); ++i)
        for (std::size_t k = 0; k < i; ++k) {
            Point3 midway;
            const double left = distance_of(holes[i], holes[k], midway) - holes[i].radius_mm - holes[k].radius_mm;
            if (left < least) least = left, at = midway, which = holes[k].name + " and " + holes[i].name;
        }
    CheckLine line = at_least("holes, between two", Kind::Fit, least, kBetweenHoles_mm, "mm",
                              fmt::format("{}: {} are the nearest of {} holes; as solid cylinders from head to end",
                                          place(at), which, holes.size()));
    if (!line.ok) line.place = at;
    verdict.lines.push_back(std::move(line));
}

}  // namespace

void check_joints(const Case& c, Verdict& verdict) {
    for (const parts::JointMade& joint : c.enclosure().joints) {
        if (joint.pitch_asked_mm > 0.0)
            verdict.lines.push_back(at_most(
                joint.name + " screws, pitch", Kind::Fit, joint.pitch_mm, joint.pitch_asked_mm, "mm",
                fmt::format("the longest way along the rim between two of {} screws; the job's own", joint.screws)));
        if (joint.cord_mm > 0.0)
            verdict.lines.push_back(
                at_least(joint.name + " seal, beside the groove", Kind::Fit, joint.left_mm, kBesideGroove_mm, "mm",
                         fmt::format("from a groove {:.2f} mm wide and {:.2f} mm deep for a round cord of {:.1f} mm to "
                                     "the nearest hole or edge; sizes are common practice",
                                     joint.groove_mm, joint.groove_depth_mm, joint.cord_mm)));
        else
            verdict.lines.push_back(at_least(
                joint.name + " seal, flat for tape", Kind::Fit, joint.land_mm, kLeastLand_mm, "mm",
                fmt::format("least width of the flat that presses, holes of its screws not taken off ({} screws{}); "
                            "limit is common practice",
                            joint.screws,
                            joint.screws > 0 ? fmt::format(", at most {:.0f} mm apart", joint.pitch_mm) : "")));
    }
    check_holes(c, verdict);
}

}  // namespace geom::check
