// Limits by the farthest vertex of the written meshes (a plane is met at a vertex first), keep-outs by the least of
// their distance functions over the triangles.
#include "geom/check/internal/case.h"

#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

double distance_to(const space::BoxShape& s, Point3 p) {
    double outside2 = 0.0, inside = -1e300;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max(s.min[a] - p[a], p[a] - s.max[a]);
        outside2 += d > 0.0 ? d * d : 0.0;
        inside = std::max(inside, d);
    }
    return outside2 > 0.0 ? std::sqrt(outside2) : inside;
}

double distance_to(const space::SphereShape& s, Point3 p) {
    return distance(p, s.centre) - s.radius_mm;
}

double distance_to(const space::CylinderShape& s, Point3 p) {
    const Vec3 axis = unit(s.to - s.from);
    const double length = distance(s.to, s.from), along = dot(p - s.from, axis);
    const double side = std::sqrt(std::max(0.0, norm2(p - s.from) - along * along)) - s.radius_mm;
    const double end = std::max(-along, along - length);
    if (side > 0.0 && end > 0.0) return std::hypot(side, end);
    return std::max(side, end);
}

measure::LeastOnMesh least_distance(const TriMesh& part, const space::KeepOutShape& shape) {
    if (const auto* mesh = std::get_if<TriMesh>(&shape)) {
        const measure::TriangleTree tree(*mesh);
        const Vec3 direction = unit({0.5773, 0.4142, 0.7071});
        return measure::least_on_mesh(part, [&](Point3 p) {
            const double d = tree.nearest(p).distance_mm;
            return tree.crossings(p, direction) % 2 == 1 ? -d : d;
        });
    }
    return measure::least_on_mesh(part, [&](Point3 p) {
        if (const auto* box = std::get_if<space::BoxShape>(&shape)) return distance_to(*box, p);
        if (const auto* ball = std::get_if<space::SphereShape>(&shape)) return distance_to(*ball, p);
        return distance_to(std::get<space::CylinderShape>(shape), p);
    });
}

}  // namespace

void check_rules(const Case& c, Verdict& verdict) {
    const double bound = c.clearance_bound_mm();
    const double covering = c.request.room.covering.mm();
    for (const space::Limit& limit : c.request.room.limits) {
        double highest = -1e300;
        Point3 at;
        for (const Point3& p : c.part.vertices)
            if (const double h = limit.plane.height(p); h > highest) {
                highest = h;
                at = p;
            }
        const double left = -highest - (limit.covering ? covering : 0.0);
        verdict.lines.push_back(at_least(
            "limit \"" + limit.name + "\"", Kind::Fit, left, limit.clearance.mm() - bound, "mm",
            fmt::format(
                "{}; left between the covered part and the plane, {:.2f} mm asked with a stated bound of {:.2f} mm",
                place(at), limit.clearance.mm(), bound)));
    }
    for (const space::KeepOut& keep_out : c.request.room.keep_outs) {
        const measure::LeastOnMesh least = least_distance(c.part, keep_out.shape);
        const double left = least.value - (keep_out.covering ? covering : 0.0);
        verdict.lines.push_back(at_least(
            "keep-out \"" + keep_out.name + "\"", Kind::Fit, left, keep_out.clearance.mm() - bound, "mm",
            fmt::format("{}; left between the covered part and the keep-out, standing, {:.2f} mm asked with a stated "
                        "bound of {:.2f} mm",
                        place(least.at), keep_out.clearance.mm(), bound)));
    }
}

}  // namespace geom::check
