// Flat areas of walls against boxes and sheets whose areas are known, and the check's resonances against the plate
// formula by hand.
#include "tests/check/case.h"

#include "geom/check/internal/flat_wall.h"
#include "geom/fixings/plate_modes.h"

using namespace geom;
using namespace geom::check;

namespace {

/// A sheet over [0, 200] x [0, 150], z by `height`, seen from above, of squares of about 5 mm.
template <class F>
TriMesh sheet(F&& height) {
    TriMesh mesh;
    constexpr std::uint32_t kX = 40, kY = 30;
    for (std::uint32_t j = 0; j <= kY; ++j)
        for (std::uint32_t i = 0; i <= kX; ++i) {
            const double x = 5.0 * i, y = 5.0 * j;
            mesh.vertices.push_back({x, y, height(x, y)});
        }
    for (std::uint32_t j = 0; j < kY; ++j)
        for (std::uint32_t i = 0; i < kX; ++i) {
            const std::uint32_t a = j * (kX + 1) + i, b = a + 1, c = a + kX + 1, d = c + 1;
            mesh.triangles.push_back({a, b, d});
            mesh.triangles.push_back({a, d, c});
        }
    return mesh;
}

TriMesh meshed(const TopoDS_Shape& shape) {
    return shapes::require(measure::tessellate(to_brep(shape), Length::mm(0.05), {}));
}

/// Ways that sizes are told: longer by shorter.
void check_size(const WallRectangle& r, double longer, double shorter, double within = 1e-4) {
    CHECK(r.longer_mm == Approx(longer).margin(within).epsilon(0));
    CHECK(r.shorter_mm == Approx(shorter).margin(within).epsilon(0));
}

}  // namespace

TEST_CASE("the walls of a box are its rectangles, the weakest first", "[check][stiffness]") {
    const TopoDS_Shape box = shapes::box({0, 0, 0}, {300, 200, 110});
    const gp_Trsf motion = shapes::skew_motion();
    for (const bool is_moved : {false, true}) {
        const TriMesh mesh = meshed(is_moved ? shapes::moved(box, motion) : box);
        const auto walls = flat_walls(mesh, 6.0, {});
        REQUIRE(walls.size() == 6);
        check_size(walls[0].rectangle, 300, 200);
        check_size(walls[1].rectangle, 300, 200);
        check_size(walls[2].rectangle, 300, 110);
        check_size(walls[4].rectangle, 200, 110);
        for (const FlatWall& wall : walls) {
            CHECK(wall.area_mm2 == Approx(wall.rectangle.longer_mm * wall.rectangle.shorter_mm));
            const Point3 p{150, 100, 55};
            CHECK(dot(wall.plane.outward, wall.plane.point - (is_moved ? shapes::moved(p, motion) : p)) > 50.0);
        }
    }
}

TEST_CASE("a post splits the two walls that it stands on", "[check][stiffness]") {
    const TriMesh mesh = meshed(shapes::box({0, 0, 0}, {300, 200, 110}));
    const auto walls = flat_walls(mesh, 6.0, {{{150, 100, 0}, {150, 100, 110}}});
    check_size(walls[0].rectangle, 200, 150);
    check_size(walls[1].rectangle, 200, 150);
    check_size(walls[2].rectangle, 300, 110);  // the two that it does not touch
    check_size(walls[3].rectangle, 300, 110);
    // Out of the middle the larger share is left; a raster cell of 300 / 144 is how fine it is told.
    const auto beside = flat_walls(mesh, 6.0, {{{100, 100, 0}, {100, 100, 110}}});
    check_size(beside[0].rectangle, 200, 200, 300.0 / 144);
    // A post that slants runs to where it meets the wall; one along the wall holds it nowhere.
    const auto along = flat_walls(mesh, 6.0, {{{0, 100, 3}, {300, 100, 3}}});
    check_size(along[0].rectangle, 300, 200);
}

TEST_CASE("a simply supported square with a post in its middle has the true resonance", "[check][stiffness][oracle]") {
    // The node line of the plate's second mode runs through the post: lambda 5 pi^2 of 2 pi^2 [computed].
    const TriMesh mesh = meshed(shapes::box({0, 0, 0}, {240, 240, 500}));
    std::vector<Support> posts{{{120, 120, 0}, {120, 120, 20}}};
    for (const FlatWall& wall : flat_walls(mesh, 6.0, posts))
        if (wall.plane.outward.z < -0.9) CHECK(wall.rectangle.stiffness() == Approx(5.0 / (240.0 * 240.0)));
}

TEST_CASE("a round wall swings like a square between the one inside it and the one of its area", "[check][stiffness]") {
    const TriMesh mesh = meshed(shapes::cylinder({0, 0, 0}, {0, 0, 1}, 100, 60));
    const auto walls = flat_walls(mesh, 6.0, {});
    REQUIRE(walls.size() >= 2);
    const WallRectangle& r = walls[0].rectangle;
    CHECK(walls[0].area_mm2 == Approx(shapes::kPi * 1e4).epsilon(0.002));
    CHECK(r.shorter_mm > 100.0 * std::sqrt(2.0));
    CHECK(r.longer_mm < 100.0 * std::sqrt(shapes::kPi) * 1.05);
    CHECK(norm(r.centre - walls[0].plane.point) < 3.0);
}

TEST_CASE("a wall that bows by less than itself is nearly flat, more is not", "[check][stiffness]") {
    const auto bowed = [](double rise) {
        return sheet([=](double x, double) { return rise * (1.0 - (x - 100) * (x - 100) / 1e4); });
    };
    const auto slight = flat_walls(bowed(2.0), 6.0, {});
    REQUIRE_FALSE(slight.empty());
    check_size(slight[0].rectangle, 200, 150, 1e-3);
    // Rise 40: slopes reach 0.8; within 8 degrees of the crown's plane lie 35 mm, so no area is longer than twice that
    // across.
    const auto strong = flat_walls(bowed(40.0), 6.0, {});
    for (const FlatWall& wall : strong) {
        CHECK(wall.rectangle.shorter_mm < 75.0);
        CHECK(wall.area_mm2 < 200.0 * 150 / 2);
    }
}

TEST_CASE("triangles that are no wall end an area", "[check][stiffness]") {
    const TriMesh mesh = sheet([](double, double) { return 0.0; });
    const auto walls = flat_walls(mesh, 6.0, {}, [&](std::size_t t) { return mesh.corner(t, 0).x < 119.0; });
    REQUIRE(walls.size() == 1);
    check_size(walls[0].rectangle, 150, 120);
}

TEST_CASE("the check tells the weakest wall, its bounds and what one more brace does", "[check][stiffness]") {
    shapes::TestPart part;
    const fixings::PlateMaterial plastic{2.0, 1000.0, 0.38};
    part.request.material.e_GPa = plastic.e_GPa;
    part.request.material.nu = plastic.nu;
    const auto hz = [&](double a, double b) {
        return fixings::first_resonance(Length::mm(a), Length::mm(b), Length::mm(6), plastic);
    };
    {
        const Verdict verdict = shapes::require(part.judged());
        REQUIRE(verdict.stiffness.lowest);
        const WallResonance& lowest = *verdict.stiffness.lowest;  // floor or roof: 188 x 142 inside
        CHECK(lowest.supported_Hz == Approx(hz(188, 142).supported_Hz).epsilon(1e-6));
        CHECK(lowest.clamped_Hz == Approx(hz(188, 142).clamped_Hz).epsilon(1e-6));
        CHECK(lowest.thickness_mm == Approx(6.0));
        CHECK(std::abs(lowest.outward.z) == Approx(1.0));
        // A post in their middle stands behind the driver and leaves the back, 188 x 108, which no post touches.
        REQUIRE(verdict.stiffness.with_brace);
        const BraceTried& tried = *verdict.stiffness.with_brace;
        CHECK(tried.lowest.supported_Hz == Approx(hz(188, 108).supported_Hz).epsilon(1e-6));
        CHECK(std::abs(tried.from.z - tried.to.z) == Approx(108.0));
        CHECK(tried.litres == Approx(1e-6 * shapes::kPi / 4 * 15 * 15 * 108));
        // Told only, as nobody says how far it plays.
        for (const CheckLine& l : verdict.lines) CHECK(l.name != "walls, first resonance");
    }
    // With a limit: passes below half the supported resonance, fails above.
    for (const double share : {0.49, 0.51}) {
        part.request.plays_to_Hz = share * hz(188, 142).supported_Hz;
        const Verdict verdict = shapes::require(part.judged());
        const CheckLine& l = shapes::line(verdict, "walls, first resonance");
        CHECK(l.ok == (share < 0.5));
        CHECK(l.limit == Approx(2.0 * part.request.plays_to_Hz));
        CHECK(l.place.has_value() == !l.ok);
    }
    // The brace that was told, made.
    part.made.enclosure.braces.push_back(
        {.name = "post", .from = {100, 83, 6}, .to = {100, 83, 114}, .thickness_mm = 15, .volume_mm3 = 19e3});
    CHECK(shapes::require(part.judged()).stiffness.lowest->supported_Hz ==
          Approx(hz(188, 108).supported_Hz).epsilon(1e-6));
    part.request.material.e_GPa = 0.0;
    const Verdict unknown = shapes::require(part.judged());
    CHECK_FALSE(shapes::line(unknown, "walls, first resonance").ok);
    CHECK_FALSE(unknown.stiffness.lowest);
}
