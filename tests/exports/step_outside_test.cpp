// The written STEP text read by tests/support/step_reader, which knows ISO 10303-21 and -42 and no kernel, against
// closed forms, against the kernel's own measures, and against texts that are wrong in one place.
#include "exports/step.h"
#include "geom/measure/brep_measure.h"
#include "geom/skin/internal/occt.h"
#include "tests/exports/test_parts.h"
#include "tests/support/step_reader.h"

#include <catch2/catch.hpp>

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepBuilderAPI_NurbsConvert.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <gp_Ax1.hxx>
#include <gp_Ax2.hxx>
#include <gp_Elips.hxx>

#include <fmt/format.h>

#include <algorithm>
#include <numbers>
#include <regex>

namespace {

constexpr double kPi = std::numbers::pi;

/// A frame along no axis of the world, away from its origin.
const gp_Ax2 kTurned(gp_Pnt(31, -47, 12), gp_Dir(0.48, 0.6, 0.64), gp_Dir(0.8, -0.64, 0));

std::string written(const TopoDS_Shape& shape) {
    geom::parts::Product product;
    product.name = "piece";
    product.solid = geom::to_brep(shape);
    const auto text = exports::step_text({product}, "outside");
    REQUIRE(text.has_value());
    return *text;
}

outside::Solid only_solid(const std::string& text) {
    const auto products = outside::read_step(text);
    REQUIRE(products.size() == 1);
    REQUIRE(products.front().solids.size() == 1);
    return products.front().solids.front();
}

std::string figures(const outside::Solid& s) {
    std::string text = fmt::format(
        "outside reading: {:.9g} mm3, {:.9g} mm2, centre ({:.6f}, {:.6f}, {:.6f}); edges off their surfaces by {:.2e} "
        "mm, "
        "off their vertices by {:.2e} mm; vector area {:.2e} mm2, quadrature {:.2e} mm3; {} faces, genus {}",
        s.volume, s.area, s.centre.x, s.centre.y, s.centre.z, s.off_surface, s.end_gap, s.open_area, s.unresolved,
        s.faces(), s.genus());
    for (const std::string& fault : s.faults) text += "\n" + fault;
    return text;
}

struct Known {
    std::string name;
    TopoDS_Shape shape;
    double volume = 0.0, area = 0.0;
    double axial = 0.0;  ///< of the centre, along the axis of the turned frame from its origin
    int genus = 0;
};

std::vector<Known> known_solids() {
    std::vector<Known> all;
    const double r = 40, h = 90;
    all.push_back({"box", BRepPrimAPI_MakeBox(kTurned, 20, 30, 50).Shape(), 30000, 2 * (600 + 1000 + 1500), 25, 0});
    all.push_back({"cylinder", BRepPrimAPI_MakeCylinder(kTurned, r, h).Shape(), kPi * r * r * h, 2 * kPi * r * (r + h),
                   h / 2, 0});
    all.push_back({"cylinder with a hole",
                   BRepAlgoAPI_Cut(BRepPrimAPI_MakeCylinder(kTurned, r, h).Shape(),
                                   BRepPrimAPI_MakeCylinder(kTurned, 15, h).Shape())
                       .Shape(),
                   kPi * (r * r - 225) * h, 2 * kPi * ((r + 15) * h + r * r - 225), h / 2, 1});
    all.push_back({"half cylinder", BRepPrimAPI_MakeCylinder(kTurned, r, h, kPi).Shape(), kPi * r * r * h / 2,
                   kPi * r * (r + h) + 2 * r * h, h / 2, 0});
    all.push_back({"ball", BRepPrimAPI_MakeSphere(kTurned, r).Shape(), 4 * kPi * r * r * r / 3, 4 * kPi * r * r, 0, 0});
    all.push_back({"half ball", BRepPrimAPI_MakeSphere(kTurned, r, 0.0, kPi / 2).Shape(), 2 * kPi * r * r * r / 3,
                   3 * kPi * r * r, 3 * r / 8, 0});
    all.push_back({"quarter of a ball", BRepPrimAPI_MakeSphere(kTurned, r, kPi / 2).Shape(), kPi * r * r * r / 3,
                   2 * kPi * r * r, 0, 0});
    all.push_back({"torus", BRepPrimAPI_MakeTorus(kTurned, 60, 18).Shape(), 2 * kPi * kPi * 60 * 324,
                   4 * kPi * kPi * 60 * 18, 0, 1});
    all.push_back({"third of a torus", BRepPrimAPI_MakeTorus(kTurned, 60, 18, 2 * kPi / 3).Shape(),
                   2 * kPi * kPi * 60 * 324 / 3, 4 * kPi * kPi * 60 * 18 / 3 + 2 * kPi * 324, 0, 0});
    all.push_back({"cone", BRepPrimAPI_MakeCone(kTurned, r, 0, h).Shape(), kPi * r * r * h / 3,
                   kPi * r * (r + std::hypot(r, h)), h / 4, 0});
    all.push_back({"frustum", BRepPrimAPI_MakeCone(kTurned, 15, r, h).Shape(), kPi * h * (225 + 15 * r + r * r) / 3,
                   kPi * (225 + r * r + (15 + r) * std::hypot(r - 15, h)),
                   h / 4 * (225 + 2 * 15 * r + 3 * r * r) / (225 + 15 * r + r * r), 0});
    return all;
}

void check(const Known& k, const std::string& text, double relative) {
    const outside::Solid s = only_solid(text);
    INFO(k.name << "\n" << figures(s) << fmt::format("\nclosed form: {:.9g} mm3, {:.9g} mm2", k.volume, k.area));
    CHECK(s.faults.empty());
    CHECK(std::abs(s.volume / k.volume - 1) < relative);
    CHECK(std::abs(s.area / k.area - 1) < relative);
    const outside::V3 axis{kTurned.Direction().X(), kTurned.Direction().Y(), kTurned.Direction().Z()};
    const outside::V3 from{kTurned.Location().X(), kTurned.Location().Y(), kTurned.Location().Z()};
    CHECK(std::abs(outside::dot(s.centre - from, axis) - k.axial) < 1e-4);
    CHECK(s.open_area < 1e-6 * s.area);
    CHECK(s.genus() == k.genus);
}

outside::Solid against_the_kernel(const geom::Brep& brep) {
    const auto measured = geom::measure::measure_solid(brep, geom::Context{});
    REQUIRE(measured.has_value());
    const outside::Solid s = only_solid(written(geom::to_occt(brep)));
    INFO(figures(s) << fmt::format(
             "\nof the solid in memory: {:.9g} mm3, {:.9g} mm2, centre ({:.6f}, {:.6f}, {:.6f}), {} faces",
             measured->volume.mm3(), measured->area.mm2(), measured->centre.x, measured->centre.y, measured->centre.z,
             measured->faces));
    CHECK(s.faults.empty());
    CHECK(std::abs(s.volume / measured->volume.mm3() - 1) < 1e-5);
    CHECK(std::abs(s.area / measured->area.mm2() - 1) < 1e-5);
    CHECK(outside::length(s.centre - outside::V3{measured->centre.x, measured->centre.y, measured->centre.z}) < 1e-3);
    CHECK(s.faces() == measured->faces);
    CHECK(static_cast<int>(s.shells.size()) == measured->shells);
    return s;
}

/// `text` with the first match of `pattern` replaced; there must be one.
std::string with(const std::string& text, const std::string& pattern, const std::string& replacement) {
    const std::regex regex(pattern);
    REQUIRE(std::regex_search(text, regex));
    return std::regex_replace(text, regex, replacement, std::regex_constants::format_first_only);
}

bool has_fault(const std::string& text, const std::string& part) {
    const outside::Solid s = only_solid(text);
    UNSCOPED_INFO(figures(s));
    return std::any_of(s.faults.begin(), s.faults.end(),
                       [&](const std::string& f) { return f.find(part) != std::string::npos; });
}

/// One product with the entities given, whose solid is #1: what no kernel wrote.
std::string by_hand(const std::string& entities) {
    return "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
           "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA; /* by hand */\n"
           "#900=APPLICATION_CONTEXT('');\n#901=PRODUCT_CONTEXT('',#900,'');\n#902=PRODUCT('','it''s "
           "\\X2\\00E9\\X0\\','',(#901));\n"
           "#903=PRODUCT_DEFINITION_FORMATION('','',#902);\n#904=PRODUCT_DEFINITION_CONTEXT('',#900,'');\n"
           "#905=PRODUCT_DEFINITION('','',#903,#904);\n#906=PRODUCT_DEFINITION_SHAPE('','',#905);\n"
           "#907=SHAPE_DEFINITION_REPRESENTATION(#906,#908);\n#908=ADVANCED_BREP_SHAPE_REPRESENTATION('',(#1),#909);\n"
           "#909=(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT((#910,#911))REPRESENTATION_CONTEXT(''"
           ",''));\n"
           "#910=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.));\n#911=(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,"
           ".RADIAN.));\n" +
           entities + "ENDSEC;\nEND-ISO-10303-21;\n";
}

}  // namespace

TEST_CASE("an outside reading of written primitives gives their closed forms", "[exports][step][oracle]") {
    for (const Known& k : known_solids()) check(k, written(k.shape), 1e-9);
}

TEST_CASE("an outside reading of the same primitives as rational splines gives their closed forms",
          "[exports][step][oracle]") {
    for (const Known& k : known_solids())
        check(k, written(BRepBuilderAPI_NurbsConvert(k.shape, Standard_True).Shape()), 1e-6);
}

TEST_CASE("an outside reading of swept solids gives their closed forms", "[exports][step][oracle]") {
    // An ellipse pushed along its normal, and turned round a line in its plane (Pappus).
    const gp_Elips ellipse(kTurned, 30, 18);
    const TopoDS_Shape profile =
        BRepBuilderAPI_MakeFace(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(ellipse).Edge()).Wire()).Face();
    const double area = kPi * 30 * 18;
    const outside::Solid pushed =
        only_solid(written(BRepPrimAPI_MakePrism(profile, gp_Vec(kTurned.Direction()) * 70.0).Shape()));
    INFO(figures(pushed));
    CHECK(pushed.faults.empty());
    CHECK(std::abs(pushed.volume / (area * 70) - 1) < 1e-9);
    const gp_Ax1 axis(kTurned.Location().Translated(gp_Vec(kTurned.XDirection()) * 80.0), kTurned.YDirection());
    const outside::Solid turned = only_solid(written(BRepPrimAPI_MakeRevol(profile, axis).Shape()));
    INFO(figures(turned));
    CHECK(turned.faults.empty());
    CHECK(turned.genus() == 1);
    CHECK(std::abs(turned.volume / (area * 2 * kPi * 80) - 1) < 1e-9);
    const outside::Solid part = only_solid(written(BRepPrimAPI_MakeRevol(profile, axis, 1.0).Shape()));
    INFO(figures(part));
    CHECK(part.faults.empty());
    CHECK(std::abs(part.volume / (area * 80) - 1) < 1e-9);
}

TEST_CASE("an outside reading finds the void of a hollow solid and takes it away", "[exports][step][oracle]") {
    const outside::Solid s = only_solid(written(geom::to_occt(test_parts::box_with_void(240, 260, 330, 6))));
    INFO(figures(s));
    CHECK(s.faults.empty());
    REQUIRE(s.shells.size() == 2);
    CHECK(s.shells[0].volume == Approx(240.0 * 260 * 330).epsilon(1e-12));
    CHECK(s.shells[1].volume == Approx(-228.0 * 248 * 318).epsilon(1e-12));
}

TEST_CASE("an outside reading of made parts agrees with the solids in memory", "[exports][step][oracle]") {
    SECTION("a rounded hollow box with holes") {
        // Cut-out, eight bolt holes and terminal hole lead into one cavity.
        CHECK(against_the_kernel(test_parts::hollow_box(240, 260, 330, 6, 12)).genus() == 9);
    }
    SECTION("a loft with one closed spline side") {
        against_the_kernel(test_parts::loft());
    }
    SECTION("a bumpy spline face") {
        against_the_kernel(test_parts::bumpy_solid(60));
    }
}

TEST_CASE("an outside reading keeps product names and placements", "[exports][step]") {
    geom::parts::Product shell, plug;
    shell.name = "shell";
    shell.solid = test_parts::plain_box(20, 30, 50);  // centre (0, 15, 25)
    plug.name = "plug";
    plug.solid = test_parts::plain_box(10, 10, 10);
    plug.is_tool = true;
    const auto text = exports::step_text({shell, plug}, "outside");
    REQUIRE(text.has_value());
    auto products = outside::read_step(*text);
    REQUIRE(products.size() == 2);
    std::sort(products.begin(), products.end(), [](const auto& a, const auto& b) { return a.name > b.name; });
    CHECK(products[0].name == "shell");
    CHECK(products[0].is_component);
    CHECK(products[1].name == "plug");
    CHECK_FALSE(products[1].is_component);

    // The same file with the shell's place in the assembly moved and turned: x to y, y to z, z to x.
    std::smatch found;
    REQUIRE(std::regex_search(*text, found, std::regex("ITEM_DEFINED_TRANSFORMATION\\('','',#\\d+,#(\\d+)\\)")));
    const std::string axes = found[1];
    REQUIRE(std::regex_search(*text, found,
                              std::regex("#" + axes + "=AXIS2_PLACEMENT_3D\\('',#(\\d+),#(\\d+),#(\\d+)\\)")));
    const std::string at = found[1], z = found[2], x = found[3];
    std::string moved =
        with(*text, "#" + at + "=CARTESIAN_POINT\\('',\\([^)]*\\)", "#" + at + "=CARTESIAN_POINT('',(100.,200.,300.)");
    moved = with(moved, "#" + z + "=DIRECTION\\('',\\([^)]*\\)", "#" + z + "=DIRECTION('',(1.,0.,0.)");
    moved = with(moved, "#" + x + "=DIRECTION\\('',\\([^)]*\\)", "#" + x + "=DIRECTION('',(0.,1.,0.)");
    for (const auto& p : outside::read_step(moved)) {
        if (p.name != "shell") continue;
        REQUIRE(p.solids.size() == 1);
        CHECK(outside::length(p.solids[0].centre - outside::V3{125, 200, 315}) < 1e-9);
    }
}

TEST_CASE("an outside reading sees what is wrong in a text", "[exports][step]") {
    const std::string good = written(
        BRepAlgoAPI_Cut(BRepPrimAPI_MakeCylinder(40, 90).Shape(), BRepPrimAPI_MakeCylinder(15, 90).Shape()).Shape());
    REQUIRE(only_solid(good).faults.empty());
    CHECK(has_fault(with(good, "(ADVANCED_FACE\\('',\\([^)]*\\),#\\d+,)\\.T\\.", "$1.F."), "is inside out"));
    const std::string box = written(BRepPrimAPI_MakeBox(20, 30, 50).Shape());
    CHECK(has_fault(with(box, "(ORIENTED_EDGE\\('',\\*,\\*,#\\d+,)\\.T\\.", "$1.F."), "is open between edges"));
    CHECK(has_fault(with(good, "(ORIENTED_EDGE\\('',\\*,\\*,#\\d+,)\\.T\\.", "$1.F."), "2 times against itself"));
    CHECK(has_fault(with(good, "(CLOSED_SHELL\\('',\\(#\\d+),#\\d+", "$1"), "is used"));
    CHECK(has_fault(with(good, "(CYLINDRICAL_SURFACE\\('',#\\d+),40\\.", "$1,40.002"),
                    "an edge leaves its cylinder by 0.002"));
    CHECK(has_fault(with(good, "(CIRCLE\\('',#\\d+),40\\.", "$1,40.002"), "misses its vertex by 0.002"));
    CHECK_THROWS_WITH(outside::read_step(with(good, "SI_UNIT\\(\\.MILLI\\.", "SI_UNIT($$")),
                      Catch::Contains("not the millimetre"));
    CHECK_THROWS_WITH(outside::read_step(with(good, "SI_UNIT\\(\\$,\\.RADIAN\\.", "SI_UNIT(.MILLI.,.RADIAN.")),
                      Catch::Contains("not the radian"));
    CHECK_THROWS_WITH(outside::read_step(with(good, "CLOSED_SHELL\\('',\\(#\\d+", "CLOSED_SHELL('',(#999999")),
                      Catch::Contains("#999999, which is not there"));
    CHECK_THROWS_AS(outside::read_step(good.substr(0, good.size() / 2)), outside::StepFault);
    CHECK_THROWS_WITH(outside::read_step("solid nothing"), Catch::Contains("line 1"));
}

TEST_CASE("an outside reading needs no seams: a capsule and an elbow written by hand from the standard",
          "[exports][step][oracle]") {
    // The kernel cuts closed faces open along seams, the standard does not ask for that: loops that go round a
    // cylinder, balls with their pole inside the face, and loops that go round the pipe of a torus.
    const std::string capsule = by_hand(
        "#1=MANIFOLD_SOLID_BREP('',#2);\n#2=CLOSED_SHELL('',(#3,#4,#5));\n"
        "#3=ADVANCED_FACE('',(#6,#7),#20,.T.);\n#4=ADVANCED_FACE('',(#8),#21,.T.);\n#5=ADVANCED_FACE('',(#9),#22,.T.);"
        "\n"
        "#6=FACE_BOUND('',#10,.T.);\n#7=FACE_BOUND('',#11,.F.);\n#8=FACE_OUTER_BOUND('',#10,.F.);\n#9=FACE_OUTER_BOUND("
        "'',#11,.T.);\n"
        "#10=EDGE_LOOP('',(#12));\n#11=EDGE_LOOP('',(#13));\n#12=ORIENTED_EDGE('',*,*,#14,.T.);\n#13=ORIENTED_EDGE('',*"
        ",*,#15,.T.);\n"
        "#14=EDGE_CURVE('',#16,#16,#30,.T.);\n#15=EDGE_CURVE('',#17,#17,#31,.T.);\n"
        "#16=VERTEX_POINT('',#40);\n#17=VERTEX_POINT('',#41);\n"
        "#20=CYLINDRICAL_SURFACE('',#50,10.);\n#21=SPHERICAL_SURFACE('',#50,10.);\n#22=SPHERICAL_SURFACE('',#51,10.);\n"
        "#30=SURFACE_CURVE('',#32,(#20,#21),.CURVE_3D.);\n#31=CIRCLE('',#51,10.);\n#32=CIRCLE('',#50,10.);\n"
        "#40=CARTESIAN_POINT('',(10.,0.,0.));\n#41=CARTESIAN_POINT('',(1.E+01,0.,+25.));\n"
        "#42=CARTESIAN_POINT('',(0.,0.,0.));\n#43=CARTESIAN_POINT('',(0.,0.,25.));\n"
        "#50=AXIS2_PLACEMENT_3D('',#42,$,$);\n#51=AXIS2_PLACEMENT_3D('',#43,#60,$);\n#60=DIRECTION('',(0.,0.,2.));\n");
    const auto products = outside::read_step(capsule);
    REQUIRE(products.size() == 1);
    CHECK(products[0].name == "it's \xC3\xA9");
    const outside::Solid& s = products[0].solids.at(0);
    INFO(figures(s));
    CHECK(s.faults.empty());
    CHECK(s.genus() == 0);
    CHECK(s.volume == Approx(kPi * 100 * 25 + 4 * kPi * 1000 / 3).epsilon(1e-10));
    CHECK(s.area == Approx(2 * kPi * 10 * 25 + 4 * kPi * 100).epsilon(1e-10));
    CHECK(outside::length(s.centre - outside::V3{0, 0, 12.5}) < 1e-9);

    // A quarter of a torus of radii 50 and 8 from +x to +y; its ends are discs.
    const outside::Solid elbow = only_solid(
        by_hand("#1=MANIFOLD_SOLID_BREP('',#2);\n#2=CLOSED_SHELL('',(#3,#4,#5));\n"
                "#3=ADVANCED_FACE('',(#6,#7),#20,.T.);\n#4=ADVANCED_FACE('',(#8),#21,.F.);\n#5=ADVANCED_FACE('',(#9),#"
                "22,.T.);\n"
                "#6=FACE_BOUND('',#10,.F.);\n#7=FACE_BOUND('',#11,.T.);\n#8=FACE_BOUND('',#10,.T.);\n#9=FACE_BOUND('',#"
                "11,.F.);\n"
                "#10=EDGE_LOOP('',(#12));\n#11=EDGE_LOOP('',(#13));\n#12=ORIENTED_EDGE('',*,*,#14,.T.);\n#13=ORIENTED_"
                "EDGE('',*,*,#15,.T.);\n"
                "#14=EDGE_CURVE('',#16,#16,#30,.T.);\n#15=EDGE_CURVE('',#17,#17,#31,.T.);\n"
                "#16=VERTEX_POINT('',#40);\n#17=VERTEX_POINT('',#41);\n"
                "#20=TOROIDAL_SURFACE('',#50,50.,8.);\n#21=PLANE('',#51);\n#22=PLANE('',#52);\n"
                "#30=CIRCLE('',#53,8.);\n#31=CIRCLE('',#54,8.);\n"
                "#40=CARTESIAN_POINT('',(58.,0.,0.));\n#41=CARTESIAN_POINT('',(0.,58.,0.));\n#42=CARTESIAN_POINT('',(0."
                ",0.,0.));\n"
                "#43=CARTESIAN_POINT('',(50.,0.,0.));\n#44=CARTESIAN_POINT('',(0.,50.,0.));\n"
                "#50=AXIS2_PLACEMENT_3D('',#42,#60,#61);\n#51=AXIS2_PLACEMENT_3D('',#43,#62,#61);\n#52=AXIS2_PLACEMENT_"
                "3D('',#44,#63,#62);\n"
                "#53=AXIS2_PLACEMENT_3D('',#43,#64,#61);\n#54=AXIS2_PLACEMENT_3D('',#44,#61,#62);\n"
                "#60=DIRECTION('',(0.,0.,1.));\n#61=DIRECTION('',(1.,0.,0.));\n#62=DIRECTION('',(0.,1.,0.));\n"
                "#63=DIRECTION('',(-1.,0.,0.));\n#64=DIRECTION('',(0.,-1.,0.));\n"));
    INFO(figures(elbow));
    CHECK(elbow.faults.empty());
    CHECK(elbow.genus() == 0);
    CHECK(elbow.area == Approx(2 * kPi * 8 * kPi / 2 * 50 + 2 * kPi * 64).epsilon(1e-10));
    CHECK(elbow.volume == Approx(kPi * 64 * kPi / 2 * 50).epsilon(1e-10));
}
