// The space before the driver against things at known distances. The test part's driver sits about (100, 0, 60) in the
// plane y = 0 and looks to -y; its flange has a radius of 56.
#include "tests/check/case.h"

using namespace shapes;
using Catch::Contains;
using geom::Angle;
using geom::Length;
using geom::Point3;
using geom::TriMesh;
using geom::check::Verdict;

namespace {

constexpr double kFlange = 56.0;

TestPart with_room(double height) {
    TestPart part;
    part.request.baffle.grille_room = geom::parts::GrilleRoom{Length::mm(height), {}};
    return part;
}

void put(TestPart& part, geom::space::KeepOutShape shape, double clearance = 0.0) {
    geom::space::KeepOut keep_out;
    keep_out.name = "arm";
    keep_out.shape = std::move(shape);
    keep_out.clearance = Length::mm(clearance);
    part.request.room.keep_outs.push_back(std::move(keep_out));
}

TriMesh mesh_of_box(Point3 lo, Point3 hi) {
    TriMesh mesh;
    for (int i = 0; i < 8; ++i)
        mesh.vertices.push_back({i & 1 ? hi.x : lo.x, i & 2 ? hi.y : lo.y, i & 4 ? hi.z : lo.z});
    mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                      {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    return mesh;
}

const geom::check::CheckLine& room_line(const Verdict& v) {
    return line(v, "grille room");
}

}  // namespace

TEST_CASE("grille room is as far from what stands round it as closed forms say", "[check][front][oracle]") {
    TestPart part = with_room(12);
    double wanted = 0.0, margin = 1e-6;
    std::string what = "keep-out \"arm\"";
    SECTION("the gap's own samples") {
        // The nearest stand on the floor at z = -4.5, 2 behind the mouth, half a step beside the middle.
        wanted = std::hypot(std::hypot(0.5, 64.5) - kFlange, 2.0);
        what = "the scanned surface";
    }
    SECTION("a box straight before it") {
        put(part, geom::space::BoxShape{{80, -50, 40}, {120, -18, 80}});
        wanted = 6;
    }
    SECTION("less what the box asks for itself") {
        put(part, geom::space::BoxShape{{80, -50, 40}, {120, -18, 80}}, 2.5);
        wanted = 3.5;
    }
    SECTION("the same box as a mesh") {
        put(part, mesh_of_box({80, -50, 40}, {120, -18, 80}));
        wanted = 6;
    }
    SECTION("a box beside and before its rim") {
        put(part, geom::space::BoxShape{{159, -60, 40}, {190, -16, 80}});
        wanted = 5;  // 3 beside, 4 before
        margin = 0.006;
    }
    SECTION("a ball") {
        put(part, geom::space::SphereShape{{100, -40, 60}, 23});
        wanted = 5;
    }
    SECTION("a rod across") {
        put(part, geom::space::CylinderShape{{0, -30, 60}, {200, -30, 60}, 13});
        wanted = 5;
        margin = 0.011;
    }
    SECTION("a rod along, beside it") {
        put(part, geom::space::CylinderShape{{100, -40, 128}, {100, -2, 128}, 7});
        wanted = 5;
        margin = 0.011;
    }
    SECTION("a limit above it") {
        part.request.room.limits = {{"lid line", {{0, 0, 120}, {0, 0, 1}}, Length::mm(1), false}};
        wanted = 3;
        what = "limit \"lid line\"";
    }
    SECTION("a leaning limit") {
        // 30 degrees up and forward; the column's farthest rim is at the front, above.
        const double s = 0.5, c = std::sqrt(0.75);
        const Point3 rim{100, -12, 60 + kFlange};
        const geom::Vec3 out{0, -s, c};
        part.request.room.limits = {{"line", {rim + out * 4.0, out}, Length::mm(0), false}};
        wanted = 4;
        what = "limit \"line\"";
    }
    SECTION("a slide that comes nearer") {
        put(part, geom::space::BoxShape{{80, -50, 40}, {120, -38, 80}});
        part.request.room.keep_outs[0].motion = geom::space::Travel{{{0, 0, 0}, {0, 20, 0}}};
        part.request.room.keep_outs[0].on_way_in = geom::space::OnWayIn::None;
        wanted = 6 - 0.125;  // between the poses looked at it may be a quarter nearer
        margin = 0.13;
    }
    SECTION("a sheet without thickness, which has no inside to stand in") {
        TriMesh pane;
        pane.vertices = {{0, -60, -40}, {200, -60, -40}, {200, -60, 160}, {0, -60, 160}};
        pane.triangles = {{0, 1, 2}, {0, 2, 3}};
        put(part, pane);
        part.request.room.keep_outs[0].motion = geom::space::Travel{{{0, 0, 0}, {0, 40, 0}}};
        part.request.room.keep_outs[0].on_way_in = geom::space::OnWayIn::None;
        wanted = 8 - 0.125;
        margin = 0.13;
    }
    const Verdict v = require(part.judged("front"));
    CHECK(room_line(v).value == Approx(wanted).margin(margin));
    CHECK(room_line(v).ok);
    CHECK_THAT(room_line(v).note, Contains(what));
    CHECK(v.driver_fit.front.least_mm == room_line(v).value);
}

TEST_CASE("what stands in grille room fails it, with how much farther in the baffle would do", "[check][front]") {
    TestPart part = with_room(12);
    double wanted = 0.0, margin = 1e-6;
    std::string note = "no place of the baffle farther in";
    SECTION("a box reaching in") {
        put(part, geom::space::BoxShape{{80, -50, 40}, {120, -8, 80}});
        wanted = -4;
        note = "free with the baffle 4.0 mm farther in";
    }
    SECTION("a ball as a whole in it") {
        put(part, geom::space::SphereShape{{100, -4, 60}, 2});
        wanted = -6;
        note = "free with the baffle 10.0 mm farther in";
    }
    SECTION("it as a whole in a box") {
        put(part, geom::space::BoxShape{{0, -100, -40}, {200, -0.5, 160}});
        wanted = -11.5;
        margin = 100;
        note = "free with the baffle 11.5 mm farther in";
    }
    SECTION("more than the travel can give") {
        part.request.baffle.travel_lo_mm = -3;
        put(part, geom::space::BoxShape{{80, -50, 40}, {120, -8, 80}});
        wanted = -4;
    }
    SECTION("beside a limit nothing helps") {
        part.request.room.limits = {{"lid line", {{0, 0, 112}, {0, 0, 1}}, Length::mm(0), false}};
        wanted = -4;
    }
    SECTION("a sample of the scan") {
        part.add({100, -7, 80});
        wanted = -5;
        note = "free with the baffle 5.0 mm farther in";
    }
    SECTION("a swing through it") {
        // A plate 40 long hinged 60 before the seat: it stands across when swung by 90 degrees.
        put(part, geom::space::BoxShape{{98, -100, 50}, {102, -60, 70}});
        part.request.room.keep_outs[0].motion =
            geom::space::Swing{{100, -60, 60}, {1, 0, 0}, Angle::deg(0), Angle::deg(180)};
        part.request.room.keep_outs[0].on_way_in = geom::space::OnWayIn::None;
        // Its corners come to y = -60 + hypot(40, 10): 5.23 within a room of 24.
        part.request.baffle.grille_room->height = Length::mm(24);
        wanted = -5.23 - 0.125;  // between the poses looked at it may be a quarter nearer
        margin = 0.13;
        note = "wherever it has moved";
    }
    const Verdict v = require(part.judged("front"));
    CHECK(room_line(v).value == Approx(wanted).margin(margin));
    CHECK_FALSE(room_line(v).ok);
    CHECK_FALSE(v.fits());
    CHECK_THAT(room_line(v).note, Contains(note));
    CHECK(room_line(v).place);
}

TEST_CASE("grille room may be wider or narrower than the flange", "[check][front]") {
    TestPart part = with_room(12);
    part.request.baffle.grille_room->diameter = Length::mm(80);
    put(part, geom::space::BoxShape{{146, -60, 40}, {190, -4, 80}});
    CHECK(room_line(require(part.judged("front"))).value == Approx(6).margin(0.006));
    part.request.baffle.grille_room->diameter = Length::mm(100);
    CHECK(room_line(require(part.judged("front"))).value == Approx(-4).margin(0.006));

    SECTION("but not wider than the floor of a dish") {
        part.request.room.keep_outs.clear();
        geom::parts::DriverSeat seat;
        seat.centre = {100, 0, 60};
        seat.face_mm = 5, seat.face_radius_mm = 48, seat.foot_radius_mm = 53, seat.back_mm = 12;
        part.made.enclosure.seat = seat;
        const Verdict v = require(part.judged("front"));
        CHECK(room_line(v).value == Approx(-2));
        CHECK_THAT(room_line(v).note, Contains("the dish's own flank"));
    }
}

TEST_CASE("grille room is held to what the cone needs, where the driver's file says it", "[check][front]") {
    TestPart part = with_room(12);
    Verdict v = require(part.judged("front"));
    CHECK(line(v, "grille room, the cone's travel").ok);
    CHECK_THAT(line(v, "grille room, the cone's travel").note,
               Contains("front_height and xmax not given") && Contains("not judged"));
    CHECK(v.driver_fit.front.cone_is_estimated);
    CHECK(v.driver_fit.front.cone_needs_mm == Approx(0.05 * 112 + 0.04 * 100 + 2));

    part.request.driver->driver.front_height = Length::mm(5);
    part.request.driver->driver.xmax = Length::mm(6);
    v = require(part.judged("front"));
    CHECK(failed(v) == std::vector<std::string>{"grille room, the cone's travel"});
    CHECK(line(v, "grille room, the cone's travel").limit == Approx(13));
    part.request.baffle.grille_room->height = Length::mm(13);
    CHECK(failed(require(part.judged("front"))).empty());
}

TEST_CASE("what is free before the seat is told without being asked, and cautioned of where the cone needs more",
          "[check][front]") {
    TestPart part;
    part.request.driver->driver.front_height = Length::mm(5);
    part.request.driver->driver.xmax = Length::mm(6);
    Verdict v = require(part.judged("front"));
    CHECK(v.driver_fit.front.free_mm == 500);
    CHECK(v.driver_fit.front.met.empty());
    const auto cautioned = [&] {
        for (const auto& c : geom::check::cautions(part.request, v))
            if (c.name == "room before the cone") return true;
        return false;
    };
    CHECK_FALSE(cautioned());
    for (const auto& l : v.lines) CHECK(l.name.find("grille") == std::string::npos);

    put(part, geom::space::BoxShape{{80, -50, 40}, {120, -30, 80}});
    v = require(part.judged("front"));
    CHECK(v.driver_fit.front.free_mm == Approx(30).margin(0.02));
    CHECK(v.driver_fit.front.met == "keep-out \"arm\"");
    CHECK_FALSE(cautioned());

    part.request.room.keep_outs[0].shape = geom::space::BoxShape{{80, -50, 40}, {120, -10, 80}};
    v = require(part.judged("front"));
    CHECK(v.driver_fit.front.free_mm == Approx(10).margin(0.02));
    CHECK(cautioned());
}
