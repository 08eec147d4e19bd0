#include "tests/measure/shapes.h"

#include "geom/core/parallel.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/triangle_tree.h"

#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <BRepTools.hxx>
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
