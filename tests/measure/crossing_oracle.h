// Crossing pairs of a manifold mesh as CGAL's mesh-processing package counts them. In a file of its own: its headers
// and the B-rep kernel's do not bear each other.
#pragma once

#include "geom/core/tri_mesh.h"

namespace oracle {

/// Throws when the mesh is not manifold.
std::size_t crossing_pairs(const geom::TriMesh& mesh);

}  // namespace oracle
