// Morphological opening of a body given by its signed distance: the union of all balls of one radius inside it.
#pragma once

#include "geom/space/field.h"

#include <vector>

namespace geom::space::internal {

/// The body {distance_mm < -inset_mm}, opened by `radius_mm`, as a signed distance exact from -(as deep as
/// `distance_mm` was) to +reach_mm. `distance_mm` must be exact down to -(inset + radius + 3 h).
///
/// Why inside needs no second transform: for x deeper than the radius, the opened body's boundary is exactly as far as
/// the boundary before (the ball about x that just fits is a union of balls of the radius).
///
/// `CoreEdges::Found` finds the sharp edges of the core again, so that the volume is exact (a turned box opened by 8:
/// 0.01 %), at the price of bumps of some tenths of a millimetre where an edge is found badly. `CoreEdges::CutOff`
/// leaves them as the grid has them, up to half a voxel short: smooth, and always on the small side.
enum class CoreEdges { Found, CutOff };
std::vector<float> opened(const GridSpec& grid, const std::vector<float>& distance_mm, double inset_mm,
                          double radius_mm, double reach_mm, CoreEdges core_edges = CoreEdges::Found);

}  // namespace geom::space::internal
