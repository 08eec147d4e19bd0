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
std::vector<float> opened(const GridSpec& grid, const std::vector<float>& distance_mm, double inset_mm, double radius_mm,
                          double reach_mm);

}  // namespace geom::space::internal
