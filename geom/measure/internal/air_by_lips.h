// The air of a closed mesh whose openings end in sharp lips on its inner faces, plane or curved: the faces that look at
// the air are gathered from the place nearest to it, over edges that are no lips, and each lip is closed by the
// continued face.
#pragma once

#include "geom/measure/shape_air.h"

namespace geom::measure::internal {

/// Bent by more than this an edge near an opening may be part of its lip.
constexpr double kLip_deg = 40.0;

/// How an opening in a plane face was closed (ClosedOpening::how).
inline const char* const kFlush = "flush with the inner face";

/// `mesh`: closed, outward. Faults: those of air_of_shape()
Result<ShapeAir> air_by_lips(const TriMesh& mesh, Point3 inside, const std::vector<AskedOpening>& openings,
                             const Context& context);

}  // namespace geom::measure::internal
