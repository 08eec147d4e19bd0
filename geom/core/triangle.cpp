#include "geom/core/triangle.h"

namespace geom {

Point3 closest_on_triangle(Point3 p, Point3 a, Point3 b, Point3 c) {
    // By the region of the foot: corners and sides first, the face last.
    const Vec3 ab = b - a, ac = c - a, ap = p - a;
    const double d1 = dot(ab, ap), d2 = dot(ac, ap);
    if (d1 <= 0.0 && d2 <= 0.0) return a;
    const Vec3 bp = p - b;
    const double d3 = dot(ab, bp), d4 = dot(ac, bp);
    if (d3 >= 0.0 && d4 <= d3) return b;
    const double on_ab = d1 * d4 - d3 * d2;
    if (on_ab <= 0.0 && d1 >= 0.0 && d3 <= 0.0) return a + ab * (d1 / (d1 - d3));
    const Vec3 cp = p - c;
    const double d5 = dot(ab, cp), d6 = dot(ac, cp);
    if (d6 >= 0.0 && d5 <= d6) return c;
    const double on_ac = d5 * d2 - d1 * d6;
    if (on_ac <= 0.0 && d2 >= 0.0 && d6 <= 0.0) return a + ac * (d2 / (d2 - d6));
    const double on_bc = d3 * d6 - d5 * d4;
    if (on_bc <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0) return b + (c - b) * ((d4 - d3) / ((d4 - d3) + (d5 - d6)));
    const double whole = on_bc + on_ac + on_ab;
    if (whole <= 0.0) return a;
    return a + ab * (on_ac / whole) + ac * (on_ab / whole);
}

}  // namespace geom
