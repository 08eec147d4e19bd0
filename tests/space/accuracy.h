// Accuracy of the field against closed forms: each function measures one figure; tests hold it to a limit, the bench
// prints it.
#pragma once

#include "geom/space/internal/insertion.h"
#include "geom/space/internal/opening.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/room.h"
#include "tests/space/fields.h"
#include "tests/space/scene.h"

#include <numbers>

namespace geom::test {

struct Spread {
    double bias = 0.0, p95 = 0.0, p99 = 0.0, least = 0.0, most = 0.0;
    std::size_t count = 0;
};
inline Spread spread_of(std::vector<double> errors) {
    Spread s;
    s.count = errors.size();
    if (errors.empty()) return s;
    for (const double e : errors) s.bias += e / static_cast<double>(errors.size());
    std::sort(errors.begin(), errors.end());
    s.least = errors.front(), s.most = errors.back();
    for (double& e : errors) e = std::abs(e);
    std::sort(errors.begin(), errors.end());
    s.p95 = errors[errors.size() * 95 / 100], s.p99 = errors[errors.size() * 99 / 100];
    return s;
}

inline double volume_of(const space::Field& f) {
    return space::VolumeTable::of(f).volume_mm3.front();
}

/// A turned frame, for bodies that must not follow the grid.
inline Frame turned(double about_z, double about_x) {
    Frame f;
    const double c = std::cos(about_z), s = std::sin(about_z), d = std::cos(about_x), e = std::sin(about_x);
    f.x = {c, s, 0};
    f.y = {-s * d, c * d, e};
    f.z = {s * e, -c * e, d};
    return f;
}

/// Exact signed distance to the rounded box {box of half sizes `half`, all edges rounded by r}.
inline double rounded_box(Point3 p, Vec3 half, double r) {
    return box_distance(p, half - Vec3{r, r, r}) - r;
}

inline double rounded_box_volume(Vec3 half, double r) {
    const double a = 2 * (half.x - r), b = 2 * (half.y - r), c = 2 * (half.z - r);
    return a * b * c + 2 * r * (a * b + b * c + c * a) + std::numbers::pi * r * r * (a + b + c) +
           4.0 / 3.0 * std::numbers::pi * r * r * r;
}

struct Opened {
    double volume_rel = 0.0;
    Spread near;  ///< error of the field within h of the surface
};

/// A sharp box, turned, opened by r: field and volume against the rounded box.
inline Opened opened_box(double h, double r, double about_z, double about_x) {
    const Vec3 half{90, 70, 80};
    const Frame f = turned(about_z, about_x);
    const auto g = grid_about_origin({140, 140, 140}, h);
    // Distance of the sharp box, exact inside; outside the largest face height as erosions and limits give it.
    const space::Field box = sampled(g, [&](Point3 p) {
        const Point3 q = f.to_local(p);
        return std::max({std::abs(q.x) - half.x, std::abs(q.y) - half.y, std::abs(q.z) - half.z});
    });
    const auto distance = space::internal::redistance(g, box.mm, {-(r + 3 * h), 0.0});
    const space::Field out{g, space::internal::opened(g, distance, 0.0, r, 6 * h)};
    std::vector<double> errors;
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                const double d = rounded_box(f.to_local(g.node(i, j, k)), half, r);
                if (std::abs(d) < h) errors.push_back(out.mm[g.index(i, j, k)] - d);
            }
    return {volume_of(out) / rounded_box_volume(half, r) - 1.0, spread_of(std::move(errors))};
}

/// Superellipsoid |x/80|^4 + |y/60|^4 + |z/70|^4 < 1 grown by t: volume against Steiner's formula
/// V + A t + M t^2 + 4/3 pi t^3 with A and M by fine quadrature over the parametrised surface.
struct Steiner {
    double volume = 0.0, area = 0.0, mean = 0.0;  ///< mean: integral of the mean curvature H = (k1 + k2) / 2
    double at(double t) const { return volume + area * t + mean * t * t + 4.0 / 3.0 * std::numbers::pi * t * t * t; }
};
inline double superellipsoid(Point3 p) {
    return std::pow(std::abs(p.x / 80), 4) + std::pow(std::abs(p.y / 60), 4) + std::pow(std::abs(p.z / 70), 4) - 1.0;
}
inline Steiner superellipsoid_steiner() {
    // Over directions u of the unit sphere: r(u) = (sum |u_i / a_i|^4)^(-1/4). V = 1/3 int r^3; A = int r^2 / (n . u);
    // M by the divergence of the unit normal of the implicit function, in closed form. Gauss-free midpoint rule on a
    // cube map, one octant (the body has its three symmetry planes).
    Steiner s;
    const double a[3] = {80, 60, 70};
    const int n = 500;
    for (int face = 0; face < 3; ++face)
        for (int q = 0; q < n; ++q)
            for (int w = 0; w < n; ++w) {
                double u[3];
                const double x = (q + 0.5) / n, y = (w + 0.5) / n;
                u[face] = 1.0, u[(face + 1) % 3] = x, u[(face + 2) % 3] = y;
                const double len2 = 1 + x * x + y * y, len = std::sqrt(len2);
                const double solid = 1.0 / (len2 * len) / (n * n);
                double sum = 0.0;
                for (int c = 0; c < 3; ++c) u[c] /= len, sum += std::pow(u[c] / a[c], 4);
                const double r = std::pow(sum, -0.25);
                double g[3], hess[3], g2 = 0.0, lap = 0.0, ghg = 0.0, gu = 0.0;
                for (int c = 0; c < 3; ++c) {
                    const double v = r * u[c] / a[c];
                    g[c] = 4 * v * v * v / a[c];
                    hess[c] = 12 * v * v / (a[c] * a[c]);
                    g2 += g[c] * g[c], lap += hess[c], ghg += g[c] * g[c] * hess[c], gu += g[c] * u[c];
                }
                const double len_g = std::sqrt(g2), twice_h = (lap - ghg / g2) / len_g, cos_u = gu / len_g;
                const double area = r * r * solid / cos_u;
                s.volume += 8 * r * r * r / 3 * solid;
                s.area += 8 * area;
                s.mean += 8 * area * 0.5 * twice_h;
            }
    return s;
}

/// Relative volume error of the superellipsoid grown by t (negative: shrunk; valid down to the least radius).
inline double superellipsoid_offset(double h, double t) {
    const auto g = grid_about_origin({108, 88, 98}, h);
    const space::Field f = sampled(g, [](Point3 p) {
        // First-order distance of the implicit function: the zero set is exact, the slope about one.
        const double v = superellipsoid(p);
        const Vec3 grad{4 * std::pow(p.x / 80, 3) / 80, 4 * std::pow(p.y / 60, 3) / 60, 4 * std::pow(p.z / 70, 3) / 70};
        return std::clamp(v / std::max(norm(grad), 1e-3), -40.0, 40.0);
    });
    space::Field out{g, space::internal::redistance(g, f.mm, {std::min(0.0, t - 3 * h), std::max(0.0, t + 3 * h)})};
    for (float& v : out.mm) v -= static_cast<float>(t);
    return volume_of(out) / superellipsoid_steiner().at(t) - 1.0;
}

/// Error of the redistanced field of a ball of radius 60 around distance t.
inline Spread ball_redistance(double h, double t) {
    const auto g = grid_about_origin({84, 84, 84}, h);
    const space::Field f = sampled(g, [](Point3 p) { return (norm2(p) - 3600.0) / 120.0; });  // not a distance
    const auto d = space::internal::redistance(g, f.mm, {std::min(0.0, t - 2 * h), std::max(0.0, t + 2 * h)});
    std::vector<double> errors;
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                const double exact = norm(g.node(i, j, k)) - 60.0;
                if (std::abs(exact - t) < h) errors.push_back(d[g.index(i, j, k)] - exact);
            }
    return spread_of(std::move(errors));
}

/// Insertion past a ball and a turned box against a fine search along every way, within h of the result's zero set.
inline Spread insertion_error(double h, Vec3 out) {
    out = unit(out);
    const auto g = grid_about_origin({140, 140, 140}, h);
    const auto obstacle_ball = ball({20, 10, -15}, 35);
    const auto obstacle_box = turned_box({-40, -30, 40}, {30, 20, 25}, 0.3);
    const auto phi = [&](Point3 p) { return 5.0 - std::min(obstacle_ball(p), obstacle_box(p)); };
    const space::Field f = sampled(g, phi);
    // No plane closes this scene: outside the grid all is free, inside it the one field holds.
    const space::GridSpec none{g.vehicle_from_box, g.lo, h, 2, 2, 2};
    const std::vector<float> free_node(8, -1e3f);
    const auto v = space::internal::insertable(g, f.mm,
                                               {&f.mm, none, &free_node,
                                                [&](Point3 p) {
                                                    const Vec3 lo = p - g.lo,
                                                               hi = g.node(g.nx - 1, g.ny - 1, g.nz - 1) - p;
                                                    return std::min({lo.x, lo.y, lo.z, hi.x, hi.y, hi.z}) < -1e-9;
                                                }},
                                               out);
    std::vector<double> errors;
    for (int k = 2; k < g.nz - 2; k += 4)
        for (int j = 2; j < g.ny - 2; ++j)
            for (int i = 2; i < g.nx - 2; ++i) {
                const double got = v[g.index(i, j, k)];
                if (std::abs(got) > 2.0 * h) continue;
                const Point3 p = g.node(i, j, k);
                double most = -1e9, at = 0.0;
                for (double s = 0.0; s < 300.0; s += 1.5)
                    if (const double w = phi(p + out * s); w > most) most = w, at = s;
                double lo = std::max(0.0, at - 1.5), hi = at + 1.5;
                for (int round = 0; round < 30; ++round) {
                    const double a = lo + 0.382 * (hi - lo), b = lo + 0.618 * (hi - lo);
                    (phi(p + out * a) < phi(p + out * b) ? lo : hi) = phi(p + out * a) < phi(p + out * b) ? a : b;
                }
                const double exact = std::max(most, phi(p + out * (0.5 * (lo + hi))));
                if (std::abs(exact) < h) errors.push_back(got - exact);
            }
    return spread_of(std::move(errors));
}

/// The room of a scene with the baffle's outermost place at y = mouth, open towards -y, everything else of `o` as
/// given.
struct RoomFigures {
    Spread clearance;  ///< true distance less the asked one, over the room's border behind the mouth
    Spread filling;    ///< border less asked distance where a ball of the rounding radius fits and can come in
    std::size_t border = 0;
    double litres = 0.0, oracle_litres = 0.0;  ///< behind the mouth; the oracle only when asked for
    double bound_mm = 0.0;
};

/// Free voxels of edge `h`, straight insertion towards -y, opening by exact Euclidean erosion and dilation: shares no
/// code with the field. The baffle's outermost place is y = mouth; in front of it the mouth's section goes on.
inline double voxel_opening_litres(const Scene& scene, const std::function<bool(Point3)>& allowed, double clearance,
                                   double radius, double mouth, double h) {
    const Aabb& b = scene.sampled;
    const int front = static_cast<int>(std::ceil(radius / h)) + 1;
    const int nx = static_cast<int>(b.size().x / h) + 2, ny = static_cast<int>((b.hi.y - mouth) / h) + 2 + front,
              nz = static_cast<int>(b.size().z / h) + 2;
    const auto at = [&](int i, int j, int k) {
        return (static_cast<std::size_t>(k) * static_cast<std::size_t>(ny) + static_cast<std::size_t>(j)) *
                   static_cast<std::size_t>(nx) +
               static_cast<std::size_t>(i);
    };
    // Voxel (i, j, k) has its middle at lo + (i + 1/2) h; j = front is the first behind the mouth.
    std::vector<float> d(static_cast<std::size_t>(nx) * static_cast<std::size_t>(ny) * static_cast<std::size_t>(nz),
                         0.0f);
    parallel_for(static_cast<std::size_t>(nz), 1, [&](std::size_t begin, std::size_t end) {
        for (std::size_t kk = begin; kk < end; ++kk) {
            const int k = static_cast<int>(kk);
            for (int i = 0; i < nx; ++i) {
                bool free_so_far = true;
                for (int j = front; j < ny; ++j) {
                    const Point3 p{b.lo.x + (i + 0.5) * h, mouth + (j - front + 0.5) * h, b.lo.z + (k + 0.5) * h};
                    free_so_far = free_so_far && allowed(p) && scene.distance(p) > clearance;
                    d[at(i, j, k)] = free_so_far ? 1e12f : 0.0f;
                }
                for (int j = 0; j < front; ++j) d[at(i, j, k)] = d[at(i, front, k)];
            }
        }
    });
    // Squared distance to the zeros, line by line along each axis, by the lower envelope of parabolas.
    const auto transform = [&](std::vector<float>& f) {
        const int n[3] = {nx, ny, nz};
        for (int axis = 0; axis < 3; ++axis) {
            const int a = n[axis], p = n[(axis + 1) % 3], q = n[(axis + 2) % 3];
            parallel_for(static_cast<std::size_t>(q), 1, [&](std::size_t begin, std::size_t end) {
                std::vector<double> line(static_cast<std::size_t>(a)), cut(static_cast<std::size_t>(a) + 1);
                std::vector<int> low(static_cast<std::size_t>(a));
                for (std::size_t v = begin; v < end; ++v)
                    for (int u = 0; u < p; ++u) {
                        int c[3];
                        c[(axis + 1) % 3] = u, c[(axis + 2) % 3] = static_cast<int>(v);
                        for (int m = 0; m < a; ++m)
                            c[axis] = m, line[static_cast<std::size_t>(m)] = f[at(c[0], c[1], c[2])];
                        int top = -1;
                        for (int m = 0; m < a; ++m) {
                            if (line[static_cast<std::size_t>(m)] > 1e11) continue;
                            double s = -1e30;
                            while (top >= 0) {
                                const int w = low[static_cast<std::size_t>(top)];
                                s = (line[static_cast<std::size_t>(m)] + double(m) * m -
                                     line[static_cast<std::size_t>(w)] - double(w) * w) /
                                    (2.0 * (m - w));
                                if (s > cut[static_cast<std::size_t>(top)]) break;
                                --top;
                            }
                            ++top;
                            low[static_cast<std::size_t>(top)] = m;
                            cut[static_cast<std::size_t>(top)] = top == 0 ? -1e30 : s;
                        }
                        if (top < 0) continue;
                        int w = 0;
                        for (int m = 0; m < a; ++m) {
                            while (w < top && cut[static_cast<std::size_t>(w + 1)] < m) ++w;
                            const double step = m - low[static_cast<std::size_t>(w)];
                            c[axis] = m;
                            f[at(c[0], c[1], c[2])] = static_cast<float>(
                                step * step + line[static_cast<std::size_t>(low[static_cast<std::size_t>(w)])]);
                        }
                    }
            });
        }
    };
    // A voxel counts as a cube: its middle is half a voxel from the border between it and a solid neighbour.
    const double r = radius / h;
    transform(d);
    for (float& v : d) v = std::sqrt(v) - 0.5 >= r ? 0.0f : 1e12f;
    transform(d);
    std::size_t count = 0;
    for (int k = 0; k < nz; ++k)
        for (int j = front; j < ny; ++j)
            for (int i = 0; i < nx; ++i)
                if (std::sqrt(d[at(i, j, k)]) - 0.5 < r) ++count;
    return static_cast<double>(count) * h * h * h / 1e6;
}

inline Result<RoomFigures> room_figures(const Scene& scene, const scan::Surface& surface, const space::RoomOptions& o,
                                        double oracle_h) {
    auto made = space::free_room(surface, o, {});
    if (!made) return std::move(made).error();
    const space::Field& f = made->outer;
    const double c = o.clearance.mm() + o.covering.mm(), r = o.edge_radius.mm(), mouth_y = -o.travel_hi_mm;
    const Frame& frame = f.grid.vehicle_from_box;
    RoomFigures figures;
    figures.bound_mm = made->report.bound_mm;
    const auto allowed = [&](Point3 p) {
        for (const auto& l : o.limits)
            if (l.plane.height(p) > -(l.clearance.mm() + (l.covering ? o.covering.mm() : 0.0))) return false;
        return true;
    };
    std::vector<double> clearance;
    const std::size_t stride[3] = {1, static_cast<std::size_t>(f.grid.nx),
                                   static_cast<std::size_t>(f.grid.nx) * static_cast<std::size_t>(f.grid.ny)};
    for (int k = 1; k + 1 < f.grid.nz; ++k)
        for (int j = 1; j + 1 < f.grid.ny; ++j)
            for (int i = 1; i + 1 < f.grid.nx; ++i) {
                const Point3 p = f.grid.node(i, j, k);
                if (p.y < mouth_y) continue;
                const float a = f.mm[f.grid.index(i, j, k)];
                for (std::size_t axis = 0; axis < 3; ++axis) {
                    const float b = f.mm[f.grid.index(i, j, k) + stride[axis]];
                    if ((a < 0) == (b < 0)) continue;
                    Point3 z = p;
                    z[axis] += f.grid.h_mm * a / (a - b);
                    clearance.push_back(scene.distance(frame.to_parent(z)) - c);
                }
            }
    figures.border = clearance.size();
    figures.clearance = spread_of(clearance);

    std::vector<Vec3> normals;
    const auto points = surface_points(scene, 2.3, &normals, 99);
    std::vector<double> filling;
    const Vec3 out = -(o.insert ? unit(*o.insert) : frame.y);
    const double mouth_vehicle = dot(o.baffle.outward, o.baffle.point) + o.travel_hi_mm;
    for (std::size_t q = 0; q < points.size(); ++q) {
        // Most of a voxel more room than the ball needs: where it only just fits its places are thinner than the grid
        // can tell, and the field leaves them out.
        const double ball = c + r + 0.8 * f.grid.h_mm;
        const Point3 middle = points[q] + normals[q] * ball, skin = points[q] + normals[q] * c;
        const double inside = mouth_vehicle - dot(o.baffle.outward, middle);
        if (inside < r + 2.0 || !allowed(skin) || scene.distance(middle) < ball - 0.02) continue;
        bool comes_in = true;
        for (const double radius : {0.0, r})  // the ball standing, and all the way out
            for (const auto& l : o.limits)
                comes_in = comes_in &&
                           l.plane.height(middle) < -(l.clearance.mm() + (l.covering ? o.covering.mm() : 0.0) + radius);
        for (double s = 0.0; comes_in && s * -dot(out, frame.y) < inside; s += 0.5)
            comes_in = scene.distance(middle + out * s) >= ball - 0.04;
        if (!comes_in || f.at(middle) > 0.0) continue;
        // The border between the surface and the ball's middle.
        double lo = 0.0, hi = c + r;
        for (int round = 0; round < 40; ++round) {
            const double t = 0.5 * (lo + hi);
            (f.at(points[q] + normals[q] * t) > 0.0 ? lo : hi) = t;
        }
        filling.push_back(hi - c);
    }
    figures.filling = spread_of(filling);
    figures.litres = space::VolumeTable::of(f).volume_behind(mouth_y).litres();
    if (oracle_h > 0.0) figures.oracle_litres = voxel_opening_litres(scene, allowed, c, r, -mouth_vehicle, oracle_h);
    return figures;
}

}  // namespace geom::test
