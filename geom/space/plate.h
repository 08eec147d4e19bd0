// A flat plate as a closed mesh, from the corners that a tape measure gives.
#pragma once

#include "geom/core/result.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"

#include <vector>

namespace geom::space {

/// Corners in order round the plate, either way, lying in its middle: half of the thickness is laid to each side. Four
/// corners or more need not lie quite in a plane: 2 mm off it, or half the thickness, are forgiven.
///
/// Faults: BadJob  fewer than three corners, corners on one line, off their plane, or an outline that crosses itself
Result<TriMesh> plate_mesh(const std::vector<Point3>& corners, Length thickness);

}  // namespace geom::space
