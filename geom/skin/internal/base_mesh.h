// A triangle mesh of the body's surface behind the baffle plane: coarse, even, and proven to be a disk.
//
// Frame   box, mm; triangles counter-clockwise seen from outside.
#pragma once

#include "geom/skin/internal/working_field.h"

#include <array>
#include <vector>

namespace geom::skin {

using Triangle = std::array<int, 3>;

struct DiskMesh {
    std::vector<Point3> points;
    std::vector<Triangle> triangles;
    std::vector<int> border;  ///< the one loop, with the surface on its left seen from outside
};

/// Neighbours of every vertex, packed.
struct VertexRings {
    std::vector<int> start, neighbour;
    VertexRings(std::size_t points, const std::vector<Triangle>& triangles);
    template <class F>
    void for_each(int v, F&& f) const {
        for (int i = start[static_cast<std::size_t>(v)]; i < start[static_cast<std::size_t>(v) + 1]; ++i)
            f(neighbour[static_cast<std::size_t>(i)]);
    }
};

/// Marching tetrahedra on a lattice of `step_mm` with a plane at the rim, the disk test, then smoothing on the surface.
///
/// Faults: MethodRefused  the surface is no disk with one rim; `where` is at the second rim, the tunnel or the island
Result<DiskMesh> disk_mesh(const WorkingField& field, const RimPlace& rim, double step_mm);

}  // namespace geom::skin
