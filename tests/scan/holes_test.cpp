#include "geom/core/random.h"
#include "geom/scan/holes.h"

#include <catch2/catch.hpp>

#include <algorithm>


using namespace geom;
using namespace geom::scan;

namespace {

/// Levelled samples of a barrel-shaped wall x = 100 + bulge - (y^2 + z^2) / 2R, |y|, |z| < 120, with round holes.
Surface wall(double radius_mm, const std::vector<std::pair<Point3, double>>& holes, double spacing_mm) {
    Surface s;
    Random rng(11);
    const auto count = static_cast<std::size_t>(240.0 * 240.0 / (spacing_mm * spacing_mm));
    for (std::size_t i = 0; i < count; ++i) {
        const double y = rng.uniform(-120, 120), z = rng.uniform(-120, 120);
        const Point3 p{100.0 - (y * y + z * z) / (2.0 * radius_mm), y, z};
        if (std::any_of(holes.begin(), holes.end(), [&](const auto& h) { return distance(h.first, p) < h.second; })) continue;
        s.points.push_back(p);
        s.normals.push_back(unit({1.0, y / radius_mm, z / radius_mm}));
        s.radius_mm.push_back(static_cast<float>(spacing_mm));
    }
    s.spacing_mm = spacing_mm;
    s.noise_mm = 0.1;
    return s;
}

}  // namespace

TEST_CASE("planted holes are found at their place and the scan's own rim is none", "[scan][holes]") {
    const double spacing = GENERATE(1.5, 2.0, 3.0);
    CAPTURE(spacing);
    const std::vector<std::pair<Point3, double>> planted = {{{100.0, 0, 0}, 20.0}, {{100.0 - 1.6, -60, 50}, 7.5}};
    const Surface s = wall(2000, planted, spacing);
    const std::vector<Hole> holes = find_holes(s);
    for (const auto& [place, radius] : planted) {
        if (radius < 3.0 * spacing) continue;
        const bool found = std::any_of(holes.begin(), holes.end(), [&, at = place, r = radius](const Hole& h) {
            return distance(h.place, at) < 5.0 && std::abs(h.width.mm() - 2.0 * r) < 3.0 + spacing;
        });
        CHECK(found);
    }
    // Chance may add narrow ones, but none nearly as wide as what was planted.
    for (const Hole& h : holes)
        if (h.width.mm() > 12.0) CHECK((distance(h.place, planted[0].first) < 5.0 || distance(h.place, planted[1].first) < 5.0));
}

TEST_CASE("a closed hole carries the curved surface on within a tenth of a millimetre", "[scan][holes]") {
    const double radius = 300.0;  // sags 2.7 mm across the hole
    Surface s = wall(radius, {{{100.0, 0, 0}, 20.0}}, 2.0);
    const std::size_t before = s.points.size();
    close_holes(s, Length::mm(45));
    REQUIRE(!s.holes.empty());
    CHECK(s.holes.front().closed);
    REQUIRE(s.points.size() > before + 200);
    for (std::size_t i = before; i < s.points.size(); ++i) {
        const Point3 p = s.points[i];
        const double truth = 100.0 - (p.y * p.y + p.z * p.z) / (2.0 * radius);
        CHECK(std::abs(p.x - truth) < 0.1);
        CHECK(std::abs(dot(s.normals[i], unit({1.0, p.y / radius, p.z / radius}))) > 0.999);
    }
}

TEST_CASE("a hole wider than asked stays open and is named", "[scan][holes]") {
    Surface s = wall(2000, {{{100.0, 0, 0}, 20.0}}, 2.0);
    const std::size_t before = s.points.size();
    close_holes(s, Length::mm(30));
    REQUIRE(!s.holes.empty());
    CHECK_FALSE(s.holes.front().closed);
    CHECK(s.holes.front().width.mm() == Approx(40.0).margin(4.0));
    CHECK(s.points.size() == before);
}
