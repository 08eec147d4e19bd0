// A flat or bent wall, a second pass of it behind the first, or the other side of a thin sheet: distances in closed
// form.
#pragma once

#include "geom/scan/surface.h"

#include <fmt/format.h>

#include <cmath>
#include <random>
#include <string>

namespace geom::test {

/// 120 mm square, the nearer layer at z = 0 or on a cylinder along x about (z = -bend_mm), the other behind it.
struct LayeredScene {
    double apart_mm = 2.0;    ///< 0: one layer
    double near_share = 0.5;  ///< of the points, that the nearer layer has; the other has one each spacing squared
    double noise_mm = 0.3;
    double spacing_mm = 1.2;
    double bend_mm = 0.0;     ///< radius of the nearer layer; 0: flat
    bool both_sides = false;  ///< free behind the second layer too
    bool normals = false;     ///< given, each out of its side, off by a fifth
    bool uneven = false;      ///< density falls to a tenth along x
    std::uint64_t seed = 5;
};

inline std::string name_of(const LayeredScene& s) {
    std::string name = s.apart_mm > 0.0
                           ? fmt::format("{} {:.0f} mm", s.both_sides ? "sheet of" : "two passes", s.apart_mm)
                           : "one wall";
    if (s.apart_mm > 0.0 && s.near_share < 0.5) name += fmt::format(", nearer {:.0f} %", 100.0 * s.near_share);
    if (s.bend_mm > 0.0) name += fmt::format(", bent {:.0f}", s.bend_mm);
    if (s.normals) name += ", normals";
    if (s.uneven) name += ", 1:10";
    return name + fmt::format("; spacing {:.1f} noise {:.1f}", s.spacing_mm, s.noise_mm);
}

constexpr double kLayeredSide = 120.0;

/// `off` from the nearer layer towards the free side, at x and, along the layer, y.
inline Point3 place_on(const LayeredScene& s, double x, double y, double off) {
    if (s.bend_mm == 0.0) return {x, y, off};
    const double a = y / s.bend_mm, r = s.bend_mm + off;
    return {x, r * std::sin(a), r * std::cos(a) - s.bend_mm};
}

inline scan::RawScan scan_of(const LayeredScene& s) {
    std::mt19937_64 random(s.seed);
    std::uniform_real_distribution<double> unit(0, 1);
    std::normal_distribution<double> normal(0, 1);
    scan::RawScan raw;
    const int count = static_cast<int>(kLayeredSide * kLayeredSide / (s.spacing_mm * s.spacing_mm));
    const double near_part = s.near_share / (1.0 - s.near_share);
    for (int layer = 0; layer < (s.apart_mm > 0.0 ? 2 : 1); ++layer)
        for (int i = 0; i < count; ++i) {
            const double x = unit(random), y = unit(random), z = normal(random) * s.noise_mm, chance = unit(random);
            const Vec3 aside{normal(random), normal(random), normal(random)};
            if (layer == 0 && s.apart_mm > 0.0 && chance > near_part) continue;
            if (s.uneven && unit(random) > 1.0 - 0.9 * x) continue;
            const double at = kLayeredSide * (y - 0.5);
            raw.points.push_back(place_on(s, kLayeredSide * (x - 0.5), at, z - layer * s.apart_mm));
            if (!s.normals) continue;
            const double a = s.bend_mm > 0.0 ? at / s.bend_mm : 0.0;
            raw.normals.push_back(
                geom::unit(Vec3{0, std::sin(a), std::cos(a)} * (layer == 0 ? 1.0 : -1.0) + aside * 0.2));
        }
    return raw;
}

/// Told less true distances, 3 to 8 mm from the nearer layer, away from the border.
inline std::vector<double> errors_of(const LayeredScene& s, const scan::Surface& surface, int places) {
    std::mt19937_64 random(s.seed + 1);
    std::uniform_real_distribution<double> unit(0, 1);
    const scan::SurfaceDistance distance(surface);
    std::vector<double> error;
    for (int i = 0; i < places; ++i) {
        const double x = 80 * (unit(random) - 0.5), y = 80 * (unit(random) - 0.5), off = 3 + 5 * unit(random);
        const bool below = s.both_sides && i % 2 == 1;
        error.push_back(distance.at(place_on(s, x, y, below ? -s.apart_mm - off : off)) - off);
    }
    return error;
}

}  // namespace geom::test
