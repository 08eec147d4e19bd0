// Where heads sit, which way their screws go in and how far their holes reach, against the holes of the B-rep.
#include "tests/parts/features_bodies.h"

#include "geom/fixings/threads.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

std::vector<BoltMade> of_step(const Enclosure& made, Step step) {
    std::vector<BoltMade> out;
    for (const BoltMade& screw : made.screws)
        if (screw.step == step) out.push_back(screw);
    return out;
}

}  // namespace

TEST_CASE("each driver screw stands over its hole, its head on the flange", "[parts][features][screws][oracle]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.driver->driver.flange_thickness = Length::mm(5);
    const Enclosure enclosure = made(box);
    REQUIRE(enclosure.screws.size() == 4);
    const auto holes = cylinders(enclosure.products[0].solid, 2.8);
    for (const BoltMade& screw : enclosure.screws) {
        CHECK(screw.step == Step::DriverOnBaffle);
        CHECK(screw.product == "shell");
        CHECK(screw.thread == "M4");
        CHECK(screw.head_seat.y == Approx(-5));
        CHECK(distance(screw.axis, {0, 1, 0}) < 1e-12);
        CHECK(screw.reach_mm == Approx(5 + 8.85));
        CHECK(screw.tool.diameter.mm() >= 7);
        CHECK(screw.tool.length.mm() == 100);
        CHECK(std::any_of(holes.begin(), holes.end(), [&](const Cylinder& h) {
            return std::hypot(h.at.x - screw.head_seat.x, h.at.z - screw.head_seat.z) < 1e-9;
        }));
    }
    CHECK(enclosure.screws[2].name == "driver screw 3");

    SECTION("let in by a recess, flush where its thickness is not known") {
        box.request.driver->driver.recess = Length::mm(3);
        CHECK(made(box).screws[0].head_seat.y == Approx(3 - 5));
        box.request.driver->driver.flange_thickness.reset();
        CHECK(made(box).screws[0].head_seat.y == Approx(0).margin(1e-12));
    }
    SECTION("with a tool of the job's own") {
        box.request.driver->tool = fixings::ToolRoom{Length::mm(8), Length::mm(60)};
        CHECK(made(box).screws[0].tool.diameter.mm() == 8);
        CHECK(made(box).screws[0].tool.length.mm() == 60);
    }
    SECTION("none where no holes are made") {
        box.request.driver->driver.bolt_thread.clear();
        CHECK(made(box).screws.empty());
    }
}

TEST_CASE("screws of a separate baffle go through it into the flange", "[parts][features][screws][oracle]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.driver = mounted(woofer());
    const Enclosure enclosure = made(box);
    const auto holes = cylinders(enclosure.products[1].solid, 2.25);
    const auto screws = of_step(enclosure, Step::BaffleOnBox);
    REQUIRE(screws.size() == holes.size());
    for (const BoltMade& screw : screws) {
        CHECK(screw.product == "baffle");
        CHECK(screw.head_seat.y == Approx(0).margin(1e-9));
        CHECK(distance(screw.axis, {0, 1, 0}) < 1e-12);
        CHECK(screw.reach_mm == Approx(12 + 8.85));
        CHECK(screw.hole.hole_mm == 4.5);
        CHECK(std::any_of(holes.begin(), holes.end(), [&](const Cylinder& h) {
            return std::hypot(h.at.x - screw.head_seat.x, h.at.z - screw.head_seat.z) < 1e-9;
        }));
    }
    const auto of_driver = of_step(enclosure, Step::DriverOnBaffle);
    REQUIRE(of_driver.size() == 4);
    CHECK(of_driver[0].product == "baffle");
}

TEST_CASE("a foot's bolt sits on its pad and bears in it", "[parts][features][screws][oracle]") {
    Case box = rounded_box();
    box.request.feet.push_back({.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8"});
    box.request.feet[0].belongs_to = "floor rail";
    const FixingMade foot = made(box).fixings.at(0);
    CHECK(distance(foot.bolt.head_seat, {-150, 80, -95 + 1.2 * 8}) < 1e-9);
    CHECK(distance(foot.bolt.axis, {0, 0, -1}) < 1e-12);
    CHECK(foot.grip_mm == Approx(9.6));
    CHECK(foot.bears_mm == Approx(9.6));
    CHECK(foot.seat_radius_mm >= 24);
    CHECK(foot.bolt.step == Step::BoxOnVehicle);
    CHECK(foot.bolt.tool.diameter.mm() == Approx(20.5));  // the reference's access cylinder for M8
    CHECK(foot.bolt.tool.length.mm() == Approx(40));
    CHECK(foot.belongs_to == "floor rail");
}
