// The plane faces of a finished solid as a drawing for the machine that cuts them.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/flat_drawing.h"
#include "geom/skin/brep.h"

#include <string>

namespace geom::parts {

/// Outlines and holes of all plane faces that lie in `plane` (within 1e-6 mm), whichever side they look to.
///
/// Frame   origin `plane.point`; x to the right and y up (the part of `up` in the plane) for one who looks against
///         plane.outward.
/// Curves  lines, arcs and circles as they are; ellipses as arcs within 0.005 mm, splines within 0.01 mm.
/// Faults: Impossible  no plane face lies there
///         Internal    the kernel failed
Result<FlatDrawing> face_drawing(const std::string& name, const Brep& solid, const Plane& plane, Vec3 up);

}  // namespace geom::parts
