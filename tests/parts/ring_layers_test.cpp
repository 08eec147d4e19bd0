// Rings of every shape cut from sheets: areas and volumes by closed forms, and what no drawing may do, cut into the
// ring. Dowels of tilted rings, looked for on the solids.
#include "geom/measure/brep_measure.h"
#include "geom/parts/ring.h"
#include "geom/skin/internal/occt.h"
#include "tests/parts/features_bodies.h"
#include "tests/parts/plain_ring.h"

#include <catch2/catch.hpp>

#include <BRepClass3d_SolidClassifier.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

/// 36 high, of two sheets.
RingRequest plain() {
    RingRequest request = plain_ring();
    request.height = mm(36);
    request.layers = SheetOptions{.thickness = mm(18)};
    return request;
}

double dowels_mm3(const SheetLayer& layer) {
    double sum = 0.0;
    for (const DowelHole& hole : layer.dowels) sum += kPi * hole.diameter_mm * hole.diameter_mm / 4.0 * hole.depth_mm;
    return sum;
}

/// Made, and held to what every layered ring is held to.
SheetLayers layers_of(const RingRequest& request) {
    const Ring ring = require(make_ring(request, {}));
    REQUIRE(ring.layers);
    double sum = 0.0;
    for (const SheetLayer& layer : ring.layers->layers) {
        CAPTURE(layer.name);
        const auto solid = require(measure::measure_solid(layer.solid, {}));
        CHECK(solid.valid);
        CHECK(solid.closed);
        CHECK(solid.solids == 1);
        CHECK(layer.volume.mm3() == Approx(solid.volume.mm3()).epsilon(1e-5));
        CHECK(require(cut_into_mm(layer, ring.layers->drawn_in, {})) < 0.03);
        // Cut square the piece holds the layer.
        CHECK(area_mm2(layer.drawing) * (layer.to_mm - layer.from_mm) >
              (layer.volume.mm3() + dowels_mm3(layer)) * (1 - 1e-4));
        sum += layer.volume.mm3() + dowels_mm3(layer);
    }
    CHECK(sum == Approx(ring.volume.mm3()).epsilon(5e-7));
    return *ring.layers;
}

std::ptrdiff_t circles(const FlatDrawing& drawing, Operation operation, double radius_mm) {
    return std::count_if(drawing.circles.begin(), drawing.circles.end(), [&](const FlatCircle& c) {
        return c.operation == operation && std::abs(c.radius_mm - radius_mm) < 1e-6;
    });
}

bool says(const FlatDrawing& drawing, const std::string& words) {
    return std::any_of(drawing.texts.begin(), drawing.texts.end(),
                       [&](const FlatText& t) { return t.text.find(words) != std::string::npos; });
}

/// Of a disc, left of x = d.
double segment(double r, double d) {
    if (d >= r) return kPi * r * r;
    if (d <= -r) return 0.0;
    return kPi * r * r - r * r * std::acos(d / r) + d * std::sqrt(r * r - d * d);
}

bool is_solid(const SheetLayer& layer, Point3 p) {
    return BRepClass3d_SolidClassifier(to_occt(layer.solid), to_occt(p), 1e-6).State() == TopAbs_IN;
}

}  // namespace

TEST_CASE("layers carry what the ring carries", "[parts][ring][layers][oracle]") {
    RingRequest request = plain();
    const double annulus = kPi * (100 * 100 - 70 * 70);
    SECTION("a flange let in: a pocket of the top layer") {
        request.recess = mm(4);
        const auto made = layers_of(request);
        REQUIRE(made.layers.size() == 2);
        for (const SheetLayer& layer : made.layers) CHECK(area_mm2(layer.drawing) == Approx(annulus).epsilon(1e-9));
        CHECK(circles(made.layers[1].drawing, Operation::Pocket, 85.5) == 1);
        CHECK(says(made.layers[1].drawing, "pocket 171 mm: floor 14.0 mm over the lower face"));
        CHECK(circles(made.layers[0].drawing, Operation::Pocket, 85.5) == 0);
    }
    SECTION("flares") {
        for (const auto kind : {RingFlare::Kind::Chamfer, RingFlare::Kind::Round}) {
            request.flare = RingFlare{kind, mm(6)};
            const auto made = layers_of(request);
            CHECK(area_mm2(made.layers.at(0).drawing) == Approx(annulus).epsilon(1e-9));
            CHECK(circles(made.layers.at(0).drawing, Operation::Countersink, 76) == 1);
        }
    }
    SECTION("grooves: two borders of a pocket, and what stands between them stays") {
        request.grooves = {{RingGroove::On::Seat, mm(4)}, {RingGroove::On::Front, mm(3)}};
        const auto made = layers_of(request);
        for (const SheetLayer& layer : made.layers) {
            CHECK(area_mm2(layer.drawing) == Approx(annulus).epsilon(1e-9));
            CHECK(circles(layer.drawing, Operation::Outline, 100) == 1);
            CHECK(circles(layer.drawing, Operation::Pocket, 71.5) == 1);
        }
        CHECK(circles(made.layers[0].drawing, Operation::Pocket, 76.9) == 1);
        CHECK(says(made.layers[0].drawing, "pocket 153.8 mm: 3.0 mm deep from the lower face"));
        CHECK(circles(made.layers[1].drawing, Operation::Pocket, 75.55) == 1);
        CHECK(says(made.layers[1].drawing, "floor 15.8 mm over the lower face"));  // 2.25 deep
    }
    SECTION("countersunk bolts") {
        request.seat.outside = round_outline(mm(240));
        request.bolts = {{.name = "a", .point = {104, 0, 0}, .thread = "M5", .under_head = {}, .is_countersunk = true}};
        const auto thread = require(fixings::find_thread("M5"));
        const double r = thread.hole_medium_mm / 2;
        const auto made = layers_of(request);
        for (const SheetLayer& layer : made.layers) {
            CHECK(circles(layer.drawing, Operation::ThroughHole, r) == 1);
            CHECK(area_mm2(layer.drawing) == Approx(kPi * (120 * 120 - 70 * 70 - r * r)).epsilon(1e-9));
        }
        CHECK(circles(made.layers[1].drawing, Operation::Countersink, thread.countersunk.diameter_mm / 2) == 1);
    }
    SECTION("a lip: sheets of its own behind the seat") {
        request.seat.opening = round_outline(mm(156));
        for (const double height : {6.0, 24.0}) {
            request.lip = RingLip{mm(height), mm(0.5)};
            const auto made = layers_of(request);
            const int behind = height > 18 ? 2 : 1;
            REQUIRE(made.layers.size() == static_cast<std::size_t>(2 + behind));
            const double lip = kPi * (77.5 * 77.5 - 70 * 70);
            double volume = 0.0;
            for (int i = 0; i < behind; ++i) {
                const SheetLayer& layer = made.layers[static_cast<std::size_t>(i)];
                CHECK(layer.number == i + 1 - behind);
                CHECK(layer.name == (behind == 1 ? "lip" : i == 0 ? "lip layer 2 of 2" : "lip layer 1 of 2"));
                CHECK(layer.dowels.empty());
                CHECK(area_mm2(layer.drawing) == Approx(lip).epsilon(1e-9));
                volume += layer.volume.mm3();
            }
            CHECK(volume == Approx(lip * height).epsilon(1e-9));
            CHECK(made.layers[0].from_mm == Approx(-height));
            const FlatDrawing& lowest = made.layers[static_cast<std::size_t>(behind)].drawing;
            CHECK(area_mm2(lowest) == Approx(annulus).epsilon(1e-9));
            CHECK(circles(lowest, Operation::Reference, 77.5) == 1);
            CHECK(says(lowest, "lip: glued on within the reference, lower face"));
        }
    }
    SECTION("a step within a layer: narrower from there on") {
        request.seat.outside = round_outline(mm(220));
        request.step = RingStep{round_outline(mm(200)), mm(10)};
        const auto made = layers_of(request);
        CHECK(area_mm2(made.layers[0].drawing) == Approx(kPi * (110 * 110 - 70 * 70)).epsilon(1e-9));
        CHECK(area_mm2(made.layers[1].drawing) == Approx(annulus).epsilon(1e-9));
        CHECK(circles(made.layers[0].drawing, Operation::Pocket, 100) == 1);
        CHECK(says(made.layers[0].drawing, "floor 10.0 mm over the lower face"));
    }
}

TEST_CASE("layers of rings that are not round", "[parts][ring][layers][oracle]") {
    RingRequest request = plain();
    SECTION("an oval outside and an oval bore") {
        request.seat.outside = ellipse_outline(mm(260), mm(200));
        request.bore_outline = ellipse_outline(mm(200), mm(140));
        request.flange_outline = ellipse_outline(mm(230), mm(170));
        for (const SheetLayer& layer : layers_of(request).layers)
            CHECK(area_mm2(layer.drawing) == Approx(kPi * (130 * 100 - 100 * 70)).epsilon(1e-5));
    }
    SECTION("a rounded rectangle: lines and arcs as they are") {
        const auto outline =
            require(rounded_polygon({{-115, -105, 0}, {115, -105, 0}, {115, 105, 0}, {-115, 105, 0}}, mm(30)));
        request.seat.outside = outline;
        for (const SheetLayer& layer : layers_of(request).layers)
            CHECK(area_mm2(layer.drawing) == Approx(area_mm2(outline) - kPi * 4900).epsilon(1e-12));
    }
    SECTION("an outside that is ruled to a front of its own: the wider of both ends, and some of each") {
        request.front = round_outline(mm(230));
        const auto wider = layers_of(request);
        CHECK(area_mm2(wider.layers[0].drawing) == Approx(kPi * (107.5 * 107.5 - 70 * 70)).epsilon(1e-9));
        CHECK(area_mm2(wider.layers[1].drawing) == Approx(kPi * (115 * 115 - 70 * 70)).epsilon(1e-9));
        request.seat.outside = ellipse_outline(mm(250), mm(200));
        const auto both = layers_of(request);
        // At the joint an ellipse of the mean axes; the hull of two of them is looked at in four parts.
        const auto most = [](double a, double b, double c, double d) {
            double sum = 0.0;
            constexpr int kSteps = 100000;
            for (int i = 0; i < kSteps; ++i) {
                const double t = kPi / 2 * (i + 0.5) / kSteps, x = std::cos(t), y = std::sin(t);
                sum += 2 * std::max(1 / (x * x / a / a + y * y / b / b), 1 / (x * x / c / c + y * y / d / d));
            }
            return sum * kPi / 2 / kSteps;
        };
        CHECK(area_mm2(both.layers[0].drawing) == Approx(most(125, 100, 120, 107.5) - kPi * 4900).epsilon(1e-4));
        CHECK(area_mm2(both.layers[1].drawing) == Approx(most(120, 107.5, 115, 115) - kPi * 4900).epsilon(1e-4));
    }
    SECTION("a bore that is ruled to the opening: the narrower of both ends") {
        request.bore = RingRequest::Bore::Opening;
        request.seat.outside = round_outline(mm(220));
        request.seat.opening = round_outline(mm(160));
        const auto made = layers_of(request);
        CHECK(area_mm2(made.layers[0].drawing) == Approx(kPi * (110 * 110 - 75 * 75)).epsilon(1e-6));
        CHECK(area_mm2(made.layers[1].drawing) == Approx(kPi * (110 * 110 - 70 * 70)).epsilon(1e-6));
    }
    SECTION("tilted, ruled to a round front, a lip, a recess and a groove") {
        request.seat.outside = ellipse_outline(mm(250), mm(220), Angle::deg(20));
        request.front = round_outline(mm(196));
        request.seat.opening = round_outline(mm(160));
        request.lip = RingLip{mm(6)};
        request.recess = mm(3);
        request.grooves = {{RingGroove::On::Seat, mm(3)}};
        request.tilt = Angle::deg(9);
        request.tilt_towards = {1, 0.4, 0};
        request.bore = RingRequest::Bore::Seat;
        layers_of(request);
        request.bore = RingRequest::Bore::Driver;
        request.recess = {};
        request.lip = {};
        request.grooves = {};
        layers_of(request);
    }
}

TEST_CASE("dowels of a tilted ring stand in line across every joint", "[parts][ring][layers][oracle]") {
    RingRequest request = plain();
    request.seat.outside = round_outline(mm(220));
    request.tilt = Angle::deg(12);
    const double slope = std::tan(request.tilt.rad());
    request.tilt_towards = {1, 0, 0};
    // Out of the axes: a frame of no meaning.
    const Vec3 normal = unit(Vec3{0.3, -0.5, 0.8}), along = unit(cross(normal, Vec3{0, 0, 1}));
    const Point3 seat{410, -320, 77};
    request.seat.plane = {seat, normal};
    request.tilt_towards = along;
    request.up = cross(normal, along);
    request.height = mm(40);
    SECTION("by the solids, and by the drawings") {
        const auto made = layers_of(request);
        const double t = 18;
        int joints = 0;
        for (const SheetLayer& lower : made.layers)
            for (const SheetLayer& upper : made.layers) {
                if (upper.number != lower.number + 1 || lower.piece > 0 || upper.piece > 0) continue;
                CAPTURE(lower.name);
                ++joints;
                std::vector<DowelHole> below, above;
                for (const DowelHole& hole : lower.dowels)
                    if (dot(hole.way, normal) < 0) below.push_back(hole);
                for (const DowelHole& hole : upper.dowels)
                    if (dot(hole.way, normal) > 0) above.push_back(hole);
                REQUIRE(below.size() >= 2);
                REQUIRE(below.size() == above.size());
                for (const DowelHole& hole : below) {
                    const auto partner =
                        std::min_element(above.begin(), above.end(), [&](const auto& a, const auto& b) {
                            return distance(a.from, hole.from) < distance(b.from, hole.from);
                        });
                    CHECK(distance(partner->from, hole.from) < 1e-9);
                    CHECK(norm(hole.way + normal) < 1e-12);
                    CHECK(norm(partner->way - normal) < 1e-12);
                    CHECK(dot(hole.from - seat, normal) == Approx(lower.number * t).epsilon(1e-12));
                    for (const auto& [layer, dowel] : {std::pair{&lower, hole}, std::pair{&upper, *partner}}) {
                        // Open to its floor, with a wall all round.
                        CHECK_FALSE(is_solid(*layer, dowel.from + dowel.way * (dowel.depth_mm - 0.01)));
                        CHECK(is_solid(*layer, dowel.from + dowel.way * (dowel.depth_mm + 0.01)));
                        for (int k = 0; k < 12; ++k) {
                            const Vec3 out = along * std::cos(kPi * k / 6) + request.up * std::sin(kPi * k / 6);
                            for (const double depth : {0.01, dowel.depth_mm - 0.01}) {
                                const Point3 p = dowel.from + dowel.way * depth;
                                CHECK_FALSE(is_solid(*layer, p + out * 2.99));
                                CHECK(is_solid(*layer, p + out * 3.01));
                                CHECK(is_solid(*layer, p + out * (3 + dowel.wall_mm - 1e-6)));
                            }
                        }
                        const Point3 drawn = made.drawn_in.to_local(dowel.from);
                        CHECK(std::count_if(layer->drawing.circles.begin(), layer->drawing.circles.end(),
                                            [&](const FlatCircle& c) {
                                                return c.operation == Operation::Pocket && c.radius_mm == 3 &&
                                                       std::hypot(c.x - drawn.x, c.y - drawn.y) < 1e-9;
                                            }) == 1);
                    }
                }
            }
        CHECK(joints >= 3);
    }
    SECTION("below the front: a slanted bore takes an ellipse at every height, and the drawing leaves what two share") {
        const auto made = layers_of(request);
        const double a = 70 / std::cos(request.tilt.rad()), b = 70, shift = 18 * slope;
        const double half = std::acos(shift / (2 * a)), common = a * b * (2 * half - std::sin(2 * half));
        for (const std::size_t i : {0, 1}) {
            const SheetLayer& layer = made.layers[i];
            CHECK(layer.volume.mm3() + dowels_mm3(layer) == Approx(kPi * (110 * 110 - a * b) * 18).epsilon(1e-7));
            CHECK(area_mm2(layer.drawing) == Approx(kPi * 110 * 110 - common).margin(0.005 * 2 * kPi * a));
        }
    }
    SECTION("a chamfer under a slanted bore: narrowest where the two meet, between the layer's faces") {
        request.flare = RingFlare{RingFlare::Kind::Chamfer, mm(6)};
        layers_of(request);
    }
    SECTION("across the front: what of two discs lies behind a line that moves with the height") {
        request.bore = RingRequest::Bore::Seat;
        request.layers->dowels.count = 0;
        const auto made = layers_of(request);
        REQUIRE(made.layers.size() == 5);  // 40 + 220 tan 12 = 86.8
        for (const SheetLayer& layer : made.layers) {
            if (layer.piece > 0) continue;
            // At height z the front lies at 40 + slope (110 + d), high where the driver turns away from.
            const auto area = [&](double z) {
                const double d = 110 - (z - 40) / slope;
                return segment(110, d) - segment(70, d);
            };
            constexpr int kSteps = 20000;
            const double h = (layer.to_mm - layer.from_mm) / kSteps;
            double volume = 0.0;
            for (int k = 0; k < kSteps; ++k) volume += h * area(layer.from_mm + (k + 0.5) * h);
            CAPTURE(layer.name);
            CHECK(layer.volume.mm3() == Approx(volume).epsilon(1e-5));
            if (layer.to_mm <= 40) CHECK(layer.volume.mm3() == Approx(area_mm2(layer.drawing) * 18).epsilon(1e-9));
        }
    }
}

TEST_CASE("a ring whose layers cannot be says why", "[parts][ring][layers]") {
    RingRequest request = plain();
    request.layers->thickness = mm(36);
    auto made = make_ring(request, {});
    REQUIRE_FALSE(made);
    CHECK(made.error().code == FaultCode::BadJob);
    CHECK(made.error().what == "ring: a sheet of 36 mm is as thick as the ring of 36.00 mm, wanted two layers or more");
    request.layers = SheetOptions{.thickness = mm(18), .dowels = {.diameter = mm(26)}};
    made = make_ring(request, {});
    REQUIRE_FALSE(made);
    CHECK(made.error().code == FaultCode::Impossible);
    CHECK(made.error().where);
    request.layers = SheetOptions{.thickness = mm(18), .dowels = {.count = 1}};
    CHECK(make_ring(request, {}).error().what == "ring: 1 dowels a joint, wanted 2 to 60, or 0 for none");
}
