#include "geom/space/internal/swept.h"

#include "tests/space/brute_sweep.h"
#include "tests/space/swept_misses.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::space;
using internal::SweptDistance;

namespace {

constexpr double kPi = std::numbers::pi;

SweptDistance swept(const KeepOutShape& shape, const Motion& motion) {
    auto body = internal::shape_distance({"it", shape, Length::mm(0), true, motion});
    REQUIRE(body);
    REQUIRE(check_motion("it", motion));
    return {std::move(*body), motion};
}

Swing about_z(double from, double to, Point3 hinge = {}) {
    return {hinge, {0, 0, 1}, Angle::deg(from), Angle::deg(to)};
}

/// Distance in the plane to the sector 0 <= angle <= turn of a disk about the origin; negative inside.
double sector_distance(double x, double y, double radius, double turn) {
    const double angle = std::atan2(y, x) < 0.0 ? std::atan2(y, x) + 2.0 * kPi : std::atan2(y, x), r = std::hypot(x, y);
    const auto to_side = [&](double at) {
        const double along = std::clamp(x * std::cos(at) + y * std::sin(at), 0.0, radius);
        return std::hypot(x - along * std::cos(at), y - along * std::sin(at));
    };
    const double sides = std::min(to_side(0.0), to_side(turn));
    if (angle > turn) return sides;
    return r > radius ? r - radius : -std::min(sides, radius - r);
}

}  // namespace

TEST_CASE("a ball that swings fills a piece of a ring", "[space][swept][oracle]") {
    const auto piece = swept(SphereShape{{100, 0, 20}, 12}, about_z(0, 70));
    Random random(1);
    for (int q = 0; q < 300; ++q) {
        const Point3 p{random.uniform(-160, 160), random.uniform(-160, 160), random.uniform(-40, 80)};
        const double angle = std::atan2(p.y, p.x), turn = 70 * kPi / 180;
        double d = std::min(distance(p, {100, 0, 20}), distance(p, {100 * std::cos(turn), 100 * std::sin(turn), 20}));
        if (angle >= 0.0 && angle <= turn) d = std::hypot(std::hypot(p.x, p.y) - 100, p.z - 20);
        CHECK(piece.at(p) == Approx(d - 12).margin(0.021));
        CHECK(piece.at(p) >= d - 12 - 1e-9);
    }
    const Aabb box = piece.box();
    CHECK(box.hi.x == Approx(std::hypot(112, 12)).margin(1e-9));  // of the drawn ball's box
    CHECK(box.lo.z == Approx(8));
}

TEST_CASE("a box that slides along itself is a longer box", "[space][swept][oracle]") {
    for (const bool as_mesh : {false, true}) {
        const auto body = brute::box_body({-10, 0, 5}, {10, 20, 45}, as_mesh);
        const auto longer = swept(body.shape, Travel{{{0, -30, 0}, {0, 0, 0}, {0, 70, 0}}});
        Random random(2);
        for (int q = 0; q < 300; ++q) {
            const Point3 p{random.uniform(-40, 40), random.uniform(-80, 140), random.uniform(-30, 80)};
            const double d = brute::box_distance({-10, -30, 5}, {10, 90, 45}, p);
            if (d > 0.0)
                CHECK(longer.at(p) == Approx(d).margin(0.021));
            else
                CHECK(longer.at(p) <= 1e-9);
        }
        CHECK(longer.box().lo == Point3{-10, -30, 5});
        CHECK(longer.box().hi == Point3{10, 90, 45});
    }
}

TEST_CASE("a sheet that swings about its edge fills a sector of a cylinder, and all of it in a full turn",
          "[space][swept][oracle]") {
    TriMesh sheet;
    sheet.vertices = {{0, 0, 0}, {100, 0, 0}, {100, 0, 150}, {0, 0, 150}};
    sheet.triangles = {{0, 1, 2}, {0, 2, 3}};
    for (const double turn : {90.0, 200.0, 360.0}) {
        const auto sector = swept(sheet, about_z(0, turn));
        Random random(3);
        for (int q = 0; q < 300; ++q) {
            const Point3 p{random.uniform(-150, 150), random.uniform(-150, 150), random.uniform(-50, 200)};
            const double aside =
                turn < 360 ? sector_distance(p.x, p.y, 100, turn * kPi / 180) : std::hypot(p.x, p.y) - 100;
            const double d = std::hypot(std::max(aside, 0.0), std::max({-p.z, p.z - 150, 0.0}));
            CHECK(sector.at(p) == Approx(d).margin(d < 50.0 ? 0.021 : 0.1));
        }
    }
}

TEST_CASE("the right hand says which way a swing goes", "[space][swept][oracle]") {
    const auto quarter = swept(SphereShape{{50, 0, 0}, 5}, about_z(0, 90));
    CHECK(quarter.at({0, 50, 0}) < -4.9);
    CHECK(quarter.at({0, -50, 0}) > 40);
    CHECK(quarter.pose_at({-20, 60, 0}).rfind("swung to 90.0 deg", 0) == 0);
    CHECK(quarter.pose_at({60, -20, 0}) == "swung to 0.0 deg");
    Swing down = about_z(0, 90);
    down.axis = {0, 0, -3};
    CHECK(swept(SphereShape{{50, 0, 0}, 5}, down).at({0, -50, 0}) < -4.9);
    CHECK(moved(about_z(0, 90), kPi / 2, {1, 0, 7}).y == Approx(1));
    CHECK(moved(about_z(90, 0), kPi / 2, {1, 0, 7}).x == Approx(1));
    CHECK(pose_text(Travel{{{0, 0, 0}, {0, 100, 0}, {0, 100, 50}}}, 120) == "slid by 120.0 mm to (0.0, 100.0, 20.0)");
}

TEST_CASE("swept distances are those of thousands of poses", "[space][swept][oracle]") {
    Random random(20);
    for (int n = 0; n < 40; ++n) {
        const brute::Body body = brute::random_body(random);
        const Motion motion = brute::random_motion(random);
        const auto all = swept(body.shape, motion);
        const auto poses = brute::poses_of(motion, 250, 0.25);
        for (int q = 0; q < 12; ++q) {
            const Point3 p = brute::random_point(random, 120);
            const double d = brute::least(body, poses, p), found = all.at(p);
            CAPTURE(n, body.name, q, d);
            // Poses stand up to 0.25 apart, so the brute distance may be too great by half of that.
            if (d > 0.13) CHECK(found <= d + 0.021);
            if (d > 0.13) CHECK(found >= d - 0.13);
            if (d < 0.0) CHECK(found <= 1e-9);
            const auto least = all.least(p, {.tolerance_mm = 0.5});
            CHECK(least.at_least <= found);
            CHECK(least.mm - least.at_least <= 0.5 + 1e-9);
            const Aabb box = all.box();
            CHECK(brute::box_distance(box.lo, box.hi, p) <= std::max(found, 0.0));
        }
    }
}

TEST_CASE("more motion sweeps no less, halves of a motion sweep the whole, and it may run backwards",
          "[space][swept][property]") {
    Random random(21);
    for (int n = 0; n < 30; ++n) {
        const brute::Body body = brute::random_body(random);
        Swing whole{brute::random_point(random, 30), brute::random_direction(random),
                    Angle::deg(random.uniform(-90, 0)), Angle::deg(random.uniform(20, 170))};
        Swing first = whole, second = whole, back = whole;
        first.to = second.from = Angle::deg(random.uniform(1, 19));
        std::swap(back.from, back.to);
        const auto a = swept(body.shape, whole), b = swept(body.shape, first), c = swept(body.shape, second),
                   d = swept(body.shape, back);
        for (int q = 0; q < 20; ++q) {
            const Point3 p = brute::random_point(random, 100);
            const double both = std::min(b.at(p), c.at(p));
            CHECK(a.at(p) <= both + 0.021);
            if (both > 0.0) CHECK(a.at(p) == Approx(both).margin(0.021));
            if (both > 0.0) CHECK(d.at(p) == Approx(both).margin(0.021));
        }
    }
}

TEST_CASE("what is swept moves along when everything is moved", "[space][swept][property]") {
    Random random(22);
    for (int n = 0; n < 20; ++n) {
        Frame frame;
        frame.origin = brute::random_point(random, 200);
        frame.z = brute::random_direction(random);
        frame.x = any_perpendicular(frame.z);
        frame.y = cross(frame.z, frame.x);
        const TriMesh mesh = brute::box_mesh({10, -4, 0}, {60, 4, 35});
        TriMesh turned = mesh;
        for (Point3& p : turned.vertices) p = frame.to_parent(p);
        const Swing swing{brute::random_point(random, 20), brute::random_direction(random), Angle::deg(10),
                          Angle::deg(130)};
        const Swing other{frame.to_parent(swing.hinge), frame.dir_to_parent(swing.axis), swing.from, swing.to};
        const Travel slide{{{0, 0, 0}, {0, 30, 5}, {-20, 40, 0}}};
        Travel other_slide;
        for (const Point3 p : slide.path) other_slide.path.push_back(frame.dir_to_parent(p));
        const auto a = swept(mesh, swing), b = swept(turned, other), c = swept(mesh, slide),
                   d = swept(turned, other_slide);
        for (int q = 0; q < 20; ++q) {
            const Point3 p = brute::random_point(random, 90);
            if (a.at(p) > 0.0) CHECK(b.at(frame.to_parent(p)) == Approx(a.at(p)).margin(0.021));
            if (c.at(p) > 0.0) CHECK(d.at(frame.to_parent(p)) == Approx(c.at(p)).margin(0.021));
        }
    }
}

TEST_CASE("on a grid the swept space is missed by less than half a voxel, and exceeded by less than one",
          "[space][swept][oracle]") {
    Random random(23);
    for (const double h : {1.5, 3.0})
        for (int n = 0; n < 8; ++n) {
            const auto misses = brute::swept_misses(random, h, 60);
            CAPTURE(h, n, misses.name);
            CHECK(misses.points > 20);
            CHECK(misses.less < 0.5);
            CHECK(misses.more < 1.0);
        }
}

TEST_CASE("motions without sense are refused by name", "[space][swept][fault]") {
    const auto fault_of = [](const Motion& motion) {
        const Status status = check_motion("flap", motion);
        REQUIRE_FALSE(status);
        CHECK(status.error().code == FaultCode::BadJob);
        return status.error().what;
    };
    Swing still = about_z(10, 10), without_axis = about_z(0, 10);
    without_axis.axis = {};
    CHECK(fault_of(still) == "keep-out 'flap': a swing from 10 deg to the same angle, wanted two angles");
    CHECK(fault_of(without_axis) == "keep-out 'flap': a swing about an axis of no length, wanted a direction");
    CHECK(fault_of(about_z(-10, 355)) == "keep-out 'flap': a swing through 365 deg, wanted at most a full turn");
    CHECK(fault_of(about_z(300, 400)) == "keep-out 'flap': a swing to 400 deg, wanted -360 to 360 deg");
    CHECK(fault_of(Travel{{{1, 2, 3}}}) == "keep-out 'flap': a path of 1 points, wanted at least two");
    CHECK(fault_of(Travel{{{1, 2, 3}, {1, 2, 3}}}) ==
          "keep-out 'flap': a path that goes nowhere, wanted two places apart");
    CHECK(check_motion("flap", about_z(0, 360)));
    CHECK(check_motion("flap", {}));
}
