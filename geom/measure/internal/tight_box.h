// The least box along the axes round a shape, to about a micrometre, without the kernel's own tight box, which takes
// seconds on splines of many spans.
#pragma once

#include "geom/core/vec.h"

#include <TopoDS_Shape.hxx>

namespace geom::measure::internal {

Aabb tight_box(const TopoDS_Shape& shape);

}  // namespace geom::measure::internal
