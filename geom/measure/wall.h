// Wall thickness: how far the inner surface lies from the outer one.
//
// Method    points spread over the triangles of the inner surface, no farther apart than `spacing`, corners included;
//           from each the distance to the nearest outer triangle. Both surfaces may be meshes within a chord error of
//           the true ones: the figures can be off by the sum of the two, the least one to the thin side only where the
//           outer surface is convex.
#pragma once

#include "geom/core/tri_mesh.h"

#include <functional>

namespace geom::measure {

struct WallMeasure {
    double least_mm = 0.0, p1_mm = 0.0, median_mm = 0.0, p99_mm = 0.0;  ///< quantiles weighted by area
    Point3 at, outer_at;      ///< the place of the least: on the inner surface, and its foot on the outer one
    std::size_t samples = 0;  ///< 0: nothing was measured, the figures mean nothing
};

/// `counts` says which inner points are wall (a thicker baffle is not); all when empty. It must be safe to call from
/// several threads.
WallMeasure measure_wall(const TriMesh& inner, const TriMesh& outer, const std::function<bool(Point3)>& counts = {},
                         double spacing_mm = 2.5);

}  // namespace geom::measure
