// Ring and dish against the flat baffle of the same box: what they add and take is known in closed form.
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Surface.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <catch2/catch.hpp>
#include <gp_Cone.hxx>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kCutout = 72.5, kFlange = 84.0;  // radii of the woofer

double material(const Enclosure& made) {
    double sum = 0.0;
    for (const Product& p : made.products) sum += volume_mm3(p.solid);
    return sum;
}
double frustum(double a, double b, double height) {
    return kPi / 3.0 * height * (a * a + a * b + b * b);
}
double line(const Enclosure& made, const std::string& name) {
    for (const LedgerLine& l : made.ledger)
        if (l.name == name) return l.litres;
    FAIL("no ledger line " + name);
    return 0.0;
}
/// Half angles of the cones among a B-rep's faces, with the radius at each cone's own plane.
std::vector<double> cone_angles(const Brep& shape) {
    std::vector<double> found;
    for (TopExp_Explorer e(to_occt(shape), TopAbs_FACE); e.More(); e.Next()) {
        const BRepAdaptor_Surface surface(TopoDS::Face(e.Current()), false);
        if (surface.GetType() == GeomAbs_Cone) found.push_back(std::abs(surface.Cone().SemiAngle()));
    }
    return found;
}

Case with_driver(bool separate) {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.baffle.separate = separate;
    return box;
}
Case with_ring(bool separate, double height, std::optional<double> width, double edge) {
    Case box = with_driver(separate);
    box.request.baffle.shape = BaffleShape::Ring;
    box.request.baffle.ring = {.height = Length::mm(height), .width = {}, .edge = Length::mm(edge)};
    if (width) box.request.baffle.ring.width = Length::mm(*width);
    return box;
}
Case with_dish(bool separate, double depth, double flank_deg) {
    Case box = with_driver(separate);
    box.request.baffle.shape = BaffleShape::Dish;
    box.request.baffle.dish = {.depth = Length::mm(depth), .width = {}, .flank = Angle::deg(flank_deg)};
    return box;
}

}  // namespace

TEST_CASE("a raised ring adds its own solid and the cut-out's extra length, to the digit", "[parts][features][form]") {
    const bool separate = GENERATE(false, true);
    const double edge = GENERATE(0.0, 1.5);
    CAPTURE(separate, edge);
    const double height = 9, width = 16, foot = kCutout + width;
    const Case box = with_ring(separate, height, width, edge);
    const Enclosure ring = made(box), flat = made(with_driver(separate));
    check_sound(box, ring, separate ? 2 : 1);
    const double chamfer = 2 * kPi * (foot - edge / 3) * edge * edge / 2;  // Pappus
    CHECK(material(ring) - material(flat) ==
          Approx(kPi * (foot * foot - kCutout * kCutout) * height - chamfer).epsilon(1e-6));
    const double more = kPi * kCutout * kCutout * height;
    CHECK(ring.net_by_brep.mm3() - flat.net_by_brep.mm3() == Approx(more).epsilon(1e-6));
    CHECK(line(ring, "cut-out in the raised ring") == Approx(more / 1e6).epsilon(1e-12));
    CHECK(line(ring, "cut-out behind the driver's seat") == Approx(kPi * kCutout * kCutout * 12 / 1e6).epsilon(1e-12));

    CHECK(ring.seat_plane.point.y == Approx(-height));
    REQUIRE(ring.seat);
    CHECK(ring.seat->face_mm == Approx(-height));
    CHECK(ring.seat->back_mm == Approx(12));
    const Brep& carrier = ring.products.back().solid;
    CHECK(cylinders(carrier, foot).front().area_mm2 == Approx(2 * kPi * foot * (height - edge)).epsilon(1e-9));
    CHECK(cylinders(carrier, kCutout).front().area_mm2 == Approx(2 * kPi * kCutout * (12 + height)).epsilon(1e-9));
    const auto cones = cone_angles(carrier);
    CHECK(cones.size() == (edge > 0 ? 1 : 0));
    for (const double angle : cones) CHECK(angle == Approx(kPi / 4));
}

TEST_CASE("a dish takes its back from the air and keeps the baffle's thickness behind it", "[parts][features][form]") {
    const bool separate = GENERATE(false, true);
    const double flank = GENERATE(0.0, 30.0, 45.0);
    CAPTURE(separate, flank);
    const double depth = flank > 0 ? 5 : 14, lean = flank * kPi / 180;
    Case box = with_dish(separate, depth, flank), as_flat = with_driver(separate);
    for (Case* each : {&box, &as_flat}) {
        each->request.driver->driver.cutout_diameter = Length::mm(120);
        each->request.driver->driver.flange_diameter = Length::mm(140);
        each->request.driver->driver.bolt_circle = Length::mm(130);
    }
    const Enclosure dish = made(box), flat = made(as_flat);
    check_sound(box, dish, separate ? 2 : 1);
    const double floor = 71, mouth = floor + depth * std::tan(lean);
    const double out = 12 * (1 - std::sin(lean)) / std::cos(lean);
    const double front = frustum(mouth, floor, depth), boss = frustum(mouth + out, floor + out, depth);
    // A separate baffle's flange bulges away from the dish's back; what it loses is a line of its own.
    const double flange = separate ? (line(dish, "rim flange") - line(flat, "rim flange")) * 1e6 : 0.0;
    CHECK(material(dish) - material(flat) + flange == Approx(boss - front).epsilon(1e-6));
    CHECK(dish.net_by_brep.mm3() - flat.net_by_brep.mm3() - flange == Approx(-boss).epsilon(1e-6));
    CHECK(line(dish, "back of the dish") == Approx(-boss / 1e6).epsilon(1e-12));

    CHECK(dish.seat_plane.point.y == Approx(depth));
    REQUIRE(dish.seat);
    CHECK(dish.seat->back_mm == Approx(12 + depth));
    CHECK(dish.seat->foot_radius_mm == Approx(mouth));
    // Front and back of the flank are parallel, the thickness apart.
    const auto cones = cone_angles(dish.products.back().solid);
    CHECK(cones.size() == (flank > 0 ? 2 : 0));
    for (const double angle : cones) CHECK(angle == Approx(lean));
    CHECK((mouth + out - mouth) * std::cos(lean) + 12 * std::sin(lean) == Approx(12));
    // The two bodies that are kept for the checks have it too.
    CHECK(volume_mm3(flat.outer_body) - volume_mm3(dish.outer_body) == Approx(front).epsilon(1e-6));
    if (!separate) CHECK(volume_mm3(flat.air_body) - volume_mm3(dish.air_body) == Approx(boss).epsilon(1e-6));
}

TEST_CASE("a flange may be let into ring and dish", "[parts][features][form][recess]") {
    const bool is_ring = GENERATE(true, false);
    CAPTURE(is_ring);
    Case box = is_ring ? with_ring(true, 6, {}, 1) : with_dish(true, 4, 0);
    sound::Driver& driver = box.request.driver->driver;
    driver.cutout_diameter = Length::mm(120), driver.flange_diameter = Length::mm(140);
    driver.bolt_circle = Length::mm(130), driver.recess = Length::mm(3);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    CHECK(enclosure.seat_plane.point.y == Approx(is_ring ? -3 : 7));
    CHECK(cylinders(enclosure.products[1].solid, 70.5).front().area_mm2 == Approx(2 * kPi * 70.5 * 3).epsilon(1e-9));
    // Chosen widths: the pocket, 2 mm beside it, and the ring's edge.
    CHECK(enclosure.seat->foot_radius_mm == Approx(is_ring ? 73.5 : 72.5));
}

TEST_CASE("ring and dish come out the same from any vehicle frame", "[parts][features][form][property]") {
    const Case box = GENERATE(0, 1) == 0 ? with_ring(false, 9, 16, 1.5) : with_dish(false, 3, 30);
    const double a = 0.7;
    const Frame to{{400, -120, 90}, {std::cos(a), std::sin(a), 0}, {-std::sin(a), std::cos(a), 0}, {0, 0, 1}};
    const Case turned = moved(box, to);
    const Enclosure here = made(box), there = made(turned);
    CHECK(there.net_by_brep.mm3() == Approx(here.net_by_brep.mm3()).epsilon(1e-9));
    CHECK(material(there) == Approx(material(here)).epsilon(1e-9));
    CHECK(distance(there.seat->centre, to.to_parent(here.seat->centre)) < 1e-9);
}

TEST_CASE("what is said of the volume before modelling is what ring and dish take", "[parts][features][form]") {
    const Case box = GENERATE(0, 1) == 0 ? with_ring(false, 9, 16, 1.5) : with_dish(false, 3, 0);
    const Enclosure enclosure = made(box);
    double planned = 0.0, done = 0.0;
    for (const LedgerLine& l : features_ledger(box.request)) planned += l.litres;
    for (std::size_t i = 1; i < enclosure.ledger.size(); ++i) done += enclosure.ledger[i].litres;
    CHECK(planned == Approx(done).epsilon(1e-12));
}

TEST_CASE("a ring or dish that cannot be is refused with how much is missing", "[parts][features][form][fault]") {
    SECTION("without a driver") {
        Case box = with_ring(false, 9, 16, 1);
        box.request.driver.reset();
        // The driver is what all of it stands round.
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::BadJob);
        CHECK(fault.what == "ring: stands without a driver, wanted a [driver] that sits on it");
    }
    SECTION("a ring too narrow for the flange") {
        const Fault fault = refused(with_ring(false, 9, 10, 1));
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what ==
              "ring: a width of 10 mm is 2.5 mm too little for what sits on its top, wanted at least 12.5 mm");
    }
    SECTION("an edge as high as the ring") {
        CHECK(refused(with_ring(false, 2, {}, 2)).what ==
              "ring: an edge of 2 mm on a height of 2 mm, wanted less than the height");
    }
    SECTION("a dish too narrow") {
        Case box = with_dish(false, 3, 45);
        box.request.baffle.dish.width = Length::mm(11);
        CHECK(refused(box).what.find("dish: a width of 11 mm is 1.5 mm too little for what sits on its floor") == 0);
    }
    SECTION("a ring wider than the baffle's flat") {
        // The flat is 204 high; the ring's foot of 107.5 and 0.3 beside it.
        const Fault fault = refused(with_ring(false, 9, 35, 1));
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("driver: ring of 215.6 mm reaches 5.8 mm past the flat of the baffle") == 0);
    }
    SECTION("off the middle the hint says where it would stand") {
        Case box = with_ring(false, 9, 20, 1);
        box.request.driver->centre = {20, 0, 0};
        const Fault fault = refused(box);
        CHECK(fault.what.find("driver: ring of 185.6 mm reaches 5.8 mm past the flat of the baffle (to the right") ==
              0);
        CHECK(fault.hint.find("it fits with [driver] centre at 14") == 0);
    }
    SECTION("a dish wider than the flat") {
        Case box = with_dish(false, 25, 45);
        CHECK(refused(box).what.find("driver: dish of 220.6 mm reaches") == 0);
    }
    SECTION("a dish whose back meets the side") {
        Case box = with_dish(false, 6, 0);
        box.request.driver->centre = {0, 0, 6};
        // The back's radius is 85 + 12; the air's half height 99.
        CHECK(
            refused(box).what.find("driver: back of the dish of 194 mm comes out 4.0 mm past the edge of the cavity's "
                                   "front (up") == 0);
    }
    SECTION("a dish whose back comes too near the side") {
        Case box = with_dish(false, 6, 0);
        box.request.driver->centre = {0, 0, 1};
        const Fault fault = refused(box);
        CHECK(fault.what == "dish: its back leaves 1.0 mm to the inner wall, wanted at least 2");
        REQUIRE(fault.where);
        CHECK(fault.where->z == Approx(99).margin(0.01));
    }
    SECTION("a dish deeper than the box") {
        Case box = with_dish(false, 141, 0);
        box.request.driver->driver.cutout_diameter = Length::mm(120);
        box.request.driver->driver.flange_diameter = Length::mm(140);
        box.request.driver->driver.bolt_circle = Length::mm(130);
        CHECK(refused(box).what == "dish: its back leaves 1.0 mm to the inner wall, wanted at least 2");
    }
    SECTION("a ring in a foot's way") {
        Case box = with_ring(false, 12, 34, 1);
        box.request.driver->driver.cutout_diameter = Length::mm(120);
        box.request.driver->driver.flange_diameter = Length::mm(140);
        box.request.driver->driver.bolt_circle = Length::mm(130);
        box.request.driver->centre = {0, 0, -7};
        box.request.feet = {{"front", {0, -40, -109}, {0, 0, -1}, "M6"}};
        const auto result = add_features(box.bodies, box.room, box.request, {});
        REQUIRE_FALSE(result);
        // The foot's arm takes the lower edge of the flat: 4 mm of clearance, lifted by 1.5 until its underside is 1 mm
        // deep in the shell, and 12.5 deep, so up to z = -91; the ring reaches down to -7 - 94.3.
        CHECK(result.error().what.find("driver: ring of 188.6 mm reaches 10.3 mm past the flat of the baffle (down") ==
              0);
    }
}
