// The gap between the two front seats of a camper van, in closed form: the truth behind the example's scan.
//
// Frame     vehicle, mm: x across (+ to the right seat), y to the rear, z up from the floor. The gap is open to the
//           front (y < 0) and above; both seats, the floor and the bulkhead reach beyond what the job uses.
// Sign      distance() is positive in the free space, negative inside an obstacle. Outside every obstacle it is the
//           exact distance to the nearest of them, as a union's distance is the least of its members'.
// Shapes    seats: outer side of a torus, so that they bulge in both directions with different curvature, leaning;
//           floor: z = 0 with a round hump along y that rises to the rear; bulkhead: a plane that leans to the front;
//           buckle stalk: a rod with a round top, from the floor up along the right seat.
#pragma once

#include "geom/core/random.h"
#include "geom/core/vec.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <vector>

namespace camper_seat_gap {

using geom::Point3;
using geom::Vec3;

/// Outer side of a torus: `apex` is the point of the side that stands farthest into the gap, `outward` the direction
/// there, `axis` at right angles to it. Across the axis the side curves with `major + minor`, along it with `minor`.
struct Torus {
    Point3 apex;
    Vec3 outward, axis;
    double major, minor;

    double distance(Point3 p) const {
        const Vec3 d = p - (apex - outward * (major + minor));
        const double along = geom::dot(d, axis);
        const double across = geom::norm(d - axis * along);
        return std::hypot(across - major, along) - minor;
    }
};

/// A rod with round ends.
struct Rod {
    Point3 from, to;
    double radius;

    double distance(Point3 p) const {
        const Vec3 d = to - from;
        const double t = std::clamp(geom::dot(p - from, d) / geom::norm2(d), 0.0, 1.0);
        return geom::distance(p, from + d * t) - radius;
    }
};

enum Solid { LeftSeat, RightSeat, Floor, Hump, Bulkhead, Stalk, kSolids };

namespace detail {
/// Leaning by `degrees` about the y axis.
inline Torus seat(Point3 apex, double towards_x, double degrees, double major, double minor) {
    const double a = degrees * std::numbers::pi / 180.0;
    return {
        apex, {towards_x * std::cos(a), 0.0, std::sin(a)}, {-towards_x * std::sin(a), 0.0, std::cos(a)}, major, minor};
}
}  // namespace detail

/// The left seat leans away from the gap towards its top, the right one a little into it.
inline const Torus kLeftSeat = detail::seat({-98.0, 190.0, 150.0}, 1.0, 2.5, 400.0, 950.0);
inline const Torus kRightSeat = detail::seat({98.0, 200.0, 140.0}, -1.0, -1.5, 500.0, 900.0);
/// 25 mm high at y = 140, 4 mm lower in front, 2 mm higher at the rear.
inline const Rod kHump{{2.0, -560.0, -41.0}, {-2.0, 840.0, -29.0}, 60.0};
/// Its foot stands in the floor beside the right seat, its top at z = 200.
inline const Rod kStalk{{97.0, 130.0, -20.0}, {91.0, 121.0, 188.0}, 12.0};
inline constexpr Point3 kBulkheadFoot{0.0, 330.0, 0.0};
inline constexpr double kBulkheadLean_deg = 1.5;

inline double distance_to(int solid, Point3 p) {
    switch (solid) {
        case LeftSeat:
            return kLeftSeat.distance(p);
        case RightSeat:
            return kRightSeat.distance(p);
        case Floor:
            return p.z;
        case Hump:
            return kHump.distance(p);
        case Bulkhead: {
            const double a = kBulkheadLean_deg * std::numbers::pi / 180.0;
            return geom::dot(p - kBulkheadFoot, Vec3{0.0, -std::cos(a), -std::sin(a)});
        }
        default:
            return kStalk.distance(p);
    }
}

/// Distance to the nearest obstacle, and which it is.
inline double distance(Point3 p, int* which = nullptr) {
    double least = 1e300;
    for (int s = 0; s < kSolids; ++s)
        if (const double d = distance_to(s, p); d < least) {
            least = d;
            if (which != nullptr) *which = s;
        }
    return least;
}

/// A ball in which the scanner saw nothing.
struct Hole {
    Point3 centre;
    double radius;
};
/// On the left seat 20 mm wide, on the right one 12, on the floor 8.
inline constexpr Hole kHoles[] = {
    {{-102.6, 150.0, 205.0}, 6.0}, {{101.5, 235.0, 85.0}, 5.0}, {{-80.0, 90.0, 0.0}, 4.0}};

/// What of the obstacles the scan reaches.
inline constexpr double kScanFront = -40.0, kScanTop = 340.0;

struct ScanOptions {
    std::size_t points = 300000;
    double noise_mm = 0.3;        ///< standard deviation on each axis
    double outliers_rel = 0.005;  ///< 40 % of them single, the others in clusters of 30
    bool holes = true;
    bool uneven = true;  ///< density changes four to one
    std::uint64_t seed = 20250101;
    /// Points on the surfaces themselves, without outliers and holes.
    static ScanOptions exact(std::size_t points) { return {points, 0.0, 0.0, false, true, 20250101}; }
};

namespace detail {

/// A place on the visible side of a solid, uniform in area up to what `accept` takes back; false: none this time.
inline bool draw(geom::Random& random, int solid, Point3& p) {
    const double y = random.uniform(kScanFront, 345.0), z = random.uniform(0.0, kScanTop);
    auto on_side = [&](double x_lo, double x_hi) {
        // The side is a graph over y and z: bisect, then thin by the slope so that steep places get no more.
        const bool rising = distance_to(solid, {x_lo, y, z}) < 0.0;
        for (int i = 0; i < 48; ++i) {
            const double x = (x_lo + x_hi) / 2.0;
            const bool inside = distance_to(solid, {x, y, z}) < 0.0;
            (inside == rising ? x_lo : x_hi) = x;
        }
        p = {(x_lo + x_hi) / 2.0, y, z};
        const double e = 1e-3;
        const double slope =
            std::abs(distance_to(solid, {p.x + e, y, z}) - distance_to(solid, {p.x - e, y, z})) / (2.0 * e);
        return random.uniform() * slope < 0.8;
    };
    switch (solid) {
        case LeftSeat:
            return on_side(-400.0, 0.0);
        case RightSeat:
            return on_side(0.0, 400.0);
        case Floor:
            p = {random.uniform(-135.0, 135.0), y, 0.0};
            return true;
        case Bulkhead:
            p = {random.uniform(-135.0, 135.0), 0.0, z};
            p.y = kBulkheadFoot.y - z * std::tan(kBulkheadLean_deg * std::numbers::pi / 180.0);
            return true;
        default: {
            const Rod& rod = solid == Hump ? kHump : kStalk;
            const Vec3 axis = geom::unit(rod.to - rod.from), u = geom::any_perpendicular(axis),
                       v = geom::cross(axis, u);
            const double length = geom::distance(rod.from, rod.to);
            // The round ends have the area of the rod continued by a radius at each end.
            const double t = random.uniform(-rod.radius, length + rod.radius),
                         a = random.uniform(0.0, 2.0 * std::numbers::pi);
            const double beyond = t < 0.0 ? -t : t > length ? t - length : 0.0;
            const double r = std::sqrt(std::max(rod.radius * rod.radius - beyond * beyond, 0.0));
            p = rod.from + axis * t + (u * std::cos(a) + v * std::sin(a)) * r;
            return true;
        }
    }
}

/// Area of what draw() draws from, before anything is rejected.
inline double drawn_area(int solid) {
    const double depth = 345.0 - kScanFront;
    switch (solid) {
        case LeftSeat:
        case RightSeat:
            return depth * kScanTop / 0.8;  // draw() keeps eight tenths of a flat side
        case Floor:
            return 270.0 * depth;
        case Bulkhead:
            return 270.0 * kScanTop;
        default: {
            const Rod& rod = solid == Hump ? kHump : kStalk;
            return 2.0 * std::numbers::pi * rod.radius * (geom::distance(rod.from, rod.to) + 2.0 * rod.radius);
        }
    }
}

}  // namespace detail

/// The example's scan; the same points for the same options.
inline std::vector<Point3> scan(const ScanOptions& options = {}) {
    geom::Random random(options.seed);
    auto noise = [&] {
        const double x = random.normal(), y = random.normal(), z = random.normal();
        return Vec3{x, y, z};
    };
    std::vector<Point3> points;
    points.reserve(options.points);
    const auto outliers = static_cast<std::size_t>(static_cast<double>(options.points) * options.outliers_rel);
    double total = 0.0;
    for (int s = 0; s < kSolids; ++s) total += detail::drawn_area(s);
    while (points.size() < options.points - outliers) {
        double pick = random.uniform(0.0, total);
        int solid = 0;
        while (solid + 1 < kSolids && pick > detail::drawn_area(solid)) pick -= detail::drawn_area(solid++);
        Point3 p;
        if (!detail::draw(random, solid, p)) continue;
        if (p.y < kScanFront || p.z < 0.0 || p.z > kScanTop) continue;
        bool is_hidden = false;
        for (int s = 0; s < kSolids; ++s) is_hidden = is_hidden || (s != solid && distance_to(s, p) < 0.0);
        if (is_hidden) continue;
        if (options.uneven) {
            const double w = 0.5 + 0.5 * std::sin(p.x / 31.0 + 0.4) * std::sin(p.y / 37.0 + 1.0) * std::cos(p.z / 29.0);
            if (random.uniform() > 0.25 + 0.75 * w) continue;
        }
        bool in_hole = false;
        if (options.holes)
            for (const Hole& h : kHoles) in_hole = in_hole || geom::distance(p, h.centre) < h.radius;
        if (in_hole) continue;
        points.push_back(p + noise() * options.noise_mm);
    }
    const std::size_t singles = outliers * 2 / 5;
    for (std::size_t i = 0; i < singles; ++i) {
        const double x = random.uniform(-110.0, 110.0), y = random.uniform(kScanFront, 325.0);
        points.push_back({x, y, random.uniform(0.0, kScanTop)});
    }
    while (points.size() < options.points) {
        const double x = random.uniform(-95.0, 95.0), y = random.uniform(-30.0, 310.0);
        const Point3 centre{x, y, random.uniform(15.0, 325.0)};
        if (distance(centre) < 10.0) continue;
        for (int i = 0; i < 30 && points.size() < options.points; ++i) points.push_back(centre + noise() * 2.0);
    }
    return points;
}

}  // namespace camper_seat_gap
