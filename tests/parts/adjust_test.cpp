// What is solved, by the fields alone: the value holds the wanted volume, says the same as a room made so from the
// start, and follows the wish monotonically.
#include "geom/parts/adjust.h"
#include "tests/cli/box_gap.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::parts;

namespace {

const scan::Surface& gap() {
    static const scan::Surface surface = [] {
        scan::RawScan raw;
        raw.points = support::box_gap_points(6.25);
        auto made = scan::estimate_surface(std::move(raw), {}, {});
        if (!made) throw std::runtime_error(made.error().what);
        return std::move(made).value();
    }();
    return surface;
}

EnclosureRequest request(Adjust adjust) {
    EnclosureRequest r;
    r.net_volume = Volume::litres(4.0);
    r.adjust = std::move(adjust);
    r.baffle.plane = {{0, 20, 0}, {0, -1, 0}};
    r.baffle.travel_lo_mm = r.baffle.travel_hi_mm = -60.0;
    r.inner_radius = r.room.inner_radius = Length::mm(14);
    r.room.air = {0, 140, 125};
    r.room.baffle = r.baffle.plane;
    r.room.travel_lo_mm = r.room.travel_hi_mm = -60.0;
    r.room.edge_radius = Length::mm(20);
    r.room.voxel = Length::mm(5);
    r.room.limits = {{.name = "top", .plane = {{0, 0, 230}, {0, 0, 1}}}};
    return r;
}

/// The value for each of the wanted volumes.
std::vector<double> values(const EnclosureRequest& asked, const std::vector<double>& litres) {
    const Context context;
    Sizer sizer(gap(), asked, context);
    std::vector<double> found;
    for (const double wanted : litres) {
        const Status solved = sizer.solve(Volume::litres(wanted));
        if (!solved) FAIL(solved.error().what);
        const Sized& now = sizer.now();
        CHECK(now.place.bare_air.litres() - now.filled.litres() == Approx(wanted).epsilon(2e-4));
        found.push_back(now.value_mm);
    }
    return found;
}

/// The air behind the baffle with nothing solved.
double plain_litres(const EnclosureRequest& asked) {
    const auto room = space::free_room(gap(), asked.room, {});
    if (!room) FAIL(room.error().what);
    const auto air = space::cavity(room->outer, asked.wall, asked.inner_radius, {});
    if (!air) FAIL(air.error().what);
    return space::VolumeTable::of(*air).volume_behind(60.0 + asked.baffle.thickness.mm()).litres();
}

}  // namespace

TEST_CASE("a limit goes further out the more is wanted, to where a plain room has that much",
          "[parts][adjust][property]") {
    EnclosureRequest asked = request({.what = Adjust::What::Limit, .limit = "top", .lo_mm = -90, .hi_mm = 10});
    const auto moved = values(asked, {4.0, 4.6, 4.0});
    CHECK(moved[1] > moved[0] + 10.0);
    CHECK(moved[2] == Approx(moved[0]).margin(0.05));
    asked.room.limits[0].plane.point.z += moved[1];
    CHECK(plain_litres(asked) == Approx(4.6).epsilon(5e-4));
}

TEST_CASE("a wall is thinner the more is wanted, to where a plain cavity has that much", "[parts][adjust][property]") {
    EnclosureRequest asked = request({.what = Adjust::What::Wall, .limit = {}, .lo_mm = 6, .hi_mm = 25});
    asked.wall = Length::mm(6);
    const auto walls = values(asked, {4.0, 4.6, 5.2});
    CHECK(walls[1] < walls[0] - 1.0);
    CHECK(walls[2] < walls[1] - 1.0);
    asked.wall = asked.room.wall = Length::mm(walls[1]);
    CHECK(plain_litres(asked) == Approx(4.6).epsilon(1e-3));
}

TEST_CASE("a pad takes what is over: the thicker the less is wanted", "[parts][adjust][property]") {
    const auto pads = values(request({.what = Adjust::What::Fill, .limit = {}}), {4.0, 4.6, 5.2});
    CHECK(pads[1] < pads[0] - 5.0);
    CHECK(pads[2] < pads[1] - 5.0);
}

TEST_CASE("a pad too thin to be made is refused with the baffle place that needs none", "[parts][adjust][faults]") {
    EnclosureRequest asked =
        request({.what = Adjust::What::Fill, .limit = {}, .lo_mm = 0, .hi_mm = 0, .fill = Adjust::Fill::Separate});
    const double most = plain_litres(asked);
    asked.net_volume = Volume::litres(most - 0.01);
    const Context context;
    Sizer sizer(gap(), asked, context);
    const Status solved = sizer.solve(asked.net_volume);
    REQUIRE_FALSE(solved);
    CHECK(solved.error().code == FaultCode::Impossible);
    CHECK(solved.error().what.find("wanted at least 3 mm") != std::string::npos);
    CHECK(solved.error().hint.find("put the baffle at -60.") != std::string::npos);
}

TEST_CASE("beyond the range the range that can be is told", "[parts][adjust][faults]") {
    const Context context;
    const auto told = [&](const EnclosureRequest& asked, double litres) {
        Sizer sizer(gap(), asked, context);
        EnclosureRequest wanted = asked;
        const Status solved = sizer.solve(Volume::litres(litres));
        return solved ? std::string("solved") : solved.error().what;
    };
    const EnclosureRequest limit = request({.what = Adjust::What::Limit, .limit = "top", .lo_mm = -20, .hi_mm = 10});
    CHECK(told(limit, 4.0).find("moved by -20 to 10 mm the box still holds 5.") != std::string::npos);
    EnclosureRequest wall = request({.what = Adjust::What::Wall, .limit = {}, .lo_mm = 6, .hi_mm = 8});
    wall.wall = Length::mm(6);
    CHECK(told(wall, 4.0).find("a wall of 6 to 8 mm the box still holds 5.") != std::string::npos);
}
