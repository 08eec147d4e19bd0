// A part against keep-outs that slide: a shape of numbers, the same as a mesh, and a fine row of poses must agree.
#include "tests/measure/shapes.h"

#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/measure/brep_measure.h"

using namespace shapes;
using geom::check::PartDistance;
using geom::space::KeepOut;

namespace {

TriMesh meshed(const TopoDS_Shape& shape) {
    return require(geom::measure::tessellate(geom::to_brep(shape), geom::Length::mm(0.05), {}));
}

KeepOut sliding(geom::space::KeepOutShape shape, std::vector<Point3> path) {
    KeepOut keep_out;
    keep_out.shape = std::move(shape);
    keep_out.motion = geom::space::Travel{std::move(path)};
    return keep_out;
}

double by_poses(const PartDistance& part, const KeepOut& keep_out, double step) {
    double least = 1e300;
    const double end = geom::space::run_of(keep_out.motion);
    for (double run = 0.0; run <= end; run += step)
        least = std::min(
            least, part.to(geom::check::DrawnShape(geom::check::posed(keep_out.shape, keep_out.motion, run))).value);
    return least;
}

}  // namespace

TEST_CASE("a slide is seen at once, as a shape of numbers and as a mesh, as by many poses", "[check][swept][oracle]") {
    const TriMesh ring = meshed(cut(cylinder({0, 0, 0}, {0, 0, 1}, 60, 20), cylinder({0, 0, -1}, {0, 0, 1}, 40, 22)));
    const PartDistance part(ring);
    const geom::space::BoxShape box{{-10, -150, -30}, {10, -120, -12}};
    std::vector<Point3> path;
    SECTION("past it") {
        path = {{0, 0, 0}, {0, 300, 0}};
    }
    SECTION("round a corner of its way") {
        path = {{0, 0, 0}, {0, 100, -20}, {80, 130, 5}, {150, 60, 0}};
    }
    SECTION("beside it") {
        path = {{75, 0, 20}, {75, 300, 20}};
    }
    const KeepOut numbers = sliding(box, path), mesh = sliding(geom::check::mesh_of(box), path);
    const double wanted = by_poses(part, numbers, 0.5);
    REQUIRE(wanted > 1.0);
    const auto a = least_swept(part, numbers), b = least_swept(part, mesh);
    // Between poses half a millimetre apart it may come nearer by a quarter.
    CHECK(a.least.value <= wanted + 0.02);
    CHECK(a.least.value >= wanted - 0.27);
    CHECK(b.least.value == Approx(a.least.value).margin(0.03));
    CHECK(part.to(geom::check::DrawnShape(geom::check::posed(box, numbers.motion, a.run))).value ==
          Approx(a.least.value).margin(0.1));
    CHECK(part.to(geom::check::DrawnShape(geom::check::posed(box, mesh.motion, b.run))).value ==
          Approx(b.least.value).margin(0.15));
}

TEST_CASE("a part that a face sweeps over, touched by none of the mesh's edges, is met", "[check][swept]") {
    const TriMesh knob = meshed(cylinder({0, 0, 0}, {0, 0, 1}, 3, 5));
    const PartDistance part(knob);
    const geom::space::BoxShape plate{{-100, -100, -60}, {100, 100, -50}};
    const std::vector<Point3> path{{0, 0, 0}, {5, 7, 120}};
    CHECK(least_swept(part, sliding(plate, path)).least.value < -2.9);
    CHECK(least_swept(part, sliding(geom::check::mesh_of(plate), path)).least.value < -2.0);
    TriMesh sheet;
    sheet.vertices = {{-100, -100, -50}, {100, -100, -50}, {0, 160, -50}};
    sheet.triangles = {{0, 1, 2}};
    CHECK(least_swept(part, sliding(sheet, path)).least.value == 0.0);
    CHECK(least_swept(part, sliding(sheet, {{0, 0, 0}, {0, 0, 40}})).least.value == Approx(10).margin(0.02));
}
