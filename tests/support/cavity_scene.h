// A closed form to scan: a cavity 260 x 340 x 360 mm open at y = 0, with a ball, a tube and a sharp ledge in it.
//
// Sign      distance() is positive in the free space and is there the exact distance to the nearest solid: a union's
//           distance is the least of its members' outside all of them.
// Samples   even over the visible area of the surfaces, thinned 5:1 where asked, Gaussian noise in all directions,
//           outliers: 40 % single, the rest in clusters of 30. Deterministic.
#pragma once

#include "geom/core/random.h"
#include "geom/core/vec.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

namespace geom::test {

class CavityScene {
public:
    static constexpr double kHalfWidth = 130.0, kDepth = 340.0, kHeight = 360.0;
    static constexpr Point3 kBall{70, 330, 60}, kTubeFrom{-160, -120, 290}, kTubeTo{-60, 420, 320},
        kLedge{-90, 220, 40};
    static constexpr double kBallRadius = 80.0, kTubeRadius = 25.0, kLedgeTurn = 0.35;
    static constexpr Vec3 kLedgeHalf{40, 50, 45};

    enum Solid { Left, Right, Rear, Floor, Roof, Ball, Tube, Ledge, kSolids };

    static double distance_to(int solid, Point3 p) {
        switch (solid) {
            case Left:
                return p.x + kHalfWidth;
            case Right:
                return kHalfWidth - p.x;
            case Rear:
                return kDepth - p.y;
            case Floor:
                return p.z;
            case Roof:
                return kHeight - p.z;
            case Ball:
                return geom::distance(p, kBall) - kBallRadius;
            case Tube: {
                const Vec3 d = kTubeTo - kTubeFrom;
                const double t = std::clamp(dot(p - kTubeFrom, d) / norm2(d), 0.0, 1.0);
                return geom::distance(p, kTubeFrom + d * t) - kTubeRadius;
            }
            default: {
                const Vec3 q = ledge_local(p);
                const Vec3 o{std::abs(q.x) - kLedgeHalf.x, std::abs(q.y) - kLedgeHalf.y, std::abs(q.z) - kLedgeHalf.z};
                const Vec3 out{std::max(o.x, 0.0), std::max(o.y, 0.0), std::max(o.z, 0.0)};
                return norm(out) + std::min(std::max({o.x, o.y, o.z}), 0.0);
            }
        }
    }
    static double distance(Point3 p, int* which = nullptr) {
        double least = 1e300;
        for (int s = 0; s < kSolids; ++s)
            if (const double d = distance_to(s, p); d < least) {
                least = d;
                if (which != nullptr) *which = s;
            }
        return least;
    }

    struct Options {
        std::size_t points = 300000;
        double noise_mm = 0.3;
        double outliers_rel = 0.015;
        bool uneven = true;
        std::uint64_t seed = 1;
    };
    static std::vector<Point3> scan(const Options& o) {
        Random random(o.seed);
        std::vector<Point3> points;
        points.reserve(o.points);
        const auto outliers = static_cast<std::size_t>(static_cast<double>(o.points) * o.outliers_rel);
        auto noise = [&] { return Vec3{random.normal(), random.normal(), random.normal()}; };
        // Areas of the whole solids; what is hidden in another one is rejected.
        const double sides = kDepth * kHeight, rear = 2 * kHalfWidth * kHeight, floor = 2 * kHalfWidth * kDepth;
        const double ball = 4 * std::numbers::pi * kBallRadius * kBallRadius;
        const double tube = 2 * std::numbers::pi * kTubeRadius * geom::distance(kTubeFrom, kTubeTo);
        const double lx = kLedgeHalf.x, ly = kLedgeHalf.y, lz = kLedgeHalf.z;
        const double areas[] = {sides, sides, rear, floor, floor, ball, tube, 8 * ly * lz, 8 * lx * lz, 8 * lx * ly};
        double total = 0;
        for (double a : areas) total += a;
        while (points.size() < o.points - outliers) {
            double pick = random.uniform(0, total);
            int which = 0;
            while (which < 9 && pick > areas[which]) pick -= areas[which++];
            const double a = random.uniform(), b = random.uniform();
            const double side = random.uniform() < 0.5 ? -1 : 1;
            Point3 p;
            int solid = which;
            switch (which) {
                case 0:
                    p = {-kHalfWidth, a * kDepth, b * kHeight};
                    break;
                case 1:
                    p = {kHalfWidth, a * kDepth, b * kHeight};
                    break;
                case 2:
                    p = {kHalfWidth * (2 * a - 1), kDepth, b * kHeight};
                    break;
                case 3:
                    p = {kHalfWidth * (2 * a - 1), b * kDepth, 0};
                    break;
                case 4:
                    p = {kHalfWidth * (2 * a - 1), b * kDepth, kHeight};
                    break;
                case 5:
                    p = kBall + unit(noise()) * kBallRadius;
                    break;
                case 6: {
                    const Vec3 d = unit(kTubeTo - kTubeFrom), e = any_perpendicular(d), f = cross(d, e);
                    const double t = 2 * std::numbers::pi * b;
                    p = kTubeFrom + (kTubeTo - kTubeFrom) * a + (e * std::cos(t) + f * std::sin(t)) * kTubeRadius;
                    break;
                }
                case 7:
                    p = ledge_world({side * lx, ly * (2 * a - 1), lz * (2 * b - 1)});
                    break;
                case 8:
                    p = ledge_world({lx * (2 * a - 1), side * ly, lz * (2 * b - 1)});
                    break;
                default:
                    p = ledge_world({lx * (2 * a - 1), ly * (2 * b - 1), side * lz});
                    break;
            }
            if (which > 7) solid = Ledge;
            if (p.y < 0 || p.y > kDepth || std::abs(p.x) > kHalfWidth || p.z < 0 || p.z > kHeight) continue;
            bool hidden = false;
            for (int s = 0; s < kSolids; ++s) hidden = hidden || (s != solid && distance_to(s, p) < 0);
            if (hidden) continue;
            if (o.uneven) {
                const double w = 0.5 + 0.5 * std::sin(p.x / 23) * std::sin(p.y / 31 + 1) * std::cos(p.z / 27);
                if (random.uniform() > 0.2 + 0.8 * w) continue;
            }
            points.push_back(p + noise() * o.noise_mm);
        }
        const std::size_t single = outliers * 2 / 5;
        for (std::size_t i = 0; i < single; ++i)
            points.push_back(
                {random.uniform(-kHalfWidth, kHalfWidth), random.uniform(0, kDepth), random.uniform(0, kHeight)});
        while (points.size() < o.points) {
            const Point3 m{random.uniform(-115, 115), random.uniform(10, 330), random.uniform(15, 345)};
            if (distance(m) < 10) continue;
            for (int i = 0; i < 30 && points.size() < o.points; ++i) points.push_back(m + noise() * 2.0);
        }
        return points;
    }
    /// Places in the free space with `lo` <= distance <= `hi`, away from the open rim.
    static std::vector<Point3> queries(std::size_t count, double lo, double hi, std::uint64_t seed) {
        Random random(seed);
        std::vector<Point3> out;
        while (out.size() < count) {
            const Point3 p{random.uniform(-kHalfWidth, kHalfWidth), random.uniform(8, kDepth),
                           random.uniform(0, kHeight)};
            if (const double d = distance(p); d >= lo && d <= hi) out.push_back(p);
        }
        return out;
    }

private:
    static Vec3 ledge_local(Point3 p) {
        const Vec3 q = p - kLedge;
        const double c = std::cos(kLedgeTurn), s = std::sin(kLedgeTurn);
        return {c * q.x + s * q.y, -s * q.x + c * q.y, q.z};
    }
    static Point3 ledge_world(Vec3 q) {
        const double c = std::cos(kLedgeTurn), s = std::sin(kLedgeTurn);
        return kLedge + Vec3{c * q.x - s * q.y, s * q.x + c * q.y, q.z};
    }
};

}  // namespace geom::test
