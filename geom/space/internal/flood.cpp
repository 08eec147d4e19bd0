#include "geom/space/internal/flood.h"

#include "geom/core/parallel.h"

#include <algorithm>

namespace geom::space::internal {

Flooded flood(const GridSpec& g, const std::vector<float>& phi, float level, std::array<int, 3> seed) {
    Flooded f;
    f.in.assign(g.count(), 0);
    if (!(phi[g.index(seed[0], seed[1], seed[2])] < level)) return f;
    f.lo = f.hi = seed;
    struct Run {
        int i, j, k;
    };
    std::vector<Run> open{{seed[0], seed[1], seed[2]}};
    while (!open.empty()) {
        const Run r = open.back();
        open.pop_back();
        const std::size_t row = g.index(0, r.j, r.k);
        if (f.in[row + static_cast<std::size_t>(r.i)]) continue;
        int first = r.i, last = r.i;
        while (first > 0 && phi[row + static_cast<std::size_t>(first - 1)] < level) --first;
        while (last + 1 < g.nx && phi[row + static_cast<std::size_t>(last + 1)] < level) ++last;
        std::fill(f.in.begin() + static_cast<std::ptrdiff_t>(row) + first,
                  f.in.begin() + static_cast<std::ptrdiff_t>(row) + last + 1, static_cast<unsigned char>(1));
        f.count += static_cast<std::size_t>(last - first + 1);
        const int lo[3] = {first, r.j, r.k}, hi[3] = {last, r.j, r.k};
        for (std::size_t a = 0; a < 3; ++a) f.lo[a] = std::min(f.lo[a], lo[a]), f.hi[a] = std::max(f.hi[a], hi[a]);
        const int side[4][2] = {{1, 0}, {-1, 0}, {0, 1}, {0, -1}};
        for (const auto& s : side) {
            const int j = r.j + s[0], k = r.k + s[1];
            if (j < 0 || k < 0 || j >= g.ny || k >= g.nz) continue;
            const std::size_t other = g.index(0, j, k);
            bool inside = false;
            for (int i = first; i <= last; ++i) {
                const std::size_t at = other + static_cast<std::size_t>(i);
                const bool takes = phi[at] < level && !f.in[at];
                if (takes && !inside) open.push_back({i, j, k});
                inside = takes;
            }
        }
    }
    return f;
}

std::vector<unsigned char> grown(const GridSpec& g, const std::vector<unsigned char>& in, int steps) {
    std::vector<unsigned char> a = in, b(in.size());
    const std::size_t nx = static_cast<std::size_t>(g.nx), ny = static_cast<std::size_t>(g.ny),
                      rows = ny * static_cast<std::size_t>(g.nz);
    parallel_for(rows, 64, [&](std::size_t begin, std::size_t end) {
        for (std::size_t row = begin; row < end; ++row) {
            const unsigned char* from = &in[row * nx];
            unsigned char* to = &a[row * nx];
            for (std::size_t i = 0; i < nx; ++i) {
                if (!from[i]) continue;
                const std::size_t lo = i >= static_cast<std::size_t>(steps) ? i - static_cast<std::size_t>(steps) : 0;
                std::fill(to + lo, to + std::min(nx, i + static_cast<std::size_t>(steps) + 1),
                          static_cast<unsigned char>(1));
            }
        }
    });
    const auto spread = [&](const std::vector<unsigned char>& from, std::vector<unsigned char>& to, bool along_y) {
        parallel_for(rows, 64, [&](std::size_t begin, std::size_t end) {
            for (std::size_t row = begin; row < end; ++row) {
                const int j = static_cast<int>(row % ny), k = static_cast<int>(row / ny);
                unsigned char* out = &to[row * nx];
                std::fill(out, out + nx, static_cast<unsigned char>(0));
                for (int s = -steps; s <= steps; ++s) {
                    const int jj = along_y ? j + s : j, kk = along_y ? k : k + s;
                    if (jj < 0 || kk < 0 || jj >= g.ny || kk >= g.nz) continue;
                    const unsigned char* source =
                        &from[(static_cast<std::size_t>(kk) * ny + static_cast<std::size_t>(jj)) * nx];
                    for (std::size_t i = 0; i < nx; ++i) out[i] = static_cast<unsigned char>(out[i] | source[i]);
                }
            }
        });
    };
    spread(a, b, true);
    spread(b, a, false);
    return a;
}

}  // namespace geom::space::internal
