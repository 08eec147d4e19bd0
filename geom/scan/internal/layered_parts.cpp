// Samples with another layer are gathered in cells of 20 mm; cells that touch, corners included, are one part.
#include "geom/scan/internal/layered_parts.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace geom::scan::internal {
namespace {

constexpr double kCell_mm = 20.0;
constexpr std::size_t kLeast = 60;

using Cell = std::array<long, 3>;

}  // namespace

std::vector<Layered> layered_parts(const Surface& surface) {
    std::map<Cell, std::vector<std::size_t>> cells;
    for (std::size_t i = 0; i < surface.layer_mm.size(); ++i) {
        if (!(surface.layer_mm[i] > 0.0f)) continue;
        const Point3 p = surface.points[i] / kCell_mm;
        cells[{std::lround(std::floor(p.x)), std::lround(std::floor(p.y)), std::lround(std::floor(p.z))}].push_back(i);
    }
    std::vector<Layered> parts;
    while (!cells.empty()) {
        std::vector<std::size_t> members;
        std::vector<Cell> next{cells.begin()->first};
        for (std::size_t n = 0; n < next.size(); ++n) {
            const auto found = cells.find(next[n]);
            if (found == cells.end()) continue;
            members.insert(members.end(), found->second.begin(), found->second.end());
            cells.erase(found);
            const Cell at = next[n];
            for (long x = -1; x <= 1; ++x)
                for (long y = -1; y <= 1; ++y)
                    for (long z = -1; z <= 1; ++z) next.push_back({at[0] + x, at[1] + y, at[2] + z});
        }
        if (members.size() < kLeast) continue;
        Aabb box;
        std::vector<float> apart;
        for (const std::size_t m : members) box.grow(surface.points[m]), apart.push_back(surface.layer_mm[m]);
        const auto middle = apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2);
        std::nth_element(apart.begin(), middle, apart.end());
        const Point3 centre = (box.lo + box.hi) / 2.0;
        const std::size_t nearest =
            *std::min_element(members.begin(), members.end(), [&](std::size_t a, std::size_t b) {
                const double da = norm2(surface.points[a] - centre), db = norm2(surface.points[b] - centre);
                return da != db ? da < db : a < b;
            });
        parts.push_back(
            {surface.points[nearest], members.size(), static_cast<double>(*middle), Length::mm(norm(box.size()))});
    }
    std::stable_sort(parts.begin(), parts.end(),
                     [](const Layered& a, const Layered& b) { return a.samples > b.samples; });
    return parts;
}

}  // namespace geom::scan::internal
