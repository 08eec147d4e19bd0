// The block over a scanned face against faces known in closed form, and laws: moved rigidly it is the same block, what
// lies inside the opening does not matter, what the scan misses under the foot is told with its place.
#include "geom/parts/scan_foot.h"

#include "tests/support/foot_places.h"

#include <catch2/catch.hpp>

#include <cmath>

using namespace geom;
using namespace geom::parts;
using ring_on_scan::kView;

namespace {

/// Flat, without an opening and without noise; 2 mm apart.
ring_on_scan::ScanOptions flat_scene() {
    ring_on_scan::ScanOptions scene;
    scene.skin = {.radius_u_mm = 0, .radius_v_mm = 0, .swage_mm = 0};
    scene.opening = {.radius_mm = 0, .lobes_mm = 0};
    scene.wide_mm = scene.high_mm = 300;
    scene.spacing_mm = 2.0;
    scene.noise_mm = 0.0;
    return scene;
}

ring_on_scan::ScanOptions bulging_scene() {
    ring_on_scan::ScanOptions scene = flat_scene();
    scene.skin = {.swage_mm = 0};
    return scene;
}

ScanFootRequest request_in(const Frame& view) {
    ScanFootRequest request;
    request.seat = {view.origin, view.z};
    request.up = view.y;
    request.reach_mm = 110;
    request.bore_mm = 60;
    request.front_mm = 30;
    request.gasket = Length::mm(3);
    return request;
}

Result<ScanFoot> foot_over(std::vector<Point3> points, const ScanFootRequest& request) {
    scan::RawScan raw;
    raw.points = std::move(points);
    GAPWRIGHT_TRY(surface, scan::estimate_surface(cropped_for(request, raw), {}, Context{}));
    return scan_foot(surface, request, Context{});
}

/// The scan without what lies in a circle of the skin's own numbers.
std::vector<Point3> without(std::vector<Point3> points, double u, double v, double radius) {
    std::erase_if(points, [&](Point3 p) {
        const Point3 q = kView.to_local(p);
        return std::hypot(q.x - u, q.y - v) < radius;
    });
    return points;
}

}  // namespace

TEST_CASE("over a plane the foot is that plane, a gasket away", "[scan_foot]") {
    const auto scene = flat_scene();
    for (const double gasket : {0.0, 1.0, 3.0, 12.0}) {
        ScanFootRequest request = request_in(kView);
        request.gasket = Length::mm(gasket);
        const auto foot = foot_over(ring_on_scan::scan(scene), request);
        REQUIRE(foot);
        const auto off = support::off_gasket(support::foot_places(*foot, request), scene, request.gasket, 0.0);
        REQUIRE(off.size() > 20000);
        CHECK(off.front() > -0.05);
        CHECK(off.back() < 0.05);
        CHECK(std::abs(foot->lowest_mm) < 0.01);
        CHECK(std::abs(foot->highest_mm) < 0.01);
        CHECK(foot->front_mm == Approx(30.0));
        const auto solid = measure::measure_solid(foot->block, Context{});
        REQUIRE(solid);
        CHECK(solid->valid);
        CHECK(solid->closed);
        CHECK(solid->solids == 1);
    }
}

TEST_CASE("over a plane at an angle to the seat the foot is that plane still", "[scan_foot]") {
    const auto scene = flat_scene();
    ScanFootRequest request = request_in(kView);
    request.seat.outward = unit(kView.z + kView.x * 0.06 - kView.y * 0.03);
    const auto foot = foot_over(ring_on_scan::scan(scene), request);
    REQUIRE(foot);
    const auto off = support::off_gasket(support::foot_places(*foot, request), scene, request.gasket, 0.0);
    REQUIRE(off.size() > 20000);
    CHECK(off.front() > -0.05);
    CHECK(off.back() < 0.05);
    const double slope = std::hypot(0.06, 0.03);
    CHECK(foot->highest_mm == Approx(110 * slope).margin(0.15));
    CHECK(foot->lowest_mm == Approx(-110 * slope).margin(0.15));
}

TEST_CASE("moved rigidly with its scan the foot is the same", "[scan_foot]") {
    const auto scene = bulging_scene();
    const ScanFootRequest request = request_in(kView);
    const auto foot = foot_over(ring_on_scan::scan(scene), request);
    REQUIRE(foot);
    const Vec3 x = unit(Vec3{0.3, -0.8, 0.5}), y = any_perpendicular(x);
    const Frame to{{-80, 2100, 35}, x, y, cross(x, y)};
    std::vector<Point3> moved;
    for (const Point3 p : ring_on_scan::scan(scene)) moved.push_back(to.to_parent(kView.to_local(p)));
    const auto again = foot_over(moved, request_in(to));
    REQUIRE(again);
    const auto a = measure::measure_solid(foot->block, Context{}), b = measure::measure_solid(again->block, Context{});
    REQUIRE((a && b));
    CHECK(a->volume.litres() == Approx(b->volume.litres()).epsilon(1e-4));
    CHECK(distance(kView.to_local(a->centre), to.to_local(b->centre)) < 0.02);
    CHECK(foot->lowest_mm == Approx(again->lowest_mm).margin(0.02));
}

TEST_CASE("an opening and what is seen through it do not change the foot beside it", "[scan_foot]") {
    auto whole = bulging_scene(), open = whole;
    open.opening = {};
    const ScanFootRequest request = request_in(kView);
    const auto over_whole = foot_over(ring_on_scan::scan(whole), request),
               over_open = foot_over(ring_on_scan::scan(open), request);
    REQUIRE(over_whole);
    REQUIRE(over_open);
    CHECK_FALSE(over_whole->relief.opening);
    REQUIRE(over_open->relief.opening);
    CHECK(over_open->relief.opening_reach_mm == Approx(84).margin(3));
    // A panel 20 mm behind, seen through the opening.
    std::vector<Point3> seen = ring_on_scan::scan(open);
    for (double u = -70; u < 70; u += 2)
        for (double v = -30; v < 30; v += 2) seen.push_back(kView.to_parent({u, v, -20.0}));
    const auto over_panel = foot_over(seen, request);
    REQUIRE(over_panel);
    CHECK(over_panel->relief.opening_reach_mm == Approx(over_open->relief.opening_reach_mm).margin(2.1));
    for (const ScanFoot* foot : {&*over_whole, &*over_open, &*over_panel}) {
        const auto off = support::off_gasket(support::foot_places(*foot, request), open, request.gasket, 1.0);
        REQUIRE(off.size() > 10000);
        CHECK(off.front() > -0.15);
        CHECK(off.back() < 0.15);
        // Over the opening the foot goes on as the face would, neither let down nor lifted.
        for (const double angle : {0.4, 2.5, 4.6})
            CHECK(foot->relief.at(70 * std::cos(angle), 70 * std::sin(angle)) ==
                  Approx(open.skin.height(70 * std::cos(angle), 70 * std::sin(angle))).margin(0.3));
    }
}

TEST_CASE("small gaps are bridged and told, wide ones under the foot are faults with their place", "[scan_foot]") {
    const auto scene = bulging_scene();
    ScanFootRequest request = request_in(kView);
    request.bridge = Length::mm(14);
    const auto bridged = foot_over(without(ring_on_scan::scan(scene), 60, 65, 5.5), request);
    REQUIRE(bridged);
    REQUIRE(bridged->relief.bridged.size() == 1);
    CHECK(bridged->notes.size() == 1);
    CHECK(distance(kView.to_local(bridged->relief.bridged.front().place), {60, 65, scene.skin.height(60, 65)}) < 2.5);
    const auto off = support::off_gasket(support::foot_places(*bridged, request), scene, request.gasket, 0.0);
    CHECK(off.front() > -0.15);

    const auto wide = foot_over(without(ring_on_scan::scan(scene), -70, 60, 13), request);
    REQUIRE_FALSE(wide);
    CHECK(wide.error().code == FaultCode::BadScan);
    CHECK(wide.error().what.find("gap") != std::string::npos);
    REQUIRE(wide.error().where);
    CHECK(distance(kView.to_local(*wide.error().where), {-70, 60, 0}) < 8);

    // Cut where the bore is: nothing there matters.
    CHECK(foot_over(without(ring_on_scan::scan(scene), 10, 20, 30), request));
}

TEST_CASE("a face that does not carry the foot's rim all round is a fault", "[scan_foot]") {
    const ScanFootRequest request = request_in(kView);
    auto scene = bulging_scene();
    scene.opening = {.radius_mm = 100, .lobes_mm = 12};
    const auto too_large = foot_over(ring_on_scan::scan(scene), request);
    REQUIRE_FALSE(too_large);
    CHECK(too_large.error().code == FaultCode::BadScan);
    CHECK(too_large.error().what.find("opening") != std::string::npos);
    CHECK(too_large.error().where);

    std::vector<Point3> short_of = ring_on_scan::scan(bulging_scene());
    std::erase_if(short_of, [](Point3 p) { return kView.to_local(p).x > 80; });
    const auto stops = foot_over(short_of, request);
    REQUIRE_FALSE(stops);
    CHECK(stops.error().code == FaultCode::BadScan);
    REQUIRE(stops.error().where);
    CHECK(kView.to_local(*stops.error().where).x > 79);
}

TEST_CASE("a seat that is not at the face, and lengths without meaning, are faults", "[scan_foot]") {
    ScanFootRequest request = request_in(kView);
    const auto scene = flat_scene();
    scan::RawScan raw;
    raw.points = ring_on_scan::scan(scene);
    const auto surface = scan::estimate_surface(raw, {}, Context{});
    REQUIRE(surface);
    request.seat.point = kView.origin + kView.z * 100.0;
    const auto off = scan_foot(*surface, request, Context{});
    REQUIRE_FALSE(off);
    CHECK(off.error().code == FaultCode::BadScan);
    CHECK(off.error().what.find("100 mm behind") != std::string::npos);
    request = request_in(kView);
    request.gasket = Length::mm(-1);
    const auto senseless = scan_foot(*surface, request, Context{});
    REQUIRE_FALSE(senseless);
    CHECK(senseless.error().code == FaultCode::BadJob);
}

TEST_CASE("over the example's door skin the foot keeps the gasket within its bound", "[scan_foot]") {
    const ring_on_scan::ScanOptions scene;
    const ScanFootRequest request = request_in(kView);
    const auto foot = foot_over(ring_on_scan::scan(scene), request);
    REQUIRE(foot);
    const auto off = support::off_gasket(support::foot_places(*foot, request), scene, request.gasket, 3.0);
    REQUIRE(off.size() > 10000);
    CHECK(off.front() > -foot->bound_mm);
    std::vector<double> size;
    for (const double d : off) size.push_back(std::abs(d));
    std::sort(size.begin(), size.end());
    CHECK(size[size.size() * 99 / 100] < 0.2);
}
