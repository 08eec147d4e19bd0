#include "tests/skin/self_crossing.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>
#include <catch2/catch.hpp>

bool crosses_itself(const std::vector<geom::Point3>& points, const std::vector<std::array<std::size_t, 3>>& triangles) {
    using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
    using Mesh = CGAL::Surface_mesh<Kernel::Point_3>;
    Mesh mesh;
    std::vector<Mesh::Vertex_index> vertex;
    for (const auto& p : points) vertex.push_back(mesh.add_vertex({p.x, p.y, p.z}));
    for (const auto& t : triangles) {
        if (t[0] == t[1] || t[1] == t[2] || t[2] == t[0]) continue;
        REQUIRE(mesh.add_face(vertex[t[0]], vertex[t[1]], vertex[t[2]]) != Mesh::null_face());
    }
    return CGAL::Polygon_mesh_processing::does_self_intersect(mesh);
}
