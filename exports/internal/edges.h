// The edges of a B-rep as lines to draw.
#pragma once

#include "geom/core/result.h"
#include "geom/core/vec.h"
#include "geom/skin/brep.h"

#include <optional>
#include <vector>

namespace exports {

struct CircleEdge {
    geom::Point3 centre;
    geom::Vec3 axis;  ///< unit
    double radius_mm = 0.0;
    bool is_full = false;  ///< a whole turn
};

struct EdgeLine {
    std::vector<geom::Point3> points;  ///< within 0.02 mm of the edge
    bool is_sharp = true;              ///< its two faces meet at more than 12 degrees
    std::optional<CircleEdge> circle;
};

/// Every edge once; seams (where a face closes on itself) and collapsed edges are left out.
/// Faults: Internal  the kernel failed
geom::Result<std::vector<EdgeLine>> edge_lines(const geom::Brep& solid);

}  // namespace exports
