// The least over many points. One point in sixteen is tried first: the least of those bounds the search of all the
// others, which then mostly ends at the first boxes. Chunks report on their own and are compared in order, so that ties
// have one answer.
#pragma once

#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"

#include <limits>

namespace geom::measure::internal {

constexpr std::size_t kSearchGrain = 2048, kSearchCoarse = 16;

/// `ask(point, within)` gives the Nearest of a point, not found beyond `within`.
template <class Ask>
Clearance least_search(const std::vector<Point3>& points, double bound, const std::function<bool(std::size_t)>& counts,
                       const Ask& ask) {
    Clearance best;
    best.least_mm = bound;
    bool found = false;
    for (const std::size_t step : {kSearchCoarse, std::size_t{1}}) {
        const std::size_t n = (points.size() + step - 1) / step, chunks = (n + kSearchGrain - 1) / kSearchGrain;
        std::vector<Clearance> least(chunks);
        const double start = best.least_mm;
        parallel_for(n, kSearchGrain, [&](std::size_t begin, std::size_t end) {
            Clearance own;
            own.least_mm = start;
            bool any = false;
            for (std::size_t k = begin; k < end; ++k) {
                const std::size_t i = k * step;
                if (counts && !counts(i)) continue;
                const Nearest near = ask(points[i], own.least_mm);
                if (!near.is_found() || (any && near.distance_mm >= own.least_mm)) continue;
                own = {near.distance_mm, points[i], near.at, i};
                any = true;
            }
            if (!any) own.least_mm = std::numeric_limits<double>::infinity();
            least[begin / kSearchGrain] = own;
        });
        for (const Clearance& c : least) {
            if (c.least_mm > best.least_mm) continue;
            if (c.least_mm < best.least_mm || !found || c.index < best.index) {
                best = c;
                found = true;
            }
        }
    }
    if (!found) best.least_mm = std::numeric_limits<double>::infinity();
    return best;
}

}  // namespace geom::measure::internal
