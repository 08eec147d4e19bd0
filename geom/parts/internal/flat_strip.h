// Spline faces beside a corner made exactly flat where they lie in its planes but for the fit's noise: a fit has whole
// spans of its own in a plane only well away from a rounding, and a bar wants plane ground next to it.
#pragma once

#include "geom/parts/sharp_edge.h"

#include <TopoDS_Solid.hxx>

#include <vector>

namespace geom::parts {

/// A copy of the body with strips along both sides of the corner in its planes, fading out away from the edge and
/// towards the ends of `allowed`. Nothing moves by more than kMostOff_mm, nor any point of an edge between faces.
TopoDS_Solid with_flat_strips(const TopoDS_Solid& body, const Corner& corner,
                              const std::vector<space::Stretch>& allowed);

}  // namespace geom::parts
