// Signed distances to the keep-outs that are known in closed form, negative inside; mm, vehicle frame.
#pragma once

#include "geom/space/room.h"

namespace geom::check {

/// For box, cylinder and sphere; a meshed keep-out is the caller's bug.
double distance_to(const space::KeepOutShape& shape, Point3 p);

/// Its twelve triangles, outwards.
TriMesh mesh_of(const space::BoxShape& box);
/// Its triangles, 0.005 mm outside at the corners and inside between them.
TriMesh mesh_of(const space::CylinderShape& rod);

/// The shape in the pose vehicle_from_drawn; a box that is turned comes out as a mesh.
space::KeepOutShape placed(const space::KeepOutShape& drawn, const Frame& pose);

}  // namespace geom::check
