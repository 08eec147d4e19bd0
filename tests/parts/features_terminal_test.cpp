#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

}  // namespace

TEST_CASE("a terminal hole goes square through the wall that is nearest", "[parts][features][terminal][oracle]") {
    struct Wanted {
        Point3 asked, at;
        Vec3 axis;
    };
    const auto wanted =
        GENERATE(Wanted{{80, 100, 30}, {110, 100, 30}, {1, 0, 0}}, Wanted{{-20, 70, -85}, {-20, 70, -105}, {0, 0, 1}},
                 Wanted{{10, 140, 5}, {10, 160, 5}, {0, 1, 0}}, Wanted{{130, 60, 0}, {110, 60, 0}, {1, 0, 0}});
    Case box = rounded_box();
    box.request.terminal = Terminal{.diameter = Length::mm(18), .at = wanted.asked, .displacement = std::nullopt};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const auto holes = cylinders(enclosure.products[0].solid, 9.0);
    REQUIRE(holes.size() == 1);
    CHECK(norm(cross(holes[0].axis, wanted.axis)) < 1e-3);
    CHECK(distance(holes[0].at, wanted.at - wanted.axis * dot(wanted.at, wanted.axis)) < 0.2);
    CHECK(holes[0].area_mm2 == Approx(2 * kPi * 9 * 6).epsilon(1e-3));
    // A terminal fills its hole and no more unless it is said to.
    CHECK(enclosure.ledger[1].name == "terminal hole");
    CHECK(enclosure.ledger[1].litres * 1e6 == Approx(kPi * 81 * 5.95).epsilon(1e-3));
    CHECK(enclosure.ledger[2].litres == -enclosure.ledger[1].litres);
}

TEST_CASE("a terminal asked for before the baffle or over its edge is taken straight back to the wall",
          "[parts][features][terminal]") {
    Case box = rounded_box();
    const double y = GENERATE(-20.0, 5.0, 20.0);
    box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {90, y, 10}, .displacement = std::nullopt};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const auto holes = cylinders(enclosure.products[0].solid, 10.0);
    REQUIRE(holes.size() == 1);
    // Behind the baffle of 12: half the hole and 1 mm.
    CHECK(distance(holes[0].at, {0, 23, 10}) < 0.3);
}

TEST_CASE("a terminal hole follows the normal of a curved wall", "[parts][features][terminal]") {
    for (Case box : {tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        box.request.terminal =
            Terminal{.diameter = Length::mm(20), .at = {80, 100, 30}, .displacement = Volume::litres(0.03)};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        REQUIRE(cylinders(enclosure.products[0].solid, 10.0).size() == 1);
        if (box.name == "tapered box")
            CHECK(cylinders(enclosure.products[0].solid, 10.0)[0].axis.x ==
                  Approx(std::cos(4 * kPi / 180)).epsilon(1e-5));
        CHECK(enclosure.ledger.back().litres == -0.03);
    }
}

TEST_CASE("a terminal that finds no wall, or a corner, is refused with its place",
          "[parts][features][terminal][fault]") {
    Case box = rounded_box();
    SECTION("in the corner") {
        box.request.terminal =
            Terminal{.diameter = Length::mm(20), .at = {106, 100, 101}, .displacement = std::nullopt};
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("terminal: ") == 0);
        CHECK(fault.hint == "move [enclosure] terminal.at to a flatter part of the wall, or take a smaller diameter");
    }
    SECTION("on a foot") {
        box.request.terminal =
            Terminal{.diameter = Length::mm(20), .at = {-100, 80, -82}, .displacement = std::nullopt};
        box.request.feet.push_back({.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8"});
        CHECK(refused(box).what.find("meets the foot \"left\", wanted 20 mm free before it") != std::string::npos);
    }
}
