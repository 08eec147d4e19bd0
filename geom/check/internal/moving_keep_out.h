// A keep-out that moves, against the part: least distances found by marching along its motion, which shares nothing
// with how the room's field takes it.
#pragma once

#include "geom/check/internal/part_distance.h"
#include "geom/space/room.h"

#include <functional>

namespace geom::check {

/// Least distance of the part to the keep-out in any pose, negative where the part reaches into it, at most 0.1 mm less
/// than it is: that much the keep-out may come nearer between the poses looked at. `at` is on the part.
struct LeastOfMotion {
    measure::LeastOnMesh least;
    double run = 0.0;  ///< of the motion, in that pose
};
LeastOfMotion least_swept(const PartDistance& part, const space::KeepOut& keep_out);

/// The least of `ask` over all poses, vehicle_from_drawn; as the next.
LeastOfMotion least_over_motion(const space::KeepOut& keep_out,
                                const std::function<measure::LeastOnMesh(const Frame&)>& ask, double slack_mm);

/// The least of `ask` (a least distance to the keep-out in one pose) over all poses, at most `slack_mm` less than it
/// is.
measure::LeastOnMesh least_of_poses(const space::KeepOut& keep_out,
                                    const std::function<measure::LeastOnMesh(const space::KeepOutShape&)>& ask,
                                    double slack_mm = 0.25);

/// The drawn shape after `run` of the motion; a box that turns comes out as a mesh.
space::KeepOutShape posed(const space::KeepOutShape& drawn, const space::Motion& motion, double run);

/// Whether it is a mesh with open edges, which has no inside.
bool is_sheet(const space::KeepOutShape& shape);

}  // namespace geom::check
