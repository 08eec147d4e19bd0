// The part cut open by a plane square to the view: what lies on the viewer's side of it is taken away.
#pragma once

#include "exports/internal/draw_mesh.h"
#include "exports/internal/visible_lines.h"

namespace exports {

/// Closed outlines of the material in the plane, one set a product; a place is in the material when a ray from it
/// crosses the outlines an odd number of times.
using CutLoops = std::vector<std::vector<std::vector<geom::Point3>>>;

CutLoops cut_loops(const std::vector<PicturedProduct>& products, const geom::Plane& plane);

/// The facets behind the plane (height below zero), those that cross it clipped.
DrawMesh clipped(const DrawMesh& mesh, const geom::Plane& plane);

/// What hides the lines behind the cut material, for the view whose `toward` is the plane's normal.
CutAway cut_away(const CutLoops& loops, const geom::Plane& plane, const View& view);

/// Hatch lines at 45 degrees inside one product's outlines, `spacing` apart, in picture coordinates.
std::vector<std::array<PicturePoint, 2>> hatch(const std::vector<std::vector<geom::Point3>>& loops, const View& view,
                                               double spacing_px, bool leans_left);

}  // namespace exports
