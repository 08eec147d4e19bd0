// The driver's body in the bore of its own ring, of any outline, by places spread over the body against the outline.
#include "tests/check/ring_case.h"

#include "geom/space/field.h"

using namespace shapes;
using geom::Length;
using geom::parts::RingRequest;

namespace {

const std::string kName = "driver, body against the ring";

/// How deep a place lies within a closed polygon, by its sides.
double depth_in(const std::vector<std::array<double, 2>>& polygon, double x, double y) {
    double nearest = 1e300;
    bool inside = false;
    for (std::size_t i = 0; i < polygon.size(); ++i) {
        const auto [ax, ay] = polygon[i];
        const auto [bx, by] = polygon[(i + 1) % polygon.size()];
        const double dx = bx - ax, dy = by - ay;
        const double t = std::clamp(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0.0, 1.0);
        nearest = std::min(nearest, std::hypot(x - ax - t * dx, y - ay - t * dy));
        if ((ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax)) inside = !inside;
    }
    return inside ? nearest : -nearest;
}

std::vector<std::array<double, 2>> ellipse(double a, double b) {
    std::vector<std::array<double, 2>> polygon;
    for (int i = 0; i < 720; ++i) polygon.push_back({a * std::cos(2 * kPi * i / 720), b * std::sin(2 * kPi * i / 720)});
    return polygon;
}

/// Least depth of the body in the outline over the seat, in a bore about the seat's axis; the outline about the rest's
/// middle.
double by_places(const RingCase& made, const std::vector<std::array<double, 2>>& polygon) {
    const geom::Frame view =
        geom::space::box_frame({made.ring.rest.point, geom::unit(made.request.seat.plane.outward)}, made.request.up);
    double least = 1e300;
    for (const Point3 p : made.body_places(1.0)) {
        if (made.request.seat.plane.height(p) < 0) continue;
        const Point3 q = view.to_local(p);
        least = std::min(least, depth_in(polygon, q.x, q.z));
    }
    return least;
}

}  // namespace

TEST_CASE("a level driver's basket keeps what its bore's outline leaves", "[check][ownbore][oracle]") {
    RingRequest request = ring_request();
    request.seat.outside = geom::parts::round_outline(Length::mm(260));
    request.driver.flange_diameter = Length::mm(220);
    double wanted = 0.0;
    SECTION("round") {
        request.bore_diameter = Length::mm(144);
        wanted = 2.5;
    }
    SECTION("an ellipse") {
        request.bore_outline = geom::parts::ellipse_outline(Length::mm(190), Length::mm(146));
        wanted = 3.5;
    }
    SECTION("a rounded rectangle") {
        request.bore_outline =
            require(geom::parts::rounded_polygon({{-80, -72}, {80, -72}, {80, 72}, {-80, 72}}, Length::mm(30)));
        wanted = 2.5;
    }
    SECTION("a rectangle whose roundings come nearer than its sides") {
        // Corner centres at (35, 35), radius 40: the body's circle comes within 40 + 35 sqrt 2 - 69.5 of them.
        request.bore_outline =
            require(geom::parts::rounded_polygon({{-75, -75}, {75, -75}, {75, 75}, {-75, 75}}, Length::mm(40)));
        wanted = std::min(5.5, 40 + 35 * std::sqrt(2.0) - 69.5);
    }
    SECTION("a hexagon") {
        std::vector<geom::parts::FlatPoint> corners;
        for (int i = 0; i < 6; ++i) corners.push_back({84 * std::cos(kPi * i / 3), 84 * std::sin(kPi * i / 3), 0});
        request.bore_outline = require(geom::parts::rounded_polygon(corners, Length::mm(2)));
        wanted = 84 * std::sqrt(0.75) - 69.5;
    }
    SECTION("lines and arcs") {
        // A long hole: two half circles of radius 71 with their centres 30 apart.
        request.bore_outline =
            require(geom::parts::path_outline({{-15, -71, 0}, {15, -71, 1}, {15, 71, 0}, {-15, 71, 1}}));
        wanted = 1.5;
    }
    SECTION("a basket that does not go in") {
        request.bore_outline = geom::parts::ellipse_outline(Length::mm(190), Length::mm(132));
        // Square to the basket's slope, which falls 24.5 over 38.
        wanted = -3.5 * 38 / std::hypot(24.5, 38);
    }
    const RingCase made(request);
    geom::check::Verdict v;
    check_own_bore(made.ring, request, made.mesh, v);
    const auto& line = ring_line(v, kName);
    CHECK(line.value <= wanted + 0.006);
    CHECK(line.value >= wanted - 0.056);  // chords of a bore lie in it
    CHECK(line.ok == (wanted > 0));
}

TEST_CASE("a tilted driver in a bore along the seat's axis is held over all its height", "[check][ownbore][oracle]") {
    RingRequest request = ring_request();
    request.seat.outside = geom::parts::round_outline(Length::mm(280));
    request.driver.flange_diameter = Length::mm(240);
    request.bore = RingRequest::Bore::Seat;
    tilt(request, 15);
    std::vector<std::array<double, 2>> polygon;
    SECTION("round, and as its plan says too") {
        request.bore_diameter = Length::mm(190);
        polygon = ellipse(95, 95);
    }
    SECTION("an ellipse") {
        request.bore_outline = geom::parts::ellipse_outline(Length::mm(196), Length::mm(150));
        polygon = ellipse(98, 75);
    }
    SECTION("a rectangle") {
        request.bore_outline =
            require(geom::parts::rounded_polygon({{-96, -74}, {96, -74}, {96, 74}, {-96, 74}}, Length::mm(0)));
        polygon = {{-96, -74}, {96, -74}, {96, 74}, {-96, 74}};
    }
    SECTION("a rectangle that the magnet runs into") {
        request.bore_outline =
            require(geom::parts::rounded_polygon({{-68, -74}, {90, -74}, {90, 74}, {-68, 74}}, Length::mm(0)));
        polygon = {{-68, -74}, {90, -74}, {90, 74}, {-68, 74}};
    }
    const RingCase made(request);
    const double wanted = by_places(made, polygon);
    geom::check::Verdict v;
    check_own_bore(made.ring, request, made.mesh, v);
    INFO(wanted);
    CHECK(ring_line(v, kName).value == Approx(wanted).margin(0.06));
    for (const auto& web : made.ring.webs)
        if (web.between == "the driver's body and the bore's wall")
            CHECK(ring_line(v, kName).value == Approx(web.left_mm).margin(0.06));
}
