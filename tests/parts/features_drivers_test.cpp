// Several drivers of one kind in one baffle. Oracles: closed forms of cut-outs and displacements, the cylinders of the
// finished B-rep, the meshes of every case (check_sound).
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

/// Of the 100 mm class.
sound::Driver small() {
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(76), driver.flange_diameter = Length::mm(96);
    driver.bolt_circle = Length::mm(88), driver.basket_diameter = Length::mm(74);
    driver.bolt_thread = "M3";
    driver.magnet_diameter = Length::mm(56), driver.mounting_depth = Length::mm(50),
    driver.magnet_depth = Length::mm(16);
    driver.displacement = Volume::litres(0.11);
    return driver;
}

Case with_two(Case box) {
    box.request.driver = mounted(small(), {-50, 0, 0});
    box.request.more_drivers = {{.centre = {50, 0, 5}, .turn = Angle::deg(45)}};
    box.request.wiring = {.in_series = 1, .in_parallel = 2};
    return box;
}

}  // namespace

TEST_CASE("two drivers are one sound solid with their box, integral and separate, on boxes and on splines",
          "[parts][features][drivers]") {
    const bool is_separate = GENERATE(false, true);
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name, is_separate);
        box = with_two(box);
        box.request.baffle.separate = is_separate;
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, is_separate ? 2 : 1);
        const Brep& baffle = enclosure.products[is_separate ? 1 : 0].solid;
        CHECK(cylinders(baffle, 38.0).size() == 2);
        CHECK(ledger(enclosure, "driver") == -0.11);
        CHECK(ledger(enclosure, "driver 2") == -0.11);
        CHECK(ledger(enclosure, "cut-out behind the driver's seat") == Approx(kPi * 38 * 38 * 12 / 1e6).epsilon(1e-12));
        CHECK(ledger(enclosure, "cut-out behind the driver's seat, driver 2") ==
              Approx(kPi * 38 * 38 * 12 / 1e6).epsilon(1e-12));
        CHECK(enclosure.joints.back().name == "driver 2");
        std::size_t screws = 0;
        for (const BoltMade& screw : enclosure.screws) screws += screw.name.starts_with("driver ");
        CHECK(screws == 8);
    }
}

TEST_CASE("each of two drivers has its own bolts, turned by its own angle", "[parts][features][drivers][oracle]") {
    Case box = with_two(rounded_box());
    const auto bolts = cylinders(made(box).products[0].solid, 2.0);  // M3 inserts: pilots of 4.0 mm
    REQUIRE(bolts.size() == 8);
    const double r = 44.0, s = r / std::sqrt(2.0);
    // The first is turned by what mounted() says, the second by 45 degrees.
    for (const Point3 wanted : {Point3{50 + s, 0, 5 + s}, Point3{50 - s, 0, 5 - s}})
        CHECK(
            std::any_of(bolts.begin(), bolts.end(), [&](const Cylinder& c) { return distance(c.at, wanted) < 1e-9; }));
}

TEST_CASE("two drivers hold as much as two boxes' worth of one", "[parts][features][drivers][law]") {
    Case none = rounded_box(), one = none, two = with_two(rounded_box());
    one.request.driver = mounted(small(), {-50, 0, 0});
    const double empty = made(none).net_by_brep.mm3(), with_one = made(one).net_by_brep.mm3(),
                 with_both = made(two).net_by_brep.mm3();
    CHECK(with_both - empty == Approx(2.0 * (with_one - empty)).epsilon(1e-9));
    double planned = 0.0, done = 0.0;
    const Enclosure enclosure = made(two);
    for (const LedgerLine& l : features_ledger(two.request)) planned += l.litres;
    for (std::size_t i = 1; i < enclosure.ledger.size(); ++i) done += enclosure.ledger[i].litres;
    CHECK(planned == Approx(done).epsilon(1e-12));
}

TEST_CASE("drivers of two kinds each have their own holes, seats, screws and displacement",
          "[parts][features][drivers][oracle]") {
    const bool is_separate = GENERATE(false, true);
    CAPTURE(is_separate);
    sound::Driver tiny = small();
    tiny.name = "tiny";
    tiny.cutout_diameter = Length::mm(50), tiny.flange_diameter = Length::mm(66), tiny.basket_diameter = Length::mm(48);
    tiny.bolt_circle = Length::mm(59), tiny.bolt_count = 3;
    tiny.flange_thickness = Length::mm(3), tiny.recess = Length::mm(2);
    tiny.magnet_diameter = Length::mm(40), tiny.mounting_depth = Length::mm(35);
    tiny.displacement = Volume::litres(0.04);
    for (Case box : {rounded_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(small(), {-45, 0, 0});
        box.request.more_drivers = {{.centre = {50, 0, 5}, .turn = Angle::deg(0), .driver = tiny}};
        box.request.baffle.separate = is_separate;
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, is_separate ? 2 : 1);
        const Brep& baffle = enclosure.products[is_separate ? 1 : 0].solid;
        CHECK(cylinders(baffle, 38.0).size() == 1);
        REQUIRE(cylinders(baffle, 25.0).size() == 1);
        CHECK(cylinders(baffle, 25.0)[0].area_mm2 == Approx(2 * kPi * 25 * 10).epsilon(1e-9));
        CHECK(cylinders(baffle, 33.5).size() == 1);  // its flange's pocket, 1 mm of fit
        CHECK(ledger(enclosure, "driver") == -0.11);
        CHECK(ledger(enclosure, "driver 2") == -0.04);
        CHECK(ledger(enclosure, "cut-out behind the driver's seat, driver 2") ==
              Approx(kPi * 25 * 25 * 10 / 1e6).epsilon(1e-12));
        REQUIRE(enclosure.driver_seats.size() == 2);
        CHECK(distance(enclosure.driver_seats[1].point, {50, 2, 5}) < 1e-9);
        std::size_t first = 0, second = 0;
        for (const BoltMade& screw : enclosure.screws) {
            first += screw.name.starts_with("driver screw");
            second += screw.name.starts_with("driver 2 screw");
        }
        CHECK(first == 4);
        CHECK(second == 3);
    }
}

TEST_CASE("drivers that meet, or sit on a ring, are refused by name", "[parts][features][drivers][fault]") {
    Case box = with_two(rounded_box());
    SECTION("flanges over each other") {
        box.request.more_drivers.front().centre = {40, 0, 0};
        CHECK(refused(box).what == "driver 2: its flange reaches 6.0 mm into that of driver, wanted 1 between them");
    }
    SECTION("the second past the edge") {
        box.request.more_drivers.front().centre = {75, 0, 0};
        CHECK(refused(box).what.find("driver 2: flange of 96 mm reaches ") == 0);
    }
    SECTION("on a ring") {
        box.request.baffle.shape = BaffleShape::Ring;
        box.request.baffle.ring = {.height = Length::mm(8), .width = {}, .edge = Length::mm(1)};
        CHECK(refused(box).code == FaultCode::NotBuilt);
    }
    SECTION("a port over the second") {
        Port port;
        port.diameter = Length::mm(30);
        port.length = Length::mm(60);
        port.at = {50, 0, -50};
        box.request.port = port;
        CHECK(refused(box).what.find("port: it reaches ") == 0);
    }
}
