#include "tests/parts/features_bodies.h"

#include "geom/fixings/threads.h"
#include "geom/measure/brep_measure.h"
#include "geom/scan/surface.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

// Of the rounded box: outer z from -105 to 105, air from -99 to 99; the vehicle's face 4 mm below.
/// No metal sleeve: the bore is the bolt's own hole.
Sleeve upright(const char* name, double x, double y, const char* thread = "M8") {
    return {.name = name, .point = {x, y, -109}, .axis = {0, 0, -1}, .thread = thread, .use = {.metal_sleeve = false}};
}

double line_litres(const Enclosure& made, const std::string& name) {
    for (const LedgerLine& line : made.ledger)
        if (line.name == name) return line.litres;
    throw std::runtime_error("no line " + name);
}

double air_mm3(const Enclosure& made) {
    return volume_mm3(made.air_body);
}

/// A level plane, sampled every 3 mm.
scan::Surface level(double z) {
    scan::Surface surface;
    for (double x = -220; x <= 220; x += 3)
        for (double y = -80; y <= 200; y += 3) surface.points.push_back({x, y, z});
    return surface;
}

}  // namespace

TEST_CASE("a sleeve takes pi r2 L from the air, and its hole lies on its axis with its ISO diameter",
          "[parts][features][sleeve][oracle]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    const double before = volume_mm3(box.bodies.air);
    for (const char* thread : {"M4", "M8"}) {
        CAPTURE(thread);
        box.request.sleeves = {upright("left", -60, 110, thread), upright("right", 60, 110, thread)};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        const double hole = fixings::find_thread(thread)->hole_medium_mm, r = hole / 2 + 6;
        CHECK(before - air_mm3(enclosure) == Approx(2 * kPi * r * r * 198).epsilon(1e-7));
        REQUIRE(enclosure.fixings.size() == 2);
        for (const FixingMade& sleeve : enclosure.fixings) {
            CHECK(sleeve.kind == FixingKind::Sleeve);
            CHECK(sleeve.tube_mm3 == Approx(kPi * r * r * 198).epsilon(1e-7));
            CHECK(line_litres(enclosure, "sleeve \"" + sleeve.name + "\"") == Approx(-sleeve.tube_mm3 / 1e6));
            CHECK(sleeve.measured_hole_mm == Approx(hole).margin(1e-9));
            CHECK(sleeve.measured_off_axis_mm < 0.01);
            // The top is plane and nothing stands over it: the seat is the skin.
            CHECK(sleeve.grip_mm == Approx(214).margin(1e-6));
            CHECK(distance(sleeve.bolt.head_seat, {sleeve.point.x, 110, 105}) < 1e-6);
        }
        // One cylinder face each, whole, from the vehicle's face to the seat.
        const auto holes = cylinders(enclosure.products[0].solid, hole / 2);
        REQUIRE(holes.size() == 2);
        for (const Cylinder& c : holes) {
            CHECK(c.area_mm2 == Approx(kPi * hole * 214).epsilon(1e-7));
            CHECK(distance(c.at, {c.at.x > 0 ? 60.0 : -60.0, 110, 0}) < 1e-6);
        }
    }
}

TEST_CASE("a recess is as deep as asked, flat, wide enough for a socket, and the wall holds round it",
          "[parts][features][sleeve][oracle]") {
    Case box = rounded_box();
    const double before = volume_mm3(box.bodies.air);
    box.request.sleeves = {upright("left", -40, 80)};
    box.request.sleeves[0].recess = Length::mm(5);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    // M8: socket 18.5 and 2 mm of room are wider than the washer of 16 and 1 mm.
    const double r = 10.25, tube = 4.5 + 6;
    CHECK(before - air_mm3(enclosure) == Approx(kPi * (r + 6) * (r + 6) * 5 + kPi * tube * tube * 193).epsilon(1e-7));
    const auto recess = cylinders(enclosure.products[0].solid, r);
    REQUIRE(recess.size() == 1);
    CHECK(recess[0].area_mm2 == Approx(2 * kPi * r * 5).epsilon(1e-7));
    CHECK(enclosure.fixings[0].grip_mm == Approx(209).margin(1e-6));
}

TEST_CASE("head and washer are let in where they would stand in the clearance", "[parts][features][sleeve]") {
    Case box = rounded_box();
    box.request.sleeves = {upright("left", -40, 80)};
    const fixings::Thread m8 = *fixings::find_thread("M8");
    const double flush = m8.hexagon.height_mm + m8.washer_thickness_mm;
    const scan::Surface roof = level(109);
    const Enclosure enclosure = made(box, &roof);
    check_sound(box, enclosure, 1);
    CHECK(enclosure.fixings[0].grip_mm == Approx(214 - flush).margin(1e-6));
    const scan::Surface high = level(105 + flush + 4.1);
    CHECK(made(box, &high).fixings[0].grip_mm == Approx(214).margin(1e-6));
    box.request.room.limits.push_back(
        {.name = "armrest", .plane = {{0, 0, 106}, {0, 0, 1}}, .clearance = Length::mm(0), .covering = true});
    CHECK(made(box).fixings[0].grip_mm == Approx(214 - flush).margin(1e-6));
}

TEST_CASE("sleeves through bulging and leaning walls are spot-faced and stay sealed",
          "[parts][features][sleeve][oracle]") {
    for (Case box : {tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        const double before = volume_mm3(box.bodies.air);
        box.request.sleeves = {upright("left", -62, 115), upright("right", 58, 118, "M6")};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        double tubes = 0.0;
        for (const FixingMade& sleeve : enclosure.fixings) {
            const double hole = fixings::find_thread(sleeve.thread)->hole_medium_mm;
            CHECK(sleeve.measured_hole_mm == Approx(hole).margin(1e-9));
            CHECK(sleeve.measured_off_axis_mm < 0.01);
            tubes += sleeve.tube_mm3;
            // Flat all round: the recess's side is there all the way, and its floor is a whole ring.
            const auto section = require(measure::section(
                enclosure.products[0].solid, {sleeve.bolt.head_seat + sleeve.axis * 0.05, -1.0 * sleeve.axis}));
            CHECK(section.area.mm2() > 0);
        }
        CHECK(before - air_mm3(enclosure) == Approx(tubes).epsilon(1e-6));
    }
}

TEST_CASE("the air between a tube and the wall beside it is filled where it would be a sliver",
          "[parts][features][sleeve][oracle]") {
    Case box = rounded_box();
    box.request.material = *find_material("aluminium 5754");  // a pad that goes this near to a side
    const double before = volume_mm3(box.bodies.air);
    // Tube of 10.5 about x = 90: 3.5 mm to the air's side at 104.
    box.request.sleeves = {upright("side", 90, 80)};
    const Enclosure beside = made(box);
    check_sound(box, beside, 1);
    const double taken = before - air_mm3(beside), tube = kPi * 10.5 * 10.5 * 198;
    const double r = 10.8, rectangle = (104 - 90) * 2 * r, half_disc = kPi * r * r / 2;
    CHECK(taken > tube);
    // All but the roundings of the air's edges.
    CHECK(taken == Approx((rectangle + half_disc) * 198).epsilon(5e-3));
    // In a corner both walls are reached, and what lies between.
    box.request.sleeves = {upright("corner", 90, 140)};
    const Enclosure corner = made(box);
    check_sound(box, corner, 1);
    const double quarter = kPi * r * r / 4, square = (14 + r) * (14 + r) - r * r + quarter;
    CHECK(before - air_mm3(corner) == Approx(square * 198).epsilon(1e-2));
    // Far enough away nothing is filled.
    box.request.sleeves = {upright("free", 87, 80)};
    CHECK(before - air_mm3(made(box)) == Approx(tube).epsilon(1e-7));
}

TEST_CASE("a countersunk head sits in its cone, a slot and play make the hole longer and wider",
          "[parts][features][sleeve][oracle]") {
    Case box = rounded_box();
    const double before = volume_mm3(box.bodies.air);
    Sleeve sleeve = upright("left", -40, 80);
    SECTION("countersunk") {
        sleeve.use.head = fixings::HeadKind::Countersunk;
        sleeve.use.has_washer = false;
        box.request.sleeves = {sleeve};
        // ISO 10642: theoretical diameter of the head [memory].
        fixings::Thread m8 = *fixings::find_thread("M8");
        m8.countersunk = {17.92, 4.96, 5};
        box.request.own_threads = {m8};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        // 90 degrees: as deep as it is wider, and the wall under it.
        const double wide = 17.92 / 2, deep = wide - 4.5;
        CHECK(enclosure.fixings[0].grip_mm == Approx(214).margin(1e-6));
        CHECK(before - air_mm3(enclosure) ==
              Approx(kPi * 10.5 * 10.5 * (198 - deep) + kPi * (wide + 6) * (wide + 6) * deep).epsilon(1e-7));
        CHECK(cylinders(enclosure.products[0].solid, 4.5).at(0).area_mm2 == Approx(kPi * 9 * (214 - deep)));
    }
    SECTION("slot") {
        sleeve.use.slot = fixings::Slot{{1, 0, 0.3}, Length::mm(8)};
        box.request.sleeves = {sleeve};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        CHECK(before - air_mm3(enclosure) == Approx((kPi * 10.5 * 10.5 + 8 * 21) * 198).epsilon(1e-7));
        CHECK(enclosure.fixings[0].measured_hole_mm == Approx(9));
        CHECK(enclosure.fixings[0].measured_off_axis_mm < 0.01);
        CHECK(cylinders(enclosure.products[0].solid, 4.5).size() == 2);
    }
    SECTION("play") {
        sleeve.use.play = Length::mm(2);
        sleeve.use.fit = fixings::Fit::Coarse;
        box.request.sleeves = {sleeve};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        CHECK(enclosure.fixings[0].measured_hole_mm == Approx(fixings::find_thread("M8")->hole_coarse_mm + 4));
    }
    SECTION("round a metal tube that bears the preload") {
        sleeve.use.metal_sleeve = true;
        box.request.sleeves = {sleeve};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        const double bore = fixings::metal_sleeve(*fixings::find_thread("M8"), sleeve.use).outside_mm;
        CHECK(enclosure.fixings[0].has_metal_sleeve);
        CHECK(enclosure.fixings[0].measured_hole_mm == Approx(bore));
        CHECK(before - air_mm3(enclosure) == Approx(kPi * std::pow(bore / 2 + 6, 2) * 198).epsilon(1e-7));
    }
    SECTION("a tube of its own thickness") {
        sleeve.tube_wall = Length::mm(3);
        box.request.sleeves = {sleeve};
        CHECK(before - air_mm3(made(box)) == Approx(kPi * 7.5 * 7.5 * 198).epsilon(1e-7));
    }
}

TEST_CASE("a sleeve may leave by an integral baffle beside the driver", "[parts][features][sleeve][oracle]") {
    Case box = rounded_box();
    const double before = volume_mm3(box.bodies.air);
    box.request.driver = mounted(woofer());
    for (const double recess : {0.0, 4.0, 6.0, 20.0}) {
        CAPTURE(recess);
        // To a bulkhead 4 mm behind the box: air from y = 12 to 154.
        box.request.sleeves = {{.name = "deep", .point = {-78, 164, -72}, .axis = {0, 1, 0}, .thread = "M6"}};
        box.request.sleeves[0].use.metal_sleeve = false;
        box.request.sleeves[0].recess = Length::mm(recess);
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        const double tube = 3.3 + 6;
        // M6: washer of 12 or socket, and 2 mm; what of the recess's wall stands in the air behind 12 mm of baffle.
        const double step = enclosure.fixings[0].bolt.hole.recess_mm / 2 + 6, in_air = std::max(0.0, recess + 6 - 12);
        CHECK(before - air_mm3(enclosure) == Approx(kPi * tube * tube * (142 - in_air) + kPi * step * step * in_air)
                                                 .epsilon(recess == 6.0 ? 0.01 : 1e-7));
        CHECK(enclosure.fixings[0].grip_mm == Approx(164 - recess).margin(1e-6));
    }
}

TEST_CASE("sleeves stand wherever the vehicle's frame is, turned or mirrored", "[parts][features][sleeve][law]") {
    Case box = tapered_box();
    box.request.driver = mounted(woofer());
    box.request.sleeves = {upright("left", -62, 115)};
    box.request.sleeves[0].axis = {0.05, 0.02, -1};
    const Enclosure straight = made(box);
    const double c = std::cos(0.7), s = std::sin(0.7);
    const Enclosure turned = made(moved(box, {{300, -200, 50}, {c, s, 0}, {-s, c, 0}, {0, 0, 1}}));
    CHECK(turned.fixings[0].tube_mm3 == Approx(straight.fixings[0].tube_mm3).epsilon(1e-4));
    CHECK(turned.fixings[0].grip_mm == Approx(straight.fixings[0].grip_mm).margin(0.02));
    CHECK(turned.fixings[0].measured_off_axis_mm < 0.01);
    box.request.sleeves[0] = upright("right", 62, 115);
    box.request.sleeves[0].axis = {-0.05, 0.02, -1};
    CHECK(made(box).fixings[0].tube_mm3 == Approx(straight.fixings[0].tube_mm3).epsilon(1e-4));
}

TEST_CASE("sleeves, feet and a separate baffle go together", "[parts][features][sleeve]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.baffle.separate = true;
    box.request.sleeves = {upright("left", -60, 110), upright("right", 60, 110)};
    box.request.feet.push_back({.name = "side", .point = {-150, 80, -109}, .axis = {0, 0, -1}, .thread = "M6"});
    box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {110, 80, 40}, .displacement = {}};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    CHECK(enclosure.fixings.size() == 3);
    CHECK(line_litres(enclosure, "rim flange") < 0);
}

TEST_CASE("a sleeve that cannot be is refused with place and number", "[parts][features][sleeve][fault]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.sleeves = {upright("left", -60, 110)};
    Sleeve& sleeve = box.request.sleeves[0];
    SECTION("beside the box") {
        sleeve.point = {-160, 80, -109};
        CHECK(refused(box).what ==
              "fixing \"left\": its bolt passes the box 50 mm beside it or more, wanted through it");
    }
    SECTION("in the box") {
        sleeve.point = {-60, 80, -95};
        CHECK(refused(box).what ==
              "fixing \"left\": the point lies 10.0 mm inside the box, wanted on the vehicle's face outside it");
    }
    SECTION("too high above the face") {
        sleeve.point.z = -205;
        CHECK(refused(box).what == "fixing \"left\": the box begins 100 mm above the point, wanted at most 96");
    }
    SECTION("through a separate baffle, or out of a baffle towards the vehicle") {
        sleeve.point = {-90, 164, -80};
        sleeve.axis = {0, 1, 0};
        box.request.baffle.separate = true;
        CHECK(refused(box).what ==
              "fixing \"left\": its bolt runs through the separate baffle, wanted through two walls of the shell");
        sleeve.point = {-90, -4, -80};
        sleeve.axis = {0, -1, 0};
        CHECK(refused(box).what ==
              "fixing \"left\": its bolt comes out of the baffle towards the vehicle, wanted out of another wall");
    }
    SECTION("through an integral baffle where the driver is") {
        sleeve.point = {-70, 164, -50};
        sleeve.axis = {0, 1, 0};
        box.request.material = *find_material("aluminium 5754");
        CHECK(refused(box).what.find("fixing \"left\": its seat or tube comes to ") == 0);
    }
    SECTION("before the baffle's back") {
        sleeve.point = {-60, 26.5, -109};
        CHECK(refused(box).what ==
              "fixing \"left\": its pad comes to 2.0 mm behind the baffle's face, wanted at least 4");
        box.request.material = *find_material("aluminium 5754");
        sleeve.point = {-60, 25, -109};
        CHECK(refused(box).what.find("fixing \"left\": its tube comes to 14.5 mm behind the baffle's face") == 0);
    }
    SECTION("through the driver") {
        sleeve.point = {0, 60, -109};
        CHECK(refused(box).what == "fixing \"left\": its tube runs through the driver's body, wanted 2 mm beside it");
        sleeve.point = {0, 86, -109};
        CHECK(refused(box).what.find("fixing \"left\": its tube stands 5.") == 0);
    }
    SECTION("out at the side") {
        sleeve.point = {-95, 110, -109};
        CHECK(refused(box).what ==
              "fixing \"left\": its pad of 49 mm leaves the box at its side, wanted inside it all the way");
        sleeve.point = {-70, 110, -109};
        sleeve.axis = {0.2, 0, -1};
        CHECK(refused(box).what ==
              "fixing \"left\": its head's seat of 20.5 mm leaves the box at its side, wanted inside it all the way");
    }
    SECTION("too near another") {
        box.request.sleeves.push_back(upright("right", -38, 110));
        CHECK(refused(box).what == "fixing \"right\": its tube comes to 1.0 mm of that of \"left\", wanted 4");
    }
    SECTION("a recess without end") {
        sleeve.recess = Length::mm(205);
        CHECK(refused(box).what == "fixing \"left\": its seat leaves 5.0 mm of the box under it, wanted at least 6");
    }
    SECTION("a recess at the edge") {
        sleeve.point = {-92, 110, -109};
        sleeve.recess = Length::mm(10);
        sleeve.use.tool = fixings::ToolRoom{Length::mm(30), Length::mm(40)};
        box.request.material = *find_material("aluminium 5754");
        CHECK(refused(box).what ==
              "fixing \"left\": its recess of 30 mm leaves 3.0 mm to the side of the box, wanted 6");
    }
    SECTION("something beside its pad") {
        sleeve.point.z = -125;
        box.request.room.keep_outs.push_back({.name = "rail",
                                              .shape = space::SphereShape{{-60, 64, -120}, 20},
                                              .clearance = Length::mm(5),
                                              .covering = true});
        CHECK(refused(box).what.find("fixing \"left\": keep-out \"rail\" stands in the way of its pad of 49 mm by ") ==
              0);
    }
    SECTION("a face that is elsewhere") {
        const scan::Surface floor = level(-112);
        CHECK(refused(box, &floor).what ==
              "fixing \"left\": the vehicle's face lies 3.0 mm behind the point along the bolt, wanted within 1.5");
    }
    SECTION("not beside a foot") {
        sleeve.point = {-80, 80, -109};
        box.request.feet.push_back({.name = "side", .point = {-150, 80, -109}, .axis = {0, 0, -1}, .thread = "M8"});
        CHECK(made(box).fixings.size() == 2);
    }
    SECTION("the terminal's hole") {
        box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {-60, 131, 105}, .displacement = {}};
        const std::string what = refused(box).what;
        CHECK(what.find("terminal: its hole at ") == 0);
    }
    SECTION("a tube of paper") {
        sleeve.tube_wall = Length::mm(1);
        CHECK(refused(box).what ==
              "fixing \"left\": a tube's wall of 1 mm is thinner than can be made, wanted at least 1.8");
    }
    SECTION("a slot along the bolt") {
        sleeve.use.slot = fixings::Slot{{0, 0, 1}, Length::mm(8)};
        CHECK(refused(box).what == "fixing \"left\": its slot runs along the bolt, wanted across it");
    }
}
