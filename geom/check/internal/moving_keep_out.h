// A keep-out that moves, against the part. Shares nothing with how the room's field takes it.
//
// Method    a straight slide is seen at once: of shapes of numbers the least over the way is convex in the place of
//           the part, meshes are held against the surface that their edges sweep. A swing, and what reaches in, is
//           marched.
#pragma once

#include "geom/check/internal/part_distance.h"
#include "geom/space/room.h"

#include <functional>
#include <limits>

namespace geom::check {

/// Told nearer than it is by a tenth of what is left beyond `wanted_mm` at most, where that is more than the slack: far
/// things need no narrow steps.
constexpr double kNotRelaxed = std::numeric_limits<double>::infinity();

/// Least distance of the part to the keep-out in any pose, negative where the part reaches into it, at most 0.1 mm less
/// than it is on a swing: that much the keep-out may come nearer between the poses looked at. How deep a mesh reaches
/// in on a slide is looked at in 200 poses. `at` is on the part.
struct LeastOfMotion {
    measure::LeastOnMesh least;
    double run = 0.0;  ///< of the motion, in that pose
};
LeastOfMotion least_swept(const PartDistance& part, const space::KeepOut& keep_out, double wanted_mm = kNotRelaxed);

/// The least of `ask` over all poses, vehicle_from_drawn; as the next.
LeastOfMotion least_over_motion(const space::KeepOut& keep_out,
                                const std::function<measure::LeastOnMesh(const Frame&)>& ask, double slack_mm,
                                double wanted_mm = kNotRelaxed);

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
