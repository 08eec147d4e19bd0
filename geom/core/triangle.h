// One triangle.
#pragma once

#include "geom/core/vec.h"

namespace geom {

/// Closest point of the triangle a b c to `p`; of one without area a place on its sides.
Point3 closest_on_triangle(Point3 p, Point3 a, Point3 b, Point3 c);

}  // namespace geom
