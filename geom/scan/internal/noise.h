// How far the points of a cloud scatter about the surface, over all and place by place.
#pragma once

#include "geom/scan/internal/point_index.h"

#include <vector>

namespace geom::scan::internal {

struct Noise {
    double median_mm = 0.0;    ///< standard deviation across the surface, median over the cloud
    double high_mm = 0.0;      ///< nine tenths of the cloud have less
    std::vector<float> at_mm;  ///< by place: the median of its surroundings
    /// Over a good part of the cloud the points lie in two layers (a wall scanned twice, a sheet from both sides) that
    /// the spread takes for noise.
    bool is_layered = false;
};

/// From the `k` >= 23 nearest of some tens of thousands of places. Only places with `kept` count (empty: all).
Noise estimate_noise(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                     const std::vector<char>& kept);

}  // namespace geom::scan::internal
