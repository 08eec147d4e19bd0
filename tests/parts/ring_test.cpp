// Adapter rings against closed forms: a plane that cuts every generator of a cylinder leaves pi R^2 times the height
// over the axis, and a bore takes as much of its own. The figures of the first rows are tabled; the bore square to a
// tilted face is also held to a quadrature that knows nothing of cylinders' lengths. Holes are found again on the
// B-rep.
#include "tests/parts/features_bodies.h"

#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/ring.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

sound::Driver driver_of(double cutout, double flange) {
    sound::Driver driver;
    driver.name = "test driver";
    driver.cutout_diameter = Length::mm(cutout);
    driver.flange_diameter = Length::mm(flange);
    return driver;
}

/// Outside 200, bore 160, 20 over the axis at the tilt; no holes.
RingRequest bare_ring(double tilt_deg) {
    RingRequest request;
    request.seat = {{{0, 0, 0}, {0, 0, 1}}, round_outline(Length::mm(200)), {}};
    request.driver = driver_of(160, 170);
    request.tilt = Angle::deg(tilt_deg);
    request.tilt_towards = {1, 0, 0};
    request.height = Length::mm(20.0 - 100.0 * std::tan(request.tilt.rad()));
    request.bore = RingRequest::Bore::Seat;
    return request;
}

/// With four screws of the driver and four bolts, somewhere in the vehicle.
RingRequest held_ring() {
    RingRequest request;
    request.seat = {{{310, -205, 87}, unit(Vec3{-0.3, 0.9, 0.2})}, round_outline(Length::mm(220)), {}};
    request.driver = driver_of(142, 166);
    request.driver.bolt_circle = Length::mm(155);
    request.driver.bolt_count = 4;
    request.driver.bolt_thread = "M4";
    request.tilt = Angle::deg(12);
    request.tilt_towards = {1, 0, 0};
    request.height = Length::mm(14);
    const Frame seat = space::box_frame(request.seat.plane, {0, 0, 1});
    for (int i = 0; i < 4; ++i) {
        const double a = kPi * i / 2.0 + kPi / 4.0;
        request.bolts.push_back({.name = std::to_string(i + 1),
                                 .point = seat.to_parent({97 * std::sin(a), 0, 97 * std::cos(a)}),
                                 .thread = "M5",
                                 .under_head = Length::mm(4)});
    }
    return request;
}

Ring made_ring(const RingRequest& request) {
    return require(make_ring(request, {}));
}

Fault fault_of(const RingRequest& request) {
    auto made = make_ring(request, {});
    REQUIRE_FALSE(made);
    return made.error();
}

void check_sound_ring(const Ring& ring) {
    const auto solid = require(measure::measure_solid(ring.product.solid, {}));
    CHECK(solid.valid);
    CHECK(solid.closed);
    CHECK(solid.solids == 1);
    CHECK(solid.shells == 1);
    CHECK(solid.bspline_faces == 0);
    CHECK(solid.plane_faces + solid.cylinder_faces == solid.faces);
    for (const RingWeb& web : ring.webs) CHECK(web.left_mm >= web.wanted_mm - 1e-9);
}

/// Volume of an oblique bore by slices level with the seat: at each height the part of the ellipse that lies under the
/// front face, by the midpoint rule across the slope. Seat's frame, front face z = middle - x tan t.
double bore_by_slices(double radius, double tilt, double middle, double shift) {
    const double c = std::cos(tilt), slope = std::tan(tilt), over = middle - shift * slope;
    const double top = over + radius * std::sin(tilt);
    constexpr int kHeights = 4000, kAcross = 2000;
    double sum = 0.0;
    for (int i = 0; i < kHeights; ++i) {
        const double z = top * (i + 0.5) / kHeights, centre = shift + (z - over) * slope, most_x = (middle - z) / slope;
        double area = 0.0;
        for (int k = 0; k < kAcross; ++k) {
            const double a = kPi * ((k + 0.5) / kAcross - 0.5);
            const double half = radius * std::cos(a) / c;
            const double length = std::min(centre + half, most_x) - (centre - half);
            if (length > 0.0) area += length * radius * std::cos(a) * kPi / kAcross;
        }
        sum += area * top / kHeights;
    }
    return sum;
}

}  // namespace

TEST_CASE("flat and tilted rings with a bore square to the seat", "[parts][ring][oracle]") {
    SECTION("flat") {
        RingRequest request = bare_ring(0);
        const double want = kPi * (100.0 * 100 - 80.0 * 80) * 20;
        CHECK(made_ring(request).volume.mm3() == Approx(want).epsilon(1e-6));
        request.bore = RingRequest::Bore::Driver;  // one axis: the same ring
        const Ring ring = made_ring(request);
        CHECK(ring.volume.mm3() == Approx(want).epsilon(1e-6));
        check_sound_ring(ring);
        CHECK(require(measure::measure_solid(ring.product.solid, {})).faces == 4);
    }
    SECTION("tilted, of the table") {
        const RingRequest request = bare_ring(10);
        CHECK(request.height.mm() == Approx(2.36730193).epsilon(1e-8));
        const Ring ring = made_ring(request);
        check_sound_ring(ring);
        CHECK(ring.most_height.mm() == Approx(37.6326981).epsilon(1e-8));
        CHECK(ring.volume.mm3() == Approx(226194.671).epsilon(1e-6));
        const auto solid = require(measure::measure_solid(ring.product.solid, {}));
        CHECK(solid.volume.mm3() == Approx(226194.671).epsilon(1e-6));
        CHECK(solid.area.mm2() == Approx(45413.4051).epsilon(1e-6));
        CHECK(solid.box.hi.z == Approx(37.6326981).epsilon(1e-7));
        CHECK(solid.box.lo.z == Approx(0).margin(1e-6));
    }
    SECTION("tilted, its bore 5 mm up the slope, of the table") {
        RingRequest request = bare_ring(10);
        request.driver = driver_of(160, 172);
        request.shift = {-5, 0, 0};
        CHECK(made_ring(request).volume.mm3() == Approx(208468.350).epsilon(1e-6));
    }
}

TEST_CASE("a bore square to the tilted face", "[parts][ring][oracle]") {
    for (const double shift : {0.0, 3.0}) {
        RingRequest request = bare_ring(8);
        request.bore = RingRequest::Bore::Driver;
        request.shift = {shift, 0, 0};
        const Ring ring = made_ring(request);
        check_sound_ring(ring);
        const double t = request.tilt.rad(), over = 20 - shift * std::tan(t);
        const double outside = kPi * 1e4 * 20;
        CHECK(ring.volume.mm3() == Approx(outside - kPi * 6400 * over / std::cos(t)).epsilon(1e-6));
        const double taken = outside - ring.volume.mm3();
        CHECK(taken == Approx(bore_by_slices(80, t, 20, shift)).epsilon(2e-5));
        CHECK(taken > 1.005 * kPi * 6400 * over);  // that of a bore square to the seat
    }
}

TEST_CASE("a ring's holes lie on the B-rep as asked", "[parts][ring][oracle]") {
    const RingRequest request = held_ring();
    const Ring ring = made_ring(request);
    check_sound_ring(ring);
    const Vec3 seat = unit(request.seat.plane.outward);
    CHECK(dot(ring.front.outward, seat) == Approx(std::cos(request.tilt.rad())).epsilon(1e-12));
    CHECK(dot(ring.front.outward, request.tilt_towards) > dot(seat, request.tilt_towards));
    // The front face runs `height` over the seat at the outside, on the side it turns to.
    const Vec3 way = unit(request.tilt_towards - seat * dot(seat, request.tilt_towards));
    CHECK(ring.front.height(request.seat.plane.point + way * 110 + seat * 14) == Approx(0).margin(1e-9));

    REQUIRE(ring.holes.size() == 1 + 4 + 8);
    for (const RingHole& hole : ring.holes) {
        CHECK(hole.made_mm == Approx(hole.diameter_mm).epsilon(1e-12));
        CHECK(hole.off_axis_mm < 1e-6);
    }
    const Frame front = space::box_frame(ring.front, {0, 0, 1});
    const auto on_axis = [](const Cylinder& c, Point3 p) { return norm(cross(p - c.at, c.axis)) < 1e-6; };
    const auto pilots = cylinders(ring.product.solid, 5.6 / 2.0);  // M4 in plastic
    for (int i = 0; i < 4; ++i) {
        const double a = kPi * i / 2.0;
        const Point3 place = front.to_parent({77.5 * std::sin(a), 0, 77.5 * std::cos(a)});
        CHECK(std::count_if(pilots.begin(), pilots.end(), [&](const Cylinder& c) {
                  return on_axis(c, place) && norm(cross(c.axis, ring.front.outward)) < 1e-9;
              }) == 1);
    }
    const auto clear = cylinders(ring.product.solid, 5.5 / 2.0);  // ISO 273 medium of M5
    for (const RingBolt& bolt : request.bolts)
        CHECK(std::count_if(clear.begin(), clear.end(), [&](const Cylinder& c) {
                  return on_axis(c, bolt.point) && norm(cross(c.axis, seat)) < 1e-9;
              }) == 1);
    const auto bores = cylinders(ring.product.solid, 71);
    CHECK(std::any_of(bores.begin(), bores.end(), [&](const Cylinder& c) { return on_axis(c, ring.front.point); }));

    SECTION("the same ring moved and turned has the same volume") {
        RingRequest level = request;
        const Vec3 x = any_perpendicular({0, 0, 1});
        level.seat.plane = {{0, 0, 0}, {0, 0, 1}};
        const Vec3 own = cross(seat, way), y = cross(Vec3{0, 0, 1}, x);
        const auto turned = [&](Vec3 v) { return x * dot(v, way) + y * dot(v, own) + Vec3{0, 0, 1} * dot(v, seat); };
        level.tilt_towards = x;
        level.up = turned(request.up);
        for (RingBolt& bolt : level.bolts) bolt.point = turned(bolt.point - request.seat.plane.point);
        CHECK(made_ring(level).volume.mm3() == Approx(ring.volume.mm3()).epsilon(1e-9));
    }
}

TEST_CASE("what breaks a ring's rule is told with what it meets", "[parts][ring]") {
    RingRequest request = held_ring();
    SECTION("a bolt in a screw's way, with a turn that frees it") {
        const Frame seat = space::box_frame(request.seat.plane, {0, 0, 1});
        request.bolts.resize(1);
        request.turn = Angle::deg(0);
        request.bolts[0].point = seat.to_parent({0, 0, 85});
        const Fault fault = fault_of(request);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("driver screw 1 and vehicle bolt \"1\"") != std::string::npos);
        const std::string turn = "turn the driver's bolt circle to ";
        REQUIRE(fault.hint.find(turn) == 0);
        RingRequest again = request;
        again.turn = Angle::deg(std::stod(fault.hint.substr(turn.size())));
        CHECK(make_ring(again, {}));
        REQUIRE(fault.where);
        CHECK(distance(*fault.where, request.bolts[0].point) < 40);
    }
    SECTION("two bolts in one another's way") {
        request.bolts[1].point = request.bolts[0].point + unit(request.seat.plane.outward) * 3.0;  // taken to the seat
        CHECK(fault_of(request).what.find("vehicle bolt \"1\" and vehicle bolt \"2\"") != std::string::npos);
    }
    SECTION("a bolt at the outside, another at the bore") {
        const Point3 centre = request.seat.plane.point;
        const Vec3 out = request.bolts[0].point - centre;
        request.bolts[0].point = centre + unit(out) * 106;
        CHECK(fault_of(request).what.find("vehicle bolt \"1\" and the outside") != std::string::npos);
        request.bolts[0].point = centre + unit(out) * 76;
        CHECK(fault_of(request).what.find("vehicle bolt \"1\" and the bore") != std::string::npos);
    }
    SECTION("a head that cannot be sunk, and one without a level seat") {
        request.bolts[0].under_head = Length::mm(60);
        CHECK(fault_of(request).what.find("the front face over it") != std::string::npos);
        request.bolts[0].under_head.reset();
        CHECK(fault_of(request).what.find("no level seat") != std::string::npos);
    }
    SECTION("a screw that comes out of the seat") {
        request.height = Length::mm(3);
        CHECK(fault_of(request).what.find("the seat under it") != std::string::npos);
    }
    SECTION("thinner than the method makes") {
        request.height = Length::mm(1.5);
        CHECK(fault_of(request).what.find("on the thin side") != std::string::npos);
        request.make.method = Method::Cnc;
        request.height = Length::mm(2.5);
        CHECK(fault_of(request).what.find("on the thin side") != std::string::npos);
    }
    SECTION("a bore, a flange and a body that are too large") {
        request.bore_diameter = Length::mm(162);
        CHECK(fault_of(request).what.find("the bore's mouth") != std::string::npos);
        request.bore_diameter.reset();
        request.driver.flange_diameter = Length::mm(221);
        CHECK(fault_of(request).what.find("the flange's edge and the outside") != std::string::npos);
        request.driver.flange_diameter = Length::mm(166);
        request.driver.mounting_depth = Length::mm(70);
        request.driver.basket_diameter = Length::mm(143);
        CHECK(fault_of(request).what.find("the driver's body and the bore's wall") != std::string::npos);
        request.driver.basket_diameter = Length::mm(141);
        CHECK(make_ring(request, {}));
        request.bore = RingRequest::Bore::Seat;  // a straight body in a slanted bore
        CHECK(fault_of(request).what.find("the driver's body and the bore's wall") != std::string::npos);
    }
    SECTION("values without meaning") {
        request.tilt = Angle::deg(-5);
        CHECK(fault_of(request).code == FaultCode::BadJob);
        request.tilt = Angle::deg(50);
        CHECK(fault_of(request).code == FaultCode::BadJob);
        request.tilt = Angle::deg(12);
        request.tilt_towards = request.seat.plane.outward;
        CHECK(fault_of(request).what.find("tilt_towards") != std::string::npos);
        request = held_ring();
        request.bore_diameter = Length::mm(100);
        CHECK(fault_of(request).what.find("the driver's cut-out wants") != std::string::npos);
    }
}

TEST_CASE("random rings are made to their closed forms, or refused with the rule and the place", "[parts][ring][law]") {
    Random random(20261);
    int made = 0, refused = 0;
    std::vector<std::string> wrong;
    for (int n = 0; n < 300; ++n) {
        RingRequest request;
        const auto direction = [&] {
            return unit(Vec3{random.uniform(-1, 1), random.uniform(-1, 1), random.uniform(-1, 1)} + Vec3{0, 0, 1e-3});
        };
        const double outside = random.uniform(60, 160), cutout = random.uniform(0.7, 1.55) * outside;
        request.seat = {{direction() * 300, direction()}, round_outline(Length::mm(2 * outside)), {}};
        request.driver = driver_of(cutout, cutout + random.uniform(12, 30));
        request.driver.bolt_circle = Length::mm(cutout + random.uniform(8, 20));
        request.driver.bolt_count = 3 + n % 6;
        request.driver.bolt_thread = n % 2 == 0 ? "M4" : "M5";
        request.turn = Angle::deg(random.uniform(0, 120));
        request.tilt = Angle::deg(n % 5 == 0 ? 0.0 : random.uniform(0, 30));
        request.tilt_towards = direction();
        request.height = Length::mm(random.uniform(3, 20));
        request.shift = direction() * random.uniform(0, 4);
        request.bore = n % 3 == 0 ? RingRequest::Bore::Seat : RingRequest::Bore::Driver;
        const Frame seat = space::box_frame(request.seat.plane, {0, 0, 1});
        const double circle = random.uniform(cutout / 2 + 5, outside - 4), first = random.uniform(0, 2);
        for (int i = 0; i < 3; ++i)
            request.bolts.push_back(
                {.name = std::to_string(i + 1),
                 .point = seat.to_parent({circle * std::sin(first + 2.1 * i), 0, circle * std::cos(first + 2.1 * i)}),
                 .thread = "M4",
                 .under_head = Length::mm(random.uniform(2, 5))});
        const auto ring = make_ring(request, {});
        if (!ring) {
            ++refused;
            if (ring.error().code != FaultCode::Impossible || !ring.error().where || ring.error().hint.empty())
                wrong.push_back(ring.error().what);
            continue;
        }
        ++made;
        const Vec3 z = seat.y * -1.0;
        const double t = request.tilt.rad(), middle = request.height.mm() + outside * std::tan(t);
        const auto over = [&](Point3 p) {
            const Vec3 d = p - request.seat.plane.point;
            const Vec3 way = unit(request.tilt_towards - z * dot(request.tilt_towards, z));
            return middle - dot(d, way) * std::tan(t);
        };
        const Point3 centre = request.seat.plane.point + request.shift;
        const double slant = request.bore == RingRequest::Bore::Driver ? std::cos(t) : 1.0;
        double want = kPi * outside * outside * middle - kPi * cutout * cutout / 4 * over(centre) / slant;
        for (const RingHole& hole : ring->holes)
            if (hole.name.find("driver screw") == 0)
                want -= kPi * hole.diameter_mm * hole.diameter_mm / 4 * hole.depth_mm;
        for (const RingBolt& bolt : request.bolts) {
            const double under = bolt.under_head->mm();
            want -= kPi * 4.5 * 4.5 / 4 * under + kPi * 10 * 10 / 4.0 * (over(bolt.point) - under);  // washer 9 and 1
        }
        const auto solid = require(measure::measure_solid(ring->product.solid, {}));
        const double error = std::abs(ring->volume.mm3() / want - 1.0);
        if (!(error < 1e-6) || !solid.valid || !solid.closed || solid.solids != 1 ||
            ring->holes.size() != 1 + 6 + static_cast<std::size_t>(request.driver.bolt_count))
            wrong.push_back("ring " + std::to_string(n) + ": off by " + std::to_string(error));
    }
    INFO(made << " made, " << refused << " refused");
    for (const std::string& each : wrong) UNSCOPED_INFO(each);
    CHECK(wrong.empty());
    CHECK(made >= 30);
    CHECK(refused >= 30);
}
