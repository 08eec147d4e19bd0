// Oracle: the mesh-processing package of the library whose predicates the product uses, which finds pairs its own way.
#include "tests/measure/crossing_oracle.h"
#include "tests/measure/shapes.h"

#include "geom/core/parallel.h"
#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"

using namespace shapes;
using geom::measure::merged;
using geom::measure::self_crossings;

namespace {

TriMesh mesh_of(const TopoDS_Shape& shape, double chord = 0.2) {
    return require(geom::measure::tessellate(geom::to_brep(shape), geom::Length::mm(chord), {}));
}

TriMesh prism_over(const std::vector<std::array<double, 2>>& corners) {
    // Sides only matter: both ends as fans about corner 0.
    TriMesh mesh;
    const auto n = static_cast<std::uint32_t>(corners.size());
    for (const double z : {0.0, 10.0})
        for (const auto& c : corners) mesh.vertices.push_back({c[0], c[1], z});
    for (std::uint32_t i = 0; i < n; ++i) {
        const std::uint32_t j = (i + 1) % n;
        mesh.triangles.push_back({i, j, n + j});
        mesh.triangles.push_back({i, n + j, n + i});
    }
    return mesh;
}

}  // namespace

TEST_CASE("a sound mesh has no crossing, touching itself at vertices and edges only", "[measure][crossing]") {
    CHECK(require(self_crossings(mesh_of(hill_block()))).empty());
    CHECK(
        require(self_crossings(mesh_of(cut(hill_block(), cylinder({50, 40, -5}, {0, 0, 1}, 17, 200)), 0.05))).empty());
}

TEST_CASE("what crosses itself is found with its place", "[measure][crossing]") {
    SECTION("a bow-tie prism, which the kernel's analyser lets pass") {
        const auto found = require(self_crossings(prism_over({{0, 0}, {10, 10}, {10, 0}, {0, 10}})));
        REQUIRE_FALSE(found.empty());
        CHECK(std::abs(found.front().at.x - 5) < 5.1);
    }
    SECTION("two bodies that overlap in one mesh") {
        CHECK_FALSE(require(self_crossings(
                                merged({mesh_of(box({0, 0, 0}, {10, 10, 10})), mesh_of(box({5, 5, 5}, {15, 15, 15}))})))
                        .empty());
    }
    SECTION("a facet folded onto its neighbour") {
        TriMesh fold;
        fold.vertices = {{0, 0, 0}, {10, 0, 0}, {5, 8, 0}, {5, 4, 0}};
        fold.triangles = {{0, 1, 2}, {1, 0, 3}};
        CHECK(require(self_crossings(fold)).size() == 1);
        fold.vertices[3] = {5, -4, 0};
        CHECK(require(self_crossings(fold)).empty());
        fold.vertices[3] = {5, 4, 1e-7};  // apart by far less than any rounding: still no crossing
        CHECK(require(self_crossings(fold)).empty());
    }
    SECTION("a facet there twice") {
        TriMesh twice;
        twice.vertices = {{0, 0, 0}, {10, 0, 0}, {5, 8, 0}};
        twice.triangles = {{0, 1, 2}, {0, 2, 1}};
        CHECK(require(self_crossings(twice)).size() == 1);
    }
    SECTION("no more pairs than asked for") {
        const TriMesh many = merged({mesh_of(cylinder({0, 0, 0}, {0, 0, 1}, 20, 40), 0.02),
                                     mesh_of(cylinder({-30, 0, 20}, {1, 0, 0}, 20, 60), 0.02)});
        CHECK(require(self_crossings(many, 5)).size() == 5);
        CHECK(require(self_crossings(many, 100000)).size() > 100);
    }
}

TEST_CASE("pairs found are those of another package, on dented balls and any number of threads",
          "[measure][crossing][oracle]") {
    geom::Random random(20261);
    std::size_t all = 0;
    for (int round = 0; round < 12; ++round) {
        TriMesh mesh = mesh_of(cylinder({0, 0, 0}, {0, 0, 1}, 20, 40), 0.02);
        const TriMesh second = mesh_of(hill_block(), 0.5);
        mesh = merged({mesh, second});
        // Vertices thrown about: some rounds hardly, some so that much crosses.
        const double dent = round % 4 * 1.5;
        for (Point3& p : mesh.vertices)
            p += Vec3{random.uniform(-dent, dent), random.uniform(-dent, dent), random.uniform(-dent, dent)};
        CAPTURE(round, dent);
        const std::size_t expected = oracle::crossing_pairs(mesh);
        CHECK(require(self_crossings(mesh, 1000000)).size() == expected);
        const geom::ThreadLimit one(1);
        CHECK(require(self_crossings(mesh, 1000000)).size() == expected);
        all += expected;
    }
    CHECK(all > 1000);  // the test was not vacuous
}
