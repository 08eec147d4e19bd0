// Fits the arcs and faces of a net to the field for given knots.
#pragma once

#include "geom/skin/internal/face_net.h"
#include "geom/skin/internal/patch_map.h"

#include <vector>

namespace geom::skin {

/// What the fit works from; all of it outlives the fit.
struct FitSource {
    const WorkingField& field;
    RimPlace rim;
    const std::array<FairCurve, kArcs>& curves;
    const std::array<PatchGrid, kPieces>& grids;
    const std::vector<Plane>& flats_box;
};

/// Knots to begin with: dense where the surface bends, `widest_mm` where it does not; fewer all over when that would
/// take more than about `most_control_points`.
void place_first_knots(FaceNet& net, const FitSource& source, double widest_mm, double most_control_points);

/// Arcs by least squares with ends and end tangents in the surface's tangent planes; faces by separable least squares
/// with the arcs as borders; then the second row of every smooth side turned into the field's tangent plane.
void fit_net(FaceNet& net, const FitSource& source);

/// The four collar faces of a rounded rim, from the ring arcs.
void fit_collar(FaceNet& net, const FitSource& source);

}  // namespace geom::skin
