// Ways out of the room into unscanned space: how wide the widest is, and where its neck lies.
#pragma once

#include "geom/space/internal/sample_tree.h"

#include <array>
#include <optional>
#include <vector>

namespace geom::space::internal {

struct WayOut {
    float radius_mm = 0.0f;  ///< of the largest ball that passes
    Vec3f neck;              ///< where it is tightest, grid-local mm
    Vec3f exit;              ///< where it leaves the grid
};

/// The widest way from `seeds` (nodes) to the sides of the grid other than the low y side. `open_mm` is the distance
/// to whatever closes the room, zero or less inside of it. None when no way is wider than `least_mm`.
std::optional<WayOut> widest_way_out(const GridSpec& grid, const std::vector<float>& open_mm,
                                     const std::vector<std::size_t>& seeds, float least_mm);

/// Centre and radius of the hole in the samples near a neck that is right to about a voxel.
WayOut centred(const WayOut& rough, const std::vector<LocalSample>& samples, const SampleTree& tree, float h);

/// Share of all directions in which something closes the room, seen from a node.
double enclosed_share(const GridSpec& grid, const std::vector<float>& open_mm, std::array<int, 3> from);

}  // namespace geom::space::internal
