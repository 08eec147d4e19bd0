// A constrained Delaunay triangulation of a region of the plane: closed outlines (holes among them, even-odd) and
// points inside.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace geom::measure::internal {

struct FlatPoint {
    double x = 0.0, y = 0.0;
};

/// Triangles, counter-clockwise, as indices into `points`; `sides` are pairs of indices that bound the region. None
/// when sides cross one another. Points that repeat an earlier one to the bit are the caller's fault.
std::optional<std::vector<std::array<std::uint32_t, 3>>> triangulate(
    const std::vector<FlatPoint>& points, const std::vector<std::array<std::uint32_t, 2>>& sides);

}  // namespace geom::measure::internal
