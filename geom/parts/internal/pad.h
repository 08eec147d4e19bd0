// The filler pad: what of the air lies behind a plane parallel to the baffle.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

struct Pad {
    std::vector<TopoDS_Solid> solids;  ///< one, or more where the back has several hollows
    std::vector<TopoDS_Face> caps;     ///< their faces in the plane, which the air before them shares
    double mm3 = 0.0;
    double from_mm = 0.0;  ///< depth of the plane behind the baffle's outer face
};
struct AirAndPad {
    TopoDS_Solid air;
    Pad pad;
};

/// Faults: Impossible  the plane leaves the air before it in several pieces, or none
///         MethodRefused  a pad of its own that does not come through the cut-out of an integral baffle
Result<AirAndPad> part_pad(const Site& site, const TopoDS_Solid& air, const Plane& plane);

/// Faces of the air that end at the pad, with the pad's own sides and back in place of its caps.
std::vector<TopoDS_Face> beyond_pad(const std::vector<TopoDS_Face>& faces, const Pad& pad);

/// How a pad of its own comes to its place through the shell's mouth.
std::string way_in_text(const Site& site, const Pad& pad, const Outline& mouth);

}  // namespace geom::parts
