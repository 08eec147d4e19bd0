// The connected part of {phi < 0} that holds a node, by runs along x.
#pragma once

#include "geom/space/field.h"

#include <array>
#include <vector>

namespace geom::space::internal {

struct Flooded {
    std::vector<unsigned char> in;  ///< 1 where reached
    std::size_t count = 0;
    std::array<int, 3> lo{}, hi{};  ///< node box of what was reached, inclusive
    bool is_empty() const { return count == 0; }
};

/// Nodes reached from `seed` over 6-neighbours with phi < level; empty when the seed itself is not below it.
Flooded flood(const GridSpec& grid, const std::vector<float>& phi, float level, std::array<int, 3> seed);

/// The reached set grown by `steps` voxels (in the largest-axis sense).
std::vector<unsigned char> grown(const GridSpec& grid, const std::vector<unsigned char>& in, int steps);

}  // namespace geom::space::internal
