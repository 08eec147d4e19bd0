#include "tests/measure/shapes.h"

#include "geom/core/parallel.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/triangle_tree.h"

#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepLib.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <BRepTools.hxx>
#include <Geom2d_Line.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>

using namespace shapes;
using geom::Length;
using geom::measure::measure_mesh;
using geom::measure::measure_solid;
using geom::measure::tessellate;

namespace {

TopoDS_Shape rounded_box() {
    const TopoDS_Shape plain = box({0, 0, 0}, {120, 90, 70});
    BRepFilletAPI_MakeFillet fillet(plain);
    for (TopExp_Explorer it(plain, TopAbs_EDGE); it.More(); it.Next()) fillet.Add(8.0, TopoDS::Edge(it.Current()));
    return fillet.Shape();
}

constexpr double kPlateLength = 120, kPlateWidth = 40, kPlateHeight = 10;

/// A flat plate whose top and bottom are spline faces with lines that bend within the plane as a parabola does:
/// x = 120 (w(u) - 1/2), y = 40 v - bend (2 w(u) - 1)^2, w(u) = u + skew u (1 - u). A window along parameter lines,
/// u in [0.3, 0.7] and v in [edge, 1 - edge], is cut out of it.
TopoDS_Shape bent_plate(double bend, double skew, double edge) {
    // Bezier in u of degree 4 from the power form, linear in v.
    const double w[3] = {0.0, 1.0 + skew, -skew};  // of u^0, u^1, u^2
    double y[5] = {};
    const double d[3] = {2 * w[0] - 1, 2 * w[1], 2 * w[2]};
    for (int a = 0; a < 3; ++a)
        for (int b = 0; b < 3; ++b) y[a + b] -= bend * d[a] * d[b];
    const double x[5] = {kPlateLength * (w[0] - 0.5), kPlateLength * w[1], kPlateLength * w[2], 0, 0};
    const double choose[5][5] = {{1}, {1, 1}, {1, 2, 1}, {1, 3, 3, 1}, {1, 4, 6, 4, 1}};
    TColgp_Array2OfPnt poles(1, 5, 1, 2);
    for (int i = 0; i < 5; ++i) {
        double px = 0, py = 0;
        for (int k = 0; k <= i; ++k) {
            px += choose[i][k] / choose[4][k] * x[k];
            py += choose[i][k] / choose[4][k] * y[k];
        }
        poles(i + 1, 1) = gp_Pnt(px, py, 0);
        poles(i + 1, 2) = gp_Pnt(px, py + kPlateWidth, 0);
    }
    const Handle(Geom_BSplineSurface) surface = GeomConvert::SurfaceToBSplineSurface(new Geom_BezierSurface(poles));
    const auto loop = [&](double u0, double u1, double v0, double v1) {
        const gp_Pnt2d corner[4] = {{u0, v0}, {u1, v0}, {u1, v1}, {u0, v1}};
        BRepBuilderAPI_MakeWire wire;
        for (int k = 0; k < 4; ++k) {
            const gp_Vec2d way(corner[k], corner[(k + 1) % 4]);
            wire.Add(BRepBuilderAPI_MakeEdge(new Geom2d_Line(corner[k], gp_Dir2d(way)), surface, 0.0, way.Magnitude()));
        }
        return wire.Wire();
    };
    BRepBuilderAPI_MakeFace face(surface, loop(0, 1, 0, 1));
    face.Add(TopoDS::Wire(loop(0.3, 0.7, edge, 1 - edge).Reversed()));
    TopoDS_Face sheet = face.Face();
    BRepLib::BuildCurves3d(sheet);
    BRepLib::SameParameter(sheet, 1e-7, true);
    return BRepPrimAPI_MakePrism(sheet, gp_Vec(0, 0, kPlateHeight)).Shape();
}

}  // namespace

TEST_CASE("triangles of a solid close it, face outward and hold its volume", "[measure][mesh][oracle]") {
    const std::vector<std::pair<const char*, TopoDS_Shape>> rows{
        {"box", box({0, 0, 0}, {100, 60, 40})},
        {"ball, with poles and a seam", BRepPrimAPI_MakeSphere(60).Shape()},
        {"torus, with two seams", BRepPrimAPI_MakeTorus(80, 15).Shape()},
        {"rounded box: corners are ball pieces with poles", rounded_box()},
        {"hill with a hole", cut(hill_block(), cylinder({50, 40, -5}, {0, 0, 1}, 17, 200))},
        {"hollow box", cut(box({0, 0, 0}, {100, 80, 60}), box({6, 6, 6}, {94, 74, 54}))},
        {"mirrored hill",
         [] {
             gp_Trsf mirror;
             mirror.SetMirror(gp_Ax2(gp_Pnt(3, 4, 5), gp_Dir(1, 1, 2)));
             return moved(hill_block(), mirror);
         }()},
        {"placed without a copy", rounded_box().Moved(TopLoc_Location(skew_motion()))},
    };
    for (const auto& [name, shape] : rows) {
        CAPTURE(name);
        const geom::Brep brep = geom::to_brep(shape);
        const auto mesh = require(tessellate(brep, Length::mm(0.05), {}));
        const auto m = measure_mesh(mesh);
        const auto exact = require(measure_solid(brep, {}));
        CHECK(m.closed);
        CHECK(m.oriented);
        CHECK(m.degenerate == 0);
        CHECK(require(geom::measure::self_crossings(mesh)).empty());
        CHECK(m.volume.mm3() == Approx(exact.volume.mm3()).epsilon(1e-9).margin(0.05 * exact.area.mm2()));
        CHECK(geom::distance(m.centre, exact.centre) < 0.05);
        // What the file can hold is what the mesh holds.
        for (const Point3& p : mesh.vertices) REQUIRE(static_cast<double>(static_cast<float>(p.x)) == p.x);
    }
}

TEST_CASE("triangles stay within the chord error asked", "[measure][mesh][oracle]") {
    // From the exact ball: vertices on it, middles of triangles no deeper than the chord error.
    const double chord = GENERATE(0.2, 0.05);
    const auto mesh = require(tessellate(geom::to_brep(BRepPrimAPI_MakeSphere(60).Shape()), Length::mm(chord), {}));
    for (const Point3& p : mesh.vertices) REQUIRE(std::abs(geom::norm(p) - 60) < 1e-4);
    double deepest = 0;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        deepest = std::max(deepest, 60 - geom::norm((mesh.corner(t, 0) + mesh.corner(t, 1) + mesh.corner(t, 2)) / 3.0));
    CHECK(deepest <= chord);
    CHECK(deepest > 0.05 * chord);  // and not absurdly fine
}

TEST_CASE("triangles of a trimmed spline face stay within the chord error of its polynomial",
          "[measure][mesh][oracle]") {
    // The hill's own formula is the truth; points all over each triangle of the top, the drilled rim included.
    const double chord = GENERATE(0.2, 0.05, 0.02);
    const TopoDS_Shape drilled = cut(hill_block(), cylinder({50, 40, -5}, {0, 0, 1}, 17, 200));
    const auto mesh = require(tessellate(geom::to_brep(drilled), Length::mm(chord), {}));
    double worst = 0;
    std::size_t top = 0;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        const auto on_top = [](Point3 p) { return std::abs(p.z - hill(p.x, p.y)) < 1e-4; };
        if (!on_top(a) || !on_top(b) || !on_top(c) || geom::cross(b - a, c - a).z <= 1e-9) continue;
        ++top;
        for (int i = 0; i <= 6; ++i)
            for (int j = 0; i + j <= 6; ++j) {
                const Point3 p = a + (b - a) * (i / 6.0) + (c - a) * (j / 6.0);
                worst = std::max(worst, std::abs(p.z - hill(p.x, p.y)));
            }
    }
    CAPTURE(chord, top);
    CHECK(worst <= 1.05 * chord);  // measured upright, a little more than across the slope
    CHECK(worst > 0.2 * chord);
    CHECK(top > 20);
}

TEST_CASE("triangles do not depend on the number of threads", "[measure][mesh][property]") {
    const auto with = [](int threads) {
        const geom::ThreadLimit limit(threads);
        TopoDS_Shape shape = fuse(rounded_box(), hill_block());
        return require(tessellate(geom::to_brep(shape), Length::mm(0.05), {}));
    };
    const TriMesh one = with(1), two = with(2);
    CHECK(one.triangles == two.triangles);
    CHECK(one.vertices == two.vertices);
}

TEST_CASE("no triangle of a flat face lies on its back, however its parameter lines bend", "[measure][mesh][oracle]") {
    // Within a flat face no chord error tells how far a long side has left its parameter line sideways: the face then
    // covers itself, or the plane face beside it. Volume and area are the closed forms of the sheared plate.
    const double bend = GENERATE(8.0, 25.0, 60.0), skew = GENERATE(0.0, 0.7), edge = GENERATE(0.02, 0.1);
    CAPTURE(bend, skew, edge);
    const auto mesh = require(tessellate(geom::to_brep(bent_plate(bend, skew, edge)), Length::mm(0.05), {}));
    const auto m = measure_mesh(mesh);
    CHECK(m.closed);
    CHECK(m.oriented);
    CHECK(require(geom::measure::self_crossings(mesh)).empty());
    const auto w = [&](double u) { return u + skew * u * (1 - u); };
    const double area = kPlateLength * kPlateWidth * (1 - (w(0.7) - w(0.3)) * (1 - 2 * edge));
    CHECK(std::abs(m.volume.mm3()) == Approx(area * kPlateHeight).epsilon(1e-3));
    double top = 0, over = 0;  // signed, and whatever the sign
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        if (std::min({a.z, b.z, c.z}) < kPlateHeight - 1e-6) continue;
        const double twice = geom::cross(b - a, c - a).z;
        top += twice / 2;
        over += std::abs(twice) / 2;
    }
    CHECK(std::abs(top) == Approx(area).epsilon(1e-3));
    CHECK(over == Approx(std::abs(top)).epsilon(1e-9));
    CHECK(mesh.triangles.size() < 4000);
}
