#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/mount_plate.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

/// A plate of 6 mm behind the box, whose back lies in y = 160, with bolts to both sides of the middle, turned beyond
/// x = 150 by a right angle: towards the box it lies on a wall in x = 162 there, away from it on one in x = 156.
MountPlate bent(double degrees) {
    MountPlate plate;
    plate.name = "rear plate";
    plate.points = {{-85, 166, 20}, {85, 166, 20}, {0, 166, -80}};
    plate.axis = {0, 1, 0};
    plate.use.head = fixings::HeadKind::Countersunk;
    plate.thickness = Length::mm(6);
    plate.bend = Bend{.at = {{150, 166, 0}, {1, 0, 0}}, .by = Angle::deg(degrees)};
    plate.bend->points = degrees > 0 ? std::vector<Point3>{{162, 130, -25}, {162, 130, 25}}
                                     : std::vector<Point3>{{156, 196, -25}, {156, 196, 25}};
    return plate;
}

Case with(const MountPlate& plate) {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.plates.push_back(plate);
    return box;
}

/// What a countersunk M8 takes more than its hole, and the hole itself: ISO 10642, ISO 273.
double cone_mm3() {
    const double h = (17.92 - 9.0) / 2, r = 4.5, big = 8.96;
    return kPi * h / 3 * (big * big + big * r + r * r) - kPi * r * r * h;
}

double bend_line_mm(const FlatDrawing& drawing) {
    for (const FlatPath& path : drawing.paths)
        if (path.operation == Operation::BendLine) return length_mm(path);
    return 0.0;
}

}  // namespace

TEST_CASE("a bent plate is one sound solid: its flats, and between them a sector by Pappus",
          "[parts][plate][bend][oracle]") {
    const double degrees = GENERATE(90.0, -90.0);
    CAPTURE(degrees);
    const MountPlate asked = bent(degrees);
    const Case box = with(asked);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const Product& plate = enclosure.products.back();
    REQUIRE(enclosure.flats.size() == 1);
    const FlatDrawing& drawing = enclosure.flats[0];
    // The bend is as wide as the discs of 2 d round the bolts beyond it.
    const double t = 6, inner = 6, width = 50 + 2 * 16;
    CHECK(bend_line_mm(drawing) == Approx(width).epsilon(1e-9));
    const double allowance = kPi / 2 * (inner + 0.44 * t),
                 sector = kPi / 4 * ((inner + t) * (inner + t) - inner * inner);
    CHECK(volume_mm3(plate.solid) ==
          Approx((area_mm2(drawing) - width * allowance) * t + width * sector - 5 * cone_mm3()).epsilon(1e-9));
    // Inside and outside of the bend are true cylinders about one axis.
    std::vector<Cylinder> about_bend;
    for (const double radius : {inner, inner + t})
        for (const Cylinder& c : cylinders(plate.solid, radius))
            if (std::abs(c.axis.z) > 0.5) about_bend.push_back(c);
    REQUIRE(about_bend.size() == 2);
    CHECK(distance(about_bend[0].at, about_bend[1].at) < 1e-9);
    for (const Cylinder& c : about_bend) CHECK(c.area_mm2 == Approx(kPi / 2 * c.radius_mm * width).epsilon(1e-9));
    // The bolts beyond the bend go in square to the wall there, with holes and edge distances as all others.
    REQUIRE(enclosure.fixings.size() == 5);
    int beyond = 0;
    for (const FixingMade& f : enclosure.fixings) {
        CHECK(f.measured_hole_mm == Approx(9.0).margin(1e-9));
        CHECK(f.measured_off_axis_mm < 1e-9);
        CHECK(f.edge_distance_mm >= 16.0 - 1e-6);
        if (std::abs(f.axis.y) > 0.5) continue;
        ++beyond;
        // Towards the box it lies on a wall outside it, away from the box on one between.
        CHECK(f.axis.x == Approx(degrees > 0 ? 1 : -1));
        CHECK(f.bolt.head_seat.x == Approx(degrees > 0 ? 156 : 162));
    }
    CHECK(beyond == 2);
}

TEST_CASE("a bent plate's blank has the holes where the sheet unrolls them", "[parts][plate][bend][oracle]") {
    const Enclosure enclosure = made(with(bent(90)));
    const FlatDrawing& drawing = enclosure.flats.at(0);
    // From hole to hole over the bend, along the neutral line: to the start of the bend, the bend, and on. The bolts
    // before it stand at x = 85, those beyond at y = 130, with the bend from x = 150 to y = 166 - 12.
    const double unrolled = (150 - 85) + kPi / 2 * (6 + 0.44 * 6) + (154 - 130);
    std::vector<double> apart;
    for (const FlatCircle& a : drawing.circles)
        for (const FlatCircle& b : drawing.circles)
            if (a.operation == Operation::Countersink && b.operation == Operation::Countersink)
                apart.push_back(std::hypot(a.x - b.x, a.y - b.y));
    for (const double across : {25.0 + 20.0, 25.0 - 20.0})
        CHECK(std::any_of(apart.begin(), apart.end(),
                          [&](double d) { return std::abs(d - std::hypot(unrolled, across)) < 1e-9; }));
}

TEST_CASE("a turned part without bolts is a stiffener of its length", "[parts][plate][bend][oracle]") {
    MountPlate plate = bent(60);
    plate.bend->points.clear();
    plate.bend->length = Length::mm(25);
    plate.bend->inner_radius = Length::mm(9);
    const Case box = with(plate);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    const FlatDrawing& drawing = enclosure.flats.at(0);
    const double width = bend_line_mm(drawing), a = kPi / 3, allowance = a * (9 + 0.44 * 6);
    const double sector = a / 2 * (15 * 15 - 9 * 9);
    CHECK(volume_mm3(enclosure.products.back().solid) ==
          Approx((area_mm2(drawing) - width * allowance) * 6 + width * sector - 3 * cone_mm3()).epsilon(1e-9));
    // Its end stands 25 mm off the end of the bend, along the direction it was turned to.
    const TriMesh mesh = require(measure::tessellate(enclosure.products.back().solid, Length::mm(0.02), {}));
    double farthest = -1e300;
    for (const Point3& v : mesh.vertices)
        farthest = std::max(farthest, (v.x - 150) * std::cos(a) + (166 - v.y) * std::sin(a));
    CHECK(farthest == Approx(15 * std::sin(a) + 25).margin(0.01));
}

TEST_CASE("the room ends at a part that is turned towards the box, and at its bend", "[parts][plate][bend]") {
    for (const double degrees : {30.0, 90.0, 110.0}) {
        CAPTURE(degrees);
        MountPlate plate = bent(degrees);
        plate.bend->points.clear();
        plate.bend->length = Length::mm(40);
        EnclosureRequest request = rounded_box().request;
        request.room.clearance = Length::mm(1);
        request.plates = {plate};
        const EnclosureRequest limited = require(with_plate_limits(request));
        REQUIRE(limited.room.limits.size() == 3);
        // Every place of the plate's side towards the box, straight or bent, is on the far side of a limit.
        const double a = degrees * kPi / 180;
        for (int i = 0; i <= 60; ++i)
            for (double z : {-50.0, 0.0, 50.0}) {
                const double s = a * i / 60;
                Point3 p{150 + 6 * std::sin(s), 166 - 12 + 6 * std::cos(s), z};
                if (i == 60) p += Vec3{std::cos(a), -std::sin(a), 0} * 20.0;
                double over = -1e300;
                for (const space::Limit& limit : limited.room.limits)
                    over = std::max(over, dot(p - limit.plane.point, limit.plane.outward));
                CHECK(over >= -1e-9);
                CHECK(over <= 6 * (1 - std::cos(a / 2)) + 1e-9);  // what a chord of the bend's inside leaves
            }
    }
    MountPlate away = bent(-90);
    EnclosureRequest request = rounded_box().request;
    request.plates = {away};
    CHECK(require(with_plate_limits(request)).room.limits.size() == 1);
}

TEST_CASE("what cannot be bent is refused with what to change", "[parts][plate][bend]") {
    MountPlate plate = bent(90);
    SECTION("bolts that the bend does not reach") {
        for (Point3& p : plate.bend->points) p.x = 165;
        const Fault fault = refused(with(plate));
        CHECK(fault.what ==
              "fixing \"rear plate\" bend turns the plate to where a bolt of it lies 3.0 mm off its face, "
              "wanted within 0.5");
        // Done as told, it is made.
        CHECK(fault.hint == "move its `at` by 3.0 mm along its outward, or check angle and bolts");
        plate.bend->at.point.x += 3.0;
        CHECK(made(with(plate)).fixings.size() == 5);
    }
    SECTION("a bolt in the bend's reach") {
        for (Point3& p : plate.bend->points) p.y = 140;  // 14 from its end; a hole of 9 wants 4.5 + 2 t
        CHECK(refused(with(plate)).what ==
              "fixing \"rear plate\": a bolt beyond the bend is 2.5 mm too near to where it ends");
    }
    SECTION("a board") {
        plate.material = find_material("MDF");
        REQUIRE(plate.material);
        CHECK(refused(with(plate)).what == "fixing \"rear plate\" bend is asked of MDF, wanted sheet metal");
    }
    SECTION("nothing beyond it") {
        plate.bend->points.clear();
        CHECK(refused(with(plate)).what ==
              "fixing \"rear plate\" bend has neither bolts nor a length, wanted one of them");
    }
    SECTION("too far round") {
        plate.bend->by = Angle::deg(150);
        CHECK(refused(with(plate)).what == "fixing \"rear plate\" bend is by 150 deg, wanted 5 to 120 either way");
    }
}
