#include "examples/camper_seat_gap/scene.h"

#include <catch2/catch.hpp>

using namespace geom;
namespace gap = camper_seat_gap;

TEST_CASE("the example's gap has the sizes its job relies on", "[scan][example]") {
    // The seats' nearest points, the floor's hump, the bulkhead and the stalk, where they were put.
    CHECK(gap::distance_to(gap::LeftSeat, {-98, 190, 150}) == Approx(0.0).margin(1e-9));
    CHECK(gap::distance_to(gap::RightSeat, {98, 200, 140}) == Approx(0.0).margin(1e-9));
    CHECK(gap::distance_to(gap::Hump, {0, 140, 25}) == Approx(0.0).margin(0.01));
    CHECK(gap::distance_to(gap::Bulkhead, {0, 330, 0}) == Approx(0.0).margin(1e-9));
    CHECK(gap::distance_to(gap::Bulkhead, {0, 330 - 300 * std::tan(1.5 * std::numbers::pi / 180), 300}) ==
          Approx(0.0).margin(1e-9));
    CHECK(gap::distance_to(gap::Stalk, {91, 121, 200.5}) == Approx(0.5).margin(0.05));
    // The hole centres of both feet lie on the floor itself, with room for a foot of 24 mm around them.
    for (const double x : {-80.0, 80.0}) {
        int which = -1;
        CHECK(gap::distance({x, 30, 0}, &which) == 0.0);
        CHECK(which == gap::Floor);
        for (const int other : {gap::LeftSeat, gap::RightSeat, gap::Hump, gap::Stalk})
            CHECK(gap::distance_to(other, {x, 30, 0}) > 24.0);
    }
    // `air` and the driver's axis are free.
    CHECK(gap::distance({0, 150, 160}) > 80.0);
    for (double y = 0; y <= 300; y += 5) CHECK(gap::distance({0, y, 160}) > 15.0);
    // The job's keep-out for the buckle, a cylinder of radius 20 from (97, 129, -5) to (91, 121, 205), holds the stalk.
    const Point3 from{97, 129, -5}, to{91, 121, 205};
    for (double t = 0.0; t <= 1.0; t += 0.02) {
        const Point3 p = gap::kStalk.from + (gap::kStalk.to - gap::kStalk.from) * t;
        const Vec3 d = unit(to - from);
        CHECK(norm(cross(p - from, d)) + gap::kStalk.radius < 20.0);
    }
    CHECK(gap::kStalk.to.z + gap::kStalk.radius <= 205.0);
}

TEST_CASE("distances of the example's gap are those of a distance function", "[scan][example][property]") {
    // Laws: no steeper than 1 anywhere, exactly 1 along the way to the nearest point in free space.
    Random random(2);
    for (int i = 0; i < 20000; ++i) {
        const Point3 p{random.uniform(-110, 110), random.uniform(-40, 325), random.uniform(1, 330)};
        const double d = gap::distance(p);
        const Vec3 step = unit(Vec3{random.normal(), random.normal(), random.normal()}) * random.uniform(0, 20);
        CHECK(std::abs(gap::distance(p + step) - d) <= norm(step) + 1e-9);
        if (d <= 0.5) continue;
        const double e = 1e-4;
        const Vec3 slope{gap::distance(p + Vec3{e, 0, 0}) - gap::distance(p - Vec3{e, 0, 0}),
                         gap::distance(p + Vec3{0, e, 0}) - gap::distance(p - Vec3{0, e, 0}),
                         gap::distance(p + Vec3{0, 0, e}) - gap::distance(p - Vec3{0, 0, e})};
        const Point3 foot = p - unit(slope) * d;
        if (std::abs(norm(slope) / (2 * e) - 1.0) < 1e-4) CHECK(std::abs(gap::distance(foot)) < 1e-3);
    }
}

TEST_CASE("the example's scan is the same every time and lies on its surfaces", "[scan][example]") {
    gap::ScanOptions options;
    options.points = 20000;
    const std::vector<Point3> points = gap::scan(options);
    CHECK(points.size() == 20000);
    CHECK(points == gap::scan(options));
    std::size_t far = 0;
    for (const Point3& p : points) far += std::abs(gap::distance(p)) > 1.5 ? 1 : 0;
    CHECK(far <= 100);  // the outliers: 0.5 %
    CHECK(far >= 60);
    const std::vector<Point3> exact = gap::scan(gap::ScanOptions::exact(20000));
    int seen[gap::kSolids] = {};
    for (const Point3& p : exact) {
        int which = 0;
        REQUIRE(std::abs(gap::distance(p, &which)) < 1e-6);
        ++seen[which];
        CHECK(p.y >= gap::kScanFront);
        CHECK(p.z <= gap::kScanTop);
    }
    for (const int n : seen) CHECK(n > 200);
    options.noise_mm = 0.0;
    options.outliers_rel = 0.0;
    for (const Point3& p : gap::scan(options))
        for (const gap::Hole& h : gap::kHoles) REQUIRE(distance(p, h.centre) >= h.radius);
}
