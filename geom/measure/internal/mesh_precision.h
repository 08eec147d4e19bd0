// How well the numbers of a mesh are known, and what they stand for.
#pragma once

#include "geom/core/tri_mesh.h"

#include <optional>
#include <string>

namespace geom::measure::internal {

/// Seen by the coordinates themselves in the unit of their file, unless the format says it.
struct Precision {
    std::string name;          ///< "single precision", "3 decimals", "double precision"
    double most_off_mm = 0.0;  ///< half a step of the last digit, a coordinate
};
Precision precision_of(const TriMesh& mesh, double file_unit_mm, bool single_by_format);

/// What a smooth surface through the vertices would hold more than the triangles: over each, the quadratic that rises
/// at the middle of an edge by (n_j - n_i) . (p_j - p_i) / 8, the normals averaged over neighbours bent under 30
/// degrees. Exact to the leading order for a mesh whose vertices lie on the surface.
double curved_excess_mm3(const TriMesh& mesh);

}  // namespace geom::measure::internal
