// Drivers from behind and turned round. Oracles: closed forms of what each adds to the air and takes from it, cylinder
// faces of the finished B-rep, distances of the body in closed form, the meshes of every case (check_sound).
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/driver_body.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kFlange_mm = 5.0;

/// Of the 130 mm class: its flange goes through the mouth of the boxes.
sound::Driver midwoofer() {
    sound::Driver driver = woofer();
    driver.name = "130 mm woofer";
    driver.cutout_diameter = Length::mm(112), driver.flange_diameter = Length::mm(134);
    driver.bolt_circle = Length::mm(124), driver.basket_diameter = Length::mm(110);
    driver.flange_thickness = Length::mm(kFlange_mm);
    driver.front_height = Length::mm(8), driver.xmax = Length::mm(4);
    driver.displacement = Volume::litres(0.3);
    driver.front_volume = Volume::litres(0.12);
    driver.mass_kg = 1.5;
    return driver;
}

Case with(Case box, bool from_behind, bool is_turned) {
    box.request.driver = mounted(midwoofer(), {2, 0, -1});
    box.request.driver->from_behind = from_behind;
    box.request.driver->is_turned = is_turned;
    box.request.baffle.separate = true;
    return box;
}

}  // namespace

TEST_CASE("a driver from behind or turned round is one sound solid with its box", "[parts][features][stance]") {
    const bool from_behind = GENERATE(true, false), is_turned = GENERATE(true, false);
    if (!from_behind && !is_turned) return;
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name, from_behind, is_turned);
        box = with(box, from_behind, is_turned);
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 2);
        // What was foretold is what came, but for the rim flange, which is measured.
        double planned = 0.0, done = 0.0;
        for (const LedgerLine& l : features_ledger(box.request)) planned += l.litres;
        for (std::size_t i = 1; i < enclosure.ledger.size(); ++i) done += enclosure.ledger[i].litres;
        CHECK(planned == Approx(done - ledger(enclosure, "rim flange")).epsilon(1e-12));
    }
}

TEST_CASE("an integral baffle takes a driver that is turned round, and none from behind", "[parts][features][stance]") {
    Case box = with(rounded_box(), false, true);
    box.request.baffle.separate = false;
    check_sound(box, made(box), 1);
    box.request.driver->from_behind = true;
    const Fault fault = refused(box);
    CHECK(fault.code == FaultCode::Impossible);
    CHECK(fault.what ==
          "driver: mounted from behind a baffle that is one piece with the shell, where no hand gets it in");
}

TEST_CASE("what a driver takes of the air follows from the face its flange rests on and the way it looks",
          "[parts][features][stance][oracle]") {
    // Litres: the cut-out's air in a baffle of 12, the flange as a disc in the box, displacement, the hollow of the
    // cone.
    const double cutout = kPi * 56 * 56 * 12 / 1e6, flange = kPi * 67 * 67 * kFlange_mm / 1e6;
    const auto in_front = made(with(rounded_box(), false, false)), behind = made(with(rounded_box(), true, false)),
               turned = made(with(rounded_box(), false, true)), both = made(with(rounded_box(), true, true));
    CHECK(ledger(in_front, "driver") == Approx(-0.3));
    CHECK(ledger(behind, "driver") == Approx(-0.3 - flange));
    CHECK(ledger(turned, "driver") == Approx(0.12));
    CHECK(ledger(both, "driver") == Approx(0.12 - flange));
    CHECK(ledger(in_front, "cut-out behind the driver's seat") == Approx(cutout));
    CHECK(ledger(turned, "cut-out behind the driver's seat") == Approx(cutout));
    for (const Enclosure* made : {&behind, &both})
        for (const LedgerLine& line : made->ledger) CHECK(line.name != "cut-out behind the driver's seat");
    CHECK(turned.net_by_brep.litres() - in_front.net_by_brep.litres() == Approx(0.42).epsilon(1e-9));
    CHECK(both.net_by_brep.litres() - behind.net_by_brep.litres() == Approx(0.42).epsilon(1e-9));
    CHECK(behind.net_by_brep.litres() - in_front.net_by_brep.litres() ==
          Approx(ledger(behind, "rim flange") - ledger(in_front, "rim flange") - cutout - flange).epsilon(1e-9));
}

TEST_CASE("the hollow of a cone whose file says nothing is estimated, and said so", "[parts][features][stance]") {
    Case box = with(rounded_box(), false, true);
    box.request.driver->driver.front_volume.reset();
    box.request.driver->driver.sd = Area::mm2(kPi * 50 * 50);
    const Enclosure enclosure = made(box);
    // A frustum 17.5 deep from 50 to 15.
    const double wanted = kPi * 17.5 / 3 * (50.0 * 50 + 50 * 15 + 15 * 15) / 1e6;
    CHECK(ledger(enclosure, "driver") == Approx(wanted));
    CHECK(std::any_of(enclosure.notes.begin(), enclosure.notes.end(),
                      [](const std::string& n) { return n.find("estimated of its diameter, within 50 %") != n.npos; }));
    // Half of it is not known.
    CHECK(volume_uncertainty_rel(box.request, enclosure) * enclosure.net_by_brep.litres() >= 0.5 * wanted - 1e-12);
}

TEST_CASE("holes of a driver from behind start in the baffle's inner face", "[parts][features][stance][oracle]") {
    const bool is_turned = GENERATE(false, true);
    const Case box = with(rounded_box(), true, is_turned);
    const Enclosure enclosure = made(box);
    const Brep& baffle = enclosure.products[1].solid;
    const auto cutout = cylinders(baffle, 56.0);
    REQUIRE(cutout.size() == 1);
    CHECK(cutout[0].area_mm2 == Approx(2 * kPi * 56 * 12).epsilon(1e-9));
    // The same pattern seen from the front as of a driver in front: first at 45 degrees clockwise from up.
    const auto bolts = cylinders(baffle, 2.8);
    REQUIRE(bolts.size() == 4);
    const double r = 62 / std::sqrt(2.0);
    for (const Point3 wanted :
         {Point3{2 + r, 0, -1 + r}, Point3{2 + r, 0, -1 - r}, Point3{2 - r, 0, -1 - r}, Point3{2 - r, 0, -1 + r}})
        CHECK(
            std::any_of(bolts.begin(), bolts.end(), [&](const Cylinder& c) { return distance(c.at, wanted) < 1e-9; }));
    for (const Cylinder& bolt : bolts) CHECK(bolt.area_mm2 == Approx(2 * kPi * 2.8 * 8.85).epsilon(1e-9));
    // Blind from behind: a plane 0.1 behind the outer face cuts the cut-out alone, one 0.1 before the inner face all.
    const auto ring_of = [&](double y) {
        const auto mesh = require(measure::tessellate(baffle, Length::mm(0.01), {}));
        double least = 1e300;
        for (const Point3& p : mesh.vertices)
            if (std::abs(p.y - y) < 1e-6) least = std::min(least, std::abs(std::hypot(p.x - 2 - r, p.z + 1 - r) - 2.8));
        return least;
    };
    CHECK(ring_of(0.0) > 1.0);
    CHECK(ring_of(12.0) < 0.01);
    // Screws come from inside, their heads on the flange.
    std::size_t screws = 0;
    for (const BoltMade& screw : enclosure.screws) {
        if (!screw.name.starts_with("driver ")) continue;
        ++screws;
        CHECK(screw.step == Step::DriverBehindBaffle);
        CHECK(distance(screw.axis, {0, -1, 0}) < 1e-12);
        CHECK(screw.head_seat.y == Approx(12 + kFlange_mm));
        CHECK(screw.reach_mm == Approx(kFlange_mm + 8.85));
    }
    CHECK(screws == 4);
    CHECK(enclosure.seat_plane.height({0, 12, 0}) == Approx(0.0).margin(1e-12));
}

TEST_CASE("a cord's groove lies in the face that the flange rests on", "[parts][features][stance][oracle]") {
    Case box = with(rounded_box(), true, false);
    // Bolts on the flange's outer edge leave room for the groove.
    box.request.driver->driver.flange_diameter = Length::mm(140);
    box.request.driver->driver.bolt_circle = Length::mm(132);
    box.request.driver->seal = {.cord = Length::mm(2)};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const JointMade& joint = enclosure.joints.back();
    REQUIRE(joint.name == "driver");
    REQUIRE(joint.groove_mm > 0.0);
    const double middle = (56 + (66 - 2.8)) / 2;
    const auto inner = cylinders(enclosure.products[1].solid, middle - joint.groove_mm / 2);
    REQUIRE(inner.size() == 1);
    CHECK(inner[0].area_mm2 == Approx(2 * kPi * (middle - joint.groove_mm / 2) * joint.groove_depth_mm).epsilon(1e-9));
    const auto floor = require(measure::tessellate(enclosure.products[1].solid, Length::mm(0.01), {}));
    double deepest = 1e300;  // of the groove's own circle: it reaches from the inner face at 12 forward
    for (const Point3& p : floor.vertices)
        if (std::abs(std::hypot(p.x - 2, p.z + 1) - (middle - joint.groove_mm / 2)) < 1e-3)
            deepest = std::min(deepest, p.y);
    CHECK(deepest == Approx(12 - joint.groove_depth_mm).margin(1e-6));
}

TEST_CASE("a box with a driver from behind lies anywhere as at home", "[parts][features][stance][law]") {
    const bool is_turned = GENERATE(false, true);
    const Case home = with(rounded_box(), true, is_turned);
    const Vec3 x = unit({0.8, 0.36, -0.48}), y = unit(cross({0.1, 0.2, 1.0}, x));
    const Case away = moved(home, {{120, -40, 900}, x, y, cross(x, y)});
    const Enclosure a = made(home), b = made(away);
    check_sound(away, b, 2);
    CHECK(b.net_by_brep.mm3() == Approx(a.net_by_brep.mm3()).epsilon(1e-9));
    CHECK(volume_mm3(b.products[1].solid) == Approx(volume_mm3(a.products[1].solid)).epsilon(1e-9));
}

TEST_CASE("bodies in the box and before it stand where closed forms put them", "[parts][stance][oracle]") {
    DriverMount mount = mounted(midwoofer());
    mount.driver.mounting_depth = Length::mm(60);
    const Plane in_front{{0, 0, 0}, {0, -1, 0}}, behind{{0, 12, 0}, {0, -1, 0}};
    SECTION("from behind: flange, then the body, deeper by the flange") {
        mount.from_behind = true;
        const auto body = driver_body(mount, behind, 0.0);
        REQUIRE(body);
        CHECK(body->distance_to({0, 12 + 5 + 60 + 7, 0}) == Approx(7));
        CHECK(body->distance_to({67 + 3, 14, 0}) == Approx(3));
        CHECK(body->distance_to({60, 14.5, 0}) == Approx(-2.5));
        CHECK(body->distance_to({0, 12 + 5 + 60 - 2, 45 - 1}) == Approx(-1));
        CHECK_FALSE(driver_before_box(mount, behind, 12));
        CHECK(depth_behind_seat_mm(mount) == Approx(65));
        // Two thirds of the depth, or the magnet's middle behind the flange.
        CHECK(distance(mass_centre(mount, behind), {0, 12 + 5 + 60 - 12.5, 0}) < 1e-12);
    }
    SECTION("turned round: the cone's room inside, the magnet before the box") {
        mount.is_turned = true;
        // 8 of front less 5 of flange, 4 of travel, 2 between: 9, less than the baffle is thick.
        CHECK_FALSE(driver_body(mount, in_front, 12));
        CHECK(depth_behind_seat_mm(mount) == Approx(9));
        const auto body = driver_body(mount, in_front, 7);
        REQUIRE(body);
        CHECK(body->is_cone);
        CHECK(body->depth_mm() == Approx(9));
        CHECK(body->distance_to({0, 11, 0}) == Approx(2));
        const auto before = driver_before_box(mount, in_front, 0);
        REQUIRE(before);
        CHECK(before->distance_to({0, -(5 + 60 + 4), 0}) == Approx(4));
        CHECK(before->distance_to({67 + 3, -2, 0}) == Approx(3));
        CHECK(before->distance_to({0, -30, 0}) < 0.0);
        CHECK(distance(mass_centre(mount, in_front), {0, -(5 + 60 - 12.5), 0}) < 1e-12);
    }
    SECTION("both: the flange inside, the basket out through the hole") {
        mount.from_behind = mount.is_turned = true;
        const auto body = driver_body(mount, behind, 0.0);
        REQUIRE(body);
        CHECK(body->depth_mm() == Approx(9));
        CHECK(body->distance_to({0, 12 + 5 + 9 + 2, 0}) == Approx(2));
        CHECK(body->distance_to({67 + 3, 14, 0}) == Approx(3));
        const auto before = driver_before_box(mount, behind, 12);
        REQUIRE(before);
        CHECK(before->from_mm == Approx(12));
        CHECK(before->flange_radius_mm == 0.0);
        CHECK(before->distance_to({0, 12 - 60 - 4, 0}) == Approx(4));
    }
    SECTION("the usual way nothing stands before the box") {
        CHECK_FALSE(driver_before_box(mount, in_front, 0));
        CHECK(depth_behind_seat_mm(mount) == Approx(60));
    }
}

TEST_CASE("two of a kind, one of them turned, share a box", "[parts][features][stance]") {
    Case box = rounded_box();
    sound::Driver small = midwoofer();
    small.cutout_diameter = Length::mm(76), small.flange_diameter = Length::mm(94);
    small.bolt_circle = Length::mm(86), small.basket_diameter = Length::mm(74);
    small.bolt_thread = "M3";
    small.magnet_diameter = Length::mm(56), small.mounting_depth = Length::mm(50);
    small.magnet_depth = Length::mm(16);
    box.request.driver = mounted(small, {-50, 0, 0});
    box.request.more_drivers = {
        {.centre = {50, 0, 0}, .turn = Angle::deg(45), .driver = {}, .from_behind = false, .is_turned = true}};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    CHECK(ledger(enclosure, "driver") == Approx(-0.3));
    CHECK(ledger(enclosure, "driver 2") == Approx(0.12));
    CHECK(std::any_of(enclosure.notes.begin(), enclosure.notes.end(),
                      [](const std::string& n) { return n.starts_with("driver 2: turned round"); }));
}

TEST_CASE("what a driver from behind or turned wants is said", "[parts][features][stance][fault]") {
    Case box = with(rounded_box(), true, false);
    SECTION("its flange's thickness") {
        box.request.driver->driver.flange_thickness.reset();
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::BadJob);
        CHECK(fault.hint == "measure the flange and give flange_thickness");
    }
    SECTION("room for its flange in the plate's back") {
        box.request.driver->driver.flange_diameter = Length::mm(190);
        CHECK(refused(box).what.find("rim flange: flange and body of a driver from behind leave") == 0);
    }
    SECTION("a cut-out for a basket that goes through") {
        box.request.driver->is_turned = true;
        box.request.driver->driver.basket_diameter = Length::mm(115);
        CHECK(refused(box).what == "driver: basket of 115 mm does not go through the cut-out of 112 mm");
    }
    SECTION("a basket that stays behind may be wider than the cut-out") {
        box.request.driver->driver.basket_diameter = Length::mm(116);
        check_sound(box, made(box), 2);
    }
    SECTION("more air than the driver takes") {
        box.request.driver->driver.displacement = Volume::litres(20);
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("box: its air is ") == 0);
    }
    SECTION("no ring") {
        box.request.baffle.shape = BaffleShape::Ring;
        box.request.baffle.ring = {.height = Length::mm(8), .width = {}, .edge = Length::mm(1)};
        CHECK(refused(box).code == FaultCode::NotBuilt);
    }
}
