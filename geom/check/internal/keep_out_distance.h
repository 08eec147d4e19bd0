// Signed distances to the keep-outs that are known in closed form, negative inside; mm, vehicle frame.
#pragma once

#include "geom/space/room.h"

namespace geom::check {

/// For box, cylinder and sphere; a meshed keep-out is the caller's bug.
double distance_to(const space::KeepOutShape& shape, Point3 p);

}  // namespace geom::check
