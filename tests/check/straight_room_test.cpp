// Closed forms: planes, edges, balls and points at known distances from a cylinder, standing and leaning, and laws of
// scale and of rigid motion on random triangles; a second way by fine samples of the triangle.
#include "geom/check/internal/straight_room.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <random>

using geom::Point3;
using geom::TriMesh;
using geom::Vec3;
using namespace geom::check;

namespace {

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr StraightRoom kRoom{{0, 0, 0}, {0, 0, 1}, 5.0, 0.1, 100.0};

Vec3 turned(Vec3 v, Vec3 axis, double angle) {
    return v * std::cos(angle) + cross(axis, v) * std::sin(angle) + axis * (dot(axis, v) * (1 - std::cos(angle)));
}

}  // namespace

TEST_CASE("a wall beside the room leaves what lies between", "[check][access][oracle]") {
    // A wall x = 8 from below the seat to above the room's end: 3 left, from any of its heights.
    const RoomMet met = met_by_triangle(kRoom, {8, -500, -300}, {8, 500, -300}, {8, 0, 900});
    CHECK(met.left_mm == Approx(3));
    CHECK(met.at.x == Approx(8));
    CHECK(met.at.y == Approx(0).margin(1e-9));
    CHECK(met.first_mm == kInf);
}

TEST_CASE("a wall through the room reaches into it by so much, from where it begins", "[check][access][oracle]") {
    SECTION("a plane across the axis at a height") {
        const RoomMet met = met_by_triangle(kRoom, {-500, -300, 40}, {500, -300, 40}, {0, 900, 40});
        CHECK(met.left_mm == Approx(-5));
        CHECK(distance(met.at, {0, 0, 40}) < 1e-9);
        CHECK(met.first_mm == Approx(40));
    }
    SECTION("a leaning plane: lowest on the rim, where it falls most steeply") {
        // z = 40 + x / 2: lowest in the room at x = -5.
        const auto on = [](double x, double y) { return Point3{x, y, 40 + x / 2}; };
        const RoomMet met = met_by_triangle(kRoom, on(-500, -300), on(500, -300), on(0, 900));
        CHECK(met.left_mm == Approx(-5));
        CHECK(distance(met.at, {0, 0, 40}) < 1e-9);
        CHECK(met.first_mm == Approx(37.5));
    }
    SECTION("an upright wall 3 beside the axis, from 20 up") {
        const TriMesh wall{{{3, -90, 20}, {3, 90, 20}, {3, 90, 300}, {3, -90, 300}}, {{0, 1, 2}, {0, 2, 3}}};
        const RoomMet met = met_by_mesh(kRoom, wall, 10);
        CHECK(met.left_mm == Approx(-2));
        CHECK(met.first_mm == Approx(20));
    }
    SECTION("an edge that slants through the rim") {
        // The triangle's lower side runs from (4, -10, 10) to (4, 10, 50): it enters the circle at y = -3.
        const RoomMet met = met_by_triangle(kRoom, {4, -10, 10}, {4, 10, 50}, {400, 0, 200});
        CHECK(met.left_mm == Approx(-1));
        CHECK(met.first_mm == Approx(10 + 40 * 7.0 / 20));
    }
}

TEST_CASE("what lies below the seat or beyond the room's end does not count", "[check][access]") {
    CHECK_FALSE(met_by_triangle(kRoom, {-50, -30, 0}, {50, -30, 0}, {0, 90, 0}).is_met());
    CHECK_FALSE(met_by_triangle(kRoom, {-50, -30, 100.01}, {50, -30, 100.01}, {0, 90, 100.01}).is_met());
    CHECK(met_by_triangle(kRoom, {-50, -30, 99.99}, {50, -30, 99.99}, {0, 90, 99.99}).left_mm == Approx(-5));
    CHECK_FALSE(met_by_point(kRoom, {1, 1, -3}).is_met());
    CHECK(met_by_point(kRoom, {3, 4, 30}).left_mm == Approx(0).margin(1e-12));
    CHECK(met_by_point(kRoom, {0, 3, 30}).left_mm == Approx(-2));
    CHECK(met_by_point(kRoom, {0, 3, 30}).first_mm == Approx(30));
    // A wall that only passes below, and a slope of which only the upper part counts.
    CHECK_FALSE(met_by_triangle(kRoom, {8, -50, -30}, {8, 50, -30}, {8, 0, 0}).is_met());
    const RoomMet slope = met_by_triangle(kRoom, {0, -900, -10}, {0, 900, -10}, {110, 0, 100});  // z = x - 10
    CHECK(slope.left_mm == Approx(10.1 - 5));
}

TEST_CASE("a ball is met where it is widest between the two ends", "[check][access][oracle]") {
    CHECK(met_by_ball(kRoom, {20, 0, 50}, 8).left_mm == Approx(7));
    CHECK(met_by_ball(kRoom, {10, 0, 50}, 8).left_mm == Approx(-3));
    CHECK(met_by_ball(kRoom, {10, 0, 50}, 8).first_mm == Approx(50 - std::sqrt(64.0 - 25)));
    CHECK(met_by_ball(kRoom, {4, 0, 50}, 8).left_mm == Approx(-5));
    CHECK(met_by_ball(kRoom, {4, 0, 50}, 8).first_mm == Approx(42));
    // Its middle 6 over the end: the slice there is sqrt(100 - 36) = 8 wide.
    CHECK(met_by_ball(kRoom, {15, 0, 106}, 10).left_mm == Approx(2));
    CHECK_FALSE(met_by_ball(kRoom, {0, 0, 111}, 10).is_met());
}

TEST_CASE("distances follow the room wherever it is turned, and grow with scale", "[check][access][law]") {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> place(-12, 12), high(-20, 120);
    const Vec3 axis = geom::unit({0.3, -0.7, 0.5}), shift{120, -40, 900};
    int met_count = 0;
    for (int i = 0; i < 400; ++i) {
        Point3 t[3];
        for (Point3& p : t) p = {place(random), place(random), high(random)};
        const RoomMet here = met_by_triangle(kRoom, t[0], t[1], t[2]);
        const auto moved = [&](Point3 p) { return turned(p, axis, 1.1) + shift; };
        const StraightRoom there{moved(kRoom.seat), turned(kRoom.out, axis, 1.1), 5.0, 0.1, 100.0};
        const RoomMet turned_met = met_by_triangle(there, moved(t[0]), moved(t[1]), moved(t[2]));
        const StraightRoom large{kRoom.seat, kRoom.out, 15.0, 0.3, 300.0};
        const RoomMet scaled = met_by_triangle(large, t[0] * 3.0, t[1] * 3.0, t[2] * 3.0);
        REQUIRE(here.is_met() == turned_met.is_met());
        REQUIRE(here.is_met() == scaled.is_met());
        if (!here.is_met()) continue;
        ++met_count;
        CHECK(turned_met.left_mm == Approx(here.left_mm).margin(1e-9));
        CHECK(scaled.left_mm == Approx(3 * here.left_mm).margin(1e-9));
        CHECK((here.first_mm < kInf) == (here.left_mm < 0));
        if (here.first_mm < kInf) CHECK(turned_met.first_mm == Approx(here.first_mm).margin(1e-9));
    }
    CHECK(met_count > 300);
}

TEST_CASE("no sample of a triangle is nearer than told, and some are as near", "[check][access][oracle]") {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> place(-12, 12), high(-20, 120);
    constexpr int n = 160;
    for (int i = 0; i < 60; ++i) {
        Point3 t[3];
        for (Point3& p : t) p = {place(random), place(random), high(random)};
        const RoomMet exact = met_by_triangle(kRoom, t[0], t[1], t[2]);
        RoomMet sampled;
        for (int a = 0; a <= n; ++a)
            for (int b = 0; a + b <= n; ++b)
                sampled.take(met_by_point(kRoom, (t[0] * a + t[1] * b + t[2] * (n - a - b)) / n));
        if (!sampled.is_met()) continue;
        CHECK(sampled.left_mm >= exact.left_mm - 1e-9);
        CHECK(sampled.left_mm <= exact.left_mm + 0.4);
        CHECK(sampled.first_mm >= exact.first_mm - 1e-9);
        if (exact.left_mm < -1.0) CHECK(sampled.first_mm <= exact.first_mm + 2.5);
    }
}
