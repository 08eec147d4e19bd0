// Triangles of a B-rep by sizing each face's parameter plane after its own curvature: several times faster than the
// kernel's mesher on splines of many spans, which puts a node on every knot.
#pragma once

#include "geom/core/tri_mesh.h"

#include <TopoDS_Shape.hxx>

#include <optional>

namespace geom::measure::internal {

/// Closed where the shape is, faces outward, within `chord_mm` of it. None where this way does not serve (faces with
/// poles, edges without a curve in space, outlines that cross in the parameter plane, a chord error that is not met):
/// the kernel's mesher then does it.
std::optional<TriMesh> own_mesh(const TopoDS_Shape& shape, double chord_mm, double angle_rad);

}  // namespace geom::measure::internal
