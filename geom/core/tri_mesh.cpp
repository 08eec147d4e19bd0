#include "geom/core/tri_mesh.h"

#include <utility>

namespace geom {

double signed_volume_mm3(const TriMesh& mesh) {
    if (mesh.vertices.empty()) return 0.0;
    // About the first vertex, not the frame's origin: far from the origin the terms would cancel badly.
    const Point3 o = mesh.vertices.front();
    double sum = 0.0;
    for (const auto& t : mesh.triangles)
        sum += dot(mesh.vertices[t[0]] - o, cross(mesh.vertices[t[1]] - o, mesh.vertices[t[2]] - o));
    return sum / 6.0;
}

TriMesh reversed(TriMesh mesh) {
    for (auto& t : mesh.triangles) std::swap(t[1], t[2]);
    return mesh;
}

Aabb bounds(const TriMesh& mesh) {
    Aabb box;
    for (const Point3& p : mesh.vertices) box.grow(p);
    return box;
}

}  // namespace geom
