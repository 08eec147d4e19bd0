// Where everything of a ring lies, and that it keeps the rules, before anything is modelled.
//
// Frame   of the seat: origin on the ring's axis, z outward, x the way the driver turns.
#pragma once

#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/ring.h"

namespace geom::parts {

/// A cylinder that is cut: heights of the line run from where the hole begins into the ring.
struct RingCut {
    std::string name;
    BoltLine line;  ///< vehicle frame
    double radius_mm = 0.0;
    double from_mm = 0.0, to_mm = 0.0;            ///< of the hole
    double tool_from_mm = 0.0, tool_to_mm = 0.0;  ///< past the faces it goes through
};

struct RingPlan {
    Frame seat;
    double outside_mm = 0.0;                ///< radius
    double middle_mm = 0.0, most_mm = 0.0;  ///< heights of the front face over the axis and on the high side
    double slope = 0.0;                     ///< tangent of the tilt
    Plane front;                            ///< point: the driver's centre
    RingCut bore;
    double bore_mm3 = 0.0;
    std::vector<RingCut> screws;              ///< of the driver
    std::vector<std::vector<RingCut>> bolts;  ///< of each its hole, then what its head is sunk in
    std::vector<RingWeb> webs;
    std::vector<std::string> notes;

    double front_over(Point3 local) const { return middle_mm - local.x * slope; }
};

/// Faults: those of make_ring(), the kernel's apart
Result<RingPlan> plan_ring(const RingRequest& request);

}  // namespace geom::parts
