// The cable's way out: a round hole through the wall nearest to the asked place, along the wall's normal there.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

struct TerminalPlan {
    Point3 at;     ///< on the outer skin
    Vec3 outward;  ///< the hole's axis
    double radius_mm = 0.0;
    double wall_mm = 0.0;  ///< along the axis, outer to inner skin
    double deepest_mm = 0.0,
           highest_mm = 0.0;  ///< reach of the skins round the hole's rim, from `at` against and along the axis
};
/// `least_depth_mm`: nearer to the baffle than that the wall is not free.
/// Faults: Impossible  no wall there, too curved, or too near the baffle or a foot
Result<TerminalPlan> plan_terminal(const Site& site, const TopoDS_Solid& air, double least_depth_mm);

struct TerminalMade {
    TopoDS_Solid solid;
    Plane cap;              ///< where the air ends in the hole
    double hole_mm3 = 0.0;  ///< air from the inner skin to the cap
};
Result<TerminalMade> cut_terminal(const TerminalPlan& plan, const TopoDS_Solid& shell);

}  // namespace geom::parts
