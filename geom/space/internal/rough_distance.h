// Distance from the voxels that hold a sample: right to about a voxel, everywhere, fast. It tells where the exact
// distance is worth its cost.
#pragma once

#include "geom/space/internal/tricubic.h"

#include <vector>

namespace geom::space::internal {

/// Distance in mm from each node to the nearest node that a sample rounds to; saturates at `range_mm`.
std::vector<float> rough_distance(const GridSpec& grid, const std::vector<Vec3f>& local_points, double range_mm);

}  // namespace geom::space::internal
