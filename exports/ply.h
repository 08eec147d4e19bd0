// PLY files of scans: what was believed of a cloud, levelled, with normals; or the triangles of a mesh as a reader
// needs them. Binary, little-endian, millimetres, frame of the scan.
//
// Precision  single where every coordinate is under 100 m (then good to 4 micrometres), double beyond.
#pragma once

#include "geom/core/tri_mesh.h"
#include "geom/scan/surface.h"

#include <string>

namespace exports {

/// x y z and the unit normal of each levelled point; samples that the program itself put in (edges, patches of holes)
/// are left out, except those of a mesh.
std::string ply_of_surface(const geom::scan::Surface& surface);

/// Vertices and triangles.
std::string ply_of_mesh(const geom::TriMesh& mesh);

}  // namespace exports
