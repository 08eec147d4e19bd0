// The scan's own rim: where the scan stops near a plane that closes the room. Distances measured past the last sample
// would let the room bulge sideways round the rim, so the walls are carried on straight, as they arrive there, until
// just beyond the plane. What is added can only take room away.
#pragma once

#include "geom/space/internal/sample_tree.h"

#include <string>
#include <vector>

namespace geom::space::internal {

/// A plane that closes the room, in grid-local millimetres: point . outward = at.
struct ClosingPlane {
    std::string name;
    Vec3f outward;
    float at = 0.0f;
    float height(Vec3f p) const { return dot(p, outward) - at; }
};

struct RimCarriedOn {
    std::vector<LocalSample> added;
    float farthest_mm = 0.0f;  ///< how far short of its plane the scan stopped at most, where it was carried on
    std::size_t plane = 0;     ///< and of which plane
    Vec3f place;               ///< and where, grid-local
};

/// Rim samples at most `reach_mm` behind a plane, and walls that run towards it within 60 degrees, are carried on.
RimCarriedOn carry_on(const std::vector<LocalSample>& samples, const std::vector<ClosingPlane>& planes, float reach_mm);

}  // namespace geom::space::internal
