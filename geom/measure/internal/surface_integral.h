// What one face of a B-rep adds to volume, area and first moments of the solid it bounds (divergence theorem).
#pragma once

#include "geom/core/vec.h"

#include <TopoDS_Face.hxx>

namespace geom::measure::internal {

struct FaceIntegral {
    double volume_mm3 = 0.0;  ///< of the cone from the origin given, positive outward of it
    double area_mm2 = 0.0;
    Vec3 moment_mm4;         ///< first moments about the origin given
    bool by_kernel = false;  ///< the face had no usable curves in its parameter plane: the kernel's Gauss-Kronrod form
};

/// `origin` is best near the solid: far away the sums cancel.
FaceIntegral integrate_face(const TopoDS_Face& face, Point3 origin);

}  // namespace geom::measure::internal
