// The faces of a duct on the kernel: prisms and pieces of revolution that share their edges, and the flare of its
// mouth. No boolean.
#pragma once

#include "geom/parts/duct.h"
#include "geom/parts/internal/boolean.h"

namespace geom::parts {

/// The section's border in its plane at a station: a circle, or lines and quarters of circles, none of no length.
TopoDS_Wire border_wire(const DuctPath& path, const DuctSection& section, double station_mm);

/// What a wire leaves behind between two stations.
struct Swept {
    TopoDS_Wire from, to;  ///< borders at the two stations, shared with the faces
    std::vector<TopoDS_Face> faces;
};
/// `wire` lies in the plane of `from_mm` and is shared. Stations as of DuctPath::distance_to().
Swept swept(const DuctPath& path, const TopoDS_Wire& wire, double from_mm, double to_mm);

/// A mouth rounded by a quarter circle all round, from the outer end's plane to a station as deep as its radius.
/// EXPECTS: radius positive; the section's corners are round
Result<Swept> flare(const DuctPath& path, const DuctSection& section, double radius_mm);

}  // namespace geom::parts
