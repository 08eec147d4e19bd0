#include "tests/space/accuracy.h"

#include <catch2/catch.hpp>

using namespace geom;

TEST_CASE("distance from a ball's surface is found again to a thousandth of a millimetre from a function that is none",
          "[space][redistance][oracle]") {
    for (const double t : {5.0, -10.0, 0.0}) {
        const auto s = test::ball_redistance(2.0, t);
        CAPTURE(t, s.count);
        CHECK(s.count > 5000);
        CHECK(std::max(-s.least, s.most) < 1e-3);
    }
}

TEST_CASE("a sharp box opened by a ball is the rounded box within 0.1 mm at 95 percent and 0.06 percent of volume",
          "[space][opening][oracle]") {
    const auto [z, x] = GENERATE(table<double, double>({{0.3, 0.0}, {0.7, 0.5}}));
    const auto o = test::opened_box(2.0, 8.0, z, x);
    CAPTURE(z, x, o.near.p95, o.near.least, o.near.most);
    CHECK(std::abs(o.volume_rel) < 6e-4);
    CHECK(o.near.p95 <= 0.1);
    CHECK(o.near.p99 <= 0.1);
    CHECK(std::abs(o.near.bias) < 0.01);
}

TEST_CASE("a superellipsoid grown or shrunk has the volume of Steiner's formula within 0.06 percent",
          "[space][redistance][oracle]") {
    // Steiner's coefficients by quadrature [computed]; first checked on the ball, where they are known.
    const test::Steiner steiner = test::superellipsoid_steiner();
    CHECK(steiner.at(0.0) == Approx(steiner.volume));
    for (const double t : {8.0, -8.0}) CHECK(std::abs(test::superellipsoid_offset(2.0, t)) < 6e-4);
}

TEST_CASE("what can come in agrees with a fine search along every way", "[space][insertion][oracle]") {
    const Vec3 out = GENERATE(Vec3{0.35, -0.85, 0.25}, Vec3{0.2, -0.3, 0.9});
    const auto s = test::insertion_error(2.0, out);
    CAPTURE(out.x, out.y, out.z, s.count, s.least, s.most);
    CHECK(s.count > 5000);
    CHECK(s.p95 < 0.05);
    CHECK(s.p99 < 0.08);
    CHECK(std::abs(s.bias) < 0.01);
}

TEST_CASE("a cavity is the body inset by the wall and then opened", "[space][cavity][oracle]") {
    const Vec3 half{70, 60, 50};
    const auto g = test::grid_about_origin({86, 76, 66}, 2.0);
    const space::Field outer =
        test::sampled(g, [&](Point3 p) { return std::max(test::rounded_box(p, half, 8.0), -18.0); });
    const double wall = GENERATE(6.0, 12.0, 20.0);  // 20: deeper than the field goes
    const auto air = space::cavity(outer, Length::mm(wall), Length::mm(4), {});
    REQUIRE(air);
    // The rounded box inset by w is one with radius max(8 - w, 0), whose opening by 4 has radius max(8 - w, 4).
    const Vec3 in = half - Vec3{wall, wall, wall};
    // Its rounded edges may keep a hair more wall than asked, never less.
    const double error = test::volume_of(*air) / test::rounded_box_volume(in, std::max(8.0 - wall, 4.0)) - 1.0;
    CHECK(error < 6e-4);
    CHECK(error > -5e-3);
}

TEST_CASE("a wall is measured from the body's own border, not from the depths it was told", "[space][cavity][oracle]") {
    // A ball of radius 60 whose depths are those of one of 62, as an opening leaves them where it missed a corner.
    const auto g = test::grid_about_origin({76, 76, 76}, 2.0);
    const space::Field outer = test::sampled(g, [](Point3 p) {
        const double r = norm(p);
        return r > 54.5 ? r - 60.0 : std::max(r - 62.0, -40.0);
    });
    const auto air = space::cavity(outer, Length::mm(6), Length::mm(4), {});
    REQUIRE(air);
    const double radius = std::cbrt(test::volume_of(*air) * 3.0 / (4.0 * std::numbers::pi));
    CHECK(radius == Approx(54.0).margin(0.05));
}

TEST_CASE("a wall thicker than the room is refused with the room's own width", "[space][cavity][fault]") {
    const auto g = test::grid_about_origin({50, 50, 30}, 2.0);
    const space::Field outer = test::sampled(g, [&](Point3 p) { return test::box_distance(p, {38, 38, 15}); });
    const auto air = space::cavity(outer, Length::mm(16), Length::mm(4), {});
    REQUIRE_FALSE(air);
    CHECK(air.error().code == FaultCode::Impossible);
    CHECK(air.error().what.rfind(
              "a wall of 16.0 mm with an inner radius of 4.0 mm leaves no air: the room is nowhere wider than ", 0) ==
          0);
    CHECK(air.error().hint == "a thinner wall, a smaller inner radius, or more room");
}
