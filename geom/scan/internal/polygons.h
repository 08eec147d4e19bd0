// Polygons of any number of corners as triangles: a fan where that is right, ears cut off where the outline turns in.
#pragma once

#include "geom/core/vec.h"

#include <array>
#include <cstdint>
#include <vector>

namespace geom::scan::internal {

/// Takes polygons before their vertices are known; finish() turns those that a fan would get wrong.
class Polygons {
public:
    /// Adds the n - 2 triangles of `corners` to `triangles`; nothing for fewer than three.
    void add(const std::vector<std::uint32_t>& corners, std::vector<std::array<std::uint32_t, 3>>& triangles);
    /// Every corner must be an index into `points`.
    void finish(const std::vector<Point3>& points, std::vector<std::array<std::uint32_t, 3>>& triangles) const;

private:
    struct Range {
        std::size_t first;  ///< of its triangles, which begin as a fan
        std::size_t corners;
    };
    std::vector<Range> larger_;  ///< of four corners and more
};

}  // namespace geom::scan::internal
