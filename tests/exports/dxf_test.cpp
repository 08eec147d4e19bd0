// Judges: a reader of our own from the published group codes, and the audit of ezdxf (Debian), a library of another
// house.
#include "exports/dxf.h"
#include "geom/parts/sheet_layers.h"
#include "geom/skin/internal/occt.h"
#include "tests/support/dxf_reader.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <TopExp_Explorer.hxx>
#include <gp_Ax2.hxx>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <numbers>
#include <set>

using namespace geom::parts;
using exports::dxf_text;

namespace {

constexpr double kPi = std::numbers::pi;

/// A rectangle with round corners, counter-clockwise, about the origin.
FlatPath rounded(double width, double height, double radius) {
    const double x = width / 2, y = height / 2, r = radius, quarter = bulge_of(kPi / 2);
    return {Operation::Outline,
            {{x - r, -y, quarter},
             {x, -y + r, 0},
             {x, y - r, quarter},
             {x - r, y, 0},
             {-x + r, y, quarter},
             {-x, y - r, 0},
             {-x, -y + r, quarter},
             {-x + r, -y, 0}},
            true};
}

FlatDrawing plate() {
    FlatDrawing drawing{.name = "mounting plate", .thickness_mm = 4.0, .paths = {}, .circles = {}, .texts = {}};
    drawing.paths.push_back(rounded(200, 120, 16));
    drawing.paths.push_back({Operation::ThroughHole, {{-5, 30, 0}, {5, 30, 1}, {5, 39, 0}, {-5, 39, 1}}, true});
    drawing.paths.push_back({Operation::BendLine, {{60, -60, 0}, {60, 60, 0}}, false});
    for (const double x : {-80.0, 80.0}) {
        drawing.circles.push_back({Operation::ThroughHole, x, -40, 4.5});
        drawing.circles.push_back({Operation::Countersink, x, -40, 8.96});
    }
    drawing.circles.push_back({Operation::Pocket, 0, -20, 13.25});
    drawing.texts.push_back({-60, 0, 5, "mounting plate, 4 mm"});
    return drawing;
}

/// The drawing of the lowest of two layers of a pipe, 40 high, whose bore leans by 10 degrees.
FlatDrawing layer() {
    const double lean = kPi / 18;
    const gp_Ax2 axis(gp_Pnt(-std::sin(lean) * 50, 0, -std::cos(lean) * 50 + 20),
                      gp_Dir(std::sin(lean), 0, std::cos(lean)));
    const TopoDS_Shape pipe =
        BRepAlgoAPI_Cut(BRepPrimAPI_MakeCylinder(90, 40).Shape(), BRepPrimAPI_MakeCylinder(axis, 60, 100).Shape())
            .Shape();
    const geom::Brep solid = geom::to_brep(TopExp_Explorer(pipe, TopAbs_SOLID).Current());
    const auto made = make_sheet_layers({.solid = solid,
                                         .seat = {{0, 0, 0}, {0, 0, 1}},
                                         .front = {},
                                         .up = {0, 1, 0},
                                         .sheets = {.thickness = geom::Length::mm(20)}},
                                        {});
    REQUIRE(made);
    return made->layers.at(0).drawing;
}

std::string output_of(const std::string& command) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> pipe(popen(command.c_str(), "r"), pclose);
    REQUIRE(pipe);
    std::string text;
    std::array<char, 4096> buffer{};
    while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe.get())) text.append(buffer.data(), n);
    return text;
}

}  // namespace

TEST_CASE("a drawing says release 2000, millimetres and metric, and has a layer an operation", "[exports][dxf]") {
    const auto read = dxf_reader::read(dxf_text(plate()));
    CHECK(read.header.at("$ACADVER") == "AC1015");
    CHECK(read.header.at("$INSUNITS") == "4");
    CHECK(read.header.at("$MEASUREMENT") == "1");
    CHECK(read.sections == std::vector<std::string>{"HEADER", "TABLES", "BLOCKS", "ENTITIES", "OBJECTS"});
    CHECK(read.layers == std::vector<std::string>{"0", "outline", "through-holes", "pockets", "countersinks",
                                                  "bend-lines", "text", "reference"});
    std::set<std::string> handles;
    for (const auto& e : read.entities) {
        CAPTURE(e.type, e.handle);
        CHECK(handles.insert(e.handle).second);
        CHECK((e.type == "LINE" || e.type == "CIRCLE" || e.type == "LWPOLYLINE" || e.type == "TEXT"));
    }
    const std::set<std::string> all(read.handles.begin(), read.handles.end());
    CHECK(all.size() == read.handles.size());
    CHECK(read.on("text").at(0).text == "mounting plate, 4 mm");
}

TEST_CASE("loops read back have the areas of the closed forms", "[exports][dxf][oracle]") {
    const FlatDrawing drawing = plate();
    const auto read = dxf_reader::read(dxf_text(drawing));
    REQUIRE(read.on("outline").size() == 1);
    const double outline = 200 * 120 - (4 - kPi) * 16 * 16;
    CHECK(dxf_reader::area(read.on("outline")[0]) == Approx(outline).epsilon(1e-8));
    CHECK(area_mm2(drawing.paths[0]) == Approx(outline).epsilon(1e-13));
    CHECK(length_mm(drawing.paths[0]) == Approx(2 * (200 - 32) + 2 * (120 - 32) + 2 * kPi * 16).epsilon(1e-13));
    double holes = 0.0;
    for (const auto& e : read.on("through-holes")) holes += std::abs(dxf_reader::area(e));
    const double closed = 2 * kPi * 4.5 * 4.5 + 10 * 9 + kPi * 4.5 * 4.5;
    CHECK(holes == Approx(closed).epsilon(1e-8));
    CHECK(area_mm2(drawing) == Approx(outline - closed).epsilon(1e-13));
    CHECK(read.on("countersinks").size() == 2);
    REQUIRE(read.on("pockets").size() == 1);
    CHECK(read.on("pockets")[0].radius == 13.25);
    REQUIRE(read.on("bend-lines").size() == 1);
    CHECK(read.on("bend-lines")[0].type == "LINE");
    CHECK(read.on("bend-lines")[0].corners[1].y == 60);
}

TEST_CASE("an arc that turns clockwise takes its area away", "[exports][dxf][oracle]") {
    // A square with a half circle bitten out of its right side.
    FlatDrawing bitten{.name = "bitten", .thickness_mm = 3.0, .paths = {}, .circles = {}, .texts = {}};
    bitten.paths.push_back(
        {Operation::Outline, {{0, 0, 0}, {40, 0, 0}, {40, 10, -1}, {40, 30, 0}, {40, 40, 0}, {0, 40, 0}}, true});
    const double area = 1600 - kPi * 100 / 2;
    CHECK(area_mm2(bitten.paths[0]) == Approx(area).epsilon(1e-13));
    CHECK(dxf_reader::area(dxf_reader::read(dxf_text(bitten)).on("outline").at(0)) == Approx(area).epsilon(1e-8));
}

TEST_CASE("the same drawing gives the same bytes, and numbers are plain", "[exports][dxf]") {
    FlatDrawing drawing = plate();
    CHECK(dxf_text(drawing) == dxf_text(plate()));
    drawing.circles.push_back({Operation::ThroughHole, -1e-12, 1.0 / 3.0, 2.5});
    const std::string text = dxf_text(drawing);
    CHECK(text.find("\n 10\n0.0\n 20\n0.333333333\n 30\n0.0\n 40\n2.5\n") != std::string::npos);
    CHECK(text.find("e-") == std::string::npos);
}

TEST_CASE("another house's audit finds no error in drawings", "[exports][dxf][outside]") {
    const support::TempFolder folder;
    const std::string script =
        "import sys, ezdxf\n"
        "d = ezdxf.readfile(sys.argv[1])\n"
        "a = d.audit()\n"
        "print(d.dxfversion, d.units, len(a.errors), len(d.modelspace()))\n";
    for (const FlatDrawing& drawing : {plate(), layer()}) {
        REQUIRE(exports::write_dxf(drawing, folder.path() / "drawing.dxf"));
        const std::string output =
            output_of("/usr/bin/python3 -c '" + script + "' '" + (folder.path() / "drawing.dxf").string() + "' 2>&1");
        const std::size_t things = drawing.paths.size() + drawing.circles.size() + drawing.texts.size();
        CHECK(output == "AC1015 4 0 " + std::to_string(things) + "\n");
    }
}

TEST_CASE("a layer with a slanted bore: what is open at every height, and both mouths for reference",
          "[exports][dxf][oracle]") {
    const auto read = dxf_reader::read(dxf_text(layer()));
    REQUIRE(read.on("outline").size() == 1);
    CHECK(dxf_reader::area(read.on("outline")[0]) == Approx(kPi * 90 * 90).epsilon(1e-9));
    REQUIRE(read.on("reference").size() == 2);
    const double a = 60 / std::cos(kPi / 18), shift = 20 * std::tan(kPi / 18);
    for (const auto& mouth : read.on("reference"))
        CHECK(std::abs(dxf_reader::area(mouth)) == Approx(kPi * a * 60).margin(0.005 * 2 * kPi * a));
    // Two equal ellipses beside one another have in common what two circles have, drawn out.
    const double half = std::acos(shift / (2 * a));
    const double common = 60 * a * (2 * half - std::sin(2 * half));
    REQUIRE(read.on("through-holes").size() == 1);
    CHECK(std::abs(dxf_reader::area(read.on("through-holes")[0])) == Approx(common).margin(0.005 * 2 * kPi * a));
    CHECK(read.on("pockets").size() == 4);
}
