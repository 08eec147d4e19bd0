// The inner skin of a door, in closed form: the truth behind the example's scan.
//
// Frame     vehicle, mm: the skin stands about upright on the vehicle's left side, so that the listener is to
//           its right; kView takes the skin's own numbers to the vehicle's: u to the rear, v up, w towards the
//           listener, its origin in the middle of the opening.
// Shapes    a sheet that bulges in both directions, with a swage across it: a rounded step that leaves a ledge below;
//           an opening of three lobes. Behind it there is the glass, which no scanner sees.
// Sign      distance() is positive on the listener's side; the sheet goes on over the opening.
#pragma once

#include "geom/core/random.h"
#include "geom/core/vec.h"

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <vector>

namespace ring_on_scan {

using geom::Point3;
using geom::Vec3;

/// Leans outward at its top by 5 degrees and runs in to the front by 3.
inline geom::Frame view() {
    const Vec3 w = geom::unit(Vec3{1.0, 0.052, 0.087}), up = geom::unit(Vec3{0, 0, 1} - w * w.z);
    return {{-612.0, 940.0, 318.0}, geom::cross(up, w), up, w};
}
inline const geom::Frame kView = view();

struct Skin {
    double radius_u_mm = 1400.0, radius_v_mm = 900.0;  ///< of the bulge; 0: flat that way
    double swage_mm = 5.0;                             ///< height of the step, v upward of it the higher
    double swage_v_mm = -48.0, swage_slope = 0.12;     ///< its middle runs along v = swage_v + slope u
    double swage_width_mm = 4.0;                       ///< the shorter the sharper
    double wave_mm = 0.0, wave_length_mm = 90.0;       ///< of a sin cos

    double height(double u, double v) const {
        double w = 0.0;
        if (radius_u_mm > 0.0) w -= u * u / (2.0 * radius_u_mm);
        if (radius_v_mm > 0.0) w -= v * v / (2.0 * radius_v_mm);
        const double t = v - swage_v_mm - swage_slope * u;
        w += 0.5 * swage_mm * (t / std::hypot(t, swage_width_mm) - 1.0);
        const double k = 2.0 * std::numbers::pi / wave_length_mm;
        return w + wave_mm * std::sin(k * u) * std::cos(k * v);
    }
    /// Distance to the sheet, signed: the nearest place by Newton's method from the foot straight below.
    double distance(Point3 vehicle) const {
        const Point3 p = kView.to_local(vehicle);
        double u = p.x, v = p.y;
        constexpr double e = 1e-3;
        const auto square = [&](double a, double b) {
            const double dw = height(a, b) - p.z;
            return 0.5 * ((a - p.x) * (a - p.x) + (b - p.y) * (b - p.y) + dw * dw);
        };
        for (int i = 0; i < 30; ++i) {
            const double f = square(u, v), fu = square(u + e, v), gu = square(u - e, v), fv = square(u, v + e),
                         gv = square(u, v - e);
            const double du = (fu - gu) / (2 * e), dv = (fv - gv) / (2 * e), uu = (fu - 2 * f + gu) / (e * e),
                         vv = (fv - 2 * f + gv) / (e * e),
                         uv = (square(u + e, v + e) - square(u + e, v - e) - square(u - e, v + e) +
                               square(u - e, v - e)) /
                              (4 * e * e);
            const double det = uu * vv - uv * uv;
            if (!(det > 1e-6)) break;
            double su = (vv * du - uv * dv) / det, sv = (uu * dv - uv * du) / det;
            while (square(u - su, v - sv) > f + 1e-15 && std::hypot(su, sv) > 1e-7) su *= 0.5, sv *= 0.5;
            u -= su, v -= sv;
            if (std::hypot(su, sv) < 1e-7) break;
        }
        const double d = std::sqrt(2.0 * square(u, v));
        return p.z >= height(p.x, p.y) ? d : -d;
    }
};

struct Opening {
    double radius_mm = 76.0, lobes_mm = 8.0;  ///< radius + lobes cos(3 angle)
    double turn = 0.4;
    bool holds(double u, double v) const {
        return std::hypot(u, v) < radius_mm + lobes_mm * std::cos(3.0 * (std::atan2(v, u) - turn));
    }
};

struct ScanOptions {
    Skin skin{};
    Opening opening{};  ///< radius 0: none
    double wide_mm = 480.0, high_mm = 420.0;
    double spacing_mm = 1.5;  ///< root of the area a point has
    double noise_mm = 0.3;    ///< standard deviation on each axis
    std::uint64_t seed = 20250607;
};

/// The same points for the same options.
inline std::vector<Point3> scan(const ScanOptions& options = {}) {
    geom::Random random(options.seed);
    const auto count =
        static_cast<std::size_t>(options.wide_mm * options.high_mm / (options.spacing_mm * options.spacing_mm));
    std::vector<Point3> points;
    points.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double u = random.uniform(-0.5, 0.5) * options.wide_mm, v = random.uniform(-0.5, 0.5) * options.high_mm;
        const double x = random.normal(), y = random.normal(), z = random.normal();
        if (options.opening.holds(u, v)) continue;
        points.push_back(kView.to_parent({u, v, options.skin.height(u, v)}) + Vec3{x, y, z} * options.noise_mm);
    }
    return points;
}

}  // namespace ring_on_scan
