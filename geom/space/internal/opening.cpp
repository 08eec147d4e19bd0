#include "geom/space/internal/opening.h"

#include "geom/core/parallel.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/internal/sharp.h"

#include <algorithm>

namespace geom::space::internal {

std::vector<float> opened(const GridSpec& grid, const std::vector<float>& distance_mm, double inset_mm, double radius_mm,
                          double reach_mm) {
    std::vector<float> core = distance_mm;
    const auto shift = static_cast<float>(inset_mm + radius_mm);
    for (float& v : core) v += shift;
    const std::vector<EdgePiece> edges = sharp_edges(grid, core);
    std::vector<float> out = redistance(grid, core, {0.0, radius_mm + reach_mm}, edges);
    stamp(grid, edges, radius_mm + reach_mm, out);
    const auto radius = static_cast<float>(radius_mm), inset = static_cast<float>(inset_mm);
    parallel_for(out.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
        for (std::size_t q = begin; q < end; ++q) out[q] = core[q] < 0.0f ? distance_mm[q] + inset : out[q] - radius;
    });
    return out;
}

}  // namespace geom::space::internal
