// The volume table is strictly falling in y, so the place is a root of it; the table's own Newton step finds it.
// Pieces are found by a flood over face neighbours.
#include "geom/parts/size.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace geom::parts {

namespace {

BafflePlace place_at(const space::VolumeTable& table, const Baffle& baffle, double t_mm) {
    const double air_y_mm = -t_mm + baffle.thickness.mm();
    return {t_mm, -t_mm, air_y_mm, table.volume_behind(air_y_mm)};
}

}  // namespace

BareRange bare_range(const space::VolumeTable& table, const Baffle& baffle) {
    return {place_at(table, baffle, baffle.travel_lo_mm).bare_air,
            place_at(table, baffle, baffle.travel_hi_mm).bare_air};
}

std::optional<BafflePlace> baffle_place(const space::VolumeTable& table, const Baffle& baffle, Volume bare) {
    const std::optional<double> air_y_mm = table.plane_for(bare);
    if (!air_y_mm) return std::nullopt;
    const double t_mm = baffle.thickness.mm() - *air_y_mm;
    constexpr double kRounding_mm = 1e-6;
    if (t_mm < baffle.travel_lo_mm - kRounding_mm || t_mm > baffle.travel_hi_mm + kRounding_mm) return std::nullopt;
    return place_at(table, baffle, t_mm);
}

Volume keep_largest_piece(space::Field& body, double plane_y_mm) {
    const space::GridSpec& grid = body.grid;
    const int j0 = std::clamp(static_cast<int>(std::ceil((plane_y_mm - grid.lo.y) / grid.h_mm)), 0, grid.ny);
    std::vector<std::uint32_t> piece(grid.count(), 0);
    std::vector<std::size_t> sizes{0};
    std::vector<std::size_t> stack;
    const auto sx = std::size_t{1}, sy = static_cast<std::size_t>(grid.nx), sz = sy * static_cast<std::size_t>(grid.ny);
    for (int k = 0; k < grid.nz; ++k)
        for (int j = j0; j < grid.ny; ++j)
            for (int i = 0; i < grid.nx; ++i) {
                const std::size_t start = grid.index(i, j, k);
                if (piece[start] != 0 || body.mm[start] >= 0.0f) continue;
                const auto id = static_cast<std::uint32_t>(sizes.size());
                sizes.push_back(0);
                piece[start] = id;
                stack.push_back(start);
                while (!stack.empty()) {
                    const std::size_t node = stack.back();
                    stack.pop_back();
                    ++sizes[id];
                    const auto ni = static_cast<int>(node % sy),
                               nj = static_cast<int>(node / sy % static_cast<std::size_t>(grid.ny)),
                               nk = static_cast<int>(node / sz);
                    const auto visit = [&](bool inside, std::size_t next) {
                        if (inside && piece[next] == 0 && body.mm[next] < 0.0f) piece[next] = id, stack.push_back(next);
                    };
                    visit(ni > 0, node - sx);
                    visit(ni + 1 < grid.nx, node + sx);
                    visit(nj > j0, node - sy);
                    visit(nj + 1 < grid.ny, node + sy);
                    visit(nk > 0, node - sz);
                    visit(nk + 1 < grid.nz, node + sz);
                }
            }
    if (sizes.size() <= 2) return Volume::mm3(0);
    const auto largest = static_cast<std::uint32_t>(std::max_element(sizes.begin(), sizes.end()) - sizes.begin());
    std::size_t raised = 0;
    for (std::size_t n = 0; n < piece.size(); ++n)
        if (piece[n] != 0 && piece[n] != largest) {
            body.mm[n] = static_cast<float>(grid.h_mm);
            ++raised;
            // Up to the plane of nodes before it, or a sliver would be left between that and the plane asked for.
            const bool is_first = static_cast<int>(n / sy % static_cast<std::size_t>(grid.ny)) == j0;
            if (is_first && j0 > 0) body.mm[n - sy] = std::max(body.mm[n - sy], static_cast<float>(grid.h_mm));
        }
    return Volume::mm3(static_cast<double>(raised) * grid.h_mm * grid.h_mm * grid.h_mm);
}

}  // namespace geom::parts
