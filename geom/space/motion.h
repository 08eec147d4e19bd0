// How a keep-out moves: a flap that swings about its hinge, a seat that slides on its rails.
//
// Frame     vehicle, mm. A shape is drawn once; a motion takes it from there to every pose it may stand in.
// Swing     by the right-hand rule about `axis` through `hinge`; the shape is drawn at angle 0, which need not lie
//           between `from` and `to`.
// Travel     `path` holds shifts of the drawn shape, joined straight, without turning: (0, 0, 0) is where it is drawn.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/core/vec.h"

#include <string>
#include <variant>
#include <vector>

namespace geom::space {

struct Swing {
    Point3 hinge;
    Vec3 axis{0, 0, 1};
    Angle from, to;
};

struct Travel {
    std::vector<Point3> path;
};

/// std::monostate: stands still.
using Motion = std::variant<std::monostate, Swing, Travel>;

/// Where a moving keep-out is while the part goes in. A flap is mostly open or shut then, not swinging.
enum class OnWayIn {
    From,   ///< at the start of its motion
    To,     ///< at its end
    Swept,  ///< anywhere on it
    None,   ///< out of the way
};

inline bool is_moving(const Motion& motion) {
    return motion.index() != 0;
}

/// Length of the motion: radians of a swing, millimetres of a slide; 0 standing still.
double run_of(const Motion& motion);

/// Where the drawn place `p` is after `run` of the motion (0: its start); inside run_of() or beyond it.
Point3 moved(const Motion& motion, double run, Point3 p);

/// "swung to 35.0 deg", "slid by 120.0 mm to (0.0, 120.0, 0.0)", "" standing still.
std::string pose_text(const Motion& motion, double run);

/// The box of all that a drawn box takes on its way.
Aabb swept_box(const Motion& motion, const Aabb& drawn);

/// Faults: BadJob  an axis of no length, from equal to to, more than a full turn, a path that goes nowhere. `of` names
///                 the keep-out in the fault.
Status check_motion(const std::string& of, const Motion& motion);

}  // namespace geom::space
