// Analytic scenes for tests and benches of the field: exact distance, and samples of the surface with or without noise.
#pragma once

#include "geom/core/random.h"
#include "geom/scan/surface.h"
#include "geom/space/room.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <vector>

namespace geom::test {

/// A union of solids given by distance functions (exact outside each), so that the least of them is the exact
/// distance in the air.
struct Scene {
    std::vector<std::function<double(Point3)>> solids;
    Aabb sampled;                                 ///< the scan covers this box
    std::function<bool(Point3)> is_missing = {};  ///< holes in the scan

    double distance(Point3 p) const {
        double d = 1e300;
        for (const auto& s : solids) d = std::min(d, s(p));
        return d;
    }
    Vec3 normal(Point3 p) const {
        const double e = 1e-4;
        const auto slope = [&](Vec3 s) { return distance(p + s) - distance(p - s); };
        return unit(Vec3{slope({e, 0, 0}), slope({0, e, 0}), slope({0, 0, e})});
    }
};

inline double box_distance(Point3 p, Vec3 half) {
    const Vec3 q{std::abs(p.x) - half.x, std::abs(p.y) - half.y, std::abs(p.z) - half.z};
    return norm(Vec3{std::max(q.x, 0.0), std::max(q.y, 0.0), std::max(q.z, 0.0)}) +
           std::min(std::max({q.x, q.y, q.z}), 0.0);
}
inline std::function<double(Point3)> half_space(Point3 on, Vec3 out_of_solid) {
    return [=](Point3 p) { return dot(p - on, unit(out_of_solid)); };
}
inline std::function<double(Point3)> ball(Point3 c, double r) {
    return [=](Point3 p) { return norm(p - c) - r; };
}
inline std::function<double(Point3)> rod(Point3 a, Point3 b, double r) {
    return [=](Point3 p) {
        const double t = std::clamp(dot(p - a, b - a) / norm2(b - a), 0.0, 1.0);
        return norm(p - a - (b - a) * t) - r;
    };
}
inline std::function<double(Point3)> turned_box(Point3 c, Vec3 half, double about_z) {
    return [=](Point3 p) {
        const Vec3 d = p - c;
        return box_distance({std::cos(about_z) * d.x + std::sin(about_z) * d.y,
                             -std::sin(about_z) * d.x + std::cos(about_z) * d.y, d.z},
                            half);
    };
}

/// A gap of 200 x 340 x 350 mm open at y = 0 and closed at the top by a shelf: two bulging sides, a floor, a bulkhead.
inline Scene seat_gap() {
    Scene s;
    s.solids = {ball({-900, 150, 150}, 800), ball({910, 190, 130}, 800), half_space({0, 0, 0}, {0, 0, 1}),
                half_space({0, 340, 0}, {0, -1, 0.12}), rod({-60, 330, 20}, {70, 345, 20}, 30)};
    s.sampled = {{-150, 0, -5}, {150, 390, 350}};
    return s;
}

/// The cavity of the field-method figures: 260 x 340 x 360, a ball, a tube and a sharp ledge turned by 20 degrees.
inline Scene box_cavity() {
    Scene s;
    s.solids = {half_space({-130, 0, 0}, {1, 0, 0}),         half_space({130, 0, 0}, {-1, 0, 0}),
                half_space({0, 340, 0}, {0, -1, 0}),         half_space({0, 0, 0}, {0, 0, 1}),
                half_space({0, 0, 360}, {0, 0, -1}),         ball({70, 330, 60}, 80),
                rod({-160, -120, 290}, {-60, 420, 320}, 25), turned_box({-90, 220, 40}, {40, 50, 45}, 0.35)};
    s.sampled = {{-131, 0, -1}, {131, 341, 361}};
    return s;
}

/// Points on the surface seen from the air, about one in each cube of edge `spacing`.
inline std::vector<Point3> surface_points(const Scene& scene, double spacing, std::vector<Vec3>* normals = nullptr,
                                          std::uint64_t seed = 7) {
    Random random(seed);
    std::vector<Point3> points;
    const Vec3 size = scene.sampled.size();
    const int n[3] = {static_cast<int>(size.x / spacing) + 1, static_cast<int>(size.y / spacing) + 1,
                      static_cast<int>(size.z / spacing) + 1};
    constexpr int kBlock = 8;
    for (int bk = 0; bk < n[2]; bk += kBlock)
        for (int bj = 0; bj < n[1]; bj += kBlock)
            for (int bi = 0; bi < n[0]; bi += kBlock) {
                const Point3 middle =
                    scene.sampled.lo + Vec3{bi + 0.5 * kBlock, bj + 0.5 * kBlock, bk + 0.5 * kBlock} * spacing;
                if (std::abs(scene.distance(middle)) > kBlock * spacing) continue;
                for (int k = bk; k < std::min(bk + kBlock, n[2]); ++k)
                    for (int j = bj; j < std::min(bj + kBlock, n[1]); ++j)
                        for (int i = bi; i < std::min(bi + kBlock, n[0]); ++i) {
                            const Point3 cell = scene.sampled.lo + Vec3{i + 0.5, j + 0.5, k + 0.5} * spacing;
                            if (std::abs(scene.distance(cell)) > 0.87 * spacing) continue;
                            Point3 p = cell + Vec3{random.uniform(-0.3, 0.3), random.uniform(-0.3, 0.3),
                                                   random.uniform(-0.3, 0.3)} *
                                                  spacing;
                            for (int round = 0; round < 4; ++round) p -= scene.normal(p) * scene.distance(p);
                            const Vec3 off = p - cell;
                            if (std::max({std::abs(off.x), std::abs(off.y), std::abs(off.z)}) > 0.5 * spacing) continue;
                            if (std::abs(scene.distance(p)) > 1e-6) continue;
                            const Vec3 lo = p - scene.sampled.lo, hi = scene.sampled.hi - p;
                            if (std::min({lo.x, lo.y, lo.z, hi.x, hi.y, hi.z}) < 0.0) continue;
                            if (scene.is_missing && scene.is_missing(p)) continue;
                            points.push_back(p);
                            if (normals != nullptr) normals->push_back(scene.normal(p + scene.normal(p) * 1e-3));
                        }
            }
    return points;
}

/// Samples as a perfect estimate would give them.
inline scan::Surface exact_surface(const Scene& scene, double spacing, std::uint64_t seed = 7) {
    scan::Surface s;
    s.points = surface_points(scene, spacing, &s.normals, seed);
    s.radius_mm.assign(s.points.size(), static_cast<float>(0.9 * spacing));
    s.spacing_mm = spacing;
    s.raw_points = s.points.size();
    for (const Point3& p : s.points) s.box.grow(p);
    return s;
}

/// Exact samples of the seat gap, made once a spacing.
inline const scan::Surface& gap_surface(double spacing) {
    static std::map<double, scan::Surface> made;
    auto [it, is_new] = made.try_emplace(spacing);
    if (is_new) it->second = exact_surface(seat_gap(), spacing);
    return it->second;
}

/// Noisy points of the scene as a scanner would leave them.
inline scan::RawScan noisy_scan(const Scene& scene, double spacing, double sigma, std::uint64_t seed = 7) {
    scan::RawScan raw;
    raw.points = surface_points(scene, spacing, nullptr, seed);
    Random random(seed + 1);
    for (Point3& p : raw.points) p += Vec3{random.normal(), random.normal(), random.normal()} * sigma;
    return raw;
}

/// What is asked of the seat gap's room in tests, at voxel `h` mm.
inline space::RoomOptions seat_options(double h) {
    space::RoomOptions o;
    o.air = {0, 120, 160};
    o.baffle = {{0, 40, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200, o.travel_hi_mm = 32;
    o.voxel = Length::mm(h);
    o.limits = {{"shelf", {{0, 0, 300}, {0, 0, 1}}, Length::mm(0), true}};
    return o;
}

}  // namespace geom::test
