#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/wall.h"

#include <BRepPrimAPI_MakeSphere.hxx>

using namespace shapes;
using geom::measure::measure_wall;

namespace {
TriMesh mesh_of(const TopoDS_Shape& shape, double chord = 0.02) {
    return require(geom::measure::tessellate(geom::to_brep(shape), geom::Length::mm(chord), {}));
}
TriMesh ball(Point3 at, double radius) {
    return mesh_of(BRepPrimAPI_MakeSphere(geom::to_occt(at), radius).Shape());
}
}  // namespace

TEST_CASE("the wall between two balls is the difference of their radii, less what their centres are apart",
          "[measure][wall][oracle]") {
    SECTION("same centre") {
        const auto wall = measure_wall(ball({0, 0, 0}, 54), ball({0, 0, 0}, 60));
        CHECK(wall.median_mm == Approx(6.0).margin(0.03));
        CHECK(wall.least_mm == Approx(6.0).margin(0.04));
        CHECK(wall.p1_mm <= wall.median_mm);
        CHECK(wall.median_mm <= wall.p99_mm);
    }
    SECTION("apart by 1.5 mm: least there, and its place") {
        const auto wall = measure_wall(ball({1.5, 0, 0}, 54), ball({0, 0, 0}, 60));
        CHECK(wall.least_mm == Approx(4.5).margin(0.04));
        CHECK(geom::distance(wall.at, {55.5, 0, 0}) < 3.0);
        CHECK(geom::distance(wall.outer_at, {60, 0, 0}) < 3.0);
        CHECK(wall.median_mm == Approx(6.0).margin(0.05));
    }
}

TEST_CASE("points that do not count as wall are left out", "[measure][wall]") {
    // Box 100 with wall 6 but 12 at y = 0.
    const TriMesh outer = mesh_of(box({0, 0, 0}, {100, 100, 100})), inner = mesh_of(box({6, 12, 6}, {94, 94, 94}));
    const auto all = measure_wall(inner, outer);
    const auto wall = measure_wall(inner, outer, [](Point3 p) { return p.y > 12.05; });
    CHECK(wall.least_mm == Approx(6.0).epsilon(1e-9));
    CHECK(wall.p99_mm == Approx(6.0).epsilon(1e-9));
    CHECK(all.p99_mm == Approx(12.0).epsilon(1e-9));
    CHECK(wall.samples < all.samples);
    CHECK(measure_wall(inner, outer, [](Point3) { return false; }).samples == 0);
}
