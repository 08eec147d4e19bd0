// Oracles: radii, axes and areas of the cylinder faces of the finished B-rep; the shell's volume in closed form; every
// case's meshes (check_sound).
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

TEST_CASE("an integral baffle with a driver is one sound solid, on boxes and on splines", "[parts][features][driver]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        check_sound(box, made(box), 1);
    }
}

TEST_CASE("without a driver the air stays a void of the shell", "[parts][features]") {
    const Case box = rounded_box();
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const auto shell = require(measure::measure_solid(enclosure.products[0].solid, {}));
    CHECK(shell.shells == 2);
    CHECK(shell.volume.mm3() == Approx(volume_mm3(box.bodies.outer) - volume_mm3(box.bodies.air)).epsilon(1e-9));
}

TEST_CASE("cut-out, recess and bolt holes have the asked diameters, axes and depths",
          "[parts][features][driver][oracle]") {
    Case box = rounded_box();
    sound::Driver driver = woofer();
    driver.recess = Length::mm(1.25);
    const Point3 centre{8, -30, -5};  // off the plane: taken there along its normal
    box.request.driver = mounted(driver, centre);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const Brep& shell = enclosure.products[0].solid;

    const auto cutout = cylinders(shell, 72.5);
    REQUIRE(cutout.size() == 1);
    CHECK(cutout[0].area_mm2 == Approx(2 * kPi * 72.5 * (12 - 1.25)).epsilon(1e-9));
    CHECK(distance(cutout[0].at, {8, 0, -5}) < 1e-9);
    CHECK(norm(cross(cutout[0].axis, {0, 1, 0})) < 1e-12);

    const auto recess = cylinders(shell, 84.5);  // the flange and 1 mm of fit
    REQUIRE(recess.size() == 1);
    CHECK(recess[0].area_mm2 == Approx(2 * kPi * 84.5 * 1.25).epsilon(1e-9));

    // M4 inserts: pilots of 5.6 mm [verified], 8.1 + 0.75 deep [common practice], first at 45 degrees clockwise from up
    // as seen from the front, that is from y = -infinity: right is +x.
    const auto bolts = cylinders(shell, 2.8);
    REQUIRE(bolts.size() == 4);
    const double r = 156.5 / 2 / std::sqrt(2.0);
    for (const Point3 wanted :
         {Point3{8 + r, 0, -5 + r}, Point3{8 + r, 0, -5 - r}, Point3{8 - r, 0, -5 - r}, Point3{8 - r, 0, -5 + r}})
        CHECK(
            std::any_of(bolts.begin(), bolts.end(), [&](const Cylinder& c) { return distance(c.at, wanted) < 1e-9; }));
    for (const Cylinder& bolt : bolts) CHECK(bolt.area_mm2 == Approx(2 * kPi * 2.8 * 8.85).epsilon(1e-9));

    CHECK(enclosure.seat_plane.height({0, 1.25, 0}) == Approx(0.0).margin(1e-12));
    const double material = volume_mm3(box.bodies.outer) - volume_mm3(box.bodies.air) -
                            kPi * (84.5 * 84.5 * 1.25 + 72.5 * 72.5 * 10.75 + 4 * 2.8 * 2.8 * 8.85);
    CHECK(volume_mm3(shell) == Approx(material).epsilon(1e-9));
}

TEST_CASE("turn counts clockwise from up for one who looks at the front", "[parts][features][driver]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.driver->turn = Angle::deg(20);
    box.request.driver->driver.bolt_count = 3;
    const auto bolts = cylinders(made(box).products[0].solid, 2.8);
    REQUIRE(bolts.size() == 3);
    const double a = 20 * kPi / 180, r = 156.5 / 2;
    CHECK(std::any_of(bolts.begin(), bolts.end(), [&](const Cylinder& c) {
        return distance(c.at, {r * std::sin(a), 0, r * std::cos(a)}) < 1e-9;
    }));
}

TEST_CASE("bolt holes are blind where the baffle is thick enough and through where it is not",
          "[parts][features][driver]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    SECTION("10.35 mm hold an M4 insert of 8.1, its 0.75 of hole and 1.5 under it") {
        CHECK(made(box).notes.front() == "driver: 4 M4 heat-set insert pilots of 5.6 mm, blind, 8.85 mm deep");
    }
    SECTION("under a recess there is less") {
        box.request.driver->driver.recess = Length::mm(3);
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        CHECK(enclosure.notes.front() ==
              "driver: 4 M4 heat-set insert pilots of 5.6 mm, through the baffle (too thin for blind "
              "ones: 10.35 mm wanted under the seat); seal them");
        CHECK(enclosure.openings.size() == 5);
        CHECK(cylinders(enclosure.products[0].solid, 2.8).front().area_mm2 == Approx(2 * kPi * 2.8 * 9).epsilon(1e-9));
    }
    SECTION("metal is tapped, two diameters deep") {
        box.request.material = *find_material("aluminium 6082");
        CHECK(made(box).notes.front() == "driver: 4 M4 tap-drill pilots of 3.3 mm, blind, 8 mm deep");
    }
    SECTION("so is plastic when no inserts are wanted, two and a half deep") {
        box.request.baffle.inserts = false;
        CHECK(made(box).notes.front() == "driver: 4 M4 tap-drill pilots of 3.3 mm, blind, 10 mm deep");
    }
    SECTION("what the driver file leaves out is said and not guessed") {
        box.request.driver->driver.bolt_thread.clear();
        const Enclosure enclosure = made(box);
        CHECK(enclosure.notes.front() ==
              "driver: bolt_circle, bolt_count or bolt_thread is not given: no bolt holes were made");
        CHECK(cylinders(enclosure.products[0].solid, 2.8).empty());
    }
}

TEST_CASE("a driver larger than the baffle is refused with the miss, its direction and what would fit",
          "[parts][features][driver][fault]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    SECTION("off to the right") {
        box.request.driver->centre = {40, 0, 0};
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        // The flat ends at 110 - 3; the flange reaches 40 + 84.
        CHECK(fault.what ==
              "driver: flange of 168 mm reaches 17.0 mm past the flat of the baffle (to the right, seen from the "
              "front), wanted inside it");
        CHECK(fault.hint.find("it fits with [driver] centre at 2") == 0);
        REQUIRE(fault.where);
        CHECK(distance(*fault.where, {107, 0, 0}) < 0.05);
    }
    SECTION("far outside") {
        box.request.driver->centre = {0, 0, 300};
        CHECK(refused(box).what ==
              "driver: flange of 168 mm reaches 282.0 mm past the flat of the baffle (up, seen from the front), wanted "
              "inside it");
    }
    SECTION("too large at any place") {
        box.request.driver->centre = {0, 0, 2};
        box.request.driver->driver.flange_diameter = Length::mm(260);
        const Fault fault = refused(box);
        CHECK(fault.what ==
              "driver: flange of 260 mm reaches 30.0 mm past the flat of the baffle (up, seen from the front), wanted "
              "inside it");
        CHECK(fault.hint.find("the baffle takes a flange of 20") ==
              0);  // 2 (105 - 3) = 204 less what the search leaves
    }
    SECTION("a cut-out over the side wall") {
        box.request.driver->centre = {0, 0, 0.5};
        box.request.driver->driver.cutout_diameter = Length::mm(199);
        box.request.driver->driver.flange_diameter = Length::mm(202);
        box.request.driver->driver.bolt_thread.clear();
        CHECK(refused(box).what ==
              "driver: cut-out of 199 mm comes out 1.0 mm past the edge of the cavity's front (up, seen from the "
              "front), wanted 0.3 inside it");
    }
    SECTION("a basket that does not go in") {
        box.request.driver->driver.basket_diameter = Length::mm(150);
        CHECK(refused(box).what == "driver: basket of 150 mm does not go through the cut-out of 145 mm");
    }
    SECTION("a recess that leaves nothing") {
        box.request.driver->driver.recess = Length::mm(10);
        CHECK(refused(box).what == "driver: a recess of 10 mm leaves 2 mm of the baffle's 12, wanted at least 3");
    }
    SECTION("bolt holes into the cut-out") {
        box.request.driver->driver.bolt_circle = Length::mm(148);
        CHECK(refused(box).what ==
              "driver: bolt holes of 5.6 mm on a circle of 148 mm reach 1.3 mm into the cut-out, wanted 2 beside an "
              "insert");
    }
    SECTION("bolt holes past the flange") {
        box.request.driver->driver.bolt_circle = Length::mm(166);
        CHECK(refused(box).what ==
              "driver: bolt holes of 5.6 mm on a circle of 166 mm reach 1.8 mm past the flange, wanted under it");
    }
    SECTION("through holes that come out in the wall") {
        box.request.driver->driver.bolt_circle = Length::mm(196);
        box.request.driver->driver.flange_diameter = Length::mm(202);
        box.request.driver->driver.recess = Length::mm(2);
        box.request.driver->turn = Angle::deg(0);
        const Fault fault = refused(box);
        CHECK(
            fault.what ==
            "driver: bolt hole 1 of 4 comes out 1.8 mm past the edge of the cavity's front (up), wanted 0.3 inside it");
        CHECK(fault.hint ==
              "turn the bolt circle ([driver] turn), or give the baffle 12.35 mm: the holes are blind then");
    }
}

TEST_CASE("the ledger that the size solve is given agrees with the one measured on the B-rep",
          "[parts][features][ledger]") {
    for (Case box : {rounded_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        box.request.driver->driver.recess = Length::mm(1.0);
        box.request.terminal =
            Terminal{.diameter = Length::mm(20), .at = {80, 100, 30}, .displacement = Volume::litres(0.012)};
        const Enclosure enclosure = made(box);
        const auto before = features_ledger(box.request);
        REQUIRE(enclosure.ledger.size() == before.size() + 1);
        for (std::size_t i = 0; i < before.size(); ++i) {
            CAPTURE(before[i].name);
            CHECK(enclosure.ledger[i + 1].name == before[i].name);
            // The terminal's hole is exact on a flat wall only.
            CHECK(enclosure.ledger[i + 1].litres ==
                  Approx(before[i].litres).margin(before[i].name == "terminal hole" ? 2e-4 : 1e-9));
        }
        CHECK(enclosure.ledger.front().litres == Approx(volume_mm3(box.bodies.air) / 1e6).epsilon(1e-9));
    }
}

TEST_CASE("an estimated displacement is said with its spread", "[parts][features][ledger]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.driver->driver.displacement.reset();
    const Enclosure enclosure = made(box);
    // Frustum from 144 to 90 over 45 mm, magnet 90 by 25: pi 45/3 (72^2 + 72 45 + 45^2) + pi 45^2 25 [computed].
    const double litres = (kPi * 15 * (72 * 72 + 72 * 45 + 45 * 45) + kPi * 45 * 45 * 25) / 1e6;
    CHECK(enclosure.ledger.back().litres == Approx(-litres).epsilon(1e-9));
    CHECK(enclosure.solids_in_air.litres() == Approx(litres).epsilon(1e-9));
    CHECK(std::any_of(enclosure.notes.begin(), enclosure.notes.end(), [](const std::string& n) {
        return n.find("estimated as frustum and magnet, within 15 %") != std::string::npos;
    }));
}

TEST_CASE("a closed hollow shell cannot be milled unless its baffle is separate", "[parts][features][fault]") {
    Case box = rounded_box();
    box.request.make.method = Method::Cnc;
    const Fault fault = refused(box);
    CHECK(fault.code == FaultCode::MethodRefused);
    CHECK(fault.hint == "set [enclosure] baffle.made = \"separate\", or [make] method = \"print\"");
    box.request.baffle.separate = true;
    CHECK(made(box).products.size() == 2);
}

TEST_CASE("a laid-up shell comes with its plug, inner or outer form", "[parts][features][plug]") {
    Case box = rounded_box();
    box.request.make.method = Method::Layup;
    box.request.driver = mounted(woofer());
    for (const auto form : {Make::Plug::Inner, Make::Plug::Outer}) {
        box.request.make.plug = form;
        const Enclosure enclosure = made(box);
        REQUIRE(enclosure.products.size() == 2);
        CHECK(enclosure.products[1].name == "plug");
        CHECK(enclosure.products[1].is_tool);
        CHECK(volume_mm3(enclosure.products[1].solid) ==
              Approx(volume_mm3(form == Make::Plug::Inner ? box.bodies.air : box.bodies.outer)).epsilon(1e-9));
    }
}

TEST_CASE("features do not depend on where the vehicle's frame lies", "[parts][features][property]") {
    // Law: rigid motion. Checked: volumes, ledger, faces. It misses a frame that is wrong in the same way everywhere.
    Case box = rounded_box();
    box.request.driver = mounted(woofer(), {3, 0, -4});
    box.request.terminal = Terminal{.diameter = Length::mm(16), .at = {80, 100, 30}, .displacement = std::nullopt};
    box.request.feet.push_back({.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M6"});
    const double a = 0.7, b = -0.4;
    const Vec3 x = unit({std::cos(a), std::sin(a), 0.3}), y = unit(cross(Vec3{b, 0.2, 1.0}, x));
    const Enclosure here = made(box), there = made(moved(box, {{1200, -340, 560}, x, y, cross(x, y)}));
    const auto solid_here = require(measure::measure_solid(here.products[0].solid, {})),
               solid_there = require(measure::measure_solid(there.products[0].solid, {}));
    CHECK(solid_there.valid);
    CHECK(solid_there.volume.mm3() == Approx(solid_here.volume.mm3()).epsilon(1e-6));
    CHECK(solid_there.faces == solid_here.faces);
    CHECK(there.net_by_brep.mm3() == Approx(here.net_by_brep.mm3()).epsilon(1e-6));
    CHECK(there.fixings[0].web_section_mm2 == Approx(here.fixings[0].web_section_mm2).epsilon(1e-6));
    CHECK(there.notes.front() == here.notes.front());
}
