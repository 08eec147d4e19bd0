#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

/// Straight way round the rounded rectangle that lies `inset` within the box's inner front.
double way_round(const Sizes& s, double inset) {
    const double w = 2 * (s.half_width - s.wall - inset), h = 2 * (s.half_height - s.wall - inset),
                 r = std::max(0.0, 4.0 - inset);
    return 2 * (w + h) - (8 - 2 * kPi) * r;
}

}  // namespace

TEST_CASE("a separate baffle and its shell are sound solids that close the same air", "[parts][features][baffle]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.baffle.separate = true;
        box.request.driver = mounted(woofer());
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 2);
        CHECK(enclosure.air_pieces.size() == 2);
        // Nothing is lost between plate and shell: material and air make up the outer body.
        double holes = 0.0;
        for (const Product& product : enclosure.products)
            for (const double r : {2.8, 2.25})
                for (const Cylinder& hole : cylinders(product.solid, r)) holes += hole.area_mm2 * r / 2;
        const double material = volume_mm3(enclosure.products[0].solid) + volume_mm3(enclosure.products[1].solid);
        const double air = enclosure.net_by_brep.mm3() + enclosure.solids_in_air.mm3();
        CHECK(material + air + holes == Approx(volume_mm3(box.bodies.outer)).epsilon(1e-6));
    }
}

TEST_CASE("a plate without a driver closes the shell's mouth", "[parts][features][baffle]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    REQUIRE(enclosure.air_pieces.size() == 1);
    REQUIRE(enclosure.air_pieces[0].openings.size() == 1);
    CHECK(enclosure.air_pieces[0].openings[0].name == "mouth");
}

TEST_CASE("the rim flange is as wide as its inserts and the plate's edge distance ask",
          "[parts][features][baffle][oracle]") {
    EnclosureRequest request;
    request.baffle.separate = true;
    // M4 in 6 mm of ASA: edge 3 d = 12 less the wall, and half a boss of 12.2 [common practice].
    RimFlange m4 = require(rim_flange(request));
    CHECK(m4.centre_mm == Approx(6.0));
    CHECK(m4.width_mm == Approx(12.1));
    CHECK(m4.hole_mm == 5.6);
    CHECK(m4.hole_depth_mm == Approx(8.85));
    CHECK(m4.thickness_mm == Approx(10.35));
    CHECK(m4.has_inserts);
    CHECK_FALSE(m4.is_through);
    // Aluminium: tapped, edge 2 d, boss 2.5 d.
    request.material = *find_material("aluminium 6082");
    request.wall = Length::mm(4);
    RimFlange metal = require(rim_flange(request));
    CHECK(metal.centre_mm == Approx(4.0));
    CHECK(metal.width_mm == Approx(9.0));
    CHECK(metal.hole_mm == 3.3);
    CHECK_FALSE(metal.has_inserts);
    SECTION("a given width that is too small is refused") {
        request.baffle.flange_width = Length::mm(8);
        const auto small = rim_flange(request);
        REQUIRE_FALSE(small);
        CHECK(small.error().what == "rim flange: a width of 8 mm, wanted at least 9 for M4 tapped holes");
    }
    SECTION("a given thickness that is too small makes the holes go through") {
        request.baffle.flange_thickness = Length::mm(6);
        CHECK(require(rim_flange(request)).is_through);
    }
    SECTION("an unknown thread is refused") {
        request.baffle.screw_thread = "M7";
        CHECK(rim_flange(request).error().what == "thread: \"M7\" is not known");
    }
}

TEST_CASE("screws stand on the flange no farther apart than the pitch, through the plate by ISO 273",
          "[parts][features][baffle][oracle]") {
    const Sizes sizes;
    Case box = rounded_box(sizes);
    box.request.baffle.separate = true;
    const double pitch = GENERATE(50.0, 80.0, 130.0);
    box.request.baffle.screw_pitch = Length::mm(pitch);
    const Enclosure enclosure = made(box);
    const auto pilots = cylinders(enclosure.products[0].solid, 2.8),
               holes = cylinders(enclosure.products[1].solid, 2.25);
    REQUIRE(pilots.size() == holes.size());
    const double round = way_round(sizes, 6.0);
    CHECK(static_cast<double>(pilots.size()) >= round / pitch);
    CHECK(static_cast<double>(pilots.size()) <= round / pitch + 2.0);
    for (const Cylinder& pilot : pilots) {
        CHECK(pilot.area_mm2 == Approx(2 * kPi * 2.8 * 8.85).epsilon(1e-9));
        CHECK(std::any_of(holes.begin(), holes.end(),
                          [&](const Cylinder& h) { return distance(h.at, pilot.at) < 1e-9; }));
        // 12 mm from the plate's edge all round: 6 of wall and 6 of flange.
        const double from_side =
            std::min(sizes.half_width - std::abs(pilot.at.x), sizes.half_height - std::abs(pilot.at.z));
        CHECK(from_side == Approx(12.0).margin(0.1));
    }
    for (const Cylinder& hole : holes) CHECK(hole.area_mm2 == Approx(2 * kPi * 2.25 * 12).epsilon(1e-9));
    // Neighbours by angle about the middle: the chord is no longer than the pitch.
    std::vector<Point3> places;
    for (const Cylinder& pilot : pilots) places.push_back(pilot.at);
    std::sort(places.begin(), places.end(),
              [](Point3 a, Point3 b) { return std::atan2(a.z, a.x) < std::atan2(b.z, b.x); });
    for (std::size_t i = 0; i < places.size(); ++i)
        CHECK(distance(places[i], places[(i + 1) % places.size()]) <= pitch + 1e-6);
}

TEST_CASE("the flange takes its own volume from the air", "[parts][features][baffle][oracle]") {
    // A ring 12.1 wide and 10.35 deep along the inner front; its mouth's corners are rounded by no more than 8 mm.
    const Sizes sizes;
    Case box = rounded_box(sizes);
    box.request.baffle.separate = true;
    const Enclosure enclosure = made(box);
    const double w = 2 * (sizes.half_width - sizes.wall), h = 2 * (sizes.half_height - sizes.wall);
    const double ring = w * h - (4 - kPi) * 16 - (w - 2 * 12.1) * (h - 2 * 12.1);
    REQUIRE(enclosure.ledger[1].name == "rim flange");
    CHECK(-enclosure.ledger[1].litres * 1e6 == Approx(ring * 10.35).epsilon(0.01));
    CHECK(-enclosure.ledger[1].litres * 1e6 >= ring * 10.35 * 0.9995);
}

TEST_CASE("the flange's volume is foretold from the field's sections", "[parts][features][baffle][oracle]") {
    // The second way: what the B-rep lost. The field of the air is the box's own, 6 mm in.
    for (Case box : {rounded_box(), tapered_box()}) {
        CAPTURE(box.name);
        CHECK(rim_flange_volume(box.room.outer, 12.0, box.request).mm3() == 0.0);
        box.request.baffle.separate = true;
        if (box.name == "rounded box") box.request.driver = mounted(woofer());
        const space::Field air = require(space::cavity(box.room.outer, Length::mm(6), Length::mm(4), {}));
        const double foretold = rim_flange_volume(air, 12.0, box.request).litres();
        CHECK(foretold == Approx(-made(box).ledger[1].litres).epsilon(0.015));
    }
}

TEST_CASE("where the basket needs it the flange gives way and the screws keep off", "[parts][features][baffle]") {
    Sizes sizes;
    sizes.half_width = 96;  // inner half width 90: 12.1 of flange leave 77.9, the cut-out asks 81.5
    Case box = rounded_box(sizes);
    box.request.baffle.separate = true;
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(158);
    driver.flange_diameter = Length::mm(172);
    driver.bolt_thread.clear();
    box.request.driver = mounted(driver);
    box.request.baffle.screw_pitch = Length::mm(160);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    for (const Cylinder& pilot : cylinders(enclosure.products[0].solid, 2.8)) CHECK(norm(pilot.at) > 172 / 2.0 + 4.5);
    SECTION("but not past the pitch") {
        box.request.baffle.screw_pitch = Length::mm(60);
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("mm of the rim have no place for a screw, wanted one every 60 mm (screw_pitch)") !=
              std::string::npos);
    }
    SECTION("and not past the wall") {
        box.request.driver->centre = {9, 0, 0};
        const Fault fault = refused(box);
        CHECK(fault.what.find("driver: flange of 172 mm reaches") == 0);
    }
}

TEST_CASE("a basket that leaves no flange is refused with what is left and where", "[parts][features][baffle][fault]") {
    Sizes sizes;
    sizes.half_width = 96;
    Case box = rounded_box(sizes);
    box.request.baffle.separate = true;
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(176);
    driver.flange_diameter = Length::mm(184);
    driver.bolt_thread.clear();
    box.request.driver = mounted(driver);
    const Fault fault = refused(box);
    CHECK(fault.code == FaultCode::Impossible);
    CHECK(fault.what.find(
              "rim flange: basket and cut-out with 2.5 mm round them reach 0.5 mm past the shell's inner wall (to the ") == 0);
    REQUIRE(fault.where);
    CHECK(std::abs(std::abs(fault.where->x) - 90) < 0.1);
}

TEST_CASE("pilots through a thin flange are openings of the air", "[parts][features][baffle]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.baffle.flange_thickness = Length::mm(8);
    box.request.driver = mounted(woofer());
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const auto pilots = cylinders(enclosure.products[0].solid, 2.8);
    CHECK(enclosure.air_pieces[0].openings.size() == 1 + pilots.size());
    CHECK(pilots.front().area_mm2 == Approx(2 * kPi * 2.8 * 8).epsilon(1e-9));
}

TEST_CASE("a separate baffle may be of another material", "[parts][features][baffle]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.baffle.material = *find_material("aluminium 6082");
    box.request.driver = mounted(woofer());
    const Enclosure enclosure = made(box);
    CHECK(enclosure.products[0].material.name == "ASA");
    CHECK(enclosure.products[1].material.name == "aluminium 6082");
    // The driver's holes are in metal and tapped, the shell's stay insert pilots.
    CHECK(cylinders(enclosure.products[1].solid, 1.65).size() == 4);
    CHECK(cylinders(enclosure.products[0].solid, 2.8).size() >= 4);
}
