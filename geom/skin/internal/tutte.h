// Fold-free maps of a disk of triangles into the plane.
//
// Source  Tutte 1963, Floater 1997: with positive weights and a convex border every triangle keeps its orientation.
//         Stretch reduction after Yoshizawa, Belyaev, Seidel 2004: it rescales the weights and keeps them positive.
#pragma once

#include "geom/core/vec.h"
#include "geom/skin/internal/base_mesh.h"

#include <vector>

namespace geom::skin {

struct Planar {
    double u = 0.0, v = 0.0;
    friend Planar operator+(Planar a, Planar b) { return {a.u + b.u, a.v + b.v}; }
    friend Planar operator-(Planar a, Planar b) { return {a.u - b.u, a.v - b.v}; }
    friend Planar operator*(Planar a, double s) { return {a.u * s, a.v * s}; }
};
inline double cross2(Planar a, Planar b) {
    return a.u * b.v - a.v * b.u;
}

/// Fills `map` for the vertices that are not `fixed`; fixed ones must lie on the border of a convex shape.
/// False when a triangle came out with no positive area (then `map` is not to be used).
bool tutte_map(const std::vector<Point3>& points, const std::vector<Triangle>& triangles,
               const std::vector<char>& fixed, int stretch_rounds, std::vector<Planar>& map);

}  // namespace geom::skin
