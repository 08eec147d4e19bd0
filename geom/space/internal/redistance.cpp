// Three steps.
//   1. On every grid edge whose ends differ in sign, the zero: of the quadratic through three nodes, chosen on the
//      side of the smaller second difference (ENO; Shu and Osher 1988), of the chord where the two disagree in sign.
//   2. For each axis the zeros lie on grid lines, so the nearest one along the line is known below a voxel; two passes
//      of min-plus with d^2 along the other two axes make it the exact nearest zero of that axis (separable squared
//      distance: Maurer, Qi, Raghavan 2003; Felzenszwalb and Huttenlocher 2012). The range wanted is about ten
//      voxels, so the passes look at a window instead of building envelopes: no branches, and all rows run in step.
//      The least of the three axes is the exact distance to the set of all zeros.
//   3. In the band, a foot point on the tricubic zero set (Chopp 2001): start at the nearest zero, step in the tangent
//      plane to under the node, fall back onto the zero set along the gradient, repeat. Within two voxels of a sharp
//      edge the tricubic rings by a tenth of a voxel; there the plane of the nearest trustworthy node stands in for
//      it, and a foot beyond the edge is refused: the edge itself, put in last, is what is nearest then.
// Papers cited from memory.
#include "geom/space/internal/redistance.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/space/internal/tricubic.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace geom::space::internal {
namespace {

constexpr float kFar = 1e12f;  // squared voxels

struct Zero {
    Vec3f at;      // voxels
    Vec3f normal;  // unit, up the function; zero where none can be trusted
    bool near_edge = false;
};

/// Zero between nodes 0 and 1 of values at -1, 0, 1, 2; the outer ones may be missing.
float zero_of_edge(float m, float a, float b, float q, bool has_m, bool has_q) {
    const float chord = a / (a - b);
    const float sm = has_m ? m - 2.0f * a + b : 0.0f, sq = has_q ? a - 2.0f * b + q : 0.0f;
    float s = 0.0f;
    if (has_m && has_q) {
        if (sm * sq <= 0.0f) return chord;
        s = std::abs(sm) < std::abs(sq) ? sm : sq;
    } else {
        s = has_m ? sm : sq;
    }
    if (std::abs(s) > 0.5f * (std::abs(a) + std::abs(b))) return chord;
    float t = chord;
    for (int round = 0; round < 3; ++round) {
        const float f = a + (b - a) * t - 0.5f * s * t * (1.0f - t);
        const float slope = (b - a) - 0.5f * s * (1.0f - 2.0f * t);
        if (std::abs(slope) < 1e-9f) break;
        t -= f / slope;
    }
    return std::clamp(t, 0.0f, 1.0f);
}

/// Normal of that end of a grid edge whose plane passes closest to the zero; zero when neither can be trusted.
Vec3f normal_of_node(const GridSpec& g, const std::vector<float>& phi, Vec3f zero, int axis, int i, int j, int k) {
    float closest = 0.1f;
    Vec3f normal;
    for (int end = 0; end < 2; ++end) {
        NodePlane plane;
        if (!node_plane(g, phi, i + (axis == 0 ? end : 0), j + (axis == 1 ? end : 0), k + (axis == 2 ? end : 0), plane))
            continue;
        const float off = std::abs(plane.value + dot(plane.normal, zero - plane.at));
        if (off < closest) closest = off, normal = plane.normal;
    }
    return normal;
}

/// Nodes within two voxels of an edge piece's ends; empty when there are none.
std::vector<unsigned char> nodes_near(const GridSpec& g, const std::vector<EdgePiece>& edges) {
    std::vector<unsigned char> near;
    if (edges.empty()) return near;
    near.assign(g.count(), 0);
    for (const EdgePiece& e : edges) {
        if (e.a.x != e.b.x || e.a.y != e.b.y || e.a.z != e.b.z) continue;  // every vertex is also a piece of its own
        for (int k = std::max(0, static_cast<int>(e.a.z) - 2); k <= std::min(g.nz - 1, static_cast<int>(e.a.z) + 3);
             ++k)
            for (int j = std::max(0, static_cast<int>(e.a.y) - 2); j <= std::min(g.ny - 1, static_cast<int>(e.a.y) + 3);
                 ++j)
                for (int i = std::max(0, static_cast<int>(e.a.x) - 2);
                     i <= std::min(g.nx - 1, static_cast<int>(e.a.x) + 3); ++i)
                    near[g.index(i, j, k)] = 1;
    }
    return near;
}

/// The zeros on edges along `axis`, in order of their nodes.
std::vector<Zero> zeros_along(const GridSpec& g, const std::vector<float>& phi, int axis,
                              const std::vector<unsigned char>& near_edge) {
    const std::size_t stride = axis == 0   ? 1
                               : axis == 1 ? static_cast<std::size_t>(g.nx)
                                           : static_cast<std::size_t>(g.nx) * static_cast<std::size_t>(g.ny);
    const int n = axis == 0 ? g.nx : axis == 1 ? g.ny : g.nz;
    std::vector<std::vector<Zero>> slabs(static_cast<std::size_t>(g.nz));
    const Tricubic field(g, phi.data());
    parallel_for(slabs.size(), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t kk = begin; kk < end; ++kk) {
            const int k = static_cast<int>(kk);
            for (int j = 0; j < g.ny; ++j)
                for (int i = 0; i < g.nx; ++i) {
                    const int at = axis == 0 ? i : axis == 1 ? j : k;
                    if (at + 1 >= n) continue;
                    const float* p = phi.data() + g.index(i, j, k);
                    const float a = p[0], b = p[stride];
                    if ((a < 0.0f) == (b < 0.0f)) continue;
                    const bool has_m = at > 0, has_q = at + 2 < n;
                    const float t =
                        zero_of_edge(has_m ? *(p - stride) : 0.0f, a, b, has_q ? p[2 * stride] : 0.0f, has_m, has_q);
                    Zero z;
                    z.at = {static_cast<float>(i) + (axis == 0 ? t : 0.0f),
                            static_cast<float>(j) + (axis == 1 ? t : 0.0f),
                            static_cast<float>(k) + (axis == 2 ? t : 0.0f)};
                    z.near_edge = !near_edge.empty() && near_edge[g.index(i, j, k)];
                    if (z.near_edge) {
                        z.normal = normal_of_node(g, phi, z.at, axis, i, j, k);
                    } else {
                        const Vec3f grad = field.at(z.at).gradient;
                        const float len = norm(grad);
                        z.normal = len > 0.0f ? grad * (1.0f / len) : Vec3f{};
                    }
                    slabs[kk].push_back(z);
                }
        }
    });
    std::vector<Zero> zeros;
    for (const auto& slab : slabs) zeros.insert(zeros.end(), slab.begin(), slab.end());
    return zeros;
}

// The same arithmetic compiled twice; elementwise float operations give the same bits on either path.
#define GAPWRIGHT_ROW_BODY                         \
    for (int i = 0; i < n; ++i) {                  \
        const float c = from[i] + step;            \
        const bool nearer = c < to[i];             \
        to[i] = nearer ? c : to[i];                \
        to_id[i] = nearer ? from_id[i] : to_id[i]; \
    }
using RowPass = void (*)(const float*, const std::uint32_t*, float*, std::uint32_t*, float, int);
#if defined(__x86_64__)
__attribute__((target("avx2"))) void lower_row_wide(const float* __restrict from,
                                                    const std::uint32_t* __restrict from_id, float* __restrict to,
                                                    std::uint32_t* __restrict to_id, float step, int n) {
    GAPWRIGHT_ROW_BODY
}
#endif
void lower_row_plain(const float* __restrict from, const std::uint32_t* __restrict from_id, float* __restrict to,
                     std::uint32_t* __restrict to_id, float step, int n){GAPWRIGHT_ROW_BODY}
#undef GAPWRIGHT_ROW_BODY
RowPass row_pass() {
#if defined(__x86_64__)
    if (__builtin_cpu_supports("avx2")) return lower_row_wide;
#endif
    return lower_row_plain;
}

/// One scratch of squared distance and nearest zero for each node; rows that hold nothing are marked.
struct Layer {
    std::vector<float> d2;
    std::vector<std::uint32_t> id;
    std::vector<unsigned char> row_used;
    explicit Layer(const GridSpec& g)
        : d2(g.count(), kFar),
          id(g.count(), 0),
          row_used(static_cast<std::size_t>(g.ny) * static_cast<std::size_t>(g.nz), 0) {}
    void clear() {
        std::fill(d2.begin(), d2.end(), kFar);
        std::fill(row_used.begin(), row_used.end(), static_cast<unsigned char>(0));
    }
};

std::size_t row_of(const GridSpec& g, int j, int k) {
    return static_cast<std::size_t>(k) * static_cast<std::size_t>(g.ny) + static_cast<std::size_t>(j);
}

/// Each zero into the nodes of its own grid line.
void scatter(const GridSpec& g, const std::vector<Zero>& zeros, std::uint32_t first_id, int axis, int range,
             Layer& layer) {
    for (std::size_t q = 0; q < zeros.size(); ++q) {
        const Vec3f p = zeros[q].at;
        const float along = axis == 0 ? p.x : axis == 1 ? p.y : p.z;
        const int n = axis == 0 ? g.nx : axis == 1 ? g.ny : g.nz;
        const int lo = std::max(0, static_cast<int>(std::ceil(along)) - range);
        const int hi = std::min(n - 1, static_cast<int>(std::floor(along)) + range);
        int c[3] = {static_cast<int>(p.x), static_cast<int>(p.y), static_cast<int>(p.z)};
        for (int m = lo; m <= hi; ++m) {
            c[axis] = m;
            const std::size_t at = g.index(c[0], c[1], c[2]);
            const float d = static_cast<float>(m) - along;
            if (d * d < layer.d2[at]) {
                layer.d2[at] = d * d;
                layer.id[at] = first_id + static_cast<std::uint32_t>(q);
                layer.row_used[row_of(g, c[1], c[2])] = 1;
            }
        }
    }
}

/// Lowers `to` by `from` shifted along y (1) or z (2).
void spread_rows(const GridSpec& g, const Layer& from, Layer& to, int axis, int range) {
    const RowPass pass = row_pass();
    const std::size_t nx = static_cast<std::size_t>(g.nx);
    parallel_for(from.row_used.size(), 64, [&](std::size_t begin, std::size_t end) {
        for (std::size_t row = begin; row < end; ++row) {
            const int j = static_cast<int>(row % static_cast<std::size_t>(g.ny)),
                      k = static_cast<int>(row / static_cast<std::size_t>(g.ny));
            bool used = to.row_used[row] != 0;
            for (int m = 0; m <= range; ++m)
                for (const int s : {m, -m}) {
                    if (m == 0 && s != m) continue;
                    const int jj = axis == 1 ? j + s : j, kk = axis == 2 ? k + s : k;
                    if (jj < 0 || kk < 0 || jj >= g.ny || kk >= g.nz) continue;
                    const std::size_t source = row_of(g, jj, kk);
                    if (!from.row_used[source]) continue;
                    used = true;
                    pass(&from.d2[source * nx], &from.id[source * nx], &to.d2[row * nx], &to.id[row * nx],
                         static_cast<float>(m * m), g.nx);
                    if (m == 0) break;
                }
            to.row_used[row] = used ? 1 : 0;
        }
    });
}

/// Lowers `to` by `from` shifted along x.
void spread_x(const GridSpec& g, const Layer& from, Layer& to, int range) {
    const RowPass pass = row_pass();
    const std::size_t nx = static_cast<std::size_t>(g.nx);
    parallel_for(from.row_used.size(), 64, [&](std::size_t begin, std::size_t end) {
        for (std::size_t row = begin; row < end; ++row) {
            if (!from.row_used[row]) continue;
            to.row_used[row] = 1;
            for (int s = -range; s <= range; ++s) {
                const int n = g.nx - std::abs(s);
                if (n <= 0) continue;
                const std::size_t source = row * nx + static_cast<std::size_t>(std::max(0, s));
                const std::size_t target = row * nx + static_cast<std::size_t>(std::max(0, -s));
                pass(&from.d2[source], &from.id[source], &to.d2[target], &to.id[target], static_cast<float>(s * s), n);
            }
        }
    });
}

/// Distance in voxels from node `x` to the tricubic zero set near the zero `z`; `d0` where nothing better is found.
float foot_distance(const Tricubic& field, float h, Vec3f x, const Zero& z, float d0) {
    const Vec3f r0 = x - z.at;
    Vec3f y = z.at;
    if (z.near_edge) {
        const Vec3f aside = r0 - z.normal * dot(r0, z.normal);
        const float len = norm(aside);
        if (norm(z.normal) < 0.5f || len > 1.5f) return d0;
        y = y + aside;
        return std::abs(field.value(y)) < 0.15f * h ? std::min(d0, norm(x - y)) : d0;
    }
    float damping = 1.0f;
    {
        const Vec3f tangent = r0 - z.normal * dot(r0, z.normal);
        const float len = norm(tangent);
        y = y + tangent * (len > 0.7f ? 0.7f / len : 1.0f);
    }
    Vec3f best_y = y, best_n = z.normal;
    float best = 1e6f;
    for (int round = 0; round < 6; ++round) {
        Sample s = field.at(y);
        float g2 = dot(s.gradient, s.gradient);
        if (g2 < 1e-4f) break;
        const float reach = 1.0f / std::sqrt(g2);
        y = y - s.gradient * std::clamp(s.value / g2, -reach, reach);
        if (std::abs(s.value) > 0.02f * std::sqrt(g2)) {  // it started far from the zero set: fall once more
            s = field.at(y);
            g2 = dot(s.gradient, s.gradient);
            if (g2 < 1e-4f) break;
            y = y - s.gradient * std::clamp(s.value / g2, -0.5f, 0.5f);
            if (std::abs(s.value) > 0.1f * std::sqrt(g2)) break;
        }
        if (norm(y - z.at) > 2.5f) break;
        const float d = norm(x - y);
        const bool settled = std::abs(d - best) < 2e-5f;
        if (d < best) {
            best = d;
            best_y = y;
            best_n = s.gradient * (1.0f / std::sqrt(g2));
        } else {
            damping *= 0.4f;
        }
        if (settled || damping < 0.05f) break;
        const Vec3f r = x - best_y;
        const Vec3f tangent = r - best_n * dot(r, best_n);
        const float len = norm(tangent) * damping;
        if (len < 3e-3f) break;
        y = best_y + tangent * (damping * (len > 0.7f ? 0.7f / len : 1.0f));
    }
    return best < d0 + 0.3f ? best : d0;
}

}  // namespace

std::vector<float> redistance(const GridSpec& grid, const std::vector<float>& phi, Band band,
                              const std::vector<EdgePiece>& edges) {
    EXPECTS(phi.size() == grid.count() && grid.nx > 4 && grid.ny > 4 && grid.nz > 4);
    EXPECTS(band.lo_mm <= 0.0 && band.hi_mm >= 0.0);
    const double h = grid.h_mm;
    const int range = static_cast<int>(std::ceil(std::max(-band.lo_mm, band.hi_mm) / h)) + 2;

    const std::vector<unsigned char> near_edge = nodes_near(grid, edges);
    std::vector<Zero> zeros;
    Layer best(grid);
    {
        Layer line(grid), plane(grid);
        for (int axis = 0; axis < 3; ++axis) {
            const std::vector<Zero> own = zeros_along(grid, phi, axis, near_edge);
            const auto first = static_cast<std::uint32_t>(zeros.size());
            zeros.insert(zeros.end(), own.begin(), own.end());
            if (axis > 0) line.clear(), plane.clear();
            scatter(grid, own, first, axis, range, line);
            if (axis == 0) spread_rows(grid, line, plane, 1, range), spread_rows(grid, plane, best, 2, range);
            if (axis == 1) spread_x(grid, line, plane, range), spread_rows(grid, plane, best, 2, range);
            if (axis == 2) spread_x(grid, line, plane, range), spread_rows(grid, plane, best, 1, range);
        }
    }

    const float lo = static_cast<float>(band.lo_mm / h), hi = static_cast<float>(band.hi_mm / h);
    const float most_in = lo - 2.0f, most_out = hi + 2.0f;
    const Tricubic field(grid, phi.data());
    std::vector<float> out(grid.count());
    parallel_for(static_cast<std::size_t>(grid.ny) * static_cast<std::size_t>(grid.nz), 32,
                 [&](std::size_t begin, std::size_t end) {
                     for (std::size_t row = begin; row < end; ++row) {
                         const auto j = static_cast<float>(row % static_cast<std::size_t>(grid.ny)),
                                    k = static_cast<float>(row / static_cast<std::size_t>(grid.ny));
                         std::size_t at = row * static_cast<std::size_t>(grid.nx);
                         for (int i = 0; i < grid.nx; ++i, ++at) {
                             const bool inside = phi[at] < 0.0f;
                             float d = best.d2[at] < 0.5f * kFar ? std::sqrt(best.d2[at]) : 1e6f;
                             if (inside ? -d >= lo : d <= hi)
                                 d = foot_distance(field, static_cast<float>(h), {static_cast<float>(i), j, k},
                                                   zeros[best.id[at]], d);
                             out[at] = static_cast<float>(h) * (inside ? std::max(-d, most_in) : std::min(d, most_out));
                         }
                     }
                 });
    return out;
}

}  // namespace geom::space::internal
