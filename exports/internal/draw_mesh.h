// The products' meshes joined for drawing, with a normal a corner: smooth across smooth edges, split at creases.
#pragma once

#include "exports/pictures.h"

#include <cstdint>

namespace exports {

struct DrawMesh {
    std::vector<geom::Point3> points;  ///< split: one entry a (place, smooth side)
    std::vector<geom::Vec3> normals;   ///< unit, outward
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::vector<std::uint8_t> product;  ///< of each triangle
    geom::Aabb box;
};

/// Facets that meet at a vertex across an edge bent by less than `crease_deg` share their normal there, weighted by
/// angle. The default is above the turn between facets of a small rounding at the usual chord errors, and below every
/// edge that is meant sharp.
DrawMesh draw_mesh(const std::vector<PicturedProduct>& products, double crease_deg = 36.0);

}  // namespace exports
