// Rings that are not a round cylinder on a round seat: volumes against closed forms and against sections that the
// test integrates itself; rules by what they leave; laws of moving and mirroring.
#include "tests/parts/features_bodies.h"
#include "tests/parts/plain_ring.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/ring.h"
#include "geom/space/field.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

Ring sound_ring(const RingRequest& request) {
    auto made = make_ring(request, {});
    if (!made) FAIL(made.error().what << " | " << made.error().hint);
    const auto solid = require(measure::measure_solid(made->product.solid, {}));
    CHECK(solid.valid);
    CHECK(solid.closed);
    CHECK(solid.solids == 1);
    for (const RingWeb& web : made->webs) CHECK(web.left_mm >= web.wanted_mm - 1e-9);
    return std::move(*made);
}

std::string refused(const RingRequest& request, FaultCode code = FaultCode::Impossible) {
    auto made = make_ring(request, {});
    REQUIRE_FALSE(made);
    CHECK(made.error().code == code);
    CHECK_FALSE(made.error().hint.empty());
    return made.error().what;
}

/// Volume of the material by its sections, Simpson in `steps` over [lo, hi] of z.
double by_sections(const Ring& ring, double lo, double hi, int steps) {
    double sum = 0.0;
    for (int i = 0; i <= steps; ++i) {
        const double z = std::clamp(lo + (hi - lo) * i / steps, lo + 1e-6, hi - 1e-6);
        const double area = require(measure::section(ring.product.solid, {{0, 0, z}, {0, 0, 1}})).area.mm2();
        sum += area * (i == 0 || i == steps ? 1.0 : i % 2 == 1 ? 4.0 : 2.0);
    }
    return sum * (hi - lo) / steps / 3.0;
}

RingOutline rounded_rectangle(double w, double h, double r) {
    return require(rounded_polygon({{-w / 2, -h / 2}, {w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}}, mm(r)));
}

}  // namespace

TEST_CASE("an outline's area is that of its closed form, either way round", "[parts][ring][oracle]") {
    CHECK(area_mm2(ellipse_outline(mm(200), mm(120))) == Approx(kPi * 100 * 60).epsilon(1e-12));
    CHECK(area_mm2(rounded_rectangle(200, 120, 20)) == Approx(200 * 120 - (4 - kPi) * 400).epsilon(1e-12));
    const std::vector<FlatPoint> half{{-50, 0, 0}, {50, 0, 1}};  // a half disc
    CHECK(area_mm2(require(path_outline(half))) == Approx(kPi * 1250).epsilon(1e-12));
    const std::vector<FlatPoint> turned{{50, 0, -1}, {-50, 0, 0}};
    CHECK(area_mm2(require(path_outline(turned))) != Approx(-kPi * 1250));
    CHECK_FALSE(path_outline({{0, 0, 0}, {10, 10, 0}, {10, 0, 0}, {0, 10, 0}}));  // crosses itself
    CHECK_FALSE(rounded_polygon({{0, 0, 0}, {100, 0, 0}, {0, 30, 0}}, mm(20)));   // no room for the radius
    CHECK_FALSE(rounded_polygon({{0, 0, 0}, {100, 0, 0}}, mm(2)));
}

TEST_CASE("straight rings on other outlines", "[parts][ring][oracle]") {
    RingRequest request = plain_ring();
    SECTION("oval") {
        request.seat.outside = ellipse_outline(mm(240), mm(200));
        CHECK(sound_ring(request).volume.mm3() == Approx(kPi * (120 * 100 - 70 * 70) * 20).epsilon(1e-6));
    }
    SECTION("oval, tilted along its width: the height over the axis is that of the plane") {
        request.seat.outside = ellipse_outline(mm(240), mm(200));
        request.bore = RingRequest::Bore::Seat;
        request.tilt = Angle::deg(15);
        request.tilt_towards = {1, 0, 0};
        request.height = mm(8);
        const double middle = 8 + 120 * std::tan(request.tilt.rad());
        const Ring ring = sound_ring(request);
        CHECK(ring.volume.mm3() == Approx(kPi * (120 * 100 - 70 * 70) * middle).epsilon(1e-6));
        CHECK(ring.most_height.mm() == Approx(8 + 240 * std::tan(request.tilt.rad())).epsilon(1e-12));
    }
    SECTION("oval, its width turned by 30 deg, tilted along it") {
        request.seat.outside = ellipse_outline(mm(240), mm(200), Angle::deg(30));
        request.bore = RingRequest::Bore::Seat;
        request.tilt = Angle::deg(15);
        request.tilt_towards = {std::cos(kPi / 6), std::sin(kPi / 6), 0};
        request.height = mm(8);
        const double middle = 8 + 120 * std::tan(request.tilt.rad());
        CHECK(sound_ring(request).volume.mm3() == Approx(kPi * (120 * 100 - 70 * 70) * middle).epsilon(1e-6));
    }
    SECTION("rounded rectangle: four planes and four cylinders") {
        request.seat.outside = rounded_rectangle(220, 200, 30);
        const Ring ring = sound_ring(request);
        CHECK(ring.volume.mm3() == Approx((220 * 200 - (4 - kPi) * 900 - kPi * 4900) * 20).epsilon(1e-6));
        const auto solid = require(measure::measure_solid(ring.product.solid, {}));
        CHECK(solid.plane_faces == 6);
        CHECK(solid.cylinder_faces == 5);
    }
    SECTION("an elliptic bore of an elliptic driver") {
        request.seat.outside = ellipse_outline(mm(260), mm(200));
        request.bore_outline = ellipse_outline(mm(200), mm(140));
        request.flange_outline = ellipse_outline(mm(230), mm(170));
        request.screws_at = {{100, 40, 0}};
        CHECK(sound_ring(request).volume.mm3() == Approx(kPi * (130 * 100 - 100 * 70) * 20).epsilon(1e-6));
    }
    SECTION("stepped") {
        request.step = RingStep{round_outline(mm(180)), mm(8)};
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(kPi * (100 * 100 * 8 + 90 * 90 * 12 - 70 * 70 * 20)).epsilon(1e-6));
    }
    SECTION("stepped and tilted, bored along the seat's axis") {
        request.step = RingStep{round_outline(mm(180)), mm(8)};
        request.bore = RingRequest::Bore::Seat;
        request.tilt = Angle::deg(10);
        request.tilt_towards = {0, 1, 0};
        request.height = mm(12);
        const double middle = 12 + 90 * std::tan(request.tilt.rad());
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(kPi * (100 * 100 * 8 + 90 * 90 * (middle - 8) - 70 * 70 * middle)).epsilon(1e-6));
    }
}

TEST_CASE("rings ruled between two outlines", "[parts][ring][oracle]") {
    RingRequest request = plain_ring();
    SECTION("two level circles: a cone") {
        request.front = round_outline(mm(180));
        const Ring ring = sound_ring(request);
        CHECK(ring.volume.mm3() ==
              Approx(kPi * 20 / 3 * (100 * 100 + 100 * 90 + 90 * 90) - kPi * 4900 * 20).epsilon(1e-6));
        CHECK(require(measure::measure_solid(ring.product.solid, {})).bspline_faces == 0);
    }
    SECTION("an oval seat and a round front, level: at each height an ellipse between the two") {
        request.seat.outside = ellipse_outline(mm(240), mm(200));
        request.front = round_outline(mm(180));
        // a = 120 - 30 v, b = 100 - 10 v; the mean of a b over v is a0 b0 + (a0 db + b0 da) / 2 + da db / 3.
        const double mean = 120.0 * 100 + (120 * -10 + 100 * -30) / 2.0 + 300 / 3.0;
        CHECK(sound_ring(request).volume.mm3() == Approx(kPi * (mean - 4900) * 20).epsilon(1e-6));
    }
    SECTION("an oval seat, a round tilted front: by sections") {
        request.seat.outside = ellipse_outline(mm(240), mm(200));
        request.front = round_outline(mm(180));
        request.tilt = Angle::deg(12);
        request.tilt_towards = {1, 0, 0};
        request.height = mm(10);
        const Ring ring = sound_ring(request);
        CHECK(ring.most_height.mm() == Approx(10 + 180 * std::sin(request.tilt.rad())).epsilon(1e-12));
        const double low = by_sections(ring, 0, 10, 8), high = by_sections(ring, 10, ring.most_height.mm(), 80);
        CHECK(ring.volume.mm3() == Approx(low + high).epsilon(2e-4));
    }
    SECTION("a rounded rectangle below, a circle above: by sections") {
        request.seat.outside = rounded_rectangle(220, 200, 40);
        request.front = round_outline(mm(184));
        const Ring ring = sound_ring(request);
        CHECK(ring.volume.mm3() == Approx(by_sections(ring, 0, 20, 16)).epsilon(1e-5));
    }
    SECTION("a bore from a round cut-out to a three-lobed opening") {
        std::vector<FlatPoint> lobes;
        for (int i = 0; i < 3; ++i) {
            const double a = kPi / 2 + 2 * kPi * i / 3;
            lobes.push_back({130 * std::cos(a), 130 * std::sin(a), 0});
        }
        request.seat.outside = round_outline(mm(230));
        request.seat.opening = require(rounded_polygon(lobes, mm(40)));
        request.bore = RingRequest::Bore::Opening;
        request.height = mm(30);
        const Ring ring = sound_ring(request);
        CHECK(ring.volume.mm3() == Approx(by_sections(ring, 0, 30, 20)).epsilon(1e-5));
        const double at_seat = require(measure::section(ring.product.solid, {{0, 0, 1e-7}, {0, 0, 1}})).area.mm2();
        CHECK(at_seat == Approx(kPi * 115 * 115 - area_mm2(*request.seat.opening)).epsilon(1e-5));
    }
    SECTION("what does not go round its middle is refused") {
        request.seat.outside =
            require(rounded_polygon({{50, -80, 0}, {250, -80, 0}, {250, 80, 0}, {50, 80, 0}}, mm(20)));
        CHECK(refused(request, FaultCode::BadJob).find("does not go round its middle") != std::string::npos);
    }
}

TEST_CASE("the air inside a ring is that between its seat and where the flange rests", "[parts][ring][oracle]") {
    RingRequest request = plain_ring();
    const double bore = kPi * 4900;
    const auto inside = [&] { return sound_ring(request).inside.mm3(); };
    SECTION("level") {
        CHECK(inside() == Approx(bore * 20).epsilon(1e-9));
    }
    SECTION("a flange let in takes its recess") {
        request.recess = mm(4);
        CHECK(inside() == Approx(bore * 16).epsilon(1e-9));
    }
    SECTION("a chamfer adds its frustum less the bore") {
        request.flare = RingFlare{RingFlare::Kind::Chamfer, mm(5)};
        CHECK(inside() == Approx(bore * 15 + kPi * 5 / 3 * (4900 + 70 * 75 + 5625)).epsilon(1e-9));
    }
    SECTION("tilted: of a slanting cylinder the length of its axis counts") {
        request.seat.outside = round_outline(mm(260));
        request.tilt = Angle::deg(12);
        request.tilt_towards = {1, 0, 0};
        const double middle = 20 + 130 * std::tan(request.tilt.rad());
        CHECK(inside() == Approx(bore * middle / std::cos(request.tilt.rad())).epsilon(1e-9));
        request.bore = RingRequest::Bore::Seat;
        CHECK(inside() == Approx(bore * middle).epsilon(1e-9));
        request.recess = mm(3);
        // About the middle of what the flange rests on, 3 mm behind the front face.
        CHECK(inside() == Approx(bore * (middle - 3 * std::cos(request.tilt.rad()))).epsilon(1e-9));
    }
    SECTION("what a lip holds is the vehicle's, and so is what lies behind") {
        request.seat.opening = round_outline(mm(152));
        request.lip = RingLip{mm(6)};
        CHECK(inside() == Approx(bore * 20).epsilon(1e-9));
    }
    SECTION("an elliptic bore") {
        request.seat.outside = ellipse_outline(mm(260), mm(200));
        request.bore_outline = ellipse_outline(mm(200), mm(140));
        request.flange_outline = ellipse_outline(mm(230), mm(170));
        CHECK(inside() == Approx(kPi * 100 * 70 * 20).epsilon(1e-6));
    }
    SECTION("with the door's air, less the driver's") {
        request.door_volume = Volume::litres(20);
        request.driver.displacement = Volume::litres(0.5);
        CHECK(sound_ring(request).air_behind->litres() == Approx(19.5 + bore * 20e-6).epsilon(1e-9));
    }
}

TEST_CASE("lip, recess, flare, grooves and rain lip take and give what closed forms say", "[parts][ring][oracle]") {
    RingRequest request = plain_ring();
    const double ring = kPi * (100 * 100 - 70 * 70) * 20;
    SECTION("a lip in a round opening") {
        request.seat.opening = round_outline(mm(152));
        request.lip = RingLip{mm(5), mm(0.5)};
        CHECK(sound_ring(request).volume.mm3() == Approx(ring + kPi * (75.5 * 75.5 - 70 * 70) * 5).epsilon(1e-6));
        request.seat.opening = round_outline(mm(142));
        CHECK(refused(request).find("the bore and the lip's outside") != std::string::npos);
        request.seat.opening.reset();
        CHECK(refused(request, FaultCode::BadJob).find("no opening") != std::string::npos);
    }
    SECTION("a lip in a rounded opening, set in by its play") {
        request.seat.opening = rounded_rectangle(160, 156, 30);
        request.lip = RingLip{mm(5), mm(0.5)};
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(ring + (159.0 * 155 - (4 - kPi) * 29.5 * 29.5 - kPi * 4900) * 5).epsilon(1e-6));
    }
    SECTION("a flange let in") {
        request.recess = mm(4);
        CHECK(sound_ring(request).volume.mm3() == Approx(ring - kPi * (85.5 * 85.5 - 70 * 70) * 4).epsilon(1e-6));
        request.driver.flange_diameter = mm(198);
        CHECK(refused(request).find("the flange's recess and the outside") != std::string::npos);
    }
    SECTION("chamfers and a round") {
        request.flare = RingFlare{RingFlare::Kind::Chamfer, mm(6)};
        const double cone = kPi * 6 / 3 * (76 * 76 + 76 * 70 + 70 * 70) - kPi * 4900 * 6;
        CHECK(sound_ring(request).volume.mm3() == Approx(ring - cone).epsilon(1e-6));
        request.flare = RingFlare{RingFlare::Kind::Round, mm(6)};
        // Pappus: a square less a quarter disc, its centre of area at r + f - x.
        const double quarter = kPi * 36 / 4, square = 36;
        const double x = (square * 3 - quarter * (6 - 4 * 6 / (3 * kPi))) / (square - quarter);
        CHECK(sound_ring(request).volume.mm3() == Approx(ring - 2 * kPi * (70 + x) * (square - quarter)).epsilon(1e-6));
        request.flare = RingFlare{RingFlare::Kind::Chamfer, mm(29)};
        CHECK(refused(request).find("flared mouth") != std::string::npos);
    }
    SECTION("grooves: 1.35 by 0.75 of the cord") {
        request.grooves = {{RingGroove::On::Seat, mm(4)}};
        const double in = 71.5, out = in + 5.4;
        CHECK(sound_ring(request).volume.mm3() == Approx(ring - kPi * (out * out - in * in) * 3).epsilon(1e-6));
        request.grooves.push_back({RingGroove::On::Front, mm(3)});
        const double front = in + 4.05;
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(ring - kPi * (out * out - in * in) * 3 - kPi * (front * front - in * in) * 2.25).epsilon(1e-6));
    }
    SECTION("a rain lip: a sector of a tube") {
        request.rain_lip = RainLip{mm(25), Angle::deg(140), mm(2.4)};
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(ring + kPi * (72.4 * 72.4 - 70 * 70) * 25 * 140 / 360).epsilon(1e-6));
    }
    SECTION("free area: a magnet in a deep ring wants a chamfer, and not every one can be had") {
        request.height = mm(60);
        request.driver.mounting_depth = mm(70);
        request.driver.basket_diameter = mm(138);
        request.driver.magnet_diameter = mm(100);
        request.driver.magnet_depth = mm(30);
        request.driver.sd = Area::mm2(13000);
        Ring made = sound_ring(request);
        REQUIRE(made.free_area);
        // At the seat, 60 deep: the magnet fills 100 of 140.
        CHECK(made.free_area->share == Approx(kPi * (70 * 70 - 50 * 50) / 13000).epsilon(1e-9));
        request.free_area = 0.55;
        made = sound_ring(request);
        CHECK(made.flare_mm == 0.0);
        request.free_area = 0.70;
        made = sound_ring(request);
        CHECK(made.flare_mm > 15.0);
        CHECK(made.free_area->share >= 0.70);
        request.free_area = 1.5;
        CHECK(refused(request).find("behind the cone") != std::string::npos);
    }
}

TEST_CASE("screws and heads of every kind", "[parts][ring][oracle]") {
    RingRequest request = plain_ring();
    request.driver.bolt_circle = mm(156);
    request.driver.bolt_count = 4;
    request.driver.bolt_thread = "M4";
    const double ring = kPi * (100 * 100 - 70 * 70) * 20;
    SECTION("wood screws") {
        request.hold = {DriverHold::Kind::WoodScrew, "4.0"};
        const auto screw = require(fixings::find_wood_screw("4.0"));
        const Ring made = sound_ring(request);
        const double deep = fixings::least_engagement(screw).mm() + 2;
        CHECK(made.volume.mm3() == Approx(ring - 4 * kPi * screw.pilot_mm * screw.pilot_mm / 4 * deep).epsilon(1e-6));
    }
    SECTION("through bolts with sunk nuts, on a tilted face too") {
        request.hold.kind = DriverHold::Kind::Through;
        const auto thread = require(fixings::find_thread("M4"));
        const double nut = std::max(thread.washer_outside_mm, thread.nut_corners_mm) / 2 + 0.5;
        const double deep = thread.nut_height_mm + thread.washer_thickness_mm, hole = thread.hole_medium_mm / 2;
        CHECK(sound_ring(request).volume.mm3() ==
              Approx(ring - 4 * kPi * (nut * nut * deep + hole * hole * (20 - deep))).epsilon(1e-6));
        request.tilt = Angle::deg(12);
        request.tilt_towards = {1, 0, 0};
        request.seat.outside = round_outline(mm(210));
        const Ring made = sound_ring(request);
        for (const RingHole& h : made.holes) {
            CHECK(std::abs(h.made_mm - h.diameter_mm) < 1e-6);
            CHECK(h.off_axis_mm < 1e-6);
        }
    }
    SECTION("countersunk bolts, level with the face, and sunk under a tilted one") {
        request.seat.outside = round_outline(mm(240));
        request.bolts = {{.name = "a", .point = {104, 0, 0}, .thread = "M5", .under_head = {}, .is_countersunk = true}};
        request.driver.bolt_count = 0;
        const auto thread = require(fixings::find_thread("M5"));
        const double r = thread.hole_medium_mm / 2, head = thread.countersunk.diameter_mm / 2, cone = head - r;
        CHECK(sound_ring(request).volume.mm3() == Approx(kPi * (120 * 120 - 70 * 70) * 20 - kPi * r * r * (20 - cone) -
                                                         kPi * cone / 3 * (r * r + r * head + head * head))
                                                      .epsilon(1e-6));
        request.tilt = Angle::deg(10);
        request.tilt_towards = {0, 1, 0};
        CHECK(refused(request).find("no level seat") != std::string::npos);
        request.bolts[0].under_head = mm(6);
        sound_ring(request);
    }
    SECTION("a pattern in the way is turned where no turn is asked, and told where one is") {
        request.seat.outside = round_outline(mm(240));
        request.bolts = {{.name = "a", .point = {0, 88, 0}, .thread = "M5", .under_head = mm(5)}};
        const Ring made = sound_ring(request);
        CHECK(made.turn.deg() != 0.0);
        CHECK(std::abs(made.turn.deg()) < 45.0);
        request.turn = Angle::deg(0);
        CHECK(refused(request).find("driver screw 1 and vehicle bolt \"a\"") != std::string::npos);
    }
}

TEST_CASE("a ring of every feature moved and turned has the same volume", "[parts][ring][law]") {
    RingRequest request = plain_ring();
    request.seat.outside = ellipse_outline(mm(250), mm(220), Angle::deg(20));
    request.front = round_outline(mm(196));
    request.seat.opening = round_outline(mm(156));
    request.lip = RingLip{mm(6)};
    request.recess = mm(3);
    request.grooves = {{RingGroove::On::Seat, mm(3)}};
    request.tilt = Angle::deg(9);
    request.tilt_towards = {1, 0.4, 0};
    request.height = mm(22);
    request.driver.bolt_circle = mm(156);
    request.driver.bolt_count = 6;
    request.driver.bolt_thread = "M4";
    request.bore = RingRequest::Bore::Seat;
    request.driver.flange_diameter = mm(172);
    const Ring here = sound_ring(request);
    RingRequest there = request;
    // A turn about an axis of no meaning.
    const Vec3 k = unit(Vec3{0.3, -0.5, 0.8});
    const auto turned = [&](Vec3 v) {
        const double a = 1.1;
        return v * std::cos(a) + cross(k, v) * std::sin(a) + k * (dot(k, v) * (1 - std::cos(a)));
    };
    there.seat.plane = {Point3{410, -320, 77}, turned({0, 0, 1})};
    there.up = turned(request.up);
    there.tilt_towards = turned(request.tilt_towards);
    CHECK(sound_ring(there).volume.mm3() == Approx(here.volume.mm3()).epsilon(1e-8));
}
