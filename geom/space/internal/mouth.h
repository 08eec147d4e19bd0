// How the room ends: planes that close it, and the continuation past the mouth that lets any plane of the travel cut
// the body cleanly.
#pragma once

#include "geom/space/field.h"

#include <vector>

namespace geom::space::internal {

/// Nodes in front of plane `mouth` (index along y) get the values of a straight continuation of the body's walls as
/// they arrive at the mouth (slope for `slope_mm`, then parallel to y), down to `end` nodes from the grid's low side,
/// where the body is closed flat.
void continue_past_mouth(const GridSpec& grid, int mouth, double slope_mm, int end, std::vector<float>& phi);

}  // namespace geom::space::internal
