// The ways out of all nodes are parallel. Planes across the axis that the way follows best are gone through from the
// exit inwards, and a lattice of such lines carries the highest value met so far and the plane where it was met
// (bilinear; good to find the peak, not to state it). A node looks at the four lines around its own way, and where
// they say that something on the way matters it asks the tricubic field on its own way at those peaks, a parabola
// through three places giving the top. So each node costs a few samples however long the way is, and a missed peak is
// one that none of the four neighbouring lines, at most 0.7 voxels off, saw.
#include "geom/space/internal/insertion.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/space/internal/tricubic.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr float kSolid = 1e6f, kNothing = -1e6f;

struct Line {
    float most = kNothing;
    int plane = -1;  // step at which it was met
};

/// The way's value at each node of the room's grid: good for finding peaks.
std::vector<float> met_at_nodes(const GridSpec& g, const Way& way) {
    std::vector<float> met = *way.inside;
    const GridSpec& far = way.beyond_grid;
    parallel_for(static_cast<std::size_t>(std::min(g.nz, far.nz)), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t kk = begin; kk < end; ++kk) {
            const int k = static_cast<int>(kk);
            for (int j = 0; j < std::min(g.ny, far.ny); ++j)
                for (int i = 0; i < std::min(g.nx, far.nx); ++i)
                    if (way.is_beyond(g.node(i, j, k))) met[g.index(i, j, k)] = (*way.beyond)[far.index(i, j, k)];
        }
    });
    return met;
}

}  // namespace

std::vector<float> insertable(const GridSpec& g, const std::vector<float>& standing, const Way& way, Vec3 out) {
    EXPECTS(standing.size() == g.count() && way.inside->size() == g.count() &&
            way.beyond->size() == way.beyond_grid.count());
    EXPECTS(std::abs(norm(out) - 1.0) < 1e-6);
    const Vec3 size{std::abs(out.x), std::abs(out.y), std::abs(out.z)};
    const std::size_t axis = size.y >= size.x && size.y >= size.z ? 1 : size.z >= size.x ? 2 : 0;
    const std::size_t row_axis = axis == 0 ? 1 : 0, other = axis == 2 ? 1 : 2;  // lines lie in (row_axis, other)
    const std::array<int, 3> n{g.nx, g.ny, g.nz};
    const std::array<std::size_t, 3> stride{1, static_cast<std::size_t>(g.nx),
                                            static_cast<std::size_t>(g.nx) * static_cast<std::size_t>(g.ny)};
    const int planes = n[axis], nb = n[row_axis], nc = n[other];
    const bool exits_low = out[axis] < 0.0;
    const double alpha = out[row_axis] / size[axis], beta = out[other] / size[axis];  // voxels a plane
    const auto h = static_cast<float>(g.h_mm);

    // Line (u, w): at step t it passes row position u - alpha t, column w - beta t (t = 0 is the exit plane).
    const double span_u = alpha * (planes - 1), span_w = beta * (planes - 1);
    const int u0 = static_cast<int>(std::floor(std::min(0.0, span_u))) - 1,
              w0 = static_cast<int>(std::floor(std::min(0.0, span_w))) - 1;
    const int nu = nb + static_cast<int>(std::ceil(std::abs(span_u))) + 3,
              nw = nc + static_cast<int>(std::ceil(std::abs(span_w))) + 3;
    std::vector<Line> lines(static_cast<std::size_t>(nu) * static_cast<std::size_t>(nw));
    std::vector<float> result = standing;
    const Tricubic inside(g, way.inside->data()), beyond_field(way.beyond_grid, way.beyond->data());
    const std::vector<float> met = met_at_nodes(g, way);

    const auto plane_index = [&](int t) { return exits_low ? t : planes - 1 - t; };
    const auto place = [&](double b, double c, double t) {  // voxel coordinates
        Vec3 p;
        p[row_axis] = b;
        p[other] = c;
        p[axis] = exits_low ? t : planes - 1 - t;
        return p;
    };
    const auto is_in = [&](double b, double c) { return b >= 0.0 && c >= 0.0 && b <= nb - 1 && c <= nc - 1; };
    const auto beyond = [&](double b, double c, double t) {
        return way.is_beyond(g.lo + place(b, c, t) * g.h_mm) ? kNothing : kSolid;
    };
    const auto on_way = [&](double b, double c, double t) {
        if (!is_in(b, c)) return beyond(b, c, t);
        const Vec3 p = place(b, c, t);
        const Vec3f at{static_cast<float>(p.x), static_cast<float>(p.y), static_cast<float>(p.z)};
        if (!way.is_beyond(g.lo + p * g.h_mm)) return inside.value(at);
        const GridSpec& far = way.beyond_grid;
        return p.x <= far.nx - 1 && p.y <= far.ny - 1 && p.z <= far.nz - 1 ? beyond_field.value(at) : kNothing;
    };
    // Before the grid begins: free only where that is declared.
    for (int iw = 0; iw < nw; ++iw)
        for (int iu = 0; iu < nu; ++iu)
            lines[static_cast<std::size_t>(iw) * static_cast<std::size_t>(nu) + static_cast<std::size_t>(iu)] = {
                beyond(iu + u0 + alpha, iw + w0 + beta, -1.0), -1};
    /// Highest value on the way out of node (b, c, t), near step s.
    const auto peak = [&](double b, double c, int t, int s) {
        const auto at = [&](double step) { return on_way(b + alpha * (t - step), c + beta * (t - step), step); };
        const double first = std::max(0.0, s - 1.0), last = std::min<double>(t, s + 1.0);
        const float f0 = at(first), f1 = at(s), f2 = at(last);
        float most = std::max({f0, f1, f2});
        if (most >= 0.5f * kSolid || last - first < 1.5) return most;
        const double bend = static_cast<double>(f0) - 2.0 * f1 + f2;
        if (bend < -1e-6) {
            const double top = std::clamp(0.5 * (static_cast<double>(f0) - f2) / bend, -1.0, 1.0);
            most = std::max(most, at(s + top));
        }
        return most;
    };

    for (int t = 0; t < planes; ++t) {
        const std::size_t base = static_cast<std::size_t>(plane_index(t)) * stride[axis];
        // Lines take this plane in.
        parallel_for(static_cast<std::size_t>(nw), 16, [&](std::size_t begin, std::size_t end) {
            for (std::size_t iw = begin; iw < end; ++iw) {
                const double c = static_cast<double>(iw) + w0 - beta * t;
                const int c0 = static_cast<int>(std::floor(c));
                const auto fc = static_cast<float>(c - c0);
                for (int iu = 0; iu < nu; ++iu) {
                    const double b = iu + u0 - alpha * t;
                    Line& line = lines[iw * static_cast<std::size_t>(nu) + static_cast<std::size_t>(iu)];
                    float v;
                    if (!is_in(b, c)) {
                        if (line.most >= kSolid) continue;
                        v = beyond(b, c, t);
                    } else {
                        const int b0 = std::min(static_cast<int>(b), nb - 2), cc = std::min(c0, nc - 2);
                        const auto fb = static_cast<float>(b - b0);
                        const float f2 = cc == c0 ? fc : 1.0f;
                        const float* p = met.data() + base + static_cast<std::size_t>(b0) * stride[row_axis] +
                                         static_cast<std::size_t>(cc) * stride[other];
                        const float lower = p[0] + fb * (p[stride[row_axis]] - p[0]);
                        const float* q = p + stride[other];
                        const float upper = q[0] + fb * (q[stride[row_axis]] - q[0]);
                        v = lower + f2 * (upper - lower);
                    }
                    if (v > line.most) line = {v, t};
                }
            }
        });
        if (t == 0) continue;
        // Nodes of this plane ask the four lines around their way.
        parallel_for(static_cast<std::size_t>(nc), 8, [&](std::size_t begin, std::size_t end) {
            for (std::size_t cc = begin; cc < end; ++cc) {
                const double w = static_cast<double>(cc) + beta * t - w0;
                const auto iw = static_cast<std::size_t>(w);
                const bool aligned_w = w - static_cast<double>(iw) < 1e-9;
                for (int bb = 0; bb < nb; ++bb) {
                    float& v = result[base + static_cast<std::size_t>(bb) * stride[row_axis] + cc * stride[other]];
                    if (v > 2.0f * h) continue;
                    const double u = bb + alpha * t - u0;
                    const auto iu = static_cast<std::size_t>(u);
                    const bool aligned_u = u - static_cast<double>(iu) < 1e-9;
                    const Line* l = &lines[iw * static_cast<std::size_t>(nu) + iu];
                    const std::array<const Line*, 4> around{l, aligned_u ? l : l + 1, aligned_w ? l : l + nu,
                                                            aligned_u   ? (aligned_w ? l : l + nu)
                                                            : aligned_w ? l + 1
                                                                        : l + nu + 1};
                    float most = kNothing, least = kSolid;
                    for (const Line* q : around) most = std::max(most, q->most), least = std::min(least, q->most);
                    if (least > 4.0f * h) {
                        v = std::max(v, least - way.tolerance_mm);
                        continue;
                    }
                    if (most < -3.0f * h || most + h < v) {
                        v = std::max(v, least - way.tolerance_mm);
                        continue;
                    }
                    std::array<int, 4> tried{-1, -1, -1, -1};
                    for (std::size_t q = 0; q < 4 && v <= 2.0f * h; ++q) {
                        const int s = around[q]->plane;
                        if (s < 0 || std::any_of(tried.begin(), tried.end(),
                                                 [&](int d) { return d >= 0 && std::abs(d - s) <= 0; }))
                            continue;
                        tried[q] = s;
                        v = std::max(v, peak(bb, static_cast<double>(cc), t, s) - way.tolerance_mm);
                    }
                }
            }
        });
    }
    return result;
}

}  // namespace geom::space::internal
