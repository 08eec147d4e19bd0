// The rounded outline round discs: the border of their convex hull, of lines and arcs.
#pragma once

#include "geom/parts/flat_drawing.h"
#include "geom/parts/internal/contour.h"

#include <vector>

namespace geom::parts {

struct Disc {
    Point2 centre;
    double radius_mm = 0.0;
};

/// Counter-clockwise, tangent where lines meet arcs. EXPECTS: at least one disc, no radius below 0, one above it. A disc of
/// radius 0 is a corner.
FlatPath hull_of(const std::vector<Disc>& discs);

/// How far a place lies inside the hull; negative outside.
double depth_in_hull(const std::vector<Disc>& discs, Point2 p);

}  // namespace geom::parts
