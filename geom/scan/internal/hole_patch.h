// The patch that closes a hole: the faces round it carried on to where they meet.
#pragma once

#include "geom/scan/internal/point_index.h"
#include "geom/scan/surface.h"

#include <optional>
#include <vector>

namespace geom::scan::internal {

/// Tangent axes at a unit normal.
struct Axes {
    Vec3 u, v, n;
    explicit Axes(Vec3 normal) : u(any_perpendicular(normal)), v(cross(normal, u)), n(normal) {}
};

/// Border samples all round a hole.
struct Ring {
    Point3 centre;
    Axes axes;                           ///< of the ring's plane
    double reach_mm;                     ///< from the centre to the farthest member
    std::vector<std::uint32_t> members;  ///< places of the index
};

struct HolePatch {
    int faces = 0;
    double misfit_mm = 0.0;  ///< root mean square of the samples round the hole about the faces
    double bound_mm = 0.0;   ///< the true surface may lie this far from the patch, if the faces are all there is
    bool is_trusted = false;
    Point3 deepest;  ///< the patch's sample farthest from the scan's, and how far that is
    double depth_mm = 0.0;
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<float> radius_mm;
};

/// Distance from x to the nearest sample.
double nearest_mm(const PointIndex& index, Point3 x);

HolePatch patch_over(const PointIndex& index, const Surface& surface, const Ring& ring);

}  // namespace geom::scan::internal
