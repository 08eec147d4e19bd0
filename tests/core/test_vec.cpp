#include "geom/core/random.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/vec.h"

#include <catch2/catch.hpp>

#include <limits>

namespace {

using namespace geom;

Vec3 random_vec(Random& random) {
    return {random.uniform(-2, 2), random.uniform(-2, 2), random.uniform(-2, 2)};
}

Frame random_frame(Random& random) {
    Frame frame;
    frame.origin = random_vec(random) * 100.0;
    frame.z = unit(random_vec(random));
    frame.x = any_perpendicular(frame.z);
    frame.y = cross(frame.z, frame.x);
    return frame;
}

TriMesh tetrahedron(Point3 at) {
    return {{at, at + Vec3{1, 0, 0}, at + Vec3{0, 1, 0}, at + Vec3{0, 0, 1}},
            {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}};
}

}  // namespace

TEST_CASE("the cross product is right-handed and at right angles to both", "[core][vec][property]") {
    CHECK(cross({1, 0, 0}, {0, 1, 0}) == Vec3{0, 0, 1});
    Random random(1);
    for (int i = 0; i < 200; ++i) {
        const Vec3 a = random_vec(random), b = random_vec(random), c = cross(a, b);
        CHECK(dot(a, c) == Approx(0.0).margin(1e-12));
        CHECK(dot(b, c) == Approx(0.0).margin(1e-12));
        // Lagrange: |a x b|^2 = |a|^2 |b|^2 - (a.b)^2
        CHECK(norm2(c) == Approx(norm2(a) * norm2(b) - dot(a, b) * dot(a, b)).margin(1e-12));
    }
}

TEST_CASE("unit keeps the direction, and zero stays zero", "[core][vec]") {
    CHECK(unit({0, -3, 0}) == Vec3{0, -1, 0});
    CHECK(unit({0, 0, 0}) == Vec3{0, 0, 0});
    CHECK(norm(unit({1e-200, 2e-200, 0})) >= 0.0);
}

TEST_CASE("any perpendicular is one, for every direction", "[core][vec][property]") {
    Random random(2);
    for (int i = 0; i < 200; ++i) {
        const Vec3 n = unit(random_vec(random)), p = any_perpendicular(n);
        CHECK(dot(n, p) == Approx(0.0).margin(1e-12));
        CHECK(norm(p) == Approx(1.0));
        CHECK(any_perpendicular(n) == p);
    }
    for (const Vec3 axis : {Vec3{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {-1, 0, 0}})
        CHECK(dot(any_perpendicular(axis), axis) == 0.0);
}

TEST_CASE("a frame takes points there and back and keeps distances", "[core][frame][property]") {
    Random random(3);
    for (int i = 0; i < 100; ++i) {
        const Frame frame = random_frame(random);
        const Point3 a = random_vec(random) * 50.0, b = random_vec(random) * 50.0;
        CHECK(distance(frame.to_local(frame.to_parent(a)), a) < 1e-9);
        CHECK(distance(frame.to_parent(a), frame.to_parent(b)) == Approx(distance(a, b)));
        CHECK(distance(frame.to_parent(a) - frame.to_parent(b), frame.dir_to_parent(a - b)) < 1e-9);
        CHECK(distance(frame.dir_to_local(frame.dir_to_parent(a)), a) < 1e-9);
        CHECK(distance(frame.to_local(frame.origin), {}) == 0.0);
    }
}

TEST_CASE("a plane's height is positive on the outward side", "[core][vec]") {
    const Plane baffle{{0, 40, 0}, {0, -1, 0}};
    CHECK(baffle.height({5, 10, 7}) == 30.0);
    CHECK(baffle.height({5, 100, 7}) == -60.0);
    CHECK(baffle.height({99, 40, -3}) == 0.0);
}

TEST_CASE("a box is empty until it has grown", "[core][vec]") {
    Aabb box;
    CHECK(box.is_empty());
    CHECK(box.size() == Vec3{});
    box.grow({1, 2, 3});
    CHECK_FALSE(box.is_empty());
    box.grow({-1, 5, 3});
    CHECK(box.lo == Point3{-1, 2, 3});
    CHECK(box.size() == Vec3{2, 3, 0});
}

TEST_CASE("what is not finite is seen in every coordinate", "[core][vec]") {
    const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
    CHECK(is_finite({1, 2, 3}));
    CHECK_FALSE(is_finite({nan, 2, 3}));
    CHECK_FALSE(is_finite({1, -inf, 3}));
    CHECK_FALSE(is_finite({1, 2, nan}));
}

TEST_CASE("a mesh has the volume of its closed form wherever it lies", "[core][mesh]") {
    CHECK(signed_volume_mm3(tetrahedron({})) == Approx(1.0 / 6.0));
    CHECK(signed_volume_mm3(tetrahedron({1e6, -2e6, 3e6})) == Approx(1.0 / 6.0));
    CHECK(signed_volume_mm3(reversed(tetrahedron({}))) == Approx(-1.0 / 6.0));
    CHECK(signed_volume_mm3({}) == 0.0);
    CHECK(bounds(tetrahedron({5, 5, 5})).hi == Point3{6, 6, 6});
}

TEST_CASE("the seeded numbers are the same on every machine", "[core][random]") {
    // First outputs of SplitMix64 for seed 1234567, as its reference implementation prints them [memory].
    Random random(1234567);
    CHECK(random.next() == 6457827717110365317ull);
    CHECK(random.next() == 3203168211198807973ull);
    CHECK(random.next() == 9817491932198370423ull);
}

TEST_CASE("normal numbers have the moments of a standard normal", "[core][random][property]") {
    Random random(7);
    const int n = 200000;
    double sum = 0, squares = 0;
    for (int i = 0; i < n; ++i) {
        const double x = random.normal();
        sum += x, squares += x * x;
    }
    CHECK(sum / n == Approx(0.0).margin(5.0 / std::sqrt(n)));            // five standard errors
    CHECK(squares / n == Approx(1.0).margin(5.0 * std::sqrt(2.0 / n)));  // variance of x^2 is 2
}
