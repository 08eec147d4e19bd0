#include "geom/space/internal/opening.h"

#include "geom/core/parallel.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/internal/sharp.h"

#include <algorithm>

namespace geom::space::internal {
namespace {

/// A core that is thinner than about twice `depth` breaks off where noise decides, and the ball that rolls in it leaves
/// a ragged finger. What lies farther than twice `depth` from the part of the core that is `depth` deep goes; at edges
/// down to 60 degrees nothing changes.
void drop_slivers(const GridSpec& grid, float depth, std::vector<float>& core, std::vector<EdgePiece>& edges) {
    const double reach = 3.0 * static_cast<double>(depth);
    std::vector<float> away = core;
    for (float& v : away) v += depth;
    const std::vector<EdgePiece> deep_edges = sharp_edges(grid, away);
    away = redistance(grid, away, {0.0, reach}, deep_edges);
    stamp(grid, deep_edges, reach, away);
    for (float& v : away) v -= 2.0f * depth;
    const Tricubic beyond(grid, away.data());
    const float slack = 0.1f * static_cast<float>(grid.h_mm);
    std::erase_if(edges, [&](const EdgePiece& e) { return beyond.value(e.a) > slack || beyond.value(e.b) > slack; });
    for (std::size_t q = 0; q < core.size(); ++q) core[q] = std::max(core[q], away[q]);
}

}  // namespace

std::vector<float> opened(const GridSpec& grid, const std::vector<float>& distance_mm, double inset_mm,
                          double radius_mm, double reach_mm, CoreEdges core_edges) {
    std::vector<float> core = distance_mm;
    const auto shift = static_cast<float>(inset_mm + radius_mm);
    for (float& v : core) v += shift;
    std::vector<EdgePiece> edges;
    if (core_edges == CoreEdges::Found) edges = sharp_edges(grid, core);
    // The outer body keeps what it can (as deep as the air it would lose 0.4 % in a plain cavity); the air rather has a
    // smooth skin.
    drop_slivers(grid, static_cast<float>((core_edges == CoreEdges::Found ? 0.5 : 1.25) * grid.h_mm), core, edges);
    std::vector<float> out = redistance(grid, core, {0.0, radius_mm + reach_mm}, edges);
    stamp(grid, edges, radius_mm + reach_mm, out);
    const auto radius = static_cast<float>(radius_mm), inset = static_cast<float>(inset_mm);
    parallel_for(out.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
        for (std::size_t q = begin; q < end; ++q) out[q] = core[q] < 0.0f ? distance_mm[q] + inset : out[q] - radius;
    });
    return out;
}

}  // namespace geom::space::internal
