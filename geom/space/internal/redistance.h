// Exact signed distance to the zero set of a grid function.
//
// Space     values in mm; places inside in voxels.
// Accuracy  inside [lo, hi] the distance to the tricubic zero set (ball of radius 60 at h = 2: 0.0001 mm); elsewhere
//           within the range, to the set of zeros on grid edges (up to about h^2 / 4 d too far). Distances *from* a
//           sharp convex edge are too far by up to h / 2, unless the edges are given.
#pragma once

#include "geom/space/internal/sharp.h"

#include <vector>

namespace geom::space::internal {

struct Band {
    double lo_mm = 0.0, hi_mm = 0.0;  ///< signed distances wanted exactly, lo <= 0 <= hi
};

/// Signed distance to {phi = 0}, negative where phi is. Saturates at -(|lo| + 2 h) and hi + 2 h. `edges` are the sharp
/// convex edges of {phi < 0} where it has any; phi must then be close to a distance near its zero set.
std::vector<float> redistance(const GridSpec& grid, const std::vector<float>& phi, Band band,
                              const std::vector<EdgePiece>& edges = {});

}  // namespace geom::space::internal
