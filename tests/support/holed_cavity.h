// The cavity of cavity_scene.h as a poor scanner sees it: density that varies ten to one, noise, outliers, and round
// holes planted at places of its faces. What was planted is known.
#pragma once

#include "tests/support/cavity_scene.h"

#include <algorithm>
#include <vector>

namespace geom::test {

struct HoledCavity {
    struct Hole {
        Point3 place;
        double width_mm;
        int solid;          ///< CavityScene::Solid
        double spacing_mm;  ///< of the points round it
    };
    struct Options {
        double spacing_mm = 1.5;     ///< at the mean density, as if on a square grid
        double most_local_mm = 1e9;  ///< holes are planted only where the points lie no wider apart
        double noise_mm = 0.3;
        double outliers_rel = 0.02;
        std::vector<double> widths_mm = {15, 20, 30, 40};
        std::uint64_t seed = 1;
    };
    std::vector<Point3> points;  ///< outliers last
    std::size_t outliers = 0;
    std::vector<Hole> holes;
};

/// Share of the points that are kept: one to ten.
inline double kept_share(Point3 p) {
    return 0.55 + 0.45 * std::sin(p.x / 31 + 1) * std::sin(p.y / 37) * std::cos(p.z / 29);
}

/// Of the points about p, where their mean is spacing_mm.
inline double local_spacing(Point3 p, double spacing_mm) {
    return spacing_mm * std::sqrt(0.55 / kept_share(p));
}

/// Holes lie wholly in the walls, floor, roof or ball, 8 mm from whatever else begins there, from the rim and from one
/// another.
inline HoledCavity holed_cavity(const HoledCavity::Options& o) {
    using Scene = CavityScene;
    HoledCavity out;
    Random random(o.seed * 7919u + 17u);
    const std::vector<Point3> even =
        Scene::scan({.points = 60000, .noise_mm = 0.0, .outliers_rel = 0.0, .uneven = false, .seed = o.seed + 1000});
    const auto solid_at = [](Point3 p) {
        int which = 0;
        Scene::distance(p, &which);
        return which;
    };
    for (std::size_t k = o.widths_mm.size(); k-- > 0;) {
        const double width = o.widths_mm[k], reach = width / 2.0 + 8.0;
        for (int attempt = 0; attempt < 10000; ++attempt) {
            const Point3 c = even[static_cast<std::size_t>(random.uniform() * static_cast<double>(even.size()))];
            const int solid = solid_at(c);
            if (solid == Scene::Tube || solid == Scene::Ledge || c.y < reach) continue;
            if (local_spacing(c, o.spacing_mm) > o.most_local_mm) continue;
            const bool apart = std::none_of(out.holes.begin(), out.holes.end(), [&](const HoledCavity::Hole& h) {
                return geom::distance(h.place, c) < reach + h.width_mm / 2.0 + 8.0;
            });
            const bool alone = apart && std::all_of(even.begin(), even.end(), [&](Point3 p) {
                                   return geom::distance(p, c) > reach || solid_at(p) == solid;
                               });
            if (!alone) continue;
            out.holes.push_back({c, width, solid, local_spacing(c, o.spacing_mm)});
            break;
        }
    }
    // Mean of what is kept: 0.55. Area of all that is seen, roughly: 0.55 m2 of walls and what stands in them.
    const double area_mm2 = 540000.0;
    const auto wanted = static_cast<std::size_t>(area_mm2 / (o.spacing_mm * o.spacing_mm));
    const std::vector<Point3> dense =
        Scene::scan({.points = static_cast<std::size_t>(static_cast<double>(wanted) / 0.55),
                     .noise_mm = 0.0,
                     .outliers_rel = 0.0,
                     .uneven = false,
                     .seed = o.seed});
    for (const Point3& p : dense) {
        if (random.uniform() > kept_share(p)) continue;
        const bool in_hole = std::any_of(out.holes.begin(), out.holes.end(), [&](const HoledCavity::Hole& h) {
            return geom::distance(h.place, p) < h.width_mm / 2.0;
        });
        if (in_hole) continue;
        out.points.push_back(p + Vec3{random.normal(), random.normal(), random.normal()} * o.noise_mm);
    }
    out.outliers = static_cast<std::size_t>(static_cast<double>(out.points.size()) * o.outliers_rel);
    const std::size_t all = out.points.size() + out.outliers, single = out.points.size() + out.outliers * 2 / 5;
    const auto in_air = [&](double least) {
        while (true) {
            const Point3 p{random.uniform(-Scene::kHalfWidth, Scene::kHalfWidth), random.uniform(5, Scene::kDepth),
                           random.uniform(0, Scene::kHeight)};
            if (Scene::distance(p) > least) return p;
        }
    };
    while (out.points.size() < single) out.points.push_back(in_air(0.0));
    while (out.points.size() < all) {
        const Point3 middle = in_air(10.0);
        for (int i = 0; i < 30 && out.points.size() < all; ++i)
            out.points.push_back(middle + Vec3{random.normal(), random.normal(), random.normal()} * 2.0);
    }
    return out;
}

}  // namespace geom::test
