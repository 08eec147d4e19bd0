#include "geom/check/internal/keep_out_distance.h"

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

}  // namespace

double distance_to(const space::KeepOutShape& shape, Point3 p) {
    if (const auto* box = std::get_if<space::BoxShape>(&shape)) return distance_to(*box, p);
    if (const auto* ball = std::get_if<space::SphereShape>(&shape)) return distance_to(*ball, p);
    return distance_to(std::get<space::CylinderShape>(shape), p);
}

}  // namespace geom::check
