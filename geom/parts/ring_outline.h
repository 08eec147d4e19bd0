// A closed outline in a plane, as a ring's job gives it: round, an ellipse, or lines and arcs.
//
// Frame   of the plane: x to the right and y up for the listener who looks at it, mm; the origin is the axis of the
//         ring, or the driver's centre for an outline on the driver's side.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/parts/flat_drawing.h"

#include <vector>

namespace geom::parts {

struct RingOutline {
    enum class Kind { Round, Ellipse, Path } kind = Kind::Round;
    Length width{}, height{};       ///< of a circle its diameter, twice; of an ellipse its axes
    Angle turn{};                   ///< of an ellipse: of its width from x, counter-clockwise
    std::vector<FlatPoint> path{};  ///< closed, counter-clockwise
};

RingOutline round_outline(Length diameter);
RingOutline ellipse_outline(Length width, Length height, Angle turn = {});

/// A polygon with its corners rounded; `radius` 0 leaves them sharp.
/// Faults: BadJob  fewer than three corners, a corner twice, sides that cross, a radius that the sides at a corner do
///                 not hold: which corner
Result<RingOutline> rounded_polygon(const std::vector<FlatPoint>& corners, Length radius);
/// Closed lines and arcs, run either way round.
/// Faults: BadJob  fewer than two corners, no area, an outline that crosses itself
Result<RingOutline> path_outline(std::vector<FlatPoint> path);

double area_mm2(const RingOutline& outline);

}  // namespace geom::parts
