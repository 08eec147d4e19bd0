#include "tests/measure/volume_oracle.h"

#include <CGAL/Polygon_mesh_processing/measure.h>
#include <CGAL/Simple_cartesian.h>
#include <CGAL/Surface_mesh.h>

namespace support {

double oracle_volume_mm3(const geom::TriMesh& mesh) {
    using Kernel = CGAL::Simple_cartesian<double>;
    CGAL::Surface_mesh<Kernel::Point_3> surface;
    std::vector<CGAL::Surface_mesh<Kernel::Point_3>::Vertex_index> names;
    for (const auto& v : mesh.vertices) names.push_back(surface.add_vertex(Kernel::Point_3(v.x, v.y, v.z)));
    for (const auto& t : mesh.triangles) surface.add_face(names[t[0]], names[t[1]], names[t[2]]);
    return CGAL::Polygon_mesh_processing::volume(surface);
}

}  // namespace support
