// The air of a closed mesh whose openings end in sharp lips on its inner faces, plane or curved: the faces that look at
// the air are gathered from the place nearest to it, over edges that are no lips, and each lip is closed by the
// continued face.
#pragma once

#include "geom/measure/internal/face_fit.h"
#include "geom/measure/shape_air.h"
#include "geom/measure/shells.h"

namespace geom::measure::internal {

/// Bent by more than this an edge near an opening may be part of its lip.
constexpr double kLip_deg = 40.0;

/// How an opening in a plane face was closed (ClosedOpening::how).
inline const char* const kFlush = "flush with the inner face";

/// The face round a loop carried on over it.
struct Continued {
    FaceFit face;
    double beyond_mm3 = 0.0;  ///< what it holds beyond the loop's lid; signed as the shell's own volume
    double area_mm2 = 0.0;
    bool lies_in_it = false;  ///< the loop lies within the face; false: it ends the face, as a tube's end does

    /// How an opening was closed by it (ClosedOpening::how).
    std::string how() const;
};
/// The face is gathered over edges that are not sharp, within `width` of the loop's middle.
Continued continued(const BorderLoop& loop, const TriMesh& mesh, double width_mm);

/// `mesh`: closed, outward. Faults: those of air_of_shape()
Result<ShapeAir> air_by_lips(const TriMesh& mesh, Point3 inside, const std::vector<AskedOpening>& openings,
                             const Context& context);

}  // namespace geom::measure::internal
