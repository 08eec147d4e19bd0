// Volumes against an independent library's, on meshes of our own making and, where they are there, real ones.
#include "tests/measure/volume_oracle.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"
#include "tests/measure/shapes.h"

#include <BRepPrimAPI_MakeTorus.hxx>

using namespace geom;
using namespace geom::measure;

namespace {

void check_against_oracle(MeshInput input) {
    const ShapeVolume v = shapes::require(volume_of_mesh(std::move(input), Context{}));
    if (!v.known || !v.exact) return;
    CHECK(std::abs(support::oracle_volume_mm3(v.mesh)) == Approx(v.volume.mm3()).epsilon(1e-9));
}

}  // namespace

TEST_CASE("closed meshes have the volume that an independent library finds", "[volume_oracle]") {
    const gp_Trsf motion = shapes::skew_motion();
    for (const TopoDS_Shape& shape :
         {shapes::hill_block(), BRepPrimAPI_MakeTorus(100.0, 30.0).Shape(),
          shapes::cut(shapes::box({0, 0, 0}, {320, 220, 120}), shapes::box({12, 12, 12}, {308, 208, 108})),
          shapes::fuse(shapes::box({0, 0, 0}, {100, 80, 60}), shapes::cylinder({50, 40, 0}, {0, 0.2, 1}, 25, 140))}) {
        TriMesh mesh = shapes::require(tessellate(to_brep(shapes::moved(shape, motion)), Length::mm(0.05), Context{}));
        check_against_oracle({.mesh = std::move(mesh)});
    }
}

TEST_CASE("real meshes have the volume that an independent library finds", "[volume_oracle]") {
    const std::filesystem::path folder = GAPWRIGHT_SCANS;
    if (folder.empty()) {
        WARN("no folder of real scans: skipped");
        return;
    }
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
        if (!entry.is_regular_file()) continue;
        auto file = read_shape(entry.path(), scan::FileUnit::Millimetre, Context{});
        if (!file || !file->mesh || file->mesh->mesh.triangles.size() > 500000) continue;
        INFO(entry.path().filename().string());
        file->mesh->look_for_crossings = false;
        check_against_oracle(std::move(*file->mesh));
    }
}
