// Closed forms with one hole: up to three faces, plane or bent, that meet in hollow or in standing edges, sharp or
// rounded, scanned with noise while a ball about the hole's place was not seen.
//
// Frame     x, y along the first face, z to its free side, mm. Faces begin at the origin.
// Sign      off() is positive on the free side; near a single face it is the distance to within its bend.
// Samples   even over the surface: random places of a thin shell about it, projected onto it. Deterministic.
#pragma once

#include "geom/core/random.h"
#include "geom/core/vec.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace geom::test {

struct HoledFaces {
    enum class Meeting { Hollow, Standing };

    std::string name;
    std::vector<Vec3> faces = {{0, 0, 1}};  ///< unit, to the free side
    Meeting meeting = Meeting::Hollow;
    double bend_x = 0.0, bend_y = 0.0;  ///< of the first face, 1/mm: height is half of bend_x x^2 + bend_y y^2
    double round_mm = 0.0;  ///< radius of the edges; of right angles between planes only, as corners of three are
    Point3 hole;            ///< on the surface
    double hole_radius_mm = 15.0;
    Point3 lo{-100, -100, -100}, hi{100, 100, 100};  ///< nothing was scanned outside
    double noise_mm = 0.3, spacing_mm = 2.0;
    std::uint64_t seed = 1;

    double face_off(std::size_t f, Point3 p) const {
        if (f > 0) return dot(faces[f], p);
        const double height = 0.5 * (bend_x * p.x * p.x + bend_y * p.y * p.y);
        return (p.z - height) / std::sqrt(1.0 + std::pow(bend_x * p.x, 2) + std::pow(bend_y * p.y, 2));
    }
    double off(Point3 p) const {
        const double sign = meeting == Meeting::Hollow ? 1.0 : -1.0;
        double least = 1e300, outside2 = 0.0, rounded2 = 0.0;
        int below_round = 0;
        for (std::size_t f = 0; f < faces.size(); ++f) {
            const double h = sign * face_off(f, p);
            least = std::min(least, h);
            outside2 += std::pow(std::min(h, 0.0), 2);
            rounded2 += std::pow(std::max(round_mm - h, 0.0), 2);
            below_round += h < round_mm ? 1 : 0;
        }
        if (round_mm > 0.0 && below_round > 1) return sign * (round_mm - std::sqrt(rounded2));
        if (least >= 0.0 || faces.size() == 1) return sign * least;
        return sign * -(faces.size() == 2 ? outside_two(p, sign) : std::sqrt(outside2));
    }
    Vec3 slope(Point3 p) const {
        constexpr double h = 1e-4;
        return Vec3{off(p + Vec3{h, 0, 0}) - off(p - Vec3{h, 0, 0}), off(p + Vec3{0, h, 0}) - off(p - Vec3{0, h, 0}),
                    off(p + Vec3{0, 0, h}) - off(p - Vec3{0, 0, h})} /
               (2.0 * h);
    }
    /// The surface within a box, with a hole or without, so many samples as the spacing asks.
    std::vector<Point3> samples(Point3 from, Point3 to, double spacing, bool with_hole, std::uint64_t with_seed) const {
        Random rng(with_seed);
        constexpr double kShell_mm = 1.0;  // to either side
        std::vector<Point3> out;
        const Vec3 size = to - from;
        // A place of the shell stands for as much volume as there is for each that is drawn.
        const auto draws = static_cast<std::size_t>(size.x * size.y * size.z / (2.0 * kShell_mm * spacing * spacing));
        for (std::size_t i = 0; i < draws; ++i) {
            Point3 p{rng.uniform(from.x, to.x), rng.uniform(from.y, to.y), rng.uniform(from.z, to.z)};
            if (std::abs(off(p)) > kShell_mm) continue;
            for (int k = 0; k < 4; ++k) {
                const Vec3 g = slope(p);
                p -= g * (off(p) / norm2(g));
            }
            if (!with_hole || geom::distance(p, hole) > hole_radius_mm) out.push_back(p);
        }
        return out;
    }
    std::vector<Point3> scan() const {
        std::vector<Point3> out = samples(lo, hi, spacing_mm, true, seed);
        Random rng(seed + 77);
        for (Point3& p : out) p += Vec3{rng.normal(), rng.normal(), rng.normal()} * noise_mm;
        return out;
    }
    /// The true surface about the hole.
    std::vector<Point3> truth(double spacing) const {
        const double reach = hole_radius_mm + 12.0;
        std::vector<Point3> out;
        for (const Point3& p :
             samples(hole - Vec3{reach, reach, reach}, hole + Vec3{reach, reach, reach}, spacing, false, 5))
            if (p.x > lo.x && p.y > lo.y && p.z > lo.z && p.x < hi.x && p.y < hi.y && p.z < hi.z) out.push_back(p);
        return out;
    }

private:
    /// Distance to where two faces are, from where one at least of sign x face_off is negative.
    double outside_two(Point3 p, double sign) const {
        double nearest = 1e300;
        for (std::size_t f = 0; f < 2; ++f) {
            const double h = face_off(f, p);
            if (sign * face_off(1 - f, p - faces[f] * h) >= 0.0) nearest = std::min(nearest, std::abs(h));
        }
        if (nearest < 1e300) return nearest;
        const double a = face_off(0, p), b = face_off(1, p), c = dot(faces[0], faces[1]);
        return std::sqrt(std::max(a * a + b * b - 2.0 * a * b * c, 0.0) / (1.0 - c * c));
    }
};

/// A place of the surface near p.
inline Point3 on_surface(const HoledFaces& s, Point3 p) {
    for (int k = 0; k < 12; ++k) {
        const Vec3 g = s.slope(p);
        p -= g * (s.off(p) / norm2(g));
    }
    return p;
}

}  // namespace geom::test
