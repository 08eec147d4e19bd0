// The flat and nearly flat areas of a wall, each with the rectangle that it swings like.
//
// Frame     that of the mesh; mm.
// Method    an area grows over the mesh from a triangle on as long as normals stay within 8 degrees of its plane and
//           corners within half the wall of it. Its rectangle is the one with the lowest resonance (least 1/a^2 +
//           1/b^2) that the area fills to 85 %, every edge of it to 60 %, at the turns of the area's tightest rectangle
//           and every 15 degrees; a support may stand on its edge and not inside it. So a rectangular wall comes out as
//           itself, and a square one with a post in the middle as half of it, whose supported resonance is the true
//           one.
#pragma once

#include "geom/core/tri_mesh.h"

#include <functional>
#include <optional>
#include <vector>

namespace geom::check {

/// A post or tube that holds the walls it runs through or ends in.
struct Support {
    Point3 from, to;
};

struct WallRectangle {
    Point3 centre;  ///< on the area's plane
    Vec3 along;     ///< of the longer side, unit
    double longer_mm = 0.0, shorter_mm = 0.0;

    /// 1/a^2 + 1/b^2: what a supported plate's resonance goes with.
    double stiffness() const { return 1.0 / (longer_mm * longer_mm) + 1.0 / (shorter_mm * shorter_mm); }
};

struct FlatWall {
    Plane plane;  ///< outward as the mesh's triangles are
    double area_mm2 = 0.0;
    WallRectangle rectangle;
    std::vector<std::uint32_t> triangles;
};

/// The areas of a mesh, that with the lowest resonance first; small ones (shorter than 20 mm) are left out. `counts`
/// says which triangles are wall; all when empty.
std::vector<FlatWall> flat_walls(const TriMesh& mesh, double wall_mm, const std::vector<Support>& supports,
                                 const std::function<bool(std::size_t)>& counts = {});

/// The rectangle of an area with other supports; none where they leave less than 10 mm.
std::optional<WallRectangle> rectangle_of(const TriMesh& mesh, const FlatWall& area, double wall_mm,
                                          const std::vector<Support>& supports);

}  // namespace geom::check
