// Convex solids that are asked how near things come to them. A signed distance to such a solid is convex, so that the
// least over a triangle is found within any slack (measure::least_on_mesh).
//
// Frame     vehicle, mm; distances are negative inside.
#pragma once

#include "geom/core/vec.h"

namespace geom::check {

class Convex {
public:
    virtual ~Convex() = default;
    virtual double distance_to(Point3 p) const = 0;
    /// The place of the solid that lies farthest along `way`.
    virtual Point3 farthest(Vec3 way) const = 0;
    /// A place well inside.
    virtual Point3 middle() const = 0;
};

/// A cone cut off level at both ends; with two equal radii a cylinder.
struct Frustum final : Convex {
    Point3 base;  ///< on the axis
    Vec3 out;     ///< from the base to the other end, unit
    double base_mm = 0.0, end_mm = 0.0, height_mm = 0.0;

    Frustum(Point3 base_at, Vec3 way, double base_radius_mm, double end_radius_mm, double height)
        : base(base_at), out(way), base_mm(base_radius_mm), end_mm(end_radius_mm), height_mm(height) {}

    double distance_to(Point3 p) const override;
    Point3 farthest(Vec3 way) const override;
    Point3 middle() const override { return base + out * (height_mm / 2.0); }

    Frustum moved(Vec3 by) const { return {base + by, out, base_mm, end_mm, height_mm}; }
    Frustum with_height(double mm) const { return {base, out, base_mm, end_mm, mm}; }
};

}  // namespace geom::check
