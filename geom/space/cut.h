// A body cut by planes, in its field.
#pragma once

#include "geom/space/field.h"

namespace geom::space {

/// What of the body lies behind `plane` (vehicle frame; its outward points away from what is kept): the larger of both
/// distances, exact inside and near the faces, too small outside near the edge they make.
void cut(Field& body, const Plane& plane);

}  // namespace geom::space
