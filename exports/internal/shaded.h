// A shaded picture of the part, with or without the scan round it.
#pragma once

#include "exports/internal/sheet.h"
#include "exports/internal/visible_lines.h"

namespace exports {

struct ShadedInput {
    const DrawMesh& mesh;
    const std::vector<EdgeLine>& edges;
    const std::vector<std::array<float, 3>>& colours;   ///< of the products
    View view;                                          ///< of the finished picture
    const std::vector<geom::Point3>* points = nullptr;  ///< the scan, or none
    const std::vector<geom::Vec3>* normals = nullptr;
    double spacing_mm = 1.0;  ///< between neighbouring points
};

/// The picture without letters.
Raster shaded(const ShadedInput& input);

}  // namespace exports
