// Where a limit plane bounds the body the spline is made exactly flat, and that part of it becomes a plane face.
#pragma once

#include "geom/skin/internal/fit.h"

namespace geom::skin {

/// Sets control points that lie on a flat but for the fit's noise exactly onto its plane; with `keep_y` without leaving
/// the baffle plane. End points stay, other arcs share them.
void snap_arc(SplineCurve& arc, bool keep_y, const FitSource& source);
void snap_face(SplinePatch& face, const FitSource& source);

/// The largest rectangle of wholly planar spans for every face and flat, drawn in a little; none below `least_mm`.
std::vector<PlaneCut> find_plane_cuts(const FaceNet& net, const FitSource& source, double least_mm);

}  // namespace geom::skin
