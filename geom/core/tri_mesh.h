// A triangle mesh: shared vertices in millimetres, triangles counter-clockwise seen from outside.
#pragma once

#include "geom/core/vec.h"

#include <array>
#include <cstdint>
#include <vector>

namespace geom {

struct TriMesh {
    std::vector<Point3> vertices;
    std::vector<std::array<std::uint32_t, 3>> triangles;

    Point3 corner(std::size_t triangle, int c) const {
        return vertices[triangles[triangle][static_cast<std::size_t>(c)]];
    }
};

/// Sum of signed tetrahedra (divergence theorem), mm^3; the enclosed volume when the mesh is closed and oriented.
double signed_volume_mm3(const TriMesh& mesh);
/// The mesh seen from the other side.
TriMesh reversed(TriMesh mesh);
Aabb bounds(const TriMesh& mesh);

}  // namespace geom
