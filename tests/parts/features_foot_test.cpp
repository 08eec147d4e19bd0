#include "tests/parts/features_bodies.h"

#include "geom/fixings/threads.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/triangle_tree.h"
#include "geom/scan/surface.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;
/// No metal sleeve: the hole is the bolt's own.
const fixings::BoltUse kBare{.metal_sleeve = false};

/// A level floor at `z` and a wall at x = `wall_x`, sampled every 3 mm.
scan::Surface room_surface(double z, double wall_x) {
    scan::Surface surface;
    for (double x = -220; x <= 220; x += 3)
        for (double y = -80; y <= 200; y += 3) surface.points.push_back({x, y, z});
    for (double h = z; h <= z + 200; h += 3)
        for (double y = -80; y <= 200; y += 3) surface.points.push_back({wall_x, y, h});
    return surface;
}

}  // namespace

TEST_CASE("a foot has an ISO 273 medium hole, its edge distance and a web that is measured by cuts",
          "[parts][features][foot][oracle]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        box.request.feet.push_back(
            {.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        box.request.feet.push_back(
            {.name = "right", .point = {140, 60, -95}, .axis = {0, 0, -1}, .thread = "M6", .use = kBare});
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        REQUIRE(enclosure.fixings.size() == 2);
        for (const FixingMade& foot : enclosure.fixings) {
            CAPTURE(foot.name);
            const fixings::Thread thread = *fixings::find_thread(foot.thread);
            CHECK(foot.hole_mm == thread.hole_medium_mm);
            CHECK(foot.edge_distance_mm >= 3 * thread.d_mm);
            CHECK(foot.web_wanted_mm2 == 3 * thread.d_mm * 2 * 6);
            CHECK(foot.web_section_mm2 >= foot.web_wanted_mm2);
            // The seat's hole: square to the face, through the pad of 1.2 d.
            const auto holes = cylinders(enclosure.products[0].solid, thread.hole_medium_mm / 2);
            REQUIRE(holes.size() == 1);
            CHECK(distance(holes[0].at, {foot.point.x, foot.point.y, 0}) < 1e-6);
            CHECK(holes[0].area_mm2 == Approx(kPi * thread.hole_medium_mm * 1.2 * thread.d_mm).epsilon(1e-6));
        }
    }
}

TEST_CASE("the web's section agrees with an independent section of the whole part", "[parts][features][foot][oracle]") {
    // A plane square to the arm, outside the box, cuts nothing but the arm.
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "left", .point = {-160, 80, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
    const Enclosure enclosure = made(box);
    double least = 1e300;
    for (const double x : {-134.0, -125.0, -115.0}) {
        const auto section = require(measure::section(enclosure.products[0].solid, {{x, 0, 0}, {1, 0, 0}}));
        least = std::min(least, section.area.mm2());
    }
    CHECK(enclosure.fixings[0].web_section_mm2 == Approx(least).epsilon(1e-6));
    CHECK(least >= 288);
}

TEST_CASE("the bolt has straight room for washer and socket above its seat", "[parts][features][foot][oracle]") {
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
    const Brep shell = made(box).products[0].solid;
    // 20.5 wide (socket 18.5 + 2), from 1.2 d = 9.6 up: nothing stands in it.
    const auto access = cylinders(shell, 10.25);
    REQUIRE(access.size() == 1);
    CHECK(distance(access[0].at, {-150, 80, 0}) < 1e-6);
    const TriMesh mesh = require(measure::tessellate(shell, Length::mm(0.02), {}));
    bool is_seat_there = false;
    for (const Point3& v : mesh.vertices) {
        if (std::hypot(v.x + 150, v.y - 80) > 10.25 - 1e-3) continue;
        CHECK(v.z <= -95 + 9.6 + 1e-4);
        is_seat_there |= v.z > -95 + 9.6 - 1e-4;
    }
    CHECK(is_seat_there);
}

TEST_CASE("a foot stands with a flat seat on the face and keeps the clearance elsewhere", "[parts][features][foot]") {
    Case box = rounded_box();
    box.request.room.covering = Length::mm(2);
    box.request.feet.push_back(
        {.name = "left", .point = {-150, 80, -112}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
    const scan::Surface floor = room_surface(-112, -200);
    const Enclosure enclosure = made(box, &floor);
    check_sound(box, enclosure, 1);
    const TriMesh mesh = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
    double lowest = 1e300;
    for (const Point3& v : mesh.vertices) {
        lowest = std::min(lowest, v.z);
        if (std::hypot(v.x + 150, v.y - 80) > 24.5 + 0.1) CHECK(v.z >= -112 + 6.0 - 1e-6);
    }
    CHECK(lowest == Approx(-112).margin(1e-9));
}

TEST_CASE("an arm is lifted over what rises a little under it", "[parts][features][foot]") {
    // A ledge 0.7 mm high between seat and box, sampled every 3 mm: with the arm at the clearance from the seat's face
    // it would be that much too near.
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "left", .point = {-170, 80, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
    scan::Surface floor = room_surface(-95, -230);
    std::erase_if(floor.points, [](Point3 p) { return p.x > -116; });  // the box stands there
    for (Point3& p : floor.points)
        if (p.z == -95 && p.x > -138) p.z += 0.7;
    const Enclosure enclosure = made(box, &floor);
    check_sound(box, enclosure, 1);
    const TriMesh mesh = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
    const measure::TriangleTree tree(mesh);
    for (const Point3& p : floor.points)
        if (p.x > -138) CHECK(tree.nearest(p).distance_mm >= 4.0 - 1e-6);
}

TEST_CASE("a foot keeps the clearance beside its bolt however thick the wall is", "[parts][features][foot][oracle]") {
    // A wall beside the bolt that leans over the pad: 33 mm from the hole's axis at the face, 26.6 mm at a height
    // of 40. A pad as high as an arm of twice 8.26 mm would come 1 mm too near.
    for (const double wall : {6.0, 8.26, 9.5}) {
        CAPTURE(wall);
        Sizes sizes;
        sizes.wall = wall;
        Case box = rounded_box(sizes);
        box.request.wall = Length::mm(wall);
        box.request.room.covering = Length::mm(2);
        const Point3 bolt{-150, 80, -109};
        box.request.feet.push_back({.name = "left", .point = bolt, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        scan::Surface around = room_surface(bolt.z, -230);
        for (double up = 0.0; up <= 40.0; up += 1.0)
            for (double x = -220; x <= -110; x += 3)
                around.points.push_back({x, bolt.y + 33.0 - 0.16 * up, bolt.z + up});
        const Enclosure enclosure = made(box, &around);
        check_sound(box, enclosure, 1);
        const FixingMade& foot = enclosure.fixings[0];
        CHECK(foot.web_wanted_mm2 == Approx(24 * 2 * wall));
        CHECK(foot.web_section_mm2 >= foot.web_wanted_mm2);
        const measure::TriangleTree tree(
            require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.02), {})));
        double least = 1e300;
        for (const Point3& p : around.points) {
            const bool on_seat = p.z - bolt.z <= 6.0 + 1.0 && std::hypot(p.x - bolt.x, p.y - bolt.y) <= 24.5 + 7.0;
            if (!on_seat && p.x < -120) least = std::min(least, tree.nearest(p).distance_mm);
        }
        CHECK(least >= 6.0 - 1e-3);
        CHECK(least < 7.0);
    }
}

TEST_CASE("feet before the box and beside a separate baffle are made", "[parts][features][foot]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    SECTION("before an integral baffle") {
        box.request.feet.push_back(
            {.name = "front, left", .point = {-60, -40, -109}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        box.request.feet.push_back(
            {.name = "front, right", .point = {60, -40, -109}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        check_sound(box, made(box), 1);
    }
    SECTION("beside, though the pad reaches before the plate's back") {
        box.request.baffle.separate = true;
        box.request.feet.push_back(
            {.name = "left", .point = {-150, 30, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 2);
        CHECK(cylinders(enclosure.products[1].solid, 4.5).empty());
    }
    SECTION("not where the arm would hold a separate plate") {
        box.request.baffle.separate = true;
        box.request.feet.push_back(
            {.name = "front", .point = {-60, -40, -109}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
        CHECK(refused(box).what ==
              "fixing \"front\": its arm would hold the separate baffle too, wanted an arm to the shell behind it");
    }
}

TEST_CASE("a foot that cannot be is refused with place and number", "[parts][features][foot][fault]") {
    Case box = rounded_box();
    const auto foot = [&](Point3 point, const char* thread = "M8") {
        box.request.feet = {{.name = "left", .point = point, .axis = {0, 0, -1}, .thread = thread, .use = kBare}};
    };
    SECTION("too far") {
        foot({-260, 80, -95});
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what == "fixing \"left\": cannot reach its point: the box is 150 mm away, wanted at most 96");
        REQUIRE(fault.where);
        CHECK(*fault.where == Point3{-260, 80, -95});
    }
    SECTION("below the box") {
        foot({-150, 80, -160});
        CHECK(refused(box).what.find("fixing \"left\": cannot reach its point: ") == 0);
    }
    SECTION("inside the box") {
        foot({-80, 80, -95});
        CHECK(refused(box).what ==
              "fixing \"left\": the point lies 10.0 mm inside the box, wanted on the vehicle's face outside it");
    }
    SECTION("under the box") {
        foot({-80, 80, -110});
        CHECK(refused(box).what ==
              "fixing \"left\": the box stands in the bolt's way 6 mm above the face, wanted 49.6 mm of straight room "
              "20.5 mm wide for washer and socket");
    }
    SECTION("on a wall of the vehicle") {
        foot({-150, 80, -109});
        const scan::Surface narrow = room_surface(-109, -165);
        const Fault fault = refused(box, &narrow);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what ==
              "fixing \"left\": the vehicle stands in the way of its pad or arm by 7.6 mm, wanted 4 mm clear of it");
    }
    SECTION("off the scanned face") {
        foot({-150, 80, -95});
        const scan::Surface floor = room_surface(-109, -210);
        const Fault fault = refused(box, &floor);
        CHECK(fault.what ==
              "fixing \"left\": the vehicle's face lies 14.0 mm behind the point along the bolt, wanted within 1.5");
        CHECK(fault.hint == "set the point to -150, 80, -109, or check the axis");
    }
    SECTION("in a keep-out") {
        foot({-150, 80, -95});
        box.request.room.keep_outs.push_back({.name = "buckle",
                                              .shape = space::SphereShape{{-160, 80, -80}, 20},
                                              .clearance = Length::mm(5),
                                              .covering = true});
        CHECK(refused(box).what.find("fixing \"left\": keep-out \"buckle\" stands in the way of its pad or arm by ") ==
              0);
    }
    SECTION("over a limit") {
        foot({-150, 80, -95});
        box.request.room.limits.push_back(
            {.name = "door", .plane = {{-160, 0, 0}, {-1, 0, 0}}, .clearance = Length::mm(0), .covering = true});
        CHECK(refused(box).what.find("fixing \"left\": limit \"door\" stands in the way of its pad or arm by ") == 0);
    }
    SECTION("before the driver") {
        box.request.driver = mounted(woofer(), {0, 0, -15});
        foot({0, -40, -109});
        CHECK(refused(box).what == "fixing \"left\": its pad or arm stands before the driver, wanted beside it");
    }
    SECTION("of an unknown thread") {
        foot({-150, 80, -95}, "M9");
        CHECK(refused(box).what == "thread: \"M9\" is not known");
    }
}

TEST_CASE("a foot in metal keeps two diameters to its edge, elsewhere three", "[parts][features][foot]") {
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8", .use = kBare});
    CHECK(made(box).fixings[0].edge_wanted_mm == 24);
    box.request.material = *find_material("aluminium 5754");
    const Enclosure metal = made(box);
    CHECK(metal.fixings[0].edge_wanted_mm == 16);
    CHECK(cylinders(metal.products[0].solid, 16.5).size() == 1);
}

namespace {

/// Area of what a bounded plane across the arm cuts out of the part: 60 mm wide, from the seat's plane up.
double section_beside_mm2(const Enclosure& enclosure, double x) {
    return require(measure::section(enclosure.products[0].solid, {{x, 0, 0}, {1, 0, 0}})).area.mm2();
}

}  // namespace

TEST_CASE("a long arm gets a gusset up the shell, a short one none", "[parts][features][foot][oracle]") {
    // M10, wall 5: an arm 30.5 wide and 10.5 high; one that stands out by more than 2.5 heights gets a rib 5 thick.
    Sizes sizes;
    sizes.wall = 5.0;
    for (const double x : {-195.0, -150.0}) {
        Case box = rounded_box(sizes);
        box.request.feet.push_back(
            {.name = "left", .point = {x, 80, -95}, .axis = {0, 0, -1}, .thread = "M10", .use = kBare});
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        const double bar = 30.5 * 10.5, near_shell = section_beside_mm2(enclosure, -111.0);
        if (x < -190.0) {
            // Between toe and shell the rib rises evenly; half the free way is its height at the shell.
            const double middle = section_beside_mm2(enclosure, -125.0);
            CHECK(near_shell > bar + 5.0 * 15.0);
            CHECK(middle > bar + 5.0 * 8.0);
            CHECK(middle < near_shell);
            CHECK((near_shell - middle) == Approx(5.0 * 14.0 * 0.5).epsilon(0.1));
            CHECK(cylinders(enclosure.products[0].solid, 5.5).size() == 1);
        } else {
            CHECK(near_shell == Approx(bar).epsilon(1e-6));
        }
    }
}

TEST_CASE("two feet whose pads nearly touch become one", "[parts][features][foot][oracle]") {
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "left", .point = {-150, 60, -95}, .axis = {0, 0, -1}, .thread = "M6", .use = kBare});
    box.request.feet.push_back(
        {.name = "right", .point = {-150, 102, -95}, .axis = {0, 0, -1}, .thread = "M6", .use = kBare});
    const auto between = [&](const Enclosure& enclosure) {
        // Across the bar, in the middle of the two, beside the box: x from -170 to -130.
        const TriMesh mesh = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
        const measure::TriangleTree tree(mesh);
        return tree.crossings({-150, 81, -97}, {0.001, 0.002, 1.0});
    };
    const Enclosure joined = made(box);
    check_sound(box, joined, 1);
    CHECK(between(joined) == 2);  // up through the bar and out of it
    CHECK(cylinders(joined.products[0].solid, 3.3).size() == 2);
    box.request.feet[1].point.y = 110;
    const Enclosure apart = made(box);
    check_sound(box, apart, 1);
    CHECK(between(apart) == 0);
    box.request.feet[1].point.y = 75;
    CHECK(refused(box).what ==
          "fixing \"left\": its bolt stands 15.0 mm from that of \"right\", wanted 16.5 for both sockets");
}

TEST_CASE("an arm goes round another foot's bolt", "[parts][features][foot]") {
    // The far foot lies straight behind the near one.
    Case box = rounded_box();
    box.request.feet.push_back(
        {.name = "near", .point = {-135, 80, -95}, .axis = {0, 0, -1}, .thread = "M4", .use = kBare});
    box.request.feet.push_back(
        {.name = "far", .point = {-165, 84, -95}, .axis = {0, 0, -1}, .thread = "M6", .use = kBare});
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const TriMesh mesh = require(measure::tessellate(enclosure.products[0].solid, Length::mm(0.05), {}));
    const measure::TriangleTree tree(mesh);
    // M4: a socket of 10 and 2 mm; six millimetres over the pad its room is a full ball.
    for (double h = 13.0; h < 40.0; h += 1.0) CHECK(tree.nearest({-135, 80, -95 + h}).distance_mm >= 5.9);
}

TEST_CASE("a foot's hole follows fit, play, slot, countersunk head and metal sleeve, measured on the B-rep",
          "[parts][features][foot][oracle]") {
    Case box = rounded_box();
    Foot foot{.name = "left", .point = {-155, 80, -95}, .axis = {0, 0, -1}, .thread = "M6", .use = kBare};
    const fixings::Thread m6 = *fixings::find_thread("M6");
    double hole = m6.hole_medium_mm, edge = 18.5, length = 1.2 * 6;  // the pad is as high as 1.2 d
    SECTION("fine") {
        foot.use.fit = fixings::Fit::Fine;
        hole = m6.hole_fine_mm;
    }
    SECTION("play") {
        foot.use.play = Length::mm(2);
        hole += 4;
        edge += 2;
    }
    SECTION("slot") {
        foot.use.slot = fixings::Slot{{0, 1, 0}, Length::mm(6)};
    }
    SECTION("countersunk") {
        foot.use.head = fixings::HeadKind::Countersunk;
        foot.use.has_washer = false;
        length -= (m6.countersunk.diameter_mm - hole) / 2;
    }
    SECTION("round a metal sleeve") {
        foot.use.metal_sleeve = true;
        hole += 3;
    }
    box.request.feet = {foot};
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const FixingMade& made = enclosure.fixings[0];
    CHECK(made.measured_hole_mm == Approx(hole).margin(1e-9));
    CHECK(made.hole_mm == Approx(hole));
    CHECK(made.measured_off_axis_mm < 0.01);
    CHECK(made.edge_distance_mm == Approx(edge).margin(0.2));
    CHECK(made.web_section_mm2 >= made.web_wanted_mm2);
    double area = 0.0;
    for (const Cylinder& c : cylinders(enclosure.products[0].solid, hole / 2)) area += c.area_mm2;
    CHECK(area == Approx(kPi * hole * length).epsilon(1e-6));
}

TEST_CASE("a foot of plastic is bored for the metal sleeve that takes the preload, one of metal is not",
          "[parts][features][foot]") {
    Case box = rounded_box();
    box.request.feet.push_back({.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8"});
    const Enclosure plastic = made(box);
    check_sound(box, plastic, 1);
    CHECK(plastic.fixings[0].has_metal_sleeve);
    CHECK(plastic.fixings[0].measured_hole_mm == Approx(12.0));  // 9 and twice 1.5
    const auto bores = cylinders(plastic.products[0].solid, 6.0);
    REQUIRE(bores.size() == 1);
    CHECK(bores[0].area_mm2 == Approx(kPi * 12.0 * 9.6));
    box.request.material = *find_material("aluminium 5754");
    const Enclosure metal = made(box);
    CHECK_FALSE(metal.fixings[0].has_metal_sleeve);
    CHECK(metal.fixings[0].measured_hole_mm == Approx(9.0));
}
