#include "geom/check/internal/convex.h"

#include <algorithm>
#include <cmath>

namespace geom::check {

measure::Sloped Turned::at(Point3 p) const {
    const Vec3 d = p - base;
    const double h = dot(d, out);
    const Vec3 aside = d - out * h;
    const double r = norm(aside);
    const Vec3 away = unit(aside);  // none on the axis: there 0 is a slope of r too
    measure::Sloped inside{circles.front().height_mm - h, -out};
    const auto take = [&](double value, Vec3 slope) {
        if (value > inside.value) inside = {value, slope};
    };
    take(h - circles.back().height_mm, out);
    double nearest = 1e300, near_r = 0.0, near_h = 0.0;
    const auto edge = [&](Circle a, Circle b) {
        const double dr = b.radius_mm - a.radius_mm, dh = b.height_mm - a.height_mm, length2 = dr * dr + dh * dh;
        const double along = (r - a.radius_mm) * dr + (h - a.height_mm) * dh;
        const double t = length2 > 0.0 ? std::clamp(along / length2, 0.0, 1.0) : 0.0;
        const double at_r = a.radius_mm + t * dr, at_h = a.height_mm + t * dh;
        const double beside = std::hypot(r - at_r, h - at_h);
        if (beside < nearest) nearest = beside, near_r = at_r, near_h = at_h;
    };
    edge({circles.front().height_mm, 0.0}, circles.front());
    for (std::size_t i = 0; i + 1 < circles.size(); ++i) {
        const Circle &a = circles[i], &b = circles[i + 1];
        const double dr = b.radius_mm - a.radius_mm, dh = b.height_mm - a.height_mm, length = std::hypot(dr, dh);
        take(((r - a.radius_mm) * dh - (h - a.height_mm) * dr) / length, away * (dh / length) - out * (dr / length));
        edge(a, b);
    }
    edge(circles.back(), {circles.back().height_mm, 0.0});
    if (inside.value <= 0.0 || nearest <= 1e-9) return inside;
    return {nearest, away * ((r - near_r) / nearest) + out * ((h - near_h) / nearest)};
}

Point3 Turned::farthest(Vec3 way) const {
    const double along = dot(way, out);
    const Vec3 aside = way - out * along;
    const double across = norm(aside);
    const auto& far = *std::max_element(circles.begin(), circles.end(), [&](const Circle& a, const Circle& b) {
        return a.height_mm * along + a.radius_mm * across < b.height_mm * along + b.radius_mm * across;
    });
    const Point3 centre = base + out * far.height_mm;
    return across > 1e-9 ? centre + unit(aside) * far.radius_mm : centre;
}

}  // namespace geom::check
