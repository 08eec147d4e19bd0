// Edges of two limits that stay sharp: which they are, and where the room has them before it is rounded.
#pragma once

#include "geom/space/room.h"

#include <vector>

namespace geom::space::internal {

/// The edges that the limits ask for, each once; `free` is left empty. A name that no limit bears is passed over, and
/// planes that are parallel too: whoever asks for a part hears of both before.
std::vector<SharpEdge> sharp_edges_of(const RoomOptions& options);

/// Where nothing but the two planes bounds the room between the edge and a rounding of `radius_mm`: every node there
/// has the larger of the two heights, or less, but for `tolerance_mm`. `phi` mm, negative in the room, close to a
/// distance near its zero set.
std::vector<Stretch> free_along(const SharpEdge& edge, const GridSpec& grid, const std::vector<float>& phi,
                                double radius_mm, double tolerance_mm);

}  // namespace geom::space::internal
