// Sharp convex edges and corners of {phi < 0}, found below a voxel, and their distance put into a field that the grid
// had cut off there.
#pragma once

#include "geom/space/internal/tricubic.h"

#include <vector>

namespace geom::space::internal {

/// A piece of a sharp edge, in voxel coordinates; a == b for a lone vertex.
struct EdgePiece {
    Vec3f a, b;
};

/// A node whose one-sided gradient has the slope of a distance, and the plane it tells of: zero where
/// value + normal . (p - at) is zero. All in voxels.
struct NodePlane {
    Vec3f at, normal;
    float value = 0.0f;
};
bool node_plane(const GridSpec& grid, const std::vector<float>& phi, int i, int j, int k, NodePlane& plane);

/// Pieces of the sharp convex edges of {phi < 0}; phi in mm and close to a distance near its zero set.
std::vector<EdgePiece> sharp_edges(const GridSpec& grid, const std::vector<float>& phi);

/// Lowers positive values of `distance_mm` to the distance from the pieces, within `reach_mm` of them.
void stamp(const GridSpec& grid, const std::vector<EdgePiece>& edges, double reach_mm, std::vector<float>& distance_mm);

}  // namespace geom::space::internal
