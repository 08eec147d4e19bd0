// Feet: a seat on the vehicle's face, a hole for its bolt and an arm to the shell.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

struct FootPlan {
    std::string name, thread;
    Point3 point;
    Vec3 up, along, across;  ///< against the bolt's way in; from the hole to the shell; square to both
    double hole_radius_mm = 0.0;
    double pad_radius_mm = 0.0, pad_mm = 0.0;  ///< pad: under the washer
    double access_radius_mm = 0.0;
    double web_from_mm = 0.0, web_to_mm = 0.0;  ///< heights of the arm over the seat
    double web_width_mm = 0.0;
    double riser_mm = 0.0;     ///< along: the arm stands on the pad up to there; 0: the pad is as high as the arm
    double arm_from_mm = 0.0;  ///< along: where the arm begins, beside the washer
    /// Along: where the arm first meets the shell, where all of its section has, and where it ends inside.
    double skin_mm = 0.0, covered_mm = 0.0, root_mm = 0.0;
    double web_wanted_mm2 = 0.0, edge_wanted_mm = 0.0;
};

/// `least_depth_mm`: the arm's root stays that far behind the baffle's outer face.
/// Faults: Impossible  no way from the point to the body, the body in the way of the bolt, or the vehicle, a limit or a
///                     keep-out in the way of the foot: where and by how much
Result<FootPlan> plan_foot(const Site& site, const Foot& foot, double least_depth_mm);

/// The outer body (or what of it is behind a separate plate) with all feet on. The plans are left as made.
Result<TopoDS_Solid> fuse_feet(std::vector<FootPlan>& feet, const TopoDS_Solid& outer);

/// Distance from a place to a foot's pad or arm outside the shell; negative inside.
double distance_to(const FootPlan& foot, Point3 p);

/// What was made, with the least section of each arm measured by cuts on the finished solid.
Result<std::vector<FixingMade>> measure_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& solid);

}  // namespace geom::parts
