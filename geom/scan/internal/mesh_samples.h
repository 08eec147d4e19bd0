// Even samples of a triangle mesh, with the triangles' normals.
#pragma once

#include "geom/scan/surface.h"

#include <vector>

namespace geom::scan::internal {

struct MeshSamples {
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<float> radius_mm;
    double spacing_mm = 0.0;  ///< asked between rows and in rows
    double gap_mm = 0.0;      ///< no place of a triangle is farther than this from a sample of it
};

/// At about 1 mm, wider where that would give more than `most` samples.
MeshSamples sample_mesh(const RawScan& mesh, std::size_t most);

}  // namespace geom::scan::internal
