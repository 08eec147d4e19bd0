// Drivers from behind and turned round, judged against things at known distances. The test part's baffle lies in y = 0
// and looks to -y, its inner face in y = 12; the cut-out of radius 50 is about (100, 0, 60), the inner walls at x = 6
// and 194, z = 6 and 114, y = 154.
#include "tests/check/case.h"

using namespace shapes;
using Catch::Contains;
using geom::Length;
using geom::Point3;
using geom::check::CheckLine;
using geom::check::Verdict;
using geom::parts::BoltMade;
using geom::parts::Step;

namespace {

/// A flange of 4; 70 deep, basket 98, magnet 80 across.
TestPart with(bool from_behind, bool is_turned) {
    TestPart part;
    geom::parts::DriverMount& mount = *part.request.driver;
    mount.from_behind = from_behind;
    mount.is_turned = is_turned;
    mount.driver.flange_thickness = Length::mm(4);
    mount.driver.flange_diameter = Length::mm(103);
    if (from_behind) {
        part.made.enclosure.seat_plane.point.y = 12;
        part.made.enclosure.driver_seats = {part.made.enclosure.seat_plane};
    }
    return part;
}

void put(TestPart& part, geom::space::KeepOutShape shape) {
    geom::space::KeepOut keep_out;
    keep_out.name = "arm";
    keep_out.shape = std::move(shape);
    part.request.room.keep_outs.push_back(std::move(keep_out));
}

/// A screw on a circle about the driver's axis, its tool 12 across.
CheckLine access_of(TestPart part, double radius, double y, geom::Vec3 axis, Step step) {
    BoltMade b;
    b.name = "driver screw 1";
    b.thread = "M4";
    b.head_seat = {100 + radius, y, 60};
    b.axis = axis;
    b.tool = {Length::mm(12), Length::mm(100)};
    b.hole.hole_mm = 4.5;
    b.step = step;
    b.product = "baffle";
    part.made.enclosure.screws = {b};
    part.made.enclosure.fixings.clear();
    const geom::check::Written written;
    geom::check::Case c = bare_case(part, written);
    Verdict verdict;
    geom::check::check_access(c, verdict);
    return verdict.lines.at(0);
}

}  // namespace

TEST_CASE("a magnet before the box is met as closed forms say", "[check][stance][oracle]") {
    TestPart part = with(false, true);
    const char* beside = "driver, its magnet before the box";
    const char* behind = "driver, air behind its magnet";
    SECTION("by a block straight before it") {
        // The magnet ends 4 + 70 before the baffle.
        put(part, geom::space::BoxShape{{80, -95, 40}, {120, -80, 80}});
        const Verdict v = require(part.judged("stance"));
        CHECK(line(v, beside).value == Approx(6).margin(0.006));
        CHECK(line(v, beside).ok);
        CHECK(line(v, behind).value == Approx(-4).margin(0.006));
        CHECK_FALSE(line(v, behind).ok);
        CHECK_THAT(line(v, behind).note, Contains("keep-out \"arm\""));
    }
    SECTION("by a rod beside its flange") {
        put(part, geom::space::BoxShape{{100 + 51.5 + 1.5, -3, 50}, {180, -1, 70}});
        const Verdict v = require(part.judged("stance"));
        CHECK(line(v, beside).value == Approx(1.5).margin(0.006));
        CHECK_FALSE(line(v, beside).ok);
        CHECK(line(v, behind).ok);
    }
    SECTION("by a limit before it") {
        part.request.room.limits = {{"lid", {{0, -90, 0}, {0, -1, 0}}, Length::mm(3), false}};
        const Verdict v = require(part.judged("stance"));
        CHECK(line(v, behind).value == Approx(90 - 74 - 10 - 3).margin(1e-6));
        CHECK(line(v, beside).ok);
    }
}

TEST_CASE("what stands before a driver is told of the way round that it has", "[check][stance]") {
    SECTION("turned: the magnet and air behind it") {
        TestPart part = with(false, true);
        part.request.baffle.grille_room = geom::parts::GrilleRoom{Length::mm(80), {}};
        const Verdict v = require(part.judged("stance"));
        const CheckLine& held = line(v, "grille room, the magnet and air behind it");
        CHECK(held.limit == Approx(4 + 70 + 10));
        CHECK_FALSE(held.ok);
        CHECK(v.driver_fit.front.is_magnet);
        part.request.baffle.grille_room->height = Length::mm(84);
        CHECK(line(require(part.judged("stance")), "grille room, the magnet and air behind it").ok);
    }
    SECTION("from behind: the cone, less the baffle it stands behind") {
        TestPart part = with(true, false);
        part.request.driver->driver.front_height = Length::mm(9);
        part.request.driver->driver.xmax = Length::mm(14);
        part.request.baffle.grille_room = geom::parts::GrilleRoom{Length::mm(10), {}};
        const Verdict v = require(part.judged("stance"));
        // 9 - 4 of front, 14 of travel, 2 between, 12 of it in the hole.
        CHECK(line(v, "grille room, the cone's travel").limit == Approx(9));
        CHECK(v.driver_fit.front.diameter_mm == Approx(100));
    }
}

TEST_CASE("in the box a driver from behind stands deeper, one that is turned has its cone there",
          "[check][stance][oracle]") {
    SECTION("from behind") {
        const Verdict v = require(with(true, false).judged("stance"));
        // Of the flange 51.5 to the wall above, 54 from the axis; behind the magnet 154 - 12 - 4 - 70.
        CHECK(line(v, "driver, body against the wall").value == Approx(2.5).margin(0.006));
        CHECK(line(v, "driver, air behind the magnet").value == Approx(68).margin(0.006));
    }
    SECTION("from behind, a flange too wide") {
        TestPart part = with(true, false);
        part.request.driver->driver.flange_diameter = Length::mm(112);
        CHECK(line(require(part.judged("stance")), "driver, body against the wall").value == Approx(-2).margin(0.02));
    }
    SECTION("turned") {
        TestPart part = with(false, true);
        part.request.driver->driver.xmax = Length::mm(20);
        const Verdict v = require(part.judged("stance"));
        CHECK(line(v, "driver, its cone's room in the box").value == Approx(4).margin(0.006));
        for (const CheckLine& l : v.lines) CHECK(l.name != "driver, air behind the magnet");
        // With less travel nothing comes out of the hole.
        part.request.driver->driver.xmax = Length::mm(6);
        const Verdict less = require(part.judged("stance"));
        for (const CheckLine& l : less.lines) CHECK(l.name != "driver, its cone's room in the box");
    }
    SECTION("turned, its cone against a wall that is near") {
        TestPart part = with(true, true);
        // 12 of baffle, 4 of flange, then 150 - 4 of front, 2 of travel, 2 between: 8 short of nothing.
        part.request.driver->driver.front_height = Length::mm(130);
        part.request.driver->driver.xmax = Length::mm(2);
        const Verdict v = require(part.judged("stance"));
        CHECK(line(v, "driver, its cone's room in the box").value ==
              Approx(std::min(4.0 - 1.5, 154.0 - (12 + 4 + 130 - 4 + 2 + 2))).margin(0.006));
    }
}

TEST_CASE("what cannot be judged is told so, and what nothing is near to is told as far", "[check][stance]") {
    TestPart part = with(false, true);
    part.surface.points.clear();
    const Verdict far = require(part.judged("stance"));
    CHECK(line(far, "driver, its magnet before the box").value == 500);
    CHECK_THAT(line(far, "driver, its magnet before the box").note, Contains("nothing within 500 mm"));
    part.request.driver->driver.mounting_depth.reset();
    CHECK_FALSE(line(require(part.judged("stance")), "driver, its magnet before the box").is_judged);
    TestPart usual = with(false, false);
    usual.request.driver->driver.mounting_depth.reset();
    CHECK_FALSE(line(require(usual.judged("stance")), "driver, body against the wall").is_judged);
    // A magnet that comes out of the back wall has no air behind it.
    usual.request.driver->driver.mounting_depth = Length::mm(200);
    const CheckLine behind = line(require(usual.judged("stance")), "driver, air behind the magnet");
    CHECK_FALSE(behind.ok);
    CHECK_THAT(behind.note, Contains("lies outside the box"));
}

TEST_CASE("beside its own screws a driver's basket is in the way of the tool", "[check][stance][access][oracle]") {
    const geom::Vec3 in{0, 1, 0}, out{0, -1, 0};
    const std::string basket = "a driver's basket or magnet";
    SECTION("from behind, on the bench") {
        TestPart part = with(true, false);
        put(part, geom::space::BoxShape{{140, 20, 40}, {180, 40, 80}});  // what stands in the vehicle is not there
        const CheckLine free = access_of(part, 58, 16, out, Step::DriverBehindBaffle);
        CHECK(free.value == Approx(58 - 49 - 6).margin(0.05));  // the basket is a little narrower above the head
        CHECK_THAT(free.note, Contains(basket) && Contains("the baffle on the bench"));
        CHECK_FALSE(access_of(part, 53, 16, out, Step::DriverBehindBaffle).ok);
    }
    SECTION("turned, from the front") {
        const CheckLine blocked = access_of(with(false, true), 53, -4, in, Step::DriverOnBaffle);
        CHECK(blocked.value == Approx(53 - 49 - 6).margin(0.05));
        CHECK_FALSE(blocked.ok);
    }
    SECTION("the usual way it stands behind the baffle") {
        CHECK(access_of(with(false, false), 53, -4, in, Step::DriverOnBaffle).ok);
    }
    SECTION("from behind and turned: beside the cone nothing stands") {
        CHECK(access_of(with(true, true), 53, 16, out, Step::DriverBehindBaffle).ok);
        // But before the baffle the basket does, beside the baffle's own screws.
        CHECK_FALSE(access_of(with(true, true), 50, 0, in, Step::BaffleOnBox).ok);
    }
}
