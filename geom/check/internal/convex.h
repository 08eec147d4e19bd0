// Convex solids that are asked how near things come to them. A signed distance to such a solid is convex, so that the
// least over a triangle is found within any slack (measure::least_convex_on_mesh).
//
// Frame     vehicle, mm; distances are negative inside.
#pragma once

#include "geom/measure/clearance.h"

#include <array>
#include <vector>

namespace geom::check {

class Convex {
public:
    virtual ~Convex() = default;
    virtual measure::Sloped at(Point3 p) const = 0;
    double distance_to(Point3 p) const { return at(p).value; }
    /// The place of the solid that lies farthest along `way`.
    virtual Point3 farthest(Vec3 way) const = 0;
    /// A place well inside.
    virtual Point3 middle() const = 0;
};

/// A solid of revolution with flat ends: a cylinder, a frustum, or several of them that narrow to both sides.
struct Turned final : Convex {
    struct Circle {
        double height_mm = 0.0, radius_mm = 0.0;
    };
    Point3 base;                  ///< on the axis, height 0
    Vec3 out;                     ///< along it, unit
    std::vector<Circle> circles;  ///< rising, two or more; the solid is convex

    Turned(Point3 base_at, Vec3 way, std::vector<Circle> from_base)
        : base(base_at), out(way), circles(std::move(from_base)) {}
    static Turned cylinder(Point3 base, Vec3 out, double radius_mm, double height_mm) {
        return {base, out, {{0.0, radius_mm}, {height_mm, radius_mm}}};
    }

    measure::Sloped at(Point3 p) const override;
    Point3 farthest(Vec3 way) const override;
    Point3 middle() const override {
        return base + out * ((circles.front().height_mm + circles.back().height_mm) / 2.0);
    }
    Turned moved(Vec3 by) const { return {base + by, out, circles}; }
};

}  // namespace geom::check
