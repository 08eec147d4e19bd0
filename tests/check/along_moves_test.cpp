// A meshed keep-out along a slide that comes in from outside: the same whether its triangles are large or small.
#include "geom/check/internal/along_moves.h"

#include "geom/core/random.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::check;

namespace {

TriMesh box(Point3 lo, Point3 hi) {
    TriMesh m;
    for (int i = 0; i < 8; ++i) m.vertices.push_back({i & 1 ? hi.x : lo.x, i & 2 ? hi.y : lo.y, i & 4 ? hi.z : lo.z});
    for (const auto& q : {std::array{0u, 2u, 3u, 1u},
                          {4u, 5u, 7u, 6u},
                          {0u, 1u, 5u, 4u},
                          {2u, 6u, 7u, 3u},
                          {0u, 4u, 6u, 2u},
                          {1u, 3u, 7u, 5u}}) {
        m.triangles.push_back({q[0], q[1], q[2]});
        m.triangles.push_back({q[0], q[2], q[3]});
    }
    return m;
}

/// Each triangle in n^2.
TriMesh finer(const TriMesh& mesh, int n) {
    TriMesh fine;
    for (const auto& t : mesh.triangles) {
        const Point3 a = mesh.vertices[t[0]], u = (mesh.vertices[t[1]] - a) / n, v = (mesh.vertices[t[2]] - a) / n;
        const auto at = [&](int i, int j) {
            fine.vertices.push_back(a + u * i + v * j);
            return static_cast<std::uint32_t>(fine.vertices.size() - 1);
        };
        for (int i = 0; i < n; ++i)
            for (int j = 0; i + j < n; ++j) {
                fine.triangles.push_back({at(i, j), at(i + 1, j), at(i, j + 1)});
                if (i + j + 1 < n) fine.triangles.push_back({at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)});
            }
    }
    return fine;
}

}  // namespace

TEST_CASE("large triangles of a keep-out count like small ones, also where the slide is carried on outside",
          "[check][along]") {
    // In through y = 0 by a short slide; triangles that stand far out, across where a keep-out ceases to be passed.
    const TriMesh part = box({-20, 60, -20}, {20, 100, 20});
    const std::vector<Plane> open{{{0, 0, 0}, {0, -1, 0}}};
    const space::WayIn way({space::Slide{{0, 30, 0}}, space::Slide{{0, 10, 0}}});
    Random random(3);
    for (int i = 0; i < 12; ++i) {
        TriMesh sheet;
        for (int c = 0; c < 3; ++c)
            sheet.vertices.push_back(
                {random.uniform(25, 200), -400 + random.uniform(-250, 250), random.uniform(-60, 60)});
        sheet.triangles.push_back({0, 1, 2});
        const double large = least_in_move(part, space::KeepOutShape(sheet), way, 0, open, 1e9).least.value;
        const double small = least_in_move(part, space::KeepOutShape(finer(sheet, 24)), way, 0, open, 1e9).least.value;
        CAPTURE(i);
        CHECK(large <= small + 0.1 + 1e-6);
        CHECK(large >= small - 6.0);  // a small one that stands across the border is passed as a whole, or not at all
    }
}
