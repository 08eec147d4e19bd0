#include "tests/measure/crossing_oracle.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>

#include <stdexcept>

namespace oracle {

std::size_t crossing_pairs(const geom::TriMesh& mesh) {
    using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
    using Other = CGAL::Surface_mesh<Kernel::Point_3>;
    Other other;
    for (const geom::Point3& p : mesh.vertices) other.add_vertex({p.x, p.y, p.z});
    for (const auto& t : mesh.triangles)
        if (other.add_face(Other::Vertex_index(t[0]), Other::Vertex_index(t[1]), Other::Vertex_index(t[2])) ==
            Other::null_face())
            throw std::runtime_error("the oracle takes manifold meshes only");
    std::vector<std::pair<Other::Face_index, Other::Face_index>> pairs;
    CGAL::Polygon_mesh_processing::self_intersections(other, std::back_inserter(pairs));
    return pairs.size();
}

}  // namespace oracle
