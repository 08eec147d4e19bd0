// Rings cut into sheets: volumes add up, dowel holes are found again on the B-rep and keep their walls by closed forms,
// and what the drawings enclose is held to sections and faces of the solid.
#include "geom/parts/sheet_layers.h"
#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/face_drawing.h"
#include "geom/parts/ring.h"
#include "geom/skin/internal/occt.h"
#include "tests/parts/features_bodies.h"

#include <catch2/catch.hpp>

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <TopExp_Explorer.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

/// 220 outside, 142 bore, four screws and four bolts, about the vehicle's z.
RingRequest ring_request(double height, double tilt_deg) {
    RingRequest request;
    request.seat.plane = {{40, -30, 12}, {0, 0, 1}};
    request.seat.outside = round_outline(Length::mm(220));
    request.up = {0, 1, 0};
    request.driver.name = "test driver";
    request.driver.cutout_diameter = Length::mm(142);
    request.driver.flange_diameter = Length::mm(166);
    request.driver.bolt_circle = Length::mm(155);
    request.driver.bolt_count = 4;
    request.driver.bolt_thread = "M4";
    request.height = Length::mm(height);
    request.tilt = Angle::deg(tilt_deg);
    request.tilt_towards = {1, 0, 0};
    for (int i = 0; i < 4; ++i) {
        const double a = kPi * i / 2.0 + kPi / 4.0;
        request.bolts.push_back({.name = std::to_string(i + 1),
                                 .point = request.seat.plane.point + Vec3{97 * std::sin(a), 97 * std::cos(a), 0},
                                 .thread = "M5",
                                 .under_head = Length::mm(4)});
    }
    return request;
}

SheetRequest sheets_of(const RingRequest& request, const Ring& ring, double sheet) {
    return {.solid = ring.product.solid,
            .seat = request.seat.plane,
            .front = ring.front,
            .up = request.up,
            .sheets = {.thickness = Length::mm(sheet)}};
}

double dowels_mm3(const SheetLayer& layer) {
    double sum = 0.0;
    for (const DowelHole& hole : layer.dowels) sum += kPi * hole.diameter_mm * hole.diameter_mm / 4.0 * hole.depth_mm;
    return sum;
}

/// What must hold of all layers; the greatest error of their volumes' sum, relative.
double check_layers(const Ring& ring, const SheetLayers& made, std::vector<std::string>& wrong) {
    double sum = 0.0;
    for (const SheetLayer& layer : made.layers) {
        const auto solid = require(measure::measure_solid(layer.solid, {}));
        if (!solid.valid || !solid.closed || solid.solids != 1) wrong.push_back(layer.name + " is not sound");
        sum += solid.volume.mm3() + dowels_mm3(layer);
        const auto holes = cylinders(layer.solid, layer.dowels.empty() ? 1.0 : layer.dowels[0].diameter_mm / 2.0);
        for (const DowelHole& dowel : layer.dowels) {
            const bool found = std::any_of(holes.begin(), holes.end(), [&](const Cylinder& c) {
                return norm(cross(c.axis, dowel.way)) < 1e-12 && norm(cross(c.at - dowel.from, c.axis)) < 1e-9;
            });
            if (!found) wrong.push_back(layer.name + " lacks a dowel hole");
            // Its partner in the neighbour.
            const bool is_met = std::any_of(made.layers.begin(), made.layers.end(), [&](const SheetLayer& other) {
                return std::abs(other.number - layer.number) == 1 &&
                       std::any_of(other.dowels.begin(), other.dowels.end(), [&](const DowelHole& d) {
                           return norm(cross(d.from - dowel.from, dowel.way)) < 1e-9;
                       });
            });
            if (!is_met) wrong.push_back(layer.name + " has a dowel hole that nothing meets");
        }
    }
    return std::abs(sum / ring.volume.mm3() - 1.0);
}

bool says(const FlatDrawing& drawing, const std::string& words) {
    return std::any_of(drawing.texts.begin(), drawing.texts.end(),
                       [&](const FlatText& t) { return t.text.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("a level ring of three sheets", "[parts][layers][oracle]") {
    const RingRequest request = ring_request(54, 0);
    const Ring ring = require(make_ring(request, {}));
    SheetRequest sheets = sheets_of(request, ring, 18);
    SECTION("volumes, dowels and their walls") {
        const auto made = require(make_sheet_layers(sheets, {}));
        REQUIRE(made.layers.size() == 3);
        CHECK(made.notes.empty());
        std::vector<std::string> wrong;
        CHECK(check_layers(ring, made, wrong) < 1e-9);
        CHECK(wrong == std::vector<std::string>{});
        CHECK(made.layers[0].name == "layer 1 of 3");
        CHECK(made.layers[0].dowels.size() == 4);
        CHECK(made.layers[1].dowels.size() == 8);
        CHECK(made.layers[2].dowels.size() == 4);
        for (const SheetLayer& layer : made.layers)
            for (const DowelHole& dowel : layer.dowels) {
                CHECK(dowel.depth_mm == Approx(9).epsilon(1e-12));
                const Vec3 at = dowel.from - request.seat.plane.point;
                const double r = std::hypot(at.x, at.y);
                CHECK(r >= 71 + 6);
                CHECK(r <= 110 - 6);
                CHECK(dowel.wall_mm <= std::min(r - 71, 110 - r) - 3 + 1e-9);  // never told too large
                for (const RingHole& hole : ring.holes) {
                    if (hole.made_mm > 100) continue;  // the bore
                    // A screw's pilot ends in the top layer; all else runs through.
                    const double end = hole.from.z + hole.way.z * hole.depth_mm;
                    if (std::min(hole.from.z, end) > dowel.from.z + 9 || std::max(hole.from.z, end) < dowel.from.z - 9)
                        continue;
                    CHECK(std::hypot(hole.from.x - dowel.from.x, hole.from.y - dowel.from.y) - hole.made_mm / 2 - 3 >=
                          3);
                }
            }
        // The two joints' dowels stand half a pitch apart, as near as the bolts let them.
        for (const DowelHole& a : made.layers[0].dowels)
            for (const DowelHole& b : made.layers[2].dowels)
                CHECK(std::hypot(a.from.x - b.from.x, a.from.y - b.from.y) >= 9);
    }
    SECTION("drawings") {
        const auto made = require(make_sheet_layers(sheets, {}));
        for (const int n : {0, 1}) {
            const FlatDrawing& drawing = made.layers[static_cast<std::size_t>(n)].drawing;
            CHECK(drawing.thickness_mm == 18);
            const Plane middle{request.seat.plane.point + Vec3{0, 0, 1} * (18.0 * n + 2.0), {0, 0, 1}};
            const double area = require(measure::section(ring.product.solid, middle)).area.mm2();
            CHECK(area_mm2(drawing) == Approx(area).epsilon(1e-6));
            const auto outline = std::find_if(drawing.circles.begin(), drawing.circles.end(),
                                              [](const FlatCircle& c) { return c.operation == Operation::Outline; });
            REQUIRE(outline != drawing.circles.end());
            CHECK(outline->radius_mm == Approx(110).epsilon(1e-12));
            CHECK(says(drawing, n == 0 ? "layer 1 of 3: sheet 18 mm" : "layer 2 of 3: sheet 18 mm"));
            CHECK(says(drawing, "9.0 mm deep from the upper face"));
            CHECK(says(drawing, "9.0 mm deep from the lower face") == (n == 1));
            CHECK_FALSE(says(drawing, "bevel"));
        }
    }
    SECTION("dowels through all inner layers, and through the seat when asked") {
        sheets.sheets.dowels.depth = DowelOptions::Depth::Through;
        for (const bool opens : {false, true}) {
            sheets.sheets.dowels.opens_at_seat = opens;
            const auto made = require(make_sheet_layers(sheets, {}));
            std::vector<std::string> wrong;
            CHECK(check_layers(ring, made, wrong) < 1e-9);
            CHECK(wrong == std::vector<std::string>{});
            CHECK(made.layers[1].dowels.size() == 4);
            CHECK(made.layers[1].dowels.at(0).goes_through);
            CHECK(made.layers[0].dowels.at(0).goes_through == opens);
            CHECK_FALSE(made.layers[2].dowels.at(0).goes_through);
        }
    }
    SECTION("a thinner top layer says so") {
        const RingRequest low = ring_request(43, 0);
        const Ring other = require(make_ring(low, {}));
        const auto made = require(make_sheet_layers(sheets_of(low, other, 18), {}));
        REQUIRE(made.notes.size() >= 1);
        CHECK(made.notes[0] == "top layer 7.0 mm of a sheet of 18 mm: plane it down, or height 36");
        std::vector<std::string> wrong;
        CHECK(check_layers(other, made, wrong) < 1e-9);
        CHECK(wrong == std::vector<std::string>{});
        CHECK(made.layers[2].dowels.at(0).depth_mm == Approx(3.5));
    }
    SECTION("what cannot be") {
        sheets.sheets.dowels.diameter = Length::mm(36);
        auto made = make_sheet_layers(sheets, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().code == FaultCode::Impossible);
        CHECK(made.error().where);
        CHECK(made.error().what.find("between layers 1 and 2") != std::string::npos);
        sheets.sheets.dowels = {};
        sheets.sheets.thickness = Length::mm(54);
        CHECK(make_sheet_layers(sheets, {}).error().what.find("as thick as the ring") != std::string::npos);
        sheets.sheets.thickness = Length::mm(0);
        CHECK(make_sheet_layers(sheets, {}).error().code == FaultCode::BadJob);
        sheets.sheets.thickness = Length::mm(18);
        sheets.seat.outward = {0, 0, -1};
        CHECK(make_sheet_layers(sheets, {}).error().what.find("54.00 mm behind the seat") != std::string::npos);
    }
}

TEST_CASE("a tilted ring of sheets", "[parts][layers][oracle]") {
    RingRequest request = ring_request(20, 15);
    for (const auto bore : {RingRequest::Bore::Driver, RingRequest::Bore::Seat}) {
        request.bore = bore;
        if (bore == RingRequest::Bore::Seat) request.driver.bolt_count = 0;  // its screws would run into the bore
        const Ring ring = require(make_ring(request, {}));
        SheetRequest sheets = sheets_of(request, ring, 18);
        sheets.sheets.dowels.count = 0;
        const auto made = require(make_sheet_layers(sheets, {}));
        std::vector<std::string> wrong;
        CHECK(check_layers(ring, made, wrong) < 1e-9);
        CHECK(wrong == std::vector<std::string>{});
        REQUIRE(made.layers.size() == 5);  // 20 + 220 tan 15 = 78.9
        CHECK_FALSE(says(made.layers[0].drawing, "bevel"));
        for (const int n : {1, 2, 3, 4})
            CHECK(says(made.layers[static_cast<std::size_t>(n)].drawing, "bevel 15.0 deg, high side at the arrow"));
        // The arrow points away from the side that the driver turns to: x of the drawing is x here.
        const auto arrow = std::find_if(made.layers[2].drawing.paths.begin(), made.layers[2].drawing.paths.end(),
                                        [](const FlatPath& p) { return p.operation == Operation::Text; });
        REQUIRE(arrow != made.layers[2].drawing.paths.end());
        CHECK(arrow->points[1].x < -29);
        if (bore == RingRequest::Bore::Driver) {
            // What two equal ellipses leave in common, by slices across the shift.
            const double c = std::cos(request.tilt.rad()), a = 71 / c, shift = 18 * std::tan(request.tilt.rad());
            double common = 0.0;
            constexpr int kSlices = 200000;
            for (int i = 0; i < kSlices; ++i) {
                const double y = 71 * (2.0 * (i + 0.5) / kSlices - 1.0);
                const double half = a * std::sqrt(1 - y * y / 71 / 71);
                common += std::max(0.0, 2 * half - shift) * 142 / kSlices;
            }
            const auto& paths = made.layers[0].drawing.paths;
            const auto hole = std::find_if(paths.begin(), paths.end(),
                                           [](const FlatPath& p) { return p.operation == Operation::ThroughHole; });
            REQUIRE(hole != paths.end());
            CHECK(std::abs(area_mm2(*hole)) == Approx(common).margin(0.005 * length_mm(*hole)));
            CHECK(std::count_if(paths.begin(), paths.end(),
                                [](const FlatPath& p) { return p.operation == Operation::Reference; }) == 2);
            CHECK(says(made.layers[0].drawing, "slanted by 15.0 deg"));
        }
    }
}

TEST_CASE("a ring that widens, its bore too: the widest outline, the narrowest opening", "[parts][layers][oracle]") {
    const TopoDS_Shape ring =
        BRepAlgoAPI_Cut(BRepPrimAPI_MakeCone(100, 110, 40).Shape(), BRepPrimAPI_MakeCone(60, 64, 40).Shape()).Shape();
    const auto made = require(make_sheet_layers({.solid = to_brep(TopExp_Explorer(ring, TopAbs_SOLID).Current()),
                                                 .seat = {{0, 0, 0}, {0, 0, 1}},
                                                 .front = {},
                                                 .up = {0, 1, 0},
                                                 .sheets = {.thickness = Length::mm(20)}},
                                                {}));
    REQUIRE(made.layers.size() == 2);
    for (const int n : {0, 1}) {
        const SheetLayer& layer = made.layers[static_cast<std::size_t>(n)];
        CHECK(area_mm2(layer.drawing) ==
              Approx(kPi * (std::pow(105 + 5 * n, 2) - std::pow(60 + 2 * n, 2))).epsilon(1e-9));
        const auto frustum = [](double a, double b) { return kPi * 20 / 3 * (a * a + a * b + b * b); };
        CHECK(require(measure::measure_solid(layer.solid, {})).volume.mm3() + dowels_mm3(layer) ==
              Approx(frustum(100 + 5 * n, 105 + 5 * n) - frustum(60 + 2 * n, 62 + 2 * n)).epsilon(1e-9));
        CHECK(std::none_of(layer.drawing.circles.begin(), layer.drawing.circles.end(),
                           [](const FlatCircle& c) { return c.operation == Operation::Countersink; }));
        // From the joint at 20, where outside and bore are 105 and 62: the walls are told square to the dowel, at all
        // heights from 10 to 30.
        for (const DowelHole& dowel : layer.dowels) {
            const double r = std::hypot(dowel.from.x, dowel.from.y);
            CHECK(dowel.wall_mm <= std::min(102.5 - r, r - 63) - 3 + 1e-9);
            CHECK(dowel.wall_mm >= std::min(102.5 - r, r - 63) - 3 - 0.11);
        }
    }
}

TEST_CASE("plane faces of a ring as a drawing", "[parts][layers][oracle]") {
    RingRequest request = ring_request(20, 15);
    request.bore = RingRequest::Bore::Seat;
    request.bolts.clear();
    request.driver.bolt_count = 0;
    const Ring ring = require(make_ring(request, {}));
    const auto seat = require(face_drawing("seat", ring.product.solid, request.seat.plane, request.up));
    CHECK(seat.circles.size() == 2);
    CHECK(seat.paths.empty());
    CHECK(area_mm2(seat) == Approx(kPi * (110 * 110 - 71 * 71)).epsilon(1e-12));
    const auto front = require(face_drawing("front", ring.product.solid, ring.front, request.up));
    CHECK(front.circles.empty());
    REQUIRE(front.paths.size() == 2);
    const double c = std::cos(request.tilt.rad());
    CHECK(area_mm2(front) == Approx(kPi * (110 * 110 - 71 * 71) / c).margin(0.005 * 2 * kPi * 190));
    CHECK(area_mm2(front) == Approx(kPi * (110 * 110 - 71 * 71) / c).epsilon(1e-5));
    // Every corner of the outer border on its ellipse, every arc's middle within the stated tolerance.
    for (const FlatPath& path : front.paths) {
        const double b = path.operation == Operation::Outline ? 110 : 71;
        for (std::size_t i = 0; i < path.points.size(); ++i) {
            const FlatPoint &p = path.points[i], &q = path.points[(i + 1) % path.points.size()];
            const auto off = [&](double x, double y) { return std::abs(std::hypot(x * c, y) - b); };
            CHECK(off(p.x, p.y) < 1e-6);
            const double mx = (p.x + q.x) / 2 + p.bulge * (q.y - p.y) / 2,
                         my = (p.y + q.y) / 2 - p.bulge * (q.x - p.x) / 2;
            CHECK(off(mx, my) < 0.005);
        }
    }
    // Between two of its faces there is none.
    const Plane none{request.seat.plane.point + Vec3{0, 0, 3}, {0, 0, 1}};
    CHECK(face_drawing("none", ring.product.solid, none, request.up).error().code == FaultCode::Impossible);
}

TEST_CASE("random rings of sheets keep the rules or name the joint", "[parts][layers][law]") {
    Random random(20271);
    int made = 0, refused = 0;
    std::vector<std::string> wrong;
    for (int n = 0; made + refused < 16 && n < 200; ++n) {
        RingRequest request = ring_request(random.uniform(32, 60), n % 2 == 0 ? 0.0 : random.uniform(1, 12));
        const auto direction = [&] {
            return unit(Vec3{random.uniform(-1, 1), random.uniform(-1, 1), random.uniform(-1, 1)} + Vec3{0, 0, 1e-3});
        };
        request.seat.plane.outward = direction();
        request.tilt_towards = direction();
        request.bore = n % 3 == 0 ? RingRequest::Bore::Seat : RingRequest::Bore::Driver;
        request.seat.outside = round_outline(Length::mm(random.uniform(200, 260)));
        request.bolts.clear();
        const auto ring = make_ring(request, {});
        if (!ring) continue;
        SheetRequest sheets = sheets_of(request, *ring, random.uniform(15, 30));
        sheets.sheets.dowels.count = 2 + n % 5;
        sheets.sheets.dowels.diameter = Length::mm(random.uniform(4, 12));
        const auto layers = make_sheet_layers(sheets, {});
        if (!layers) {
            ++refused;
            const Fault& fault = layers.error();
            if (fault.code != FaultCode::Impossible || !fault.where || fault.hint.empty() ||
                fault.what.find("between layers") == std::string::npos)
                wrong.push_back("ring " + std::to_string(n) + ": " + fault.what);
            continue;
        }
        ++made;
        const double error = check_layers(*ring, *layers, wrong);
        if (!(error < 1e-8)) wrong.push_back("ring " + std::to_string(n) + ": volumes off by " + std::to_string(error));
        for (const SheetLayer& layer : layers->layers)
            if (require(cut_into_mm(layer, layers->drawn_in, {})) > 0.03)
                wrong.push_back("ring " + std::to_string(n) + ": " + layer.name + " is cut into");
        for (const SheetLayer& layer : layers->layers)
            for (const DowelHole& dowel : layer.dowels)
                if (dowel.wall_mm < 3.0) wrong.push_back("ring " + std::to_string(n) + ": a wall too thin");
    }
    INFO(made << " made, " << refused << " refused");
    for (const std::string& each : wrong) UNSCOPED_INFO(each);
    CHECK(wrong.empty());
    CHECK(made >= 8);
    CHECK(made + refused == 16);
}
