// A straight column whose section is a rectangle with rounded corners, or a circle: what stays free before a port.
//
// Frame     vehicle, mm.
#pragma once

#include "geom/check/internal/convex.h"
#include "geom/parts/duct.h"

namespace geom::check {

struct StraightColumn final : Convex {
    Point3 base;      ///< middle of its foot
    Vec3 out;         ///< unit
    Vec3 wide, high;  ///< unit, square to `out` and to one another
    double half_width_mm = 0.0, half_height_mm = 0.0, corner_mm = 0.0, height_mm = 0.0;

    /// On a section at a place of a duct, along its way or against it.
    static StraightColumn on(const parts::DuctPath::Place& place, const parts::DuctSection& section, bool is_against,
                             double height_mm);

    measure::Sloped at(Point3 p) const override;
    Point3 farthest(Vec3 way) const override;
    Point3 middle() const override { return base + out * (height_mm / 2.0); }
};

}  // namespace geom::check
