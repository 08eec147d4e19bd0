// Binary squared distance transform in three separable passes (Felzenszwalb and Huttenlocher 2012, cited from memory),
// each over a window as wide as the range: no branches, rows in step.
#include "geom/space/internal/rough_distance.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {
constexpr float kFar = 1e12f;

void lower(const float* __restrict from, float* __restrict to, float step, int n) {
    for (int i = 0; i < n; ++i) {
        const float c = from[i] + step;
        to[i] = c < to[i] ? c : to[i];
    }
}
}  // namespace

std::vector<float> rough_distance(const GridSpec& g, const std::vector<Vec3f>& local_points, double range_mm) {
    const std::size_t nx = static_cast<std::size_t>(g.nx), ny = static_cast<std::size_t>(g.ny),
                      rows = ny * static_cast<std::size_t>(g.nz);
    const int range = static_cast<int>(std::ceil(range_mm / g.h_mm)) + 1;
    const auto inv_h = static_cast<float>(1.0 / g.h_mm);
    std::vector<float> a(g.count(), kFar), b(g.count(), kFar);
    std::vector<unsigned char> used_a(rows, 0), used_b(rows, 0);
    for (const Vec3f& p : local_points) {
        const long i = std::lround(p.x * inv_h), j = std::lround(p.y * inv_h), k = std::lround(p.z * inv_h);
        if (i < 0 || j < 0 || k < 0 || i >= g.nx || j >= g.ny || k >= g.nz) continue;
        a[g.index(static_cast<int>(i), static_cast<int>(j), static_cast<int>(k))] = 0.0f;
        used_a[static_cast<std::size_t>(k) * ny + static_cast<std::size_t>(j)] = 1;
    }
    // Along x: two sweeps, a -> b.
    parallel_for(rows, 64, [&](std::size_t begin, std::size_t end) {
        for (std::size_t row = begin; row < end; ++row) {
            if (!used_a[row]) continue;
            const float* from = &a[row * nx];
            float* to = &b[row * nx];
            float last = -1e6f;
            for (std::size_t i = 0; i < nx; ++i) {
                if (from[i] == 0.0f) last = static_cast<float>(i);
                const float d = static_cast<float>(i) - last;
                to[i] = d * d;
            }
            last = 1e6f;
            for (std::size_t i = nx; i-- > 0;) {
                if (from[i] == 0.0f) last = static_cast<float>(i);
                const float d = last - static_cast<float>(i);
                to[i] = std::min(to[i], d * d);
            }
        }
    });
    used_b = used_a;
    const auto spread = [&](const std::vector<float>& from, const std::vector<unsigned char>& from_used,
                            std::vector<float>& to, std::vector<unsigned char>& to_used, bool along_y) {
        parallel_for(rows, 64, [&](std::size_t begin, std::size_t end) {
            for (std::size_t row = begin; row < end; ++row) {
                const int j = static_cast<int>(row % ny), k = static_cast<int>(row / ny);
                float* out = &to[row * nx];
                std::fill(out, out + nx, kFar);
                bool used = false;
                for (int s = -range; s <= range; ++s) {
                    const int jj = along_y ? j + s : j, kk = along_y ? k : k + s;
                    if (jj < 0 || kk < 0 || jj >= g.ny || kk >= g.nz) continue;
                    const std::size_t source = static_cast<std::size_t>(kk) * ny + static_cast<std::size_t>(jj);
                    if (!from_used[source]) continue;
                    used = true;
                    lower(&from[source * nx], out, static_cast<float>(s * s), g.nx);
                }
                to_used[row] = used ? 1 : 0;
            }
        });
    };
    spread(b, used_b, a, used_a, true);
    spread(a, used_a, b, used_b, false);
    const auto h = static_cast<float>(g.h_mm), most = static_cast<float>(range_mm);
    parallel_for(b.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
        for (std::size_t q = begin; q < end; ++q) b[q] = std::min(most, h * std::sqrt(b[q]));
    });
    return b;
}

}  // namespace geom::space::internal
