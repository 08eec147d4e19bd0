// Feet: a seat on the vehicle's face, a hole for its bolt and an arm to the shell.
#pragma once

#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/internal/site.h"

#include <array>
#include <optional>
#include <utility>

namespace geom::parts {

/// A rib on a long arm, in the plane of bolt and arm: from beside the socket's access up the shell.
struct Gusset {
    double from_mm = 0.0, root_mm = 0.0,
           top_root_mm = 0.0;                          ///< along: its toe; its ends inside the shell, low and high
    double base_mm = 0.0, toe_mm = 0.0, top_mm = 0.0;  ///< heights over the seat: in the arm, of its toe, at the shell
    double width_mm = 0.0;

    /// Of its side, (along, up), counter-clockwise.
    std::array<std::pair<double, double>, 4> corners() const {
        return {{{from_mm, base_mm}, {root_mm, base_mm}, {top_root_mm, top_mm}, {from_mm, toe_mm}}};
    }
};

struct FootPlan {
    std::string name, thread;
    Point3 point;
    Vec3 up, along, across;  ///< against the bolt's way in; from the hole to the shell; square to both
    BoltLine line;           ///< of its hole, which may be a slot
    Bore bore;
    double pad_radius_mm = 0.0, pad_mm = 0.0;               ///< pad: under the washer
    double access_radius_mm = 0.0, access_height_mm = 0.0;  ///< of the tool's room, from the head's seat up
    double web_from_mm = 0.0, web_to_mm = 0.0;              ///< heights of the arm over the seat
    double web_width_mm = 0.0;
    double riser_mm = 0.0;     ///< along: the arm stands on the pad up to there; 0: the pad is as high as the arm
    double arm_from_mm = 0.0;  ///< along: where the arm begins, beside the washer
    /// Half the width of the block that carries an arm too deep to stand on the pad by its own width: what of the pad's
    /// disc lies on the arm's side of the hole and within that width, up to over the arm. 0: no block.
    double block_half_mm = 0.0;
    /// Along: where the arm first meets the shell, where all of its section has, and where it ends inside.
    double skin_mm = 0.0, covered_mm = 0.0, root_mm = 0.0;
    double web_wanted_mm2 = 0.0, edge_wanted_mm = 0.0;
    double longest_mm = 0.0;  ///< way of an arm that is still made
    bool on_plate = false;    ///< a lug: what is under its pad is a mounting plate, not the vehicle's face
    std::optional<Gusset> gusset{};
};

/// A place of a foot's own frame.
inline Point3 at(const FootPlan& foot, double along, double across, double up) {
    return foot.point + foot.along * along + foot.across * across + foot.up * up;
}

/// Of such a block.
double block_radius_mm(const FootPlan& foot);
double block_top_mm(const FootPlan& foot);

/// Height of the pad's disc over the seat: under the washer, or with the arm beside it.
double pad_top_mm(const FootPlan& foot);

/// Whether two pads lie in one plane and so near that a bar joins them.
bool are_joined(const FootPlan& a, const FootPlan& b);

/// All feet, one after the other; each keeps off the bolts of the others.
/// `least_depth_mm`: the arms' roots stay that far behind the baffle's outer face.
/// Faults: Impossible  no way from the point to the body, the body in the way of the bolt, or the vehicle, a limit, a
///                     keep-out or another foot's bolt in the way of the foot: where and by how much
Result<std::vector<FootPlan>> plan_feet(const Site& site, double least_depth_mm);

/// A lug of the box for a screw down into a mounting plate: a foot that stands on the plate. It keeps off the bolts of
/// those `beside` it.
/// Faults: as of plan_feet()
Result<FootPlan> plan_lug(const Site& site, const Foot& screw, double least_depth_mm,
                          const std::vector<FootPlan>& beside);

/// The outer body (or what of it is behind a separate plate) with all feet on. The plans are left as made.
Result<TopoDS_Solid> fuse_feet(std::vector<FootPlan>& feet, const TopoDS_Solid& outer);

/// Distance from a place to a foot's pad or arm outside the shell; negative inside.
double distance_to(const FootPlan& foot, Point3 p);

/// What was made, with the least section of each arm measured by cuts on the finished solid.
Result<std::vector<FixingMade>> measure_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& solid);

}  // namespace geom::parts
