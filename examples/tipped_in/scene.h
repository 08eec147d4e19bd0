// A bin behind a ledge and under a shelf, in closed form: the truth behind the example's scan.
//
// Frame     vehicle, mm: x across, y to the rear, z up. The bin is open to the front between the ledge and the shelf,
//           and in front of both there is nothing.
// Sign      distance() is positive in the free space and there the exact distance to the nearest obstacle, as a union's
//           distance is the least of its members'.
#pragma once

#include "geom/core/random.h"
#include "geom/core/vec.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

namespace tipped_in {

using geom::Point3;
using geom::Vec3;

inline constexpr double kHalfWidth = 150.0, kRear = 172.0, kShelf = 340.0, kLedge = 165.0, kLedgeThick = 30.0;

/// A solid {x : |x - middle| < half}, its edges rounded by `round`.
inline double block(Point3 p, Point3 middle, Vec3 half, double round) {
    const Vec3 d = p - middle;
    const Vec3 q{std::abs(d.x) - half.x + round, std::abs(d.y) - half.y + round, std::abs(d.z) - half.z + round};
    return geom::norm(Vec3{std::max(q.x, 0.0), std::max(q.y, 0.0), std::max(q.z, 0.0)}) +
           std::min(std::max({q.x, q.y, q.z}), 0.0) - round;
}

enum Solid { Floor, Rear, Left, Right, Shelf, Ledge, kSolids };

inline double distance_to(int solid, Point3 p) {
    constexpr double kFar = 600.0;
    switch (solid) {
        case Floor:
            return block(p, {0, 300, -kFar}, {kFar, 300, kFar}, 1.0);
        case Rear:
            return kRear - p.y;
        case Left:
            return block(p, {-kHalfWidth - kFar, 300, 0}, {kFar, 300, 2 * kFar}, 3.0);
        case Right:
            return block(p, {kHalfWidth + kFar, 300, 0}, {kFar, 300, 2 * kFar}, 3.0);
        case Shelf:
            return block(p, {0, 300, kShelf + kFar}, {kFar, 300, kFar}, 3.0);
        default:
            return block(p, {0, 0.5 * kLedgeThick, kLedge - kFar}, {kFar, 0.5 * kLedgeThick, kFar}, 8.0);
    }
}

inline double distance(Point3 p) {
    double least = 1e300;
    for (int s = 0; s < kSolids; ++s) least = std::min(least, distance_to(s, p));
    return least;
}

struct ScanOptions {
    std::size_t points = 120000;
    double noise_mm = 0.25;  ///< standard deviation on each axis
    std::uint64_t seed = 20260301;
};

/// What of the surfaces a scanner reaches from the front, evenly; the same points for the same options.
inline std::vector<Point3> scan(const ScanOptions& options = {}) {
    geom::Random random(options.seed);
    const Point3 lo{-kHalfWidth - 40, -20, -5}, hi{kHalfWidth + 40, kRear + 5, kShelf + 50};
    const double cell = 4.0;
    std::vector<Point3> points;
    while (points.size() < options.points) {
        // Places in a thin shell round the surface, brought onto it: as even as the shell.
        Point3 p{random.uniform(lo.x, hi.x), random.uniform(lo.y, hi.y), random.uniform(lo.z, hi.z)};
        const double d = distance(p);
        if (d < 0.0 || d > cell) continue;
        constexpr double e = 1e-4;
        const auto slope = [&](Vec3 s) { return (distance(p + s) - distance(p - s)) / (2.0 * e); };
        p += geom::unit(Vec3{slope({e, 0, 0}), slope({0, e, 0}), slope({0, 0, e})}) * -d;
        if (std::abs(distance(p)) > 1e-3) continue;
        const double x = random.normal(), y = random.normal(), z = random.normal();
        points.push_back(p + Vec3{x, y, z} * options.noise_mm);
    }
    return points;
}

}  // namespace tipped_in
