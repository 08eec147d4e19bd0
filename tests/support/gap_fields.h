// Distance fields of gaps for tests and benches of rooms that begin with a field: walls given by formulas, then the
// same steps as in earnest (clearance, limits, insertion, opening, wall), but by a method of its own that shares no
// code with the library: a dual-contoured triangle surface with its sharp edges, and exact distances to its triangles.
//
// Frame  vehicle: x right, y into the gap, z up, mm; fields in the box frame of their baffle.   Sign  negative inside.
// Source dual contouring: Ju, Losasso, Schaefer, Warren 2002; nearest triangles handed from node to node (the vector
//        distance transform of Danielsson 1980 with triangles for points).
#pragma once

#include "geom/core/random.h"
#include "geom/core/triangle.h"
#include "geom/space/field.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

namespace gap_fields {

using geom::Plane;
using geom::Point3;
using geom::Vec3;

struct Gap {
    std::string name;
    std::function<double(Point3)> walls;  ///< vehicle coordinates; negative in the air, near a distance
    std::vector<Plane> limits;            ///< vehicle
    Vec3 baffle_outward{0, -1, 0};
    Point3 baffle_point{0, 25, 150};
    Vec3 insert{0, 1, 0};  ///< the way in
    double clearance_mm = 6.5, edge_radius_mm = 8.0, wall_mm = 6.0, inner_radius_mm = 4.0, baffle_thickness_mm = 12.0;
};

struct Fields {
    geom::space::Field outer, inner;
    double outer_baffle_y_mm = 0.0, inner_baffle_y_mm = 0.0;
    std::vector<Plane> outer_flats, inner_flats;  ///< vehicle
};

namespace detail {

inline std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

/// Solves the least-squares meeting point of planes about a mean, by damped normal equations.
inline Point3 meet(const std::vector<Point3>& points, const std::vector<Vec3>& normals) {
    Point3 mean;
    for (const auto& p : points) mean += p / static_cast<double>(points.size());
    double m[3][4] = {};
    for (std::size_t i = 0; i < points.size(); ++i) {
        const Vec3 n = normals[i];
        const double d = dot(n, points[i] - mean);
        for (std::size_t r = 0; r < 3; ++r) {
            for (std::size_t c = 0; c < 3; ++c) m[r][c] += n[r] * n[c];
            m[r][3] += n[r] * d;
        }
    }
    for (std::size_t r = 0; r < 3; ++r) m[r][r] += 0.004;
    for (std::size_t r = 0; r < 3; ++r)
        for (std::size_t q = 0; q < 3; ++q) {
            if (q == r) continue;
            const double f = m[q][r] / m[r][r];
            for (std::size_t c = r; c < 4; ++c) m[q][c] -= f * m[r][c];
        }
    return mean + Vec3{m[0][3] / m[0][0], m[1][3] / m[1][1], m[2][3] / m[2][2]};
}

/// Signed distances to the zero surface of a function known at the nodes and refined between them.
class Surface {
public:
    /// `value` must agree with `nodes` at the nodes; distances are exact within `band_mm` and capped beyond.
    Surface(const geom::space::GridSpec& grid, const std::vector<float>& nodes,
            const std::function<double(Point3)>& value, double band_mm)
        : grid_(grid), band_(band_mm) {
        contour(nodes, value);
        spread(nodes);
    }
    const std::vector<float>& distances() const { return distance_; }

    /// Distance near a node's own: the nearest triangles of the eight nodes about it.
    double value(Point3 p) const {
        const Vec3 q = (p - grid_.lo) / grid_.h_mm;
        const int i = std::clamp(static_cast<int>(q.x), 0, grid_.nx - 2),
                  j = std::clamp(static_cast<int>(q.y), 0, grid_.ny - 2),
                  k = std::clamp(static_cast<int>(q.z), 0, grid_.nz - 2);
        double best = 1e300, sign = 0.0;
        for (int b = 0; b < 8; ++b) {
            const std::size_t n = grid_.index(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2));
            sign += distance_[n] < 0.0f ? -1.0 : 1.0;
            if (nearest_[n] >= 0) best = std::min(best, norm2(p - foot(p, nearest_[n])));
        }
        if (best > 1e200) return distance_[grid_.index(i, j, k)];
        return std::sqrt(best) * (sign < 0.0 ? -1.0 : 1.0);
    }

private:
    Point3 foot(Point3 p, int t) const {
        const auto& q = triangles_[at(t)];
        return closest_on_triangle(p, points_[at(q[0])], points_[at(q[1])], points_[at(q[2])]);
    }

    void contour(const std::vector<float>& f, const std::function<double(Point3)>& value) {
        const auto& g = grid_;
        std::vector<int> cell(f.size(), -1);
        std::vector<std::vector<Point3>> hits;
        std::vector<std::vector<Vec3>> normals;
        std::vector<std::array<int, 3>> where;
        const int step[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
        struct Crossing {
            int i, j, k, axis;
            bool rising;
        };
        std::vector<Crossing> crossings;
        for (int k = 1; k + 2 < g.nz; ++k)
            for (int j = 1; j + 2 < g.ny; ++j)
                for (int i = 1; i + 2 < g.nx; ++i)
                    for (int a = 0; a < 3; ++a) {
                        const float va = f[g.index(i, j, k)],
                                    vb = f[g.index(i + step[a][0], j + step[a][1], k + step[a][2])];
                        if ((va < 0) == (vb < 0)) continue;
                        const Point3 pa = g.node(i, j, k), pb = g.node(i + step[a][0], j + step[a][1], k + step[a][2]);
                        double lo = 0.0, hi = 1.0, flo = va, fhi = vb, t = 0.5;
                        for (int it = 0; it < 4; ++it) {
                            t = std::clamp(lo + (hi - lo) * flo / (flo - fhi), lo + 0.02 * (hi - lo),
                                           hi - 0.02 * (hi - lo));
                            const double v = value(pa + (pb - pa) * t);
                            if (std::abs(v) < 1e-4) break;
                            if ((v < 0) == (flo < 0))
                                lo = t, flo = v;
                            else
                                hi = t, fhi = v;
                        }
                        const Point3 p = pa + (pb - pa) * t;
                        const double e = 0.05;
                        const Vec3 n = geom::unit({value(p + Vec3{e, 0, 0}) - value(p - Vec3{e, 0, 0}),
                                                   value(p + Vec3{0, e, 0}) - value(p - Vec3{0, e, 0}),
                                                   value(p + Vec3{0, 0, e}) - value(p - Vec3{0, 0, e})});
                        crossings.push_back({i, j, k, a, va < 0});
                        const int b = (a + 1) % 3, c = (a + 2) % 3;
                        for (int q = 0; q < 4; ++q) {
                            std::array<int, 3> at3{i, j, k};
                            at3[at(b)] -= q & 1;
                            at3[at(c)] -= q >> 1;
                            int& id = cell[g.index(at3[0], at3[1], at3[2])];
                            if (id < 0)
                                id = static_cast<int>(hits.size()), hits.emplace_back(), normals.emplace_back(),
                                where.push_back(at3);
                            hits[at(id)].push_back(p);
                            normals[at(id)].push_back(n);
                        }
                    }
        points_.resize(hits.size());
        for (std::size_t c = 0; c < hits.size(); ++c) {
            Point3 p = meet(hits[c], normals[c]);
            const Point3 lo = g.node(where[c][0], where[c][1], where[c][2]);
            for (std::size_t a = 0; a < 3; ++a) p[a] = std::clamp(p[a], lo[a] - 0.3 * g.h_mm, lo[a] + 1.3 * g.h_mm);
            points_[c] = p;
        }
        seeds_.resize(hits.size());
        for (const auto& x : crossings) {
            const int b = (x.axis + 1) % 3, c = (x.axis + 2) % 3;
            std::array<int, 4> quad{};
            for (int q = 0; q < 4; ++q) {
                std::array<int, 3> at3{x.i, x.j, x.k};
                at3[at(b)] -= q & 1;
                at3[at(c)] -= q >> 1;
                quad[at(q)] = cell[g.index(at3[0], at3[1], at3[2])];
            }
            const auto add = [&](int u, int v, int w) {
                for (const int s : {u, v, w}) seeds_[at(s)].push_back(static_cast<int>(triangles_.size()));
                triangles_.push_back({u, v, w});
            };
            // The diagonal that bends less keeps creases sharp.
            if (norm2(points_[at(quad[0])] - points_[at(quad[3])]) <=
                norm2(points_[at(quad[1])] - points_[at(quad[2])]))
                add(quad[0], quad[1], quad[3]), add(quad[0], quad[3], quad[2]);
            else
                add(quad[0], quad[1], quad[2]), add(quad[1], quad[3], quad[2]);
        }
        where_ = std::move(where);
    }

    void spread(const std::vector<float>& f) {
        const auto& g = grid_;
        const std::size_t n = f.size();
        std::vector<float> best(n, static_cast<float>(band_ * band_));
        nearest_.assign(n, -1);
        const auto offer = [&](std::size_t node, Point3 p, int t) {
            const auto d = static_cast<float>(norm2(p - foot(p, t)));
            if (d < best[node]) best[node] = d, nearest_[node] = t;
        };
        for (std::size_t c = 0; c < where_.size(); ++c)
            for (int b = 0; b < 8; ++b) {
                const int i = where_[c][0] + (b & 1), j = where_[c][1] + (b >> 1 & 1), k = where_[c][2] + (b >> 2);
                for (const int t : seeds_[c]) offer(g.index(i, j, k), g.node(i, j, k), t);
            }
        for (int pass = 0; pass < 2; ++pass)
            for (int s = 0; s < 8; ++s) {
                const int dx = s & 1 ? -1 : 1, dy = s & 2 ? -1 : 1, dz = s & 4 ? -1 : 1;
                for (int kk = 1; kk < g.nz; ++kk)
                    for (int jj = 1; jj < g.ny; ++jj)
                        for (int ii = 1; ii < g.nx; ++ii) {
                            const int i = dx > 0 ? ii : g.nx - 1 - ii, j = dy > 0 ? jj : g.ny - 1 - jj,
                                      k = dz > 0 ? kk : g.nz - 1 - kk;
                            const std::size_t here = g.index(i, j, k);
                            int last = nearest_[here];
                            for (int m = 1; m < 8; ++m) {
                                const int t =
                                    nearest_[g.index(i - (m & 1) * dx, j - (m >> 1 & 1) * dy, k - (m >> 2) * dz)];
                                if (t < 0 || t == last || t == nearest_[here]) continue;
                                last = t;
                                offer(here, g.node(i, j, k), t);
                            }
                        }
            }
        distance_.resize(n);
        for (std::size_t i = 0; i < n; ++i) distance_[i] = std::sqrt(best[i]) * (f[i] < 0 ? -1.0f : 1.0f);
    }

    geom::space::GridSpec grid_;
    double band_;
    std::vector<Point3> points_;
    std::vector<std::array<int, 3>> triangles_;
    std::vector<std::vector<int>> seeds_;
    std::vector<std::array<int, 3>> where_;
    std::vector<int> nearest_;
    std::vector<float> distance_;
};

inline double trilinear(const geom::space::GridSpec& g, const std::vector<float>& f, Point3 p) {
    const Vec3 q = (p - g.lo) / g.h_mm;
    const double x = std::clamp(q.x, 0.0, g.nx - 1.001), y = std::clamp(q.y, 0.0, g.ny - 1.001),
                 z = std::clamp(q.z, 0.0, g.nz - 1.001);
    const int i = static_cast<int>(x), j = static_cast<int>(y), k = static_cast<int>(z);
    double sum = 0.0;
    for (int b = 0; b < 8; ++b) {
        const double wx = b & 1 ? x - i : 1 - x + i, wy = b >> 1 & 1 ? y - j : 1 - y + j,
                     wz = b >> 2 ? z - k : 1 - z + k;
        sum += wx * wy * wz * f[g.index(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2))];
    }
    return sum;
}

/// What can be reached from the node nearest `seed`; every other negative node is filled.
inline void keep_connected(const geom::space::GridSpec& g, std::vector<float>& f, Point3 seed) {
    std::vector<char> reached(f.size(), 0);
    const Vec3 q = (seed - g.lo) / g.h_mm;
    std::array<int, 3> s{static_cast<int>(q.x), static_cast<int>(q.y), static_cast<int>(q.z)};
    double best = 1e300;
    std::array<int, 3> from = s;
    for (int k = 1; k + 1 < g.nz; ++k)
        for (int j = 1; j + 1 < g.ny; ++j)
            for (int i = 1; i + 1 < g.nx; ++i)
                if (f[g.index(i, j, k)] < 0)
                    if (const double d = norm2(g.node(i, j, k) - seed); d < best) best = d, from = {i, j, k};
    std::vector<std::array<int, 3>> stack{from};
    reached[g.index(from[0], from[1], from[2])] = 1;
    while (!stack.empty()) {
        const auto c = stack.back();
        stack.pop_back();
        for (int a = 0; a < 3; ++a)
            for (const int d : {-1, 1}) {
                auto n = c;
                n[at(a)] += d;
                if (n[0] < 0 || n[1] < 0 || n[2] < 0 || n[0] >= g.nx || n[1] >= g.ny || n[2] >= g.nz) continue;
                const std::size_t id = g.index(n[0], n[1], n[2]);
                if (reached[id] || f[id] >= 0) continue;
                reached[id] = 1;
                stack.push_back(n);
            }
    }
    for (std::size_t i = 0; i < f.size(); ++i)
        if (f[i] < 0 && !reached[i]) f[i] = 0.5f;
}

}  // namespace detail

inline geom::Frame box_frame_of(const Gap& gap) {
    geom::Frame frame;
    frame.origin = gap.baffle_point;
    frame.y = unit(gap.baffle_outward * -1.0);
    const Vec3 up = std::abs(frame.y.z) < 0.9 ? Vec3{0, 0, 1} : Vec3{1, 0, 0};
    frame.z = unit(up - frame.y * dot(up, frame.y));
    frame.x = cross(frame.y, frame.z);
    return frame;
}

inline Fields make_fields(const Gap& gap, double h_mm = 2.0) {
    using detail::at;
    geom::space::GridSpec grid;
    grid.vehicle_from_box = box_frame_of(gap);
    grid.h_mm = h_mm;
    geom::Aabb box;
    for (int b = 0; b < 8; ++b)
        box.grow(grid.vehicle_from_box.to_local(
            {b & 1 ? 165.0 : -165.0, b >> 1 & 1 ? 345.0 : -60.0, b >> 2 ? 345.0 : -30.0}));
    box.lo.y = -40.0;
    grid.lo = box.lo;
    grid.nx = static_cast<int>((box.hi.x - box.lo.x) / h_mm) + 1;
    grid.ny = static_cast<int>((box.hi.y - box.lo.y) / h_mm) + 1;
    grid.nz = static_cast<int>((box.hi.z - box.lo.z) / h_mm) + 1;
    const auto fill = [&](const std::function<double(Point3)>& f) {
        std::vector<float> out(grid.count());
        for (int k = 0; k < grid.nz; ++k)
            for (int j = 0; j < grid.ny; ++j)
                for (int i = 0; i < grid.nx; ++i) out[grid.index(i, j, k)] = static_cast<float>(f(grid.node(i, j, k)));
        return out;
    };
    const double erosion = gap.clearance_mm + gap.edge_radius_mm, band = erosion + 4.0 * h_mm;
    const auto walls = [&](Point3 p) { return gap.walls(grid.vehicle_from_box.to_parent(p)); };
    const Point3 seed{0, 40, 0};
    std::vector<float> nodes = fill(walls);
    detail::keep_connected(grid, nodes, seed);
    const detail::Surface air(grid, nodes, walls, band);
    const auto limit = [&](Point3 p) {
        double most = -1e300;
        for (const auto& plane : gap.limits) most = std::max(most, plane.height(grid.vehicle_from_box.to_parent(p)));
        return most;
    };
    // Depth of the eroded air: distance to walls and limits, and where the body passes on its way in.
    std::vector<float> depth = air.distances();
    const Vec3 in = unit(grid.vehicle_from_box.dir_to_local(gap.insert));
    const bool oblique = in.y < 0.9999;
    {
        std::vector<float> passed = depth;
        for (int j = 0; j < grid.ny; ++j)
            for (int k = 0; k < grid.nz; ++k)
                for (int i = 0; i < grid.nx; ++i) {
                    const std::size_t n = grid.index(i, j, k);
                    const Point3 p = grid.node(i, j, k);
                    if (p.y < 2.0 || j < 1) continue;
                    const float before =
                        oblique ? static_cast<float>(detail::trilinear(grid, passed, p - in * (h_mm / in.y)))
                                : passed[grid.index(i, j - 1, k)];
                    passed[n] = std::max(passed[n], before);
                }
        depth = std::move(passed);
    }
    const auto eroded = [&](Point3 p) {
        const double straight = air.value(p), with_way = detail::trilinear(grid, depth, p);
        const double way = with_way > detail::trilinear(grid, air.distances(), p) + 0.02 ? with_way : straight;
        return std::max(way + erosion, limit(p) + gap.edge_radius_mm);
    };
    std::vector<float> core = fill([&](Point3 p) {
        const double with_way = detail::trilinear(grid, depth, p);
        return std::max(with_way + erosion, limit(p) + gap.edge_radius_mm);
    });
    detail::keep_connected(grid, core, seed);
    const double reach =
        std::max(gap.edge_radius_mm, gap.wall_mm + gap.inner_radius_mm - gap.edge_radius_mm) + 6.0 * h_mm;
    const detail::Surface body(grid, core, eroded, reach);
    Fields out;
    out.outer.grid = out.inner.grid = grid;
    out.outer.mm = body.distances();
    for (auto& v : out.outer.mm) v -= static_cast<float>(gap.edge_radius_mm);
    const double deeper = gap.wall_mm + gap.inner_radius_mm - gap.edge_radius_mm;
    std::vector<float> inside = body.distances();
    for (auto& v : inside) v += static_cast<float>(deeper);
    detail::keep_connected(grid, inside, seed);
    const detail::Surface cavity(
        grid, inside, [&](Point3 p) { return body.value(p) + deeper; }, gap.inner_radius_mm + 6.0 * h_mm);
    out.inner.mm = cavity.distances();
    for (auto& v : out.inner.mm) v -= static_cast<float>(gap.inner_radius_mm);
    out.inner_baffle_y_mm = gap.baffle_thickness_mm;
    for (const auto& plane : gap.limits) {
        out.outer_flats.push_back(plane);
        out.inner_flats.push_back({plane.point - plane.outward * gap.wall_mm, plane.outward});
    }
    return out;
}

/// Smooth ripple of about `amplitude` mm with waves of 15 to 40 mm.
inline double ripple(Point3 p, double amplitude) {
    return amplitude * 0.5 *
           (std::sin(p.x / 3.1 + 1.3) * std::sin(p.y / 4.3 + 0.2) + std::sin(p.y / 2.9) * std::sin(p.z / 3.7 + 2.0) +
            std::sin(p.z / 5.1 + p.x / 4.7));
}

struct Walls {
    std::function<double(double, double)> left, right, floor, back;  // x(y,z), x(y,z), z(x,y), y(x,z)
    std::vector<std::array<double, 6>> blocks;                       // x0 x1 y0 y1 z0 z1
    double noise_mm = 0.0;
    double operator()(Point3 p) const {
        double v = std::max({left(p.y, p.z) - p.x, p.x - right(p.y, p.z), floor(p.x, p.y) - p.z, p.y - back(p.x, p.z)});
        for (const auto& b : blocks) {
            const double in = std::min({p.x - b[0], b[1] - p.x, p.y - b[2], b[3] - p.y, p.z - b[4], b[5] - p.z});
            v = std::max(v, in);
        }
        return noise_mm > 0.0 ? v + ripple(p, noise_mm) : v;
    }
};

inline Walls seat_walls() {
    Walls w;
    w.left = [](double y, double z) { return -105 - 16 * std::sin(z / 110) * std::cos(y / 140) - 0.08 * z; };
    w.right = [](double y, double z) { return 108 + 20 * std::sin(z / 95 + 0.6) * std::cos(y / 160) + 0.05 * z; };
    w.floor = [](double x, double y) { return 22 * std::exp(-x * x / 3600) + 10 * std::sin(y / 90); };
    w.back = [](double x, double z) { return 300 + 14 * std::sin(z / 70) - 0.0008 * x * x; };
    return w;
}

inline std::vector<std::string> named_gaps() {
    return {"base", "L", "T", "wedge", "waist", "hump", "step", "noise", "two_flats", "flat_back", "tilted", "oblique"};
}

inline Gap named_gap(const std::string& name) {
    Walls w = seat_walls();
    Gap gap;
    gap.name = name;
    const double top = 300.0;
    if (name == "L") w.blocks.push_back({20, 400, -400, 800, 170, 800});
    if (name == "T") w.blocks = {{-400, -42, -400, 800, -400, 140}, {50, 400, -400, 800, -400, 150}};
    if (name == "step") w.blocks.push_back({-400, 400, 180, 800, 160, 800});
    if (name == "noise") w.noise_mm = 0.5;
    if (name == "wedge") {
        w.left = [](double y, double z) { return -92 + 0.20 * y - 6 * std::sin(z / 60); };
        w.right = [](double y, double z) { return 92 - 0.22 * y + 6 * std::sin(z / 80); };
    }
    if (name == "waist") {
        w.left = [](double y, double z) {
            return -120 + 75 * std::exp(-(z - 150) * (z - 150) / 3000) + 4 * std::sin(y / 50);
        };
        w.right = [](double y, double z) { return 120 - 72 * std::exp(-(z - 140) * (z - 140) / 3200) + 0.02 * y; };
    }
    if (name == "hump") {
        w.back = [](double x, double z) {
            return 290 - 120 * std::exp(-(x * x + (z - 150) * (z - 150)) / 3600) + 25 * std::sin(z / 40);
        };
        w.floor = [](double x, double y) {
            return 60 * std::exp(-(x - 10) * (x - 10) / 1600) * std::exp(-(y - 130) * (y - 130) / 6000) +
                   0.0012 * x * x;
        };
    }
    gap.limits.push_back({{0, 0, top}, {0, 0, 1}});
    if (name == "two_flats") gap.limits.push_back({{85, 0, 0}, {1, 0, 0}});
    if (name == "flat_back") gap.limits.push_back({{0, 265, 0}, {0, 1, 0}});
    if (name == "tilted") {
        gap.baffle_outward = unit(Vec3{0.1, -1, 0.35});
        gap.baffle_point = {0, 60, 150};
    }
    if (name == "oblique") {
        gap.baffle_outward = unit(Vec3{-0.25, -1, -0.1});
        gap.baffle_point = {0, 50, 150};
        gap.insert = unit(Vec3{-0.2, 1, -0.25});
    }
    gap.walls = w;
    return gap;
}

/// A gap drawn from a seed; none is thrown away.
inline Gap random_gap(std::uint64_t seed) {
    geom::Random random(seed * 7919 + 17);
    Walls w;
    const double width = random.uniform(170, 250), height = random.uniform(200, 300), depth = random.uniform(210, 300);
    const double half = 0.5 * width, slant = random.uniform(-0.12, 0.12), bulge = random.uniform(0, 22),
                 wave = random.uniform(60, 150);
    const double phase = random.uniform(0, 6), narrow = random.uniform(0, 0.12);
    const auto kind = seed % 5;
    const double pinch = kind == 0 ? 0.25 * half : 0.0, pinch_z = height * random.uniform(0.4, 0.6),
                 pinch_w = random.uniform(25, 60);
    const double hump = kind == 1 ? 0.2 * height : random.uniform(0, 20), hump_x = random.uniform(-30, 30),
                 hump_w = random.uniform(25, 50), hump_y = random.uniform(60, 160), hump_d = random.uniform(40, 200);
    w.left = [=](double y, double z) {
        return -half - bulge * std::sin(z / wave + phase) + slant * z * 0.5 + narrow * y +
               2 * pinch * std::exp(-std::pow((z - pinch_z) / pinch_w, 2));
    };
    w.right = [=](double y, double z) {
        return half + bulge * std::sin(z / wave + phase + 2 + y / 150) - slant * z * 0.3 - narrow * y -
               2 * pinch * std::exp(-std::pow((z - pinch_z - 8) / pinch_w, 2));
    };
    w.floor = [=](double x, double y) {
        return hump * std::exp(-std::pow((x - hump_x) / hump_w, 2) - std::pow((y - hump_y) / hump_d, 2)) +
               6 * std::sin(y / 80 + phase);
    };
    const double back_wave = random.uniform(0, 15), back_w = random.uniform(40, 100);
    w.back = [=](double x, double z) { return depth + back_wave * std::sin(z / back_w + phase) - 0.0008 * x * x; };
    if (kind == 2)
        w.blocks.push_back({random.uniform(-0.1, 0.3) * half, 400, -400, 800, height * random.uniform(0.5, 0.7), 800});
    if (kind == 3)
        w.blocks = {{-400, -half * random.uniform(0.35, 0.6), -400, 800, -400, height * random.uniform(0.4, 0.6)},
                    {half * random.uniform(0.35, 0.6), 400, -400, 800, -400, height * random.uniform(0.4, 0.6)}};
    w.noise_mm = random.uniform(0, 0.7);
    Gap gap;
    gap.name = "random " + std::to_string(seed);
    gap.limits.push_back({{0, 0, height}, {0, 0, 1}});
    if (random.uniform() < 0.3) gap.limits.push_back({{0, depth - 25, 0}, {0, 1, 0}});
    if (random.uniform() < 0.3) gap.limits.push_back({{half - 18, 0, 0}, {1, 0, 0}});
    gap.baffle_point = {0, random.uniform(25, 70), height / 2};
    const auto tip = [&](double lo_deg, double hi_deg) {
        const double angle = random.uniform(lo_deg, hi_deg) * 3.14159265358979 / 180,
                     round = random.uniform(0, 6.28318530717959);
        return Vec3{std::sin(angle) * std::cos(round), std::cos(angle), std::sin(angle) * std::sin(round)};
    };
    if (kind == 4 || random.uniform() < 0.25) gap.baffle_outward = tip(5, 30) * -1.0;
    gap.insert = random.uniform() < 0.3 ? tip(10, 35) : gap.baffle_outward * -1.0;
    if (dot(gap.insert, gap.baffle_outward) > -0.7) gap.insert = gap.baffle_outward * -1.0;
    gap.walls = w;
    return gap;
}

}  // namespace gap_fields
