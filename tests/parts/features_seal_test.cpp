// Grooves: widths and places measured on tessellated floors and cylinder faces, volumes in closed form, and what does
// not fit refused with what would.
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <map>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;
using Catch::Contains;

namespace {

constexpr double kPi = std::numbers::pi;

/// Area and border of all that is level with y = `depth` and looks to the front.
struct Level {
    double area_mm2 = 0.0, border_mm = 0.0;
};
Level level_at(const Brep& solid, double depth) {
    const TriMesh mesh = require(measure::tessellate(solid, Length::mm(0.01), {}));
    Level level;
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> sides;
    for (const auto& t : mesh.triangles) {
        const Point3 a = mesh.vertices[t[0]], b = mesh.vertices[t[1]], c = mesh.vertices[t[2]];
        if (std::abs(a.y - depth) > 1e-6 || std::abs(b.y - depth) > 1e-6 || std::abs(c.y - depth) > 1e-6) continue;
        level.area_mm2 += norm(cross(b - a, c - a)) / 2;
        for (std::size_t i = 0; i < 3; ++i) ++sides[std::minmax(t[i], t[(i + 1) % 3])];
    }
    for (const auto& [side, times] : sides)
        if (times == 1) level.border_mm += distance(mesh.vertices[side.first], mesh.vertices[side.second]);
    return level;
}

Case corded(Case box, double cord) {
    box.request.baffle.separate = true;
    box.request.baffle.seal.cord = Length::mm(cord);
    return box;
}

}  // namespace

TEST_CASE("a round cord gets a groove in the flange, 1.35 by 0.75 of its diameter", "[parts][features][seal][oracle]") {
    for (Case bare : {rounded_box(), tapered_box(), bulging_loft()}) {
        Case box = corded(bare, 3);
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 2);
        const JointMade& joint = enclosure.joints.at(0);
        CHECK(joint.name == "baffle");
        CHECK(joint.groove_mm == Approx(4.05));
        CHECK(joint.groove_depth_mm == Approx(2.25));
        CHECK(joint.left_mm >= 1.5);
        // Of a strip of one width, area = width * (sum of both borders) / 2.
        const Level floor = level_at(enclosure.products[0].solid, 12 + 2.25);
        CHECK(2 * floor.area_mm2 / floor.border_mm == Approx(4.05).margin(0.005));
        // The groove is lost to the material, not to the air.
        double holes = floor.area_mm2 * 2.25;
        for (const Product& product : enclosure.products)
            for (const double r : {2.8, 2.25})
                for (const Cylinder& hole : cylinders(product.solid, r)) holes += hole.area_mm2 * r / 2;
        const double material = volume_mm3(enclosure.products[0].solid) + volume_mm3(enclosure.products[1].solid);
        const double air = enclosure.net_by_brep.mm3() + enclosure.solids_in_air.mm3();
        CHECK(material + air + holes == Approx(volume_mm3(box.bodies.outer)).epsilon(2e-6));
    }
}

TEST_CASE("the flange is as wide as screws and cord ask, and the cord runs round within the screws",
          "[parts][features][seal][oracle]") {
    const Sizes sizes;
    const Case box = corded(rounded_box(sizes), 3);
    const RimFlange size = require(rim_flange(box.request));
    CHECK(size.centre_mm == Approx(6));
    CHECK(size.width_mm == Approx(6 + 2.8 + 4.05 + 2 * 1.65));
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    // Its middle lies 1.65 + 2.025 outside the mouth, its corners bend no tighter than three cords and not much wider.
    const double inset = sizes.wall + size.width_mm - 3.675;
    const auto round = [&](double radius) {
        return 4 * (sizes.half_width - inset) + 4 * (sizes.half_height - inset) - (8 - 2 * kPi) * radius;
    };
    const Level floor = level_at(enclosure.products[0].solid, 12 + 2.25);
    CHECK(floor.border_mm / 2 <= round(9));
    CHECK(floor.border_mm / 2 >= round(13));
    // Within the screws, all round: 1.5 beside every hole is kept.
    const TriMesh mesh = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.01), {}));
    double nearest = 1e300;
    for (const auto& t : mesh.triangles)
        for (std::size_t i = 0; i < 3; ++i) {
            const Point3 p = mesh.vertices[t[i]], d = mesh.vertices[t[(i + 1) % 3]] - p;
            if (std::abs(p.y - 14.25) > 1e-6 || std::abs(d.y) > 1e-6) continue;
            for (const Cylinder& hole : cylinders(enclosure.products[0].solid, 2.8)) {
                const Vec3 to = hole.at + Vec3{0, 14.25 - hole.at.y, 0} - p;
                nearest = std::min(nearest, norm(to - d * std::clamp(dot(to, d) / norm2(d), 0.0, 1.0)));
            }
        }
    CHECK(nearest - 2.8 >= 1.5);
    CHECK(nearest - 2.8 <= 1.75);
    CHECK(enclosure.joints[0].screws == static_cast<int>(cylinders(enclosure.products[0].solid, 2.8).size()));
    CHECK(enclosure.joints[0].pitch_mm <= 80);

    SECTION("tape wants no more than the screws do, and its land is told") {
        Case taped = rounded_box(sizes);
        taped.request.baffle.separate = true;
        const JointMade joint = made(taped).joints.at(0);
        CHECK(joint.cord_mm == 0);
        CHECK(joint.land_mm == Approx(6 + 12.1).margin(0.3));
    }
    SECTION("a given width that does not hold both is refused") {
        Case narrow = box;
        narrow.request.baffle.flange_width = Length::mm(13);
        CHECK(refused(narrow).what ==
              "rim flange: a width of 13 mm, wanted at least 16.15 for M4 heat-set inserts and a cord beside them");
    }
    SECTION("and so is a flange that the groove would cut through") {
        Case thin = box;
        thin.request.baffle.flange_thickness = Length::mm(3);
        CHECK(refused(thin).what == "rim flange: a thickness of 3 mm, wanted at least 3.75 under a groove of 2.25 mm");
    }
}

TEST_CASE("where the basket needs it the cord gives way with the flange", "[parts][features][seal]") {
    Sizes sizes;
    sizes.half_width = 96;
    Case box = corded(rounded_box(sizes), 2);
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(158);
    driver.flange_diameter = Length::mm(172);
    driver.bolt_thread.clear();
    box.request.driver = mounted(driver);
    box.request.baffle.screw_pitch = Length::mm(170);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    CHECK(enclosure.joints[0].left_mm >= 1.5);
    const Level floor = level_at(enclosure.products[0].solid, 12 + 1.5);
    CHECK(2 * floor.area_mm2 / floor.border_mm == Approx(2.7).margin(0.01));
}

TEST_CASE("a driver's cord lies between cut-out and bolts, or outside blind bolts", "[parts][features][seal][oracle]") {
    Case box = rounded_box();
    sound::Driver driver = woofer();
    driver.flange_diameter = Length::mm(190);
    box.request.driver = mounted(driver);
    box.request.driver->seal.cord = Length::mm(3);
    double inner = 0.0;
    const auto groove_is_at = [&](double from, double to) { inner = from + (to - from - 4.05) / 2; };
    SECTION("between") {
        box.request.driver->driver.bolt_circle = Length::mm(176);
        groove_is_at(72.5, 88 - 2.8);
    }
    SECTION("outside, where the bolts stand too near the cut-out") {
        groove_is_at(78.25 + 2.8, 95);
    }
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const Brep& shell = enclosure.products[0].solid;
    for (const double r : {inner, inner + 4.05}) {
        const auto side = cylinders(shell, r);
        REQUIRE(side.size() == 1);
        CHECK(side[0].area_mm2 == Approx(2 * kPi * r * 2.25).epsilon(1e-9));
        CHECK(norm(side[0].at) < 1e-9);
    }
    const double groove = kPi * ((inner + 4.05) * (inner + 4.05) - inner * inner) * 2.25;
    const double material = volume_mm3(box.bodies.outer) - volume_mm3(box.bodies.air) -
                            kPi * (72.5 * 72.5 * 12 + 4 * 2.8 * 2.8 * 8.85) - groove;
    CHECK(volume_mm3(shell) == Approx(material).epsilon(1e-9));
    CHECK(enclosure.joints.at(0).left_mm >= 1.5);
    CHECK(enclosure.joints[0].screws == 4);

    Case taped = box;
    taped.request.driver->seal.cord.reset();
    CHECK(enclosure.net_by_brep.mm3() == Approx(made(taped).net_by_brep.mm3()).epsilon(1e-12));
}

TEST_CASE("a driver's cord lies in the seat wherever that is", "[parts][features][seal]") {
    Case box = rounded_box();
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(120);
    driver.basket_diameter = Length::mm(118);
    box.request.driver = mounted(driver);
    box.request.driver->seal.cord = Length::mm(2);
    double seat = 0.0;
    SECTION("the floor of a recess") {
        box.request.driver->driver.recess = Length::mm(2);
        seat = 2;
    }
    SECTION("a ring's top") {
        box.request.baffle.shape = BaffleShape::Ring;
        box.request.baffle.ring.height = Length::mm(6);
        seat = -6;
    }
    SECTION("a dish's floor") {
        box.request.baffle.shape = BaffleShape::Dish;
        box.request.baffle.dish.depth = Length::mm(5);
        seat = 5;
    }
    SECTION("a separate baffle, with its own cord") {
        box = corded(box, 3);
    }
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, box.request.baffle.separate ? 2 : 1);
    const Level floor = level_at(enclosure.products.back().solid, seat + 1.5);
    CHECK(2 * floor.area_mm2 / floor.border_mm == Approx(2.7).margin(1e-3));
}

TEST_CASE("a driver's cord that does not fit is refused with what would", "[parts][features][seal][fault]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.driver->seal.cord = Length::mm(3);
    Fault fault = refused(box);
    CHECK(fault.code == FaultCode::Impossible);
    CHECK(fault.what ==
          "driver: a groove for a cord of 3 mm wants 7.05 mm of flat, found 3.0 mm between cut-out and bolt holes and "
          "3.0 mm outside them");
    CHECK(fault.hint == "no cord fits there: leave [driver] seal at \"tape\"");
    box.request.driver->driver.flange_diameter = Length::mm(174);
    fault = refused(box);
    CHECK(fault.hint == "a cord of 2.1 mm fits, or [driver] seal = \"tape\"");  // 87 - 81.05 = 5.95 = 3 + 1.35 * 2.18
    box.request.driver->seal.cord = Length::mm(2.1);
    CHECK(made(box).joints.at(0).cord_mm == Approx(2.1));

    box.request.driver->driver.flange_diameter = Length::mm(200);
    box.request.driver->seal.cord = Length::mm(8);
    box.request.baffle.thickness = Length::mm(12);
    box.request.driver->driver.recess = Length::mm(5);
    fault = refused(box);
    CHECK_THAT(fault.what, Contains("driver: a groove"));
}

TEST_CASE("bolts that stand too near one another are refused with how many fit", "[parts][features][driver][fault]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    // 32 pilots of 5.6 on a circle of 156.5: 15.34 - 5.6 between; 70: 7.02 - 5.6 = 1.4, wanted 2 beside inserts.
    box.request.driver->driver.bolt_count = 70;
    const Fault fault = refused(box);
    CHECK(
        fault.what ==
        "driver: 70 bolt holes of 5.6 mm on a circle of 156.5 mm leave 1.4 mm between two, wanted 2 beside an insert");
    CHECK_THAT(fault.hint, Contains("at most 64 fit"));  // pi / asin(3.8 / 78.25) = 64.67
    box.request.driver->driver.bolt_count = 24;
    CHECK(cylinders(made(box).products[0].solid, 2.8).size() == 24);
}
