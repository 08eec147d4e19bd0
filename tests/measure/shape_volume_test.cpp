// Volumes of shapes of unknown origin: closed forms through every format and unit, two methods against each other.
#include "geom/measure/shape_volume.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_file.h"
#include "geom/measure/winding_tree.h"
#include "tests/measure/shapes.h"
#include "tests/support/mesh_files.h"
#include "tests/support/temp_folder.h"

#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <Interface_Static.hxx>
#include <STEPControl_Writer.hxx>

#include <fmt/format.h>

using namespace geom;
using namespace geom::measure;
using shapes::kPi;
using shapes::require;

namespace {

/// The solids of the reference table.
struct Solid {
    const char* name;
    TopoDS_Shape shape;
    double mm3;
};
std::vector<Solid> solids() {
    const gp_Ax2 up(gp_Pnt(10, 20, 30), gp_Dir(0, 0, 1));
    return {
        {"box", shapes::box({5, 6, 7}, {305, 206, 107}), 6e6},
        {"sphere", BRepPrimAPI_MakeSphere(up, 50.0).Shape(), 4.0 / 3.0 * kPi * 125000.0},
        {"frustum", BRepPrimAPI_MakeCone(up, 90.0, 60.0, 45.0).Shape(), kPi * 45.0 * (8100 + 5400 + 3600) / 3.0},
        {"torus", BRepPrimAPI_MakeTorus(up, 100.0, 30.0).Shape(), 2.0 * kPi * kPi * 100.0 * 900.0},
        {"cylinder", shapes::cylinder({1, 2, 3}, {1, 2, 0.5}, 50, 120), kPi * 2500.0 * 120.0},
        {"hollow box", shapes::cut(shapes::box({0, 0, 0}, {320, 220, 120}), shapes::box({12, 12, 12}, {308, 208, 108})),
         2878464.0},
        {"hill block", shapes::hill_block(), shapes::hill_block_mm3()},
    };
}

const Context kQuiet{};

ShapeVolume of_mesh(TriMesh mesh) {
    return require(volume_of_mesh({.mesh = std::move(mesh)}, kQuiet));
}

}  // namespace

TEST_CASE("B-rep solids hold their closed forms to 1e-9, and their triangles agree within the chord", "[any_volume]") {
    for (const Solid& s : solids()) {
        INFO(s.name);
        const ShapeVolume v = require(volume_of_breps({{s.name, to_brep(s.shape)}}, Length::mm(0.02), kQuiet));
        REQUIRE(v.known);
        CHECK(v.exact);
        CHECK(v.flaws.empty());
        CHECK(v.volume.mm3() == Approx(s.mm3).epsilon(1e-9));
        CHECK(v.low <= v.volume);
        CHECK(v.volume <= v.high);
        REQUIRE(v.others.size() == 1);
        CHECK(std::abs((v.others[0].volume - v.volume).mm3()) <= v.others[0].bound.mm3());
    }
}

TEST_CASE("STEP files say their unit, and every product is told", "[any_volume]") {
    const support::TempFolder folder;
    const std::string path = (folder.path() / "a.step").string();
    for (const char* unit : {"MM", "INCH", "M"}) {
        INFO(unit);
        Interface_Static::SetCVal("write.step.unit", unit);
        STEPControl_Writer writer;
        writer.Transfer(shapes::box({0, 0, 0}, {300, 200, 100}), STEPControl_AsIs);
        writer.Transfer(shapes::cylinder({500, 0, 0}, {0, 0, 1}, 50, 120), STEPControl_AsIs);
        REQUIRE(writer.Write(path.c_str()) == IFSelect_RetDone);
        Interface_Static::SetCVal("write.step.unit", "MM");
        const ShapeFile file = require(read_shape(path, {}, kQuiet));
        const ShapeVolume v = require(volume_of_breps(file.breps, Length::mm(0.02), kQuiet));
        CHECK(v.exact);
        CHECK(v.bodies.size() == 2);
        CHECK(v.volume.mm3() == Approx(6e6 + kPi * 2500.0 * 120.0).epsilon(1e-9));
    }
}

TEST_CASE("3MF: components are placed in components, mirrored ones turned", "[any_volume]") {
    const support::TempFolder folder;
    const TriMesh box = require(tessellate(to_brep(shapes::box({0, 0, 0}, {30, 20, 10})), Length::mm(1), kQuiet));
    const auto read = [&](const std::string& objects, const std::string& items) {
        const std::string path = (folder.path() / "a.3mf").string();
        std::ofstream(path, std::ios::binary)
            << support::detail::three_mf_package(support::detail::three_mf_mesh(box, 1) + objects, items);
        ShapeFile file = require(read_shape(path, {}, kQuiet));
        REQUIRE(file.mesh);
        return of_mesh(std::move(file.mesh->mesh));
    };
    // Twice as long along x, at 100, 0, 0; and mirrored in x; both in an assembly that is moved by 0, 0, 50.
    const std::string assembly =
        R"(<object id="2" type="model"><components><component objectid="1" transform="2 0 0 0 1 0 0 0 1 100 0 0"/>)"
        R"(<component objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>)";
    const ShapeVolume both = read(assembly, R"(<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 50"/>)");
    CHECK(both.exact);
    CHECK(both.flaws.empty());
    CHECK(both.bodies.size() == 2);
    CHECK(both.volume.mm3() == Approx(3 * 6000.0));
    CHECK(both.box.lo.x == Approx(-30.0));
    CHECK(both.box.hi.x == Approx(160.0));
    CHECK(both.box.lo.z == Approx(50.0));
    // A turn by a quarter about z in a mirror in z, as a row vector from the left.
    const std::string nested =
        R"(<object id="2" type="model"><components><component objectid="1" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/>)"
        R"(</components></object>)";
    const ShapeVolume turned = read(nested, R"(<item objectid="2" transform="1 0 0 0 1 0 0 0 -1 7 0 0"/>)");
    CHECK(turned.flaws.empty());
    CHECK(turned.volume.mm3() == Approx(6000.0));
    CHECK(turned.box.lo == Point3{-13, 0, -15});
    CHECK(turned.box.hi == Point3{7, 30, -5});
    // One object built twice, side by side, is two solids; twice in one place it is doubled.
    CHECK(read("", R"(<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 40 0 0"/>)").volume.mm3() ==
          Approx(12000.0));
}

TEST_CASE("what a smooth surface holds more than its triangles is foretold", "[any_volume]") {
    for (const Solid& s : solids()) {
        INFO(s.name);
        const TriMesh mesh = require(tessellate(to_brep(s.shape), Length::mm(0.2), kQuiet));
        const ShapeVolume v = of_mesh(mesh);
        const double missing = s.mm3 - v.volume.mm3(), told = v.if_curved ? v.if_curved->mm3() : 0.0;
        // Flat solids have nothing missing but the rounding of their corners.
        CHECK(std::abs(told - missing) <= 0.35 * std::abs(missing) + 1e-7 * s.mm3);
    }
}

TEST_CASE("rigid motion changes nothing, scale the cube, a mirror is read the other way round", "[any_volume]") {
    const TriMesh mesh = require(tessellate(to_brep(shapes::hill_block()), Length::mm(0.1), kQuiet));
    const double own = of_mesh(mesh).volume.mm3();
    TriMesh moved = mesh, large = mesh, mirrored = mesh;
    for (Point3& p : moved.vertices) p = shapes::moved(p, shapes::skew_motion()) + Vec3{1e4, -2e4, 3e4};
    for (Point3& p : large.vertices) p = p * 2.5;
    for (Point3& p : mirrored.vertices) p.x = -p.x;
    CHECK(of_mesh(moved).volume.mm3() == Approx(own).epsilon(1e-10));
    CHECK(of_mesh(large).volume.mm3() == Approx(own * 2.5 * 2.5 * 2.5).epsilon(1e-12));
    const ShapeVolume m = of_mesh(mirrored);
    CHECK(m.volume.mm3() == Approx(own).epsilon(1e-12));
    CHECK(m.exact);
    REQUIRE(m.flaws.size() == 1);
    CHECK(m.flaws[0].flaw == Flaw::InsideOut);
}

TEST_CASE("the winding tree agrees with the plain sum, for open meshes too", "[any_volume]") {
    TriMesh mesh = require(tessellate(to_brep(solids()[3].shape), Length::mm(0.05), kQuiet));
    for (const std::size_t dropped : {std::size_t{0}, mesh.triangles.size() / 5}) {
        mesh.triangles.resize(mesh.triangles.size() - dropped);
        const WindingTree tree(mesh);
        Random random(5);
        double worst = 0.0;
        for (int i = 0; i < 300; ++i) {
            const Point3 p{random.uniform(-150, 170), random.uniform(-140, 180), random.uniform(-20, 80)};
            worst = std::max(worst, std::abs(tree.at(p) - winding_number(mesh, p)));
        }
        CHECK(worst < 0.01);
    }
}

TEST_CASE("sections: areas in closed form, sums by their rules", "[any_volume]") {
    const TriMesh box = require(tessellate(to_brep(shapes::box({5, 6, 7}, {305, 206, 107})), Length::mm(1), kQuiet));
    for (const int axis : {0, 1, 2}) {
        const double area[3] = {20000, 30000, 60000};
        const SectionTable t = section_table(box, axis, 7);
        REQUIRE(t.rows.size() == 8);
        for (const SectionRow& row : t.rows) CHECK(row.area_mm2 == Approx(area[axis]).epsilon(1e-6));
        CHECK(t.trapezoids.mm3() == Approx(6e6).epsilon(1e-6));
        CHECK(t.simpson.mm3() == Approx(6e6).epsilon(1e-6));
    }
    // Steps: a block of 100 x 100 x 20 under one of 40 x 40 x 30. The area jumps where they meet, at a slice's border
    // and within a slice.
    const TriMesh steps = require(tessellate(
        to_brep(shapes::fuse(shapes::box({0, 0, 0}, {100, 100, 20}), shapes::box({30, 30, 20}, {70, 70, 50}))),
        Length::mm(1), kQuiet));
    const SectionTable five = section_table(steps, 2, 5);
    REQUIRE(five.rows.size() == 6);
    CHECK(five.rows[2].area_mm2 == Approx(1600.0));
    CHECK(five.rows[2].below_mm2 == Approx(10000.0));
    CHECK(five.rows[2].jumps());
    CHECK(five.rows[0].below_mm2 == 0.0);
    CHECK(five.rows[5].below_mm2 == Approx(1600.0));
    CHECK_FALSE(five.rows[1].jumps());
    CHECK(five.trapezoids.mm3() == Approx(200000.0 + 48000.0));
    CHECK(five.simpson.mm3() == Approx(248000.0));
    const SectionTable two = section_table(steps, 2, 2);
    CHECK(two.rows[0].slice_mm3 == Approx(200000.0 + 1600.0 * 5));
    CHECK(two.rows[1].slice_mm3 == Approx(1600.0 * 25));
    CHECK(two.rows[2].slice_mm3 == 0.0);
    CHECK(two.exact.mm3() == Approx(248000.0));
    // A ball's section is a quadratic of its height: Simpson's rule is exact but for the triangles.
    const TriMesh ball = require(tessellate(to_brep(solids()[1].shape), Length::mm(0.01), kQuiet));
    for (const int n : {1, 2, 3, 5, 8}) {
        const SectionTable t = section_table(ball, 0, n);
        const double h = 100.0 / n, true_mm3 = 4.0 / 3.0 * kPi * 125000.0;
        if (n > 1) CHECK(t.simpson.mm3() == Approx(true_mm3).epsilon(1e-3));
        CHECK(t.trapezoids.mm3() == Approx(true_mm3 - kPi * h * h * 100.0 / 6.0).epsilon(1e-3).margin(300));
        CHECK(t.exact.mm3() == Approx(signed_volume_mm3(ball)).epsilon(1e-12));
        double sum = 0.0;
        for (const SectionRow& row : t.rows) {
            sum += row.slice_mm3;
            // The segment between two heights, from the middle: pi (r^2 h - h^3/3).
            const auto upto = [](double x) { return kPi * (2500 * x - x * x * x / 3.0); };
            const double from = row.at_mm - 10.0, to = std::min(50.0, from + h);
            CHECK(row.slice_mm3 == Approx(upto(to) - upto(from)).epsilon(2e-3).margin(5));
        }
        CHECK(sum == Approx(t.exact.mm3()).epsilon(1e-12));
    }
}

TEST_CASE("methods that disagree by more than their bound leave no exact answer", "[any_volume]") {
    ShapeVolume shape;
    shape.known = shape.exact = true;
    shape.volume = shape.low = shape.high = Volume::litres(10);
    shape.others = {{"another", Volume::litres(10.2), Volume::litres(0.3)}};
    hold_methods_together(shape);
    CHECK(shape.exact);
    CHECK(shape.flaws.empty());
    shape.others.push_back({"a third", Volume::litres(9.5), Volume::litres(0.1)});
    hold_methods_together(shape);
    CHECK_FALSE(shape.exact);
    REQUIRE(shape.flaws.size() == 1);
    CHECK(shape.flaws[0].flaw == Flaw::MethodsDisagree);
    CHECK(leaves_doubt(shape.flaws[0].flaw));
    CHECK(shape.low.litres() == Approx(9.4));
    CHECK(shape.high.litres() == Approx(10.0));
}

TEST_CASE("B-rep solids that share room are found, and the room is counted once", "[any_volume]") {
    const auto of = [](const std::vector<TopoDS_Shape>& shapes) {
        std::vector<NamedBrep> breps;
        for (const TopoDS_Shape& s : shapes)
            breps.push_back(
                {fmt::format("part {}", breps.size() + 1), to_brep(shapes::moved(s, shapes::skew_motion()))});
        return require(volume_of_breps(breps, Length::mm(0.05), kQuiet));
    };
    const TopoDS_Shape block = shapes::box({0, 0, 0}, {100, 100, 100});
    // A bar of 20 x 20 goes through it: 100 of its 200 mm are shared.
    const ShapeVolume bar = of({block, shapes::box({-50, 40, 40}, {150, 60, 60})});
    CHECK_FALSE(bar.exact);
    REQUIRE(bar.flaws.size() == 1);
    CHECK(bar.flaws[0].flaw == Flaw::Crossing);
    CHECK_THAT(bar.flaws[0].what, Catch::Contains("part 1 and part 2 share 0.04 L"));
    CHECK(bar.volume.mm3() == Approx(1e6 + 40000).epsilon(1e-9));
    CHECK(bar.low.mm3() == Approx(1e6 + 40000).epsilon(1e-6));
    CHECK(bar.high.mm3() == Approx(1e6 + 80000).epsilon(1e-6));
    // A cylinder half in it, and one quite in it.
    const ShapeVolume half = of({block, shapes::cylinder({50, 50, 80}, {0, 0, 1}, 20, 40)});
    CHECK(half.volume.mm3() == Approx(1e6 + kPi * 400 * 20).epsilon(1e-9));
    CHECK(of({block, shapes::cylinder({50, 50, 20}, {0, 0, 1}, 20, 40)}).volume.mm3() == Approx(1e6).epsilon(1e-9));
    // The same solid twice.
    CHECK(of({block, block}).volume.mm3() == Approx(1e6).epsilon(1e-9));
    // Side by side, in a hollow, and boxes that overlap while the solids do not: nothing shared.
    const TopoDS_Shape hollow = shapes::cut(block, shapes::box({10, 10, 10}, {90, 90, 90}));
    for (const ShapeVolume& apart :
         {of({block, shapes::box({100, 0, 0}, {150, 100, 100})}),
          of({hollow, shapes::cylinder({50, 50, 10}, {0, 0, 1}, 20, 40)}),
          of({hollow, shapes::box({10, 10, 10}, {90, 90, 90})}),
          of({shapes::cylinder({0, 0, 0}, {0, 0, 1}, 50, 10), shapes::box({40, 40, 0}, {100, 100, 10})})}) {
        CHECK(apart.exact);
        CHECK(apart.flaws.empty());
    }
}
