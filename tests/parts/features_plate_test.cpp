#include "tests/parts/features_bodies.h"

#include "geom/fixings/threads.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/internal/disc_hull.h"
#include "geom/parts/mount_plate.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

/// A plate behind the box, whose back lies in y = 160: bolts to both sides of the middle.
MountPlate behind() {
    MountPlate plate;
    plate.name = "rear plate";
    plate.points = {{-85, 0, 20}, {85, 0, 20}, {0, 0, -80}};
    plate.axis = {0, 1, 0};
    plate.thread = "M8";
    plate.use.head = fixings::HeadKind::Countersunk;
    plate.thickness = Length::mm(6);
    return plate;
}

/// The box with the plate put where the box's back is its face.
Case with_plate(MountPlate plate, double clearance = 4.0) {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.room.clearance = Length::mm(clearance);
    const PlatePlace place = require(plate_place(plate, box.request));
    for (Point3& p : plate.points) p.y = 160.0 + place.face_mm();
    box.request.plates.push_back(plate);
    return box;
}

}  // namespace

TEST_CASE("the hull of discs has the area and length of closed forms", "[parts][plate][oracle]") {
    SECTION("equal discs: Steiner's formula") {
        const std::vector<Disc> discs{{{0, 0}, 10}, {{100, 0}, 10}, {{100, 60}, 10}, {{0, 60}, 10}, {{50, 30}, 10}};
        const FlatPath hull = hull_of(discs);
        CHECK(area_mm2(hull) == Approx(100 * 60 + 320 * 10 + kPi * 100).epsilon(1e-12));
        CHECK(length_mm(hull) == Approx(320 + 2 * kPi * 10).epsilon(1e-12));
        CHECK(depth_in_hull(discs, {50, -10}) == Approx(0).margin(1e-9));
        CHECK(depth_in_hull(discs, {0, 0}) == Approx(10).epsilon(1e-9));
    }
    SECTION("two unequal discs: the belt round two pulleys") {
        const double r1 = 20, r2 = 8, c = 50, a = std::asin((r1 - r2) / c), l = c * std::cos(a);
        const FlatPath hull = hull_of({{{0, 0}, r1}, {{c, 0}, r2}});
        CHECK(length_mm(hull) == Approx(2 * l + r1 * (kPi + 2 * a) + r2 * (kPi - 2 * a)).epsilon(1e-12));
        CHECK(area_mm2(hull) ==
              Approx((r1 + r2) * l + r1 * r1 * (kPi / 2 + a) + r2 * r2 * (kPi / 2 - a)).epsilon(1e-12));
    }
    SECTION("three in a row, and one that holds all") {
        CHECK(area_mm2(hull_of({{{0, 0}, 5}, {{30, 0}, 5}, {{60, 0}, 5}})) ==
              Approx(60 * 10 + kPi * 25).epsilon(1e-12));
        CHECK(area_mm2(hull_of({{{0, 0}, 40}, {{10, 0}, 5}})) == Approx(kPi * 1600).epsilon(1e-12));
    }
}

TEST_CASE("a plate is one sound solid of its outline's area by its thickness, with ISO holes",
          "[parts][plate][oracle]") {
    const Case box = with_plate(behind());
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const Product& plate = enclosure.products.back();
    CHECK(plate.name == "rear plate");
    CHECK(plate.on_vehicle);
    CHECK(plate.material.name == "aluminium 5754");
    REQUIRE(enclosure.flats.size() == 1);
    // Prism less the cones: pi h / 3 (R^2 + R r + r^2) - pi r^2 h, three times.
    const double h = (17.92 - 9.0) / 2, r = 4.5, big = 8.96;
    const double cones = 3 * (kPi * h / 3 * (big * big + big * r + r * r) - kPi * r * r * h);
    CHECK(volume_mm3(plate.solid) == Approx(area_mm2(enclosure.flats[0]) * 6 - cones).epsilon(1e-9));
    // Bolts: measured, and their edge distance of 2 d in metal.
    REQUIRE(enclosure.fixings.size() == 3);
    for (const FixingMade& f : enclosure.fixings) {
        CHECK(f.kind == FixingKind::Plate);
        CHECK(f.measured_hole_mm == Approx(9.0).margin(1e-9));
        CHECK(f.measured_off_axis_mm < 1e-9);
        CHECK(f.edge_wanted_mm == 16.0);
        CHECK(f.edge_distance_mm >= 16.0 - 1e-6);
        CHECK(f.bolt.step == Step::PlateOnVehicle);
        CHECK(f.bolt.head_seat.y == Approx(160));
    }
}

TEST_CASE("screws from inside go through the wall where they are reached through the cut-out",
          "[parts][plate][oracle]") {
    for (const double clearance : {4.0, 12.0}) {  // the box on the plate itself, and on pads
        CAPTURE(clearance);
        const Case box = with_plate(behind(), clearance);
        const double stand = clearance > 5 ? clearance + 1 - 6 : 0;
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 2);
        REQUIRE(enclosure.screws.size() >= 4);
        std::vector<BoltMade> screws;
        for (const BoltMade& s : enclosure.screws)
            if (s.step == Step::BoxOnPlate) screws.push_back(s);
        REQUIRE(screws.size() == 4);
        for (const BoltMade& s : screws) {
            // Inner face at y = 154; the tool's cylinder within the cut-out's of 72.5.
            CHECK(s.head_seat.y == Approx(154));
            CHECK(std::hypot(s.head_seat.x, s.head_seat.z) <= 72.5 - s.tool.diameter.mm() / 2 + 1e-6);
            for (const FixingMade& f : enclosure.fixings)
                CHECK(std::hypot(s.head_seat.x - f.point.x, s.head_seat.z - f.point.z) >= 7.5 + 8.96 + 1 - 1e-6);
            for (const BoltMade& other : screws)
                if (&other != &s) CHECK(distance(other.head_seat, s.head_seat) >= 18);
        }
        // Clearance holes of M6 through wall and pad, tapped ones in the plate on the same axes.
        const auto through = cylinders(enclosure.products[0].solid, 3.3);
        const auto tapped = cylinders(enclosure.products.back().solid, 2.5);
        REQUIRE(through.size() == 4);
        REQUIRE(tapped.size() == 4);
        for (const Cylinder& c : through) {
            CHECK(c.area_mm2 == Approx(2 * kPi * 3.3 * (6 + stand)).epsilon(1e-9));
            CHECK(std::any_of(tapped.begin(), tapped.end(),
                              [&](const Cylinder& t) { return distance(t.at, c.at) < 1e-6; }));
        }
        CHECK(cylinders(enclosure.products[0].solid, 7.5).size() == (stand > 0 ? 4 : 0));
        // Box and plate touch and no more: the box ends at the plate's upper face.
        const TriMesh shell = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
        double deepest = -1e300;
        for (const Point3& v : shell.vertices) deepest = std::max(deepest, v.y);
        CHECK(deepest == Approx(160 + stand).margin(1e-6));
        // Their heads are in the ledger: M6, 10.22 by 6, with a washer of 12 by 1.6.
        const auto line = std::find_if(enclosure.ledger.begin(), enclosure.ledger.end(),
                                       [](const LedgerLine& l) { return l.name == "heads of the screws into plates"; });
        REQUIRE(line != enclosure.ledger.end());
        CHECK(line->litres < -4 * kPi / 4 * 100 * 6 * 1e-6);
        CHECK(line->litres > -4 * kPi / 4 * (10.3 * 10.3 * 6 + 144 * 1.6) * 1e-6);
    }
}

TEST_CASE("a plate's drawing shows what its solid has", "[parts][plate]") {
    MountPlate plate = behind();
    plate.use.slot = fixings::Slot{{0, 0, 1}, Length::mm(6)};
    plate.use.head = fixings::HeadKind::Button;
    const Case box = with_plate(plate);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const FlatDrawing& drawing = enclosure.flats.at(0);
    CHECK(drawing.paths.size() == 4);  // outline and three slots
    CHECK(drawing.circles.size() == 4);
    CHECK(volume_mm3(enclosure.products.back().solid) == Approx(area_mm2(drawing) * 6).epsilon(1e-9));
}

TEST_CASE("the room's limit lies over bolt heads and clearance, the plate's face is what is judged", "[parts][plate]") {
    MountPlate plate = behind();
    EnclosureRequest request = rounded_box().request;
    request.room.clearance = Length::mm(4);
    const auto height = [&] {
        request.plates = {plate};
        const EnclosureRequest limited = require(with_plate_limits(request));
        REQUIRE(limited.room.limits.size() == 1);
        CHECK(limited.room.limits[0].plane.outward.y == Approx(1));
        return -limited.room.limits[0].plane.point.y;
    };
    CHECK(height() == Approx(6));  // flush heads, 6 > 4 + 1
    plate.thickness = Length::mm(4.5);
    CHECK(height() == Approx(5));
    plate.use.head = fixings::HeadKind::Hexagon;
    CHECK(height() == Approx(4.5 + 5.3 + 1.6 + 1));
    EnclosureRequest limited = require(with_plate_limits(request));
    limits_at_plates(limited);
    CHECK(-limited.room.limits[0].plane.point.y == Approx(4.5));
}

TEST_CASE("a floating edge keeps its gap, screws stand aside of it", "[parts][plate]") {
    MountPlate plate = behind();
    plate.floating.push_back({"flap", {{0, 0, 60}, {0, 0, 1}}, Length::mm(3)});
    const Enclosure enclosure = made(with_plate(plate));
    const TriMesh mesh = require(measure::tessellate(enclosure.products.back().solid, Length::mm(0.05), {}));
    for (const Point3& v : mesh.vertices) CHECK(v.z <= 57 + 1e-6);
    // The gap taken from a bolt.
    plate.floating[0].plane.point.z = 36;
    CHECK(refused(with_plate(plate)).what ==
          "fixing \"rear plate\": the floating edge \"flap\" with its gap of 3 mm leaves a bolt 13.0 mm to the plate's "
          "edge, wanted 16.0");
}

TEST_CASE("lugs beside the box stand on the plate with their webs, screws and clear of bolt heads",
          "[parts][plate][oracle]") {
    // A plate under the box, whose bottom lies in z = -105; nothing else near.
    MountPlate plate = behind();
    plate.name = "floor plate";
    plate.axis = {0, 0, -1};
    plate.through = MountPlate::Through::Rim;
    plate.use.head = GENERATE(fixings::HeadKind::Countersunk, fixings::HeadKind::Hexagon);
    plate.use.has_washer = plate.use.head == fixings::HeadKind::Hexagon;
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    plate.points = {{-60, 50, 0}, {60, 50, 0}, {0, 120, 0}};
    const PlatePlace place = require(plate_place(plate, box.request));
    for (Point3& p : plate.points) p.z = -105 - place.face_mm();
    const double top = -105 - place.stand_mm;
    box.request.plates.push_back(plate);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    std::vector<BoltMade> screws;
    for (const BoltMade& s : enclosure.screws)
        if (s.step == Step::BoxOnPlate) screws.push_back(s);
    REQUIRE(screws.size() == 4);
    REQUIRE(enclosure.seats.size() == 4);
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(enclosure.seats[i].at.z == Approx(top));
        CHECK(screws[i].head_seat.z > top + 5);
        // Beside the box, its tool clear of it.
        const Point3 p = screws[i].head_seat;
        const double dx = std::max(std::abs(p.x) - 102, 0.0), dy = std::max(std::abs(p.y - 80) - 72, 0.0);
        CHECK(std::hypot(dx, dy) >= 8 + screws[i].tool.diameter.mm() / 2 - 0.3);
        for (std::size_t j = 0; j < i; ++j) CHECK(distance(p, screws[j].head_seat) > 60);
    }
    CHECK(cylinders(enclosure.products[0].solid, 3.3).size() == 4);
    CHECK(cylinders(enclosure.products.back().solid, 2.5).size() == 4);
    const TriMesh shell = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
    double lowest = 1e300;
    for (const Point3& v : shell.vertices) lowest = std::min(lowest, v.z);
    CHECK(lowest == Approx(top).margin(1e-6));
    CHECK(enclosure.fixings.size() == 3);
}

TEST_CASE("a plate that cannot be is refused with place and number", "[parts][plate][fault]") {
    SECTION("points off one plane") {
        Case box = with_plate(behind());
        box.request.plates[0].points[1].y += 1.2;
        CHECK(refused(box).what ==
              "fixing \"rear plate\": its points lie up to 0.8 mm off one plane square to its axis, wanted within 0.5");
    }
    SECTION("a countersunk head deeper than the plate") {
        Case box = with_plate(behind());
        box.request.plates[0].thickness = Length::mm(4);
        CHECK(refused(box).what ==
              "fixing \"rear plate\": a countersunk M8 wants a cone 4.5 mm deep, and the plate has 4 mm");
    }
    SECTION("a face that does not look at the baffle") {
        MountPlate plate = behind();
        plate.points = {{-80, 60, -111}, {80, 60, -111}};
        plate.axis = {0, 0, -1};
        Case box = rounded_box();
        box.request.driver = mounted(woofer());
        box.request.plates.push_back(plate);
        const Fault fault = refused(box);
        CHECK(fault.what.find("does not look at the baffle") != std::string::npos);
        CHECK(fault.hint.find("through = \"rim\"") != std::string::npos);
    }
    SECTION("more screws than the cut-out lets reach") {
        Case box = with_plate(behind());
        box.request.plates[0].screws = 24;
        CHECK(refused(box).what.find("24 M6 screws find places") != std::string::npos);
    }
    SECTION("a vehicle that rises into it") {
        const Case box = with_plate(behind());
        scan::Surface surface;
        for (double x = -200; x <= 200; x += 4)
            for (double z = -200; z <= 200; z += 4)
                surface.points.push_back({x, std::hypot(x - 30, z + 25) < 6 ? 162.0 : 166.0, z});
        CHECK(refused(box, &surface).what.find("rises 4.0 mm into the plate") != std::string::npos);
    }
}
