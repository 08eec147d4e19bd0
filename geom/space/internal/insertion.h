// The part of a free space that a rigid body can come into along a straight line without touching anything on the
// way: v(x) = max over the way out of x of phi. For straight ways this is exactly minus the distance to the union of
// the obstacles swept along the way, so no undercut is left.
#pragma once

#include "geom/space/field.h"

#include <functional>
#include <vector>

namespace geom::space::internal {

/// `standing` where the body ends up, `way` what it must keep free of as it comes in (both mm, negative free, on one
/// grid), `out` the unit direction of leaving in box axes, `is_free_beyond` whether a box place outside the grid is
/// free. Values are right where the result is within +-2 h; farther in they may be too low, farther out too high.
std::vector<float> insertable(const GridSpec& grid, const std::vector<float>& standing, const std::vector<float>& way, Vec3 out,
                              const std::function<bool(Point3)>& is_free_beyond);

}  // namespace geom::space::internal
