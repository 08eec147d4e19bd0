// Widest path (Pollack 1960): from the seeds, W(node) = min(W(parent), distance to what closes), widest first, in
// buckets of 0.1 mm. The first node at the grid's side gives the widest way out, and W there the radius of the ball
// that passes. The neck is the node nearest the seed on that path where the distance comes down to W: farther on,
// outside the wall, it may be as small again. Paper cited from memory.
#include "geom/space/internal/leak.h"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace geom::space::internal {
namespace {

constexpr float kBucket = 0.1f;
constexpr std::uint32_t kNone = ~0u;

std::array<int, 3> node_of(const GridSpec& g, std::size_t q) {
    const auto nx = static_cast<std::size_t>(g.nx), ny = static_cast<std::size_t>(g.ny);
    return {static_cast<int>(q % nx), static_cast<int>(q / nx % ny), static_cast<int>(q / (nx * ny))};
}

bool is_exit(const GridSpec& g, const std::array<int, 3>& c) {
    return c[0] == 0 || c[2] == 0 || c[0] == g.nx - 1 || c[1] == g.ny - 1 || c[2] == g.nz - 1;
}

}  // namespace

std::optional<WayOut> widest_way_out(const GridSpec& g, const std::vector<float>& open_mm,
                                     const std::vector<std::size_t>& seeds, float least_mm) {
    std::vector<float> width(g.count(), -1.0f);
    std::vector<std::uint32_t> parent(g.count(), kNone);
    std::vector<std::vector<std::uint32_t>> buckets(1);
    std::size_t top = 0;
    const auto push = [&](std::size_t q, float w) {
        width[q] = w;
        const auto b = static_cast<std::size_t>(std::max(0.0f, w) / kBucket);
        if (b >= buckets.size()) buckets.resize(b + 1);
        buckets[b].push_back(static_cast<std::uint32_t>(q));
        top = std::max(top, b);
    };
    for (const std::size_t q : seeds)
        if (open_mm[q] > least_mm) push(q, open_mm[q]);
    const std::array<std::ptrdiff_t, 3> stride{1, g.nx, static_cast<std::ptrdiff_t>(g.nx) * g.ny};
    const std::array<int, 3> n{g.nx, g.ny, g.nz};
    while (true) {
        while (top > 0 && buckets[top].empty()) --top;
        if (buckets[top].empty()) return std::nullopt;
        const std::uint32_t q = buckets[top].back();
        buckets[top].pop_back();
        const auto c = node_of(g, q);
        if (is_exit(g, c)) {
            WayOut out;
            out.radius_mm = width[q];
            std::uint32_t neck = q;
            for (std::uint32_t at = q; at != kNone; at = parent[at])
                if (open_mm[at] <= out.radius_mm + 0.25f) neck = at;
            const auto place = [&](const std::array<int, 3>& at) {
                const auto h = static_cast<float>(g.h_mm);
                return Vec3f{static_cast<float>(at[0]) * h, static_cast<float>(at[1]) * h,
                             static_cast<float>(at[2]) * h};
            };
            out.neck = place(node_of(g, neck));
            out.exit = place(c);
            return out;
        }
        for (std::size_t a = 0; a < 3; ++a)
            for (const int s : {1, -1}) {
                if (c[a] + s < 0 || c[a] + s >= n[a]) continue;
                const std::size_t r = static_cast<std::size_t>(static_cast<std::ptrdiff_t>(q) + s * stride[a]);
                const float w = std::min(width[q], open_mm[r]);
                if (w <= least_mm || w <= width[r]) continue;
                parent[r] = q;
                push(r, w);
            }
    }
}

WayOut centred(const WayOut& rough, const std::vector<LocalSample>& samples, const SampleTree& tree, float h) {
    WayOut out = rough;
    const auto clear = [&](Vec3f p) { return tree.nearest(p, 2.0f * rough.radius_mm + 20.0f); };
    for (int round = 0; round < 4; ++round) {
        const float reach = std::max(clear(out.neck), rough.radius_mm) + 8.0f;
        Eigen::Vector3d mean = Eigen::Vector3d::Zero();
        Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
        int count = 0;
        for (const LocalSample& s : samples) {
            const Vec3f d = s.at - out.neck;
            if (dot(d, d) > reach * reach) continue;
            const Eigen::Vector3d v(d.x, d.y, d.z);
            mean += v, spread += v * v.transpose();
            ++count;
        }
        if (count < 10) break;
        mean /= count;
        spread = spread / count - mean * mean.transpose();
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(spread);
        const Eigen::Vector3d n = eigen.eigenvectors().col(0), u = eigen.eigenvectors().col(1),
                              v = eigen.eigenvectors().col(2);
        const auto step = [](Vec3f p, const Eigen::Vector3d& d, double s) {
            return p + Vec3f{static_cast<float>(d[0] * s), static_cast<float>(d[1] * s), static_cast<float>(d[2] * s)};
        };
        Vec3f at = step(out.neck, n, n.dot(mean));
        float best = clear(at);
        for (double size = 4.0; size > 0.2; size *= 0.6)
            for (int again = 0; again < 4; ++again)
                for (int d = 0; d < 8; ++d) {
                    const double angle = d * std::numbers::pi / 4.0;
                    const Vec3f next = step(step(at, u, size * std::cos(angle)), v, size * std::sin(angle));
                    const float c = clear(next);
                    if (c > best && c < 1.6f * rough.radius_mm + h) best = c, at = next;
                }
        out.neck = at;
    }
    const float found = clear(out.neck);
    // The climb may have run out of the hole along an open side: then the first figure stands.
    out.radius_mm = found > 0.5f * rough.radius_mm && found <= 1.6f * rough.radius_mm + h ? found : rough.radius_mm;
    return out;
}

double enclosed_share(const GridSpec& g, const std::vector<float>& open_mm, std::array<int, 3> from) {
    constexpr int kRays = 400;
    const auto h = static_cast<float>(g.h_mm);
    int closed = 0;
    for (int r = 0; r < kRays; ++r) {
        // Directions spread by the golden angle.
        const double z = 1.0 - (2.0 * r + 1.0) / kRays, a = r * std::numbers::pi * (3.0 - std::sqrt(5.0)),
                     s = std::sqrt(1.0 - z * z);
        const Vec3f d{static_cast<float>(s * std::cos(a)), static_cast<float>(s * std::sin(a)), static_cast<float>(z)};
        Vec3f p{static_cast<float>(from[0]), static_cast<float>(from[1]), static_cast<float>(from[2])};
        while (true) {
            const int i = static_cast<int>(std::lround(p.x)), j = static_cast<int>(std::lround(p.y)),
                      k = static_cast<int>(std::lround(p.z));
            if (i < 0 || k < 0 || j >= g.ny || i >= g.nx || k >= g.nz) break;  // out into the unknown
            if (j < 0 || open_mm[g.index(i, j, k)] < 0.9f * h) {
                ++closed;
                break;
            }
            p = p + d * std::max(0.5f, open_mm[g.index(i, j, k)] / h - 0.9f);
        }
    }
    return static_cast<double>(closed) / kRays;
}

}  // namespace geom::space::internal
