// Placing: laws of motions, the residual that noise must leave, and the configurations that determine no place.
#include "geom/scan/placing.h"

#include "geom/core/random.h"
#include "geom/core/tri_mesh.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <cmath>

namespace {

using namespace geom;
using namespace geom::scan;
using Catch::Contains;

Vec3 some_direction(Random& random) {
    return unit(Vec3{random.normal(), random.normal(), random.normal()});
}

/// A motion from two directions by Gram and Schmidt: by none of the ways under test.
Motion some_motion(Random& random, double scale = 1.0) {
    Motion m;
    m.z = some_direction(random);
    const Vec3 other = some_direction(random);
    m.x = unit(other - m.z * dot(other, m.z));
    m.y = cross(m.z, m.x);
    m.scale = scale;
    m.shift = some_direction(random) * random.uniform(100.0, 3000.0);
    return m;
}

Point3 some_point(Random& random, double half = 400.0) {
    return {random.uniform(-half, half), random.uniform(-half, half), random.uniform(-half, half)};
}

template <class T>
T require(Result<T> result) {
    if (!result) FAIL(result.error().what);
    return *std::move(result);
}

template <class T>
Fault require_fault(const Result<T>& result, FaultCode code = FaultCode::BadJob) {
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().code == code);
    CHECK_FALSE(result.error().hint.empty());
    return result.error();
}

std::vector<PointPair> pairs_of(const std::vector<Point3>& points, const Motion& motion) {
    std::vector<PointPair> pairs;
    for (const Point3& p : points) pairs.push_back({"pair " + std::to_string(pairs.size() + 1), p, motion.at(p)});
    return pairs;
}

void check_same(const Motion& a, const Motion& b, double within_mm) {
    for (const Point3 p : {Point3{0, 0, 0}, Point3{500, 0, 0}, Point3{0, -500, 0}, Point3{300, 200, 700}})
        CHECK(distance(a.at(p), b.at(p)) < within_mm);
}

const std::vector<Point3> kCorners = {{0, 0, 0}, {400, 20, 10}, {30, 300, -20}, {10, 40, 250}, {380, 280, 260}};

}  // namespace

TEST_CASE("a motion and its inverse are no motion, to a billionth of a millimetre", "[scan][placing]") {
    Random random(1);
    for (int i = 0; i < 100; ++i) {
        Motion m = some_motion(random, i % 2 == 0 ? 1.0 : random.uniform(0.5, 2.0));
        if (i % 3 == 0) m = then(m, mirror_about({some_point(random), some_direction(random)}));
        const Point3 p = some_point(random);
        CHECK(distance(m.inverse().at(m.at(p)), p) < 1e-9);
        CHECK(distance(then(m, m.inverse()).at(p), p) < 1e-9);
        const Motion other = some_motion(random);
        CHECK(distance(then(m, other).at(p), other.at(m.at(p))) < 1e-9);
    }
}

TEST_CASE("a mirror twice is no motion, and leaves its plane alone", "[scan][placing]") {
    Random random(2);
    for (int i = 0; i < 50; ++i) {
        const Plane plane{some_point(random), some_direction(random)};
        const Motion mirror = mirror_about(plane);
        const Point3 p = some_point(random);
        CHECK(mirror.mirrors());
        CHECK_FALSE(then(mirror, mirror).mirrors());
        CHECK(distance(mirror.at(mirror.at(p)), p) < 1e-9);
        CHECK(plane.height(mirror.at(p)) == Approx(-plane.height(p)).margin(1e-9));
        const Point3 on = p - plane.outward * plane.height(p);
        CHECK(distance(mirror.at(on), on) < 1e-9);
    }
    CHECK(mirror_about({{}, {1, 0, 0}}).at({3, 4, 5}) == Point3{-3, 4, 5});
}

TEST_CASE("a mirrored mesh keeps its outside", "[scan][placing]") {
    RawScan scan;
    scan.points = {{0, 0, 0}, {100, 0, 0}, {0, 100, 0}, {0, 0, 100}};
    scan.normals = {{-1, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    scan.triangles = {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}};
    const double before = signed_volume_mm3({scan.points, scan.triangles});
    REQUIRE(before == Approx(1e6 / 6.0));
    place(scan, mirror_about({{7, 0, 0}, {1, 0, 0}}));
    CHECK(signed_volume_mm3({scan.points, scan.triangles}) == Approx(before));
    CHECK(scan.points[1] == Point3{-86, 0, 0});
    CHECK(scan.normals[1] == Vec3{-1, 0, 0});
    place(scan, mirror_about({{7, 0, 0}, {1, 0, 0}}));
    CHECK(scan.triangles.front() == std::array<std::uint32_t, 3>{0, 2, 1});
}

TEST_CASE("axes a hair off the square are made square, z kept", "[scan][placing]") {
    const Vec3 z = unit(Vec3{0.01, 0, 1}), x = unit(Vec3{1, 0.3, 0});
    const Motion m = require(place_by_axes({10, 20, 30}, x, std::nullopt, z));
    CHECK(distance(m.at({10, 20, 30}), {}) < 1e-12);
    CHECK(distance(m.turned(z), {0, 0, 1}) < 1e-12);
    CHECK(std::abs(dot(m.x, m.z)) < 1e-15);
    CHECK_FALSE(m.mirrors());
}

TEST_CASE("of three axes any two give the third, and all three are shared fairly", "[scan][placing]") {
    Random random(3);
    const Motion true_one = some_motion(random);
    const Point3 origin = true_one.inverse().shift;
    check_same(require(place_by_axes(origin, true_one.x, std::nullopt, true_one.z)), true_one, 1e-9);
    check_same(require(place_by_axes(origin, std::nullopt, true_one.y, true_one.z)), true_one, 1e-9);
    check_same(require(place_by_axes(origin, true_one.x, true_one.y, std::nullopt)), true_one, 1e-9);
    check_same(require(place_by_axes(origin, true_one.x, true_one.y, true_one.z)), true_one, 1e-9);
    // x and y opened by 0.8 deg: the nearest right-angled axes take half from each.
    const double half = 0.4 / 180.0 * std::numbers::pi;
    const Motion m = require(place_by_axes({}, Vec3{std::cos(half), -std::sin(half), 0},
                                           Vec3{-std::sin(half), std::cos(half), 0}, Vec3{0, 0, 1}));
    CHECK(distance(m.x, {1, 0, 0}) < 1e-12);
    CHECK(distance(m.y, {0, 1, 0}) < 1e-12);
}

TEST_CASE("axes that are none are refused with the angle", "[scan][placing]") {
    CHECK(require_fault(place_by_axes({}, Vec3{1, 0, 0}, std::nullopt, unit(Vec3{0.1, 0, 1}))).what ==
          "x is 5.7 deg off a right angle to z; wanted a right angle, to 1 deg");
    CHECK_THAT(require_fault(place_by_axes({}, Vec3{1, 0, 0}, Vec3{0, -1, 0}, Vec3{0, 0, 1})).what,
               Contains("left-handed"));
    CHECK_THAT(require_fault(place_by_axes({}, Vec3{1, 0, 0}, unit(Vec3{0.05, 1, 0}), Vec3{0, 0, 1})).what,
               Contains("y is 2.9 deg off a right angle to x"));
}

TEST_CASE("three picked points give place, direction and plane", "[scan][placing]") {
    Random random(4);
    for (int i = 0; i < 20; ++i) {
        const Motion true_one = some_motion(random);
        const Motion back = true_one.inverse();
        PickedPoints picked;
        picked.at = {10, 20, 30};
        picked.along = {0, 1, 0};
        picked.normal = {1, 0, 0};
        // In the vehicle: from `at` along y, then somewhere in the plane x = 10 on the side of z.
        picked.scan = {back.at(picked.at), back.at({10, 270, 30}), back.at({10, 60, 150})};
        check_same(require(place_by_points(picked)), true_one, 1e-9);
    }
}

TEST_CASE("picked points that tell no plane are refused", "[scan][placing]") {
    PickedPoints picked;
    picked.scan = {Point3{0, 0, 0}, Point3{100, 0, 0}, Point3{300, 2, 0}};
    CHECK_THAT(require_fault(place_by_points(picked)).what, Contains("lie on one line: the third is 2 mm off"));
    picked.scan[2] = {300, 7, 0};
    CHECK(place_by_points(picked).has_value());
    picked.scan[2] = {100.5, 0, 0};
    CHECK_THAT(require_fault(place_by_points(picked)).what, Contains("2 and 3 lie 0.5 mm apart"));
    picked.scan[2] = {0, 100, 0};
    picked.along = {1, 0, 0.2};
    CHECK_THAT(require_fault(place_by_points(picked)).what, Contains("along is 11.3 deg off a right angle to normal"));
}

TEST_CASE("exact pairs give the motion back, scale only on request", "[scan][placing]") {
    Random random(5);
    for (int i = 0; i < 50; ++i) {
        const Motion rigid = some_motion(random);
        const PairFit fit = require(fit_pairs(pairs_of(kCorners, rigid), false));
        check_same(fit.motion, rigid, 1e-9);
        CHECK(fit.most_mm < 1e-9);
        CHECK_FALSE(fit.bad);
        const Motion larger = some_motion(random, 1.03);
        const PairFit scaled = require(fit_pairs(pairs_of(kCorners, larger), true));
        check_same(scaled.motion, larger, 1e-9);
        CHECK(scaled.motion.scale == Approx(1.03));
        const PairFit not_scaled = require(fit_pairs(pairs_of(kCorners, larger), false));
        CHECK(not_scaled.motion.scale == 1.0);
        CHECK(not_scaled.most_mm > 3.0);
        // Three pairs lie in a plane, which must not be taken for a mirror image.
        check_same(require(fit_pairs(pairs_of({kCorners[0], kCorners[1], kCorners[2]}, rigid), false)).motion, rigid,
                   1e-9);
    }
}

TEST_CASE("noise leaves the residual that least squares must leave", "[scan][placing]") {
    // 3 n numbers less the 6 of a rigid motion: rms a coordinate sigma * sqrt(1 - 6 / (3 n)); over many fits the mean
    // square is known to sqrt(2 / (fits * (3 n - 6))).
    Random random(6);
    const double sigma = 0.7;
    for (const std::size_t n : {3u, 4u, 6u, 12u}) {
        double sum2 = 0.0;
        const int fits = 400;
        int called_bad = 0;
        for (int k = 0; k < fits; ++k) {
            std::vector<Point3> points;
            for (std::size_t i = 0; i < n; ++i) points.push_back(i < 3 ? kCorners[i] : some_point(random));
            auto pairs = pairs_of(points, some_motion(random));
            for (auto& pair : pairs) pair.vehicle += Vec3{random.normal(), random.normal(), random.normal()} * sigma;
            const PairFit fit = require(fit_pairs(pairs, false));
            sum2 += fit.rms_mm * fit.rms_mm / 3.0;
            called_bad += fit.bad ? 1 : 0;
        }
        const double expected2 = sigma * sigma * (1.0 - 6.0 / (3.0 * static_cast<double>(n)));
        const double known = std::sqrt(2.0 / (fits * (3.0 * static_cast<double>(n) - 6.0)));
        INFO("pairs " << n);
        CHECK(std::abs(sum2 / fits / expected2 - 1.0) < 4.0 * known);
        // 1 % for each of n pairs, and less where 2 mm is more than noise reaches.
        CHECK(called_bad <= 0.02 * static_cast<double>(n) * fits);
    }
}

TEST_CASE("a bad pair is named where four or more agree, and not among three", "[scan][placing]") {
    Random random(7);
    for (const std::size_t n : {4u, 5u, 8u}) {
        int named = 0;
        for (int k = 0; k < 100; ++k) {
            std::vector<Point3> points;
            for (std::size_t i = 0; i < n; ++i) points.push_back(i < 5 ? kCorners[i] : some_point(random));
            auto pairs = pairs_of(points, some_motion(random));
            for (auto& pair : pairs) pair.vehicle += Vec3{random.normal(), random.normal(), random.normal()} * 0.4;
            const auto spoiled = static_cast<std::size_t>(k) % n;
            pairs[spoiled].vehicle += some_direction(random) * 40.0;
            const PairFit fit = require(fit_pairs(pairs, false));
            CHECK(fit.can_tell);
            if (fit.bad == spoiled) {
                ++named;
                CHECK(fit.bad_off_mm > 20.0);
                CHECK(fit.bad_off_mm < 70.0);
            }
        }
        INFO("pairs " << n);
        // Of four, the three that are left say little of one direction: a slip along it cannot be told.
        CHECK(named >= (n == 4 ? 60 : 98));
    }
    auto pairs = pairs_of({kCorners[0], kCorners[1], kCorners[2]}, some_motion(random));
    pairs[1].vehicle += Vec3{30, 30, 30};
    const PairFit three = require(fit_pairs(pairs, false));
    CHECK_FALSE(three.can_tell);
    CHECK_FALSE(three.bad);
    CHECK(three.most_mm > 2.0);
}

TEST_CASE("pairs that determine no motion are refused", "[scan][placing]") {
    Random random(8);
    const Motion m = some_motion(random);
    CHECK_THAT(require_fault(fit_pairs(pairs_of({kCorners[0], kCorners[1]}, m), false)).what,
               Contains("are 2; wanted three at least"));
    CHECK_THAT(require_fault(fit_pairs(pairs_of({{0, 0, 0}, {100, 0, 0}, {200, 1, 0}, {400, 0, 1}}, m), false)).what,
               Contains("scan points on one line"));
    CHECK_THAT(require_fault(fit_pairs(pairs_of({{0, 0, 0}, {0, 0.1, 0}, {0.1, 0, 0}}, m), false)).what,
               Contains("points in one place"));
    auto pairs = pairs_of(kCorners, m);
    for (std::size_t i = 0; i < pairs.size(); ++i) pairs[i].vehicle = Vec3{100, 50, 20} * static_cast<double>(i);
    CHECK_THAT(require_fault(fit_pairs(pairs, false)).what, Contains("vehicle points on one line"));
    const Fault mirrored = require_fault(fit_pairs(pairs_of(kCorners, then(m, mirror_about({{}, {1, 0, 0}}))), false));
    CHECK_THAT(mirrored.what, Contains("fit only as a mirror image"));
    CHECK_THAT(mirrored.hint, Contains("mirror"));
}

TEST_CASE("pairs in two units are told by their ratio", "[scan][placing]") {
    Random random(9);
    for (const auto& [ratio, units] :
         {std::pair{1000.0, "m and mm"}, {25.4, "in and mm"}, {0.1, "mm and cm"}, {10.0, "cm and mm"}})
        for (const bool scale : {false, true}) {
            const Fault fault =
                require_fault(fit_pairs(pairs_of(kCorners, some_motion(random, ratio)), scale), FaultCode::WrongUnit);
            CHECK_THAT(fault.hint, Contains(units));
        }
}

TEST_CASE("files with places of their own are joined in the vehicle", "[scan][placing]") {
    const support::TempFolder folder;
    const auto a = folder.write("a.xyz", "0 0 0\n100 0 0\n0 100 0\n100 100 0\n50 50 20\n");
    const auto b = folder.write("b.xyz", "0 0 0\n0.1 0 0\n0 0.1 0\n0.1 0.1 0\n0.05 0.05 0.02\n");
    ScanFile first{a, FileUnit::Millimetre, {}, {}}, second{b, FileUnit::Metre, mirror_about({{}, {0, 0, 1}}), {}};
    const PlacedScans placed = require(read_placed_scans({first, second}, {}, {}));
    REQUIRE(placed.scan.points.size() == 10);
    CHECK(distance(placed.scan.points[4], {50, 50, 20}) < 1e-9);
    CHECK(distance(placed.scan.points[9], {50, 50, -20}) < 1e-9);
    CHECK(placed.scan.files.size() == 2);
    CHECK(placed.files[1].motion.mirrors());
}
