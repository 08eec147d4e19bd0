#include "geom/check/internal/convex.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::check {

double Frustum::distance_to(Point3 p) const {
    const Vec3 d = p - base;
    const double h = dot(d, out), r = norm(d - out * h);
    const double length = std::hypot(height_mm, base_mm - end_mm);
    const double side = ((r - base_mm) * height_mm + h * (base_mm - end_mm)) / length;
    if (const double inside = std::max({side, -h, h - height_mm}); inside <= 0.0) return inside;
    const std::array<std::array<double, 2>, 4> corner{
        {{0.0, 0.0}, {base_mm, 0.0}, {end_mm, height_mm}, {0, height_mm}}};
    double nearest = 1e300;
    for (std::size_t i = 0; i + 1 < corner.size(); ++i) {
        const double ax = corner[i][0], ay = corner[i][1], dx = corner[i + 1][0] - ax, dy = corner[i + 1][1] - ay;
        const double length2 = dx * dx + dy * dy;
        const double t = length2 > 0.0 ? std::clamp(((r - ax) * dx + (h - ay) * dy) / length2, 0.0, 1.0) : 0.0;
        nearest = std::min(nearest, std::hypot(r - ax - t * dx, h - ay - t * dy));
    }
    return nearest;
}

Point3 Frustum::farthest(Vec3 way) const {
    const double along = dot(way, out);
    const Vec3 aside = way - out * along;
    const double across = norm(aside);
    const bool is_end = along * height_mm + across * end_mm > across * base_mm;
    const Point3 middle = base + out * (is_end ? height_mm : 0.0);
    return across > 1e-9 ? middle + unit(aside) * (is_end ? end_mm : base_mm) : middle;
}

}  // namespace geom::check
