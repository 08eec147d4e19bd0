// Oracles: elementary closed forms; a polynomial integrated by hand; the kernel's Gauss-Kronrod form as a second
// method; rigid motion, mirror and scale as laws.
#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"

#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepBuilderAPI_NurbsConvert.hxx>
#include <BRepGProp.hxx>
#include <BRepOffsetAPI_ThruSections.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <BRep_Builder.hxx>
#include <GProp_GProps.hxx>
#include <GeomAPI_Interpolate.hxx>
#include <Geom_BSplineCurve.hxx>
#include <TColgp_HArray1OfPnt.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Compound.hxx>

using namespace shapes;
using geom::measure::measure_solid;
using geom::measure::SolidMeasure;

namespace {

SolidMeasure measured(const TopoDS_Shape& shape) {
    return require(measure_solid(geom::to_brep(shape), {}));
}

double by_gauss_kronrod(const TopoDS_Shape& shape) {
    GProp_GProps props;
    BRepGProp::VolumePropertiesGK(shape, props, 1e-6);
    return props.Mass();
}

void check_close(Point3 a, Point3 b, double margin) {
    CAPTURE(a.x, a.y, a.z, b.x, b.y, b.z);
    CHECK(geom::distance(a, b) <= margin);
}

}  // namespace

TEST_CASE("volume, area and centre of elementary solids are those of the closed forms", "[measure][volume][oracle]") {
    struct Row {
        const char* name;
        TopoDS_Shape shape;
        double volume, area;
        Point3 centre;
    };
    const double slant = std::hypot(50.0, 20.0);
    const std::vector<Row> rows{
        {"box", box({1, 2, 3}, {101, 62, 43}), 100.0 * 60 * 40, 2.0 * (6000 + 4000 + 2400), {51, 32, 23}},
        {"cylinder", cylinder({0, 0, 0}, {0, 0, 1}, 30, 70), kPi * 900 * 70, 2 * kPi * 30 * 100, {0, 0, 35}},
        {"frustum",
         BRepPrimAPI_MakeCone(40, 20, 50).Shape(),
         kPi * 50 / 3 * (1600 + 800 + 400),
         kPi * (1600 + 400 + 60 * slant),
         {0, 0, 50.0 / 4 * (1600 + 2 * 800 + 3 * 400) / (1600 + 800 + 400)}},
        {"cone with a tip",
         BRepPrimAPI_MakeCone(40, 0, 90).Shape(),
         kPi * 1600 * 30,
         kPi * 40 * (40 + std::hypot(40.0, 90.0)),
         {0, 0, 22.5}},
        {"ball", BRepPrimAPI_MakeSphere(60).Shape(), 4.0 / 3 * kPi * 216000, 4 * kPi * 3600, {0, 0, 0}},
        {"torus", BRepPrimAPI_MakeTorus(80, 15).Shape(), 2 * kPi * kPi * 80 * 225, 4 * kPi * kPi * 80 * 15, {0, 0, 0}},
        {"box with a hole",
         cut(box({-50, -50, 0}, {50, 50, 12}), cylinder({7, 3, -5}, {0, 0, 1}, 20, 40)),
         12 * (10000 - kPi * 400),
         2 * (10000 - kPi * 400) + 12 * 400 + 12 * 2 * kPi * 20,
         {-7 * kPi * 400 / (10000 - kPi * 400), -3 * kPi * 400 / (10000 - kPi * 400), 6}},
    };
    for (const Row& row : rows) {
        for (const bool is_moved : {false, true}) {
            CAPTURE(row.name, is_moved);
            const SolidMeasure m = measured(is_moved ? moved(row.shape, skew_motion()) : row.shape);
            CHECK(m.volume.mm3() == Approx(row.volume).epsilon(1e-9).margin(0));
            CHECK(m.area.mm2() == Approx(row.area).epsilon(1e-9).margin(0));
            check_close(m.centre, is_moved ? moved(row.centre, skew_motion()) : row.centre, 1e-7);
            CHECK(m.valid);
            CHECK(m.closed);
            CHECK(m.solids == 1);
        }
    }
}

TEST_CASE("the same solids turned into splines with weights keep their volume", "[measure][volume][property]") {
    const std::vector<std::pair<TopoDS_Shape, double>> rows{
        {BRepPrimAPI_MakeSphere(60).Shape(), 4.0 / 3 * kPi * 216000},
        {BRepPrimAPI_MakeTorus(80, 15).Shape(), 2 * kPi * kPi * 80 * 225},
        {cylinder({0, 0, 0}, {0, 0, 1}, 30, 70), kPi * 900 * 70}};
    for (const auto& [shape, volume] : rows) {
        const SolidMeasure m = measured(BRepBuilderAPI_NurbsConvert(shape, true).Shape());
        CHECK(m.volume.mm3() == Approx(volume).epsilon(1e-9).margin(0));
        CHECK(m.bspline_faces == m.faces);
    }
}

TEST_CASE("a block under a polynomial spline face has the polynomial's integral as volume",
          "[measure][volume][oracle]") {
    SECTION("the face is trimmed by the block's sides") {
        CHECK(measured(hill_block()).volume.mm3() == Approx(hill_block_mm3()).epsilon(1e-9).margin(0));
    }
    SECTION("a drilled hole takes off the integral over its disc") {
        // Over a disc about the middle: 40 pi r^2 + (0.002 - 0.003) pi r^4 / 4, the odd term is zero.
        const double r = 17;
        const double hole = 40 * kPi * r * r - 0.001 * kPi * r * r * r * r / 4;
        const TopoDS_Shape drilled = cut(hill_block(), cylinder({50, 40, -5}, {0, 0, 1}, r, 200));
        CHECK(measured(drilled).volume.mm3() == Approx(hill_block_mm3() - hole).epsilon(1e-8).margin(0));
    }
    SECTION("moved and turned over") {
        CHECK(measured(moved(hill_block(), skew_motion())).volume.mm3() ==
              Approx(hill_block_mm3()).epsilon(1e-9).margin(0));
        gp_Trsf mirror;
        mirror.SetMirror(gp_Ax2(gp_Pnt(3, 4, 5), gp_Dir(1, 1, 2)));
        CHECK(measured(moved(hill_block(), mirror)).volume.mm3() == Approx(hill_block_mm3()).epsilon(1e-9).margin(0));
    }
}

TEST_CASE("an untrimmed spline face is exact whatever its knots", "[measure][volume][oracle]") {
    // The sheet over its whole rectangle, thickened by a straight sweep: area of the shadow times the way.
    const TopoDS_Face sheet = BRepBuilderAPI_MakeFace(hill_surface(), 1e-7).Face();
    const SolidMeasure m = measured(BRepPrimAPI_MakePrism(sheet, gp_Vec(3, -2, 35)).Shape());
    // Swept volume = |way . area vector|; the area vector of the sheet has z = 140 x 120 and x, y from its border.
    // Integral of -dz/dx over x is z(-20, y) - z(120, y), integrated over y: X^2 = 4900 at both ends, so x gives 0;
    // y: Y = -60 .. 60: integral over x of z(x, -20) - z(x, 100) = -0.0001 x 120 x (integral of X^2 = 2 x 70^3 / 3).
    const double y_area = -0.0001 * 120 * 2 * 70.0 * 70 * 70 / 3;
    CHECK(m.volume.mm3() == Approx(35.0 * 140 * 120 - 2 * y_area).epsilon(1e-10).margin(0));
}

TEST_CASE("a prism over a spline profile is right where the kernel's default call is off",
          "[measure][volume][oracle]") {
    // Closed interpolated profile; its area by Simpson's rule on the curve's own derivative, 4 000 steps a span.
    Handle(TColgp_HArray1OfPnt) points = new TColgp_HArray1OfPnt(1, 7);
    const double radius[7] = {62, 48, 71, 39, 66, 52, 45};
    for (int i = 0; i < 7; ++i)
        points->SetValue(i + 1,
                         gp_Pnt(radius[i] * std::cos(2 * kPi * i / 7), radius[i] * std::sin(2 * kPi * i / 7), 0));
    GeomAPI_Interpolate interpolate(points, true, 1e-9);
    interpolate.Perform();
    const Handle(Geom_BSplineCurve) curve = interpolate.Curve();
    double area = 0;
    for (int k = 1; k < curve->NbKnots(); ++k) {
        const double a = curve->Knot(k), b = curve->Knot(k + 1);
        const int n = 4000;
        double sum = 0;
        for (int i = 0; i <= n; ++i) {
            gp_Pnt p;
            gp_Vec d;
            curve->D1(a + (b - a) * i / n, p, d);
            sum += (i == 0 || i == n ? 1 : i % 2 == 1 ? 4 : 2) * 0.5 * (p.X() * d.Y() - p.Y() * d.X());
        }
        area += sum * (b - a) / n / 3;
    }
    const TopoDS_Face face =
        BRepBuilderAPI_MakeFace(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(curve).Edge()).Wire()).Face();
    const TopoDS_Shape prism = BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, 40)).Shape();
    CHECK(measured(prism).volume.mm3() == Approx(std::abs(area) * 40).epsilon(1e-8).margin(0));
    CHECK(measured(BRepBuilderAPI_NurbsConvert(prism, true).Shape()).volume.mm3() ==
          Approx(std::abs(area) * 40).epsilon(1e-8).margin(0));
}

TEST_CASE("a smooth loft agrees with the kernel's Gauss-Kronrod form", "[measure][volume][oracle]") {
    BRepOffsetAPI_ThruSections loft(true, false);
    for (int k = 0; k < 4; ++k) {
        const double s = 40 + 12 * std::sin(1.7 * k), z = 35.0 * k;
        BRepBuilderAPI_MakeWire wire;
        const gp_Pnt corner[4] = {{-s, -s, z}, {s, -s, z}, {s + 3 * k, s, z}, {-s, s - 2 * k, z}};
        for (int i = 0; i < 4; ++i) wire.Add(BRepBuilderAPI_MakeEdge(corner[i], corner[(i + 1) % 4]).Edge());
        loft.AddWire(wire.Wire());
    }
    const TopoDS_Shape shape = loft.Shape();
    const SolidMeasure m = measured(shape);
    CHECK(m.bspline_faces >= 4);
    CHECK(m.volume.mm3() == Approx(by_gauss_kronrod(shape)).epsilon(1e-6).margin(0));
    // Scaling by 3 multiplies the volume by 27.
    gp_Trsf larger;
    larger.SetScale(gp_Pnt(1, 2, 3), 3);
    CHECK(measured(moved(shape, larger)).volume.mm3() == Approx(27 * m.volume.mm3()).epsilon(1e-10).margin(0));
}

TEST_CASE("a void takes its volume off, and counts as a shell", "[measure][volume][oracle]") {
    const TopoDS_Shape hollow = cut(box({0, 0, 0}, {100, 80, 60}), box({6, 6, 6}, {94, 74, 54}));
    const SolidMeasure m = measured(hollow);
    CHECK(m.volume.mm3() == Approx(100.0 * 80 * 60 - 88.0 * 68 * 48).epsilon(1e-12));
    CHECK(m.shells == 2);
    CHECK(m.solids == 1);
    CHECK(m.closed);
    CHECK(m.plane_faces == 12);
    check_close(m.box.lo, {0, 0, 0}, 1e-6);
    check_close(m.box.hi, {100, 80, 60}, 1e-6);
}

TEST_CASE("the box of a solid is tight", "[measure][box][oracle]") {
    const SolidMeasure ball = measured(moved(BRepPrimAPI_MakeSphere(60).Shape(), skew_motion()));
    const Point3 c = moved(Point3{0, 0, 0}, skew_motion());
    check_close(ball.box.lo, c - Vec3{60, 60, 60}, 1e-3);
    check_close(ball.box.hi, c + Vec3{60, 60, 60}, 1e-3);
    // The hill's top over the block: highest at a corner or on the border; by hand on a fine grid.
    double highest = 0;
    for (int i = 0; i <= 1000; ++i)
        for (int j = 0; j <= 800; ++j) highest = std::max(highest, hill(i * 0.1, j * 0.1));
    CHECK(measured(hill_block()).box.hi.z == Approx(highest).margin(2e-3));
}

TEST_CASE("a missing face is seen as open although its volume may still look right", "[measure][validity]") {
    // Two opposite faces through the integrals' origin would hide it; any face is tried.
    const TopoDS_Shape whole = box({0, 0, 0}, {10, 20, 30});
    for (int left_out = 0; left_out < 6; ++left_out) {
        BRep_Builder builder;
        TopoDS_Shell shell;
        builder.MakeShell(shell);
        int i = 0;
        for (TopExp_Explorer it(whole, TopAbs_FACE); it.More(); it.Next(), ++i)
            if (i != left_out) builder.Add(shell, it.Current());
        TopoDS_Solid solid;
        builder.MakeSolid(solid);
        builder.Add(solid, shell);
        CHECK_FALSE(measured(solid).closed);
    }
}

TEST_CASE("a face turned over is seen", "[measure][validity]") {
    const TopoDS_Shape whole = box({0, 0, 0}, {10, 20, 30});
    BRep_Builder builder;
    TopoDS_Shell shell;
    builder.MakeShell(shell);
    int i = 0;
    for (TopExp_Explorer it(whole, TopAbs_FACE); it.More(); it.Next(), ++i)
        builder.Add(shell, i == 2 ? it.Current().Reversed() : it.Current());
    TopoDS_Solid solid;
    builder.MakeSolid(solid);
    builder.Add(solid, shell);
    CHECK_FALSE(measured(solid).closed);
}

TEST_CASE("two solids in one shape are counted as two", "[measure][validity]") {
    BRep_Builder builder;
    TopoDS_Compound both;
    builder.MakeCompound(both);
    builder.Add(both, box({0, 0, 0}, {10, 10, 10}));
    builder.Add(both, box({20, 0, 0}, {30, 10, 10}));
    const SolidMeasure m = measured(both);
    CHECK(m.solids == 2);
    CHECK(m.volume.mm3() == Approx(2000.0).epsilon(1e-12));
}
