// How far a place is from a keep-out, and the box it may be found in, wherever it moves.
#pragma once

#include "geom/space/room.h"

#include <memory>

namespace geom::space {

/// The box of all that the keep-out takes in any pose, vehicle frame.
Aabb reach_of(const KeepOut& keep_out);

namespace internal {
class ShapeDistance;
}

/// Distance to a keep-out, to all that it sweeps when it moves; mm, vehicle frame, negative inside. Without its
/// clearance. Safe to ask from several threads.
class KeepOutDistance {
public:
    /// Faults: BadJob  a shape or a motion without sense
    static Result<KeepOutDistance> of(const KeepOut& keep_out);
    /// Outside right to 0.02 mm up to `limit_mm`; what is farther comes out as that much or more.
    double at_most(Point3 vehicle, double limit_mm) const;

private:
    std::shared_ptr<const internal::ShapeDistance> shape_;
};

}  // namespace geom::space
