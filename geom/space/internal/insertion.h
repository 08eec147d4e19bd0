// The part of a free space that a rigid body can come into along a straight line without touching anything on the
// way: v(x) = max over the way out of x of phi. For straight ways this is exactly minus the distance to the union of
// the obstacles swept along the way, so no undercut is left.
#pragma once

#include "geom/space/field.h"

#include <functional>
#include <vector>

namespace geom::space::internal {

/// What a body meets on its way, in mm, negative where free.
struct Way {
    const std::vector<float>* inside =
        nullptr;           ///< on the room's grid; smooth across the planes beyond which all is free
    GridSpec beyond_grid;  ///< its low corner is that of the room's grid
    const std::vector<float>* beyond = nullptr;  ///< beyond an open plane: what was scanned there, and keep-outs
    std::function<bool(Point3)> is_beyond;       ///< whether a box place lies beyond an open plane
    float tolerance_mm = 0.0f;                   ///< what stands less than this in the way is taken for noise
};

/// `standing` where the body ends up (mm, negative free), `out` the unit direction of leaving in box axes. Outside the
/// grids the way is free beyond an open plane and blocked elsewhere. Values are right where the result is within
/// +-2 h; farther in they may be too low, farther out too high.
std::vector<float> insertable(const GridSpec& grid, const std::vector<float>& standing, const Way& way, Vec3 out);

}  // namespace geom::space::internal
