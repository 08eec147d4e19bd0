// What of a cloud is believed: lone points and floating clusters are not.
#pragma once

#include "geom/scan/internal/point_index.h"
#include "geom/scan/surface.h"

#include <vector>

namespace geom::scan::internal {

struct Cleaned {
    std::vector<char> kept;        ///< by place of the index
    std::vector<float> d8_mm;      ///< distance to the eighth neighbour, by place
    double spacing_mm = 0.0;       ///< median, as if on a square grid
    std::vector<Dropped> dropped;  ///< largest first, lone points pooled
};

/// `neighbours` are the `k` >= 8 nearest of each place, the first 8 sorted. `weight` says how many raw points each
/// place stands for; empty: one each.
Cleaned clean(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
              const std::vector<float>& weight, Area least_cluster);

/// Adds a pooled or single entry, keeping the list by falling number of points.
void add_dropped(std::vector<Dropped>& list, Dropped entry);

}  // namespace geom::scan::internal
