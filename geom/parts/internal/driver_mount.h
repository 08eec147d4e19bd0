// The driver's place in the baffle: judged against the outlines before anything is modelled, then modelled as circles
// and walls between plane faces.
#pragma once

#include "geom/parts/internal/baffle_shape.h"
#include "geom/parts/internal/seal.h"

#include <functional>

namespace geom::parts {

struct DriverPlan {
    DriverMount mount;
    Point2 centre;
    BaffleForm form;
    double cutout_radius_mm = 0.0;
    double seat_depth_mm = 0.0;  ///< of the plane the flange rests on: the form's face, the floor of a recess in it, or
                                 ///< the inner face
    double under_seat_mm = 0.0;  ///< of the baffle, from the seat to where the cut-out comes out on its other side
    double recess_radius_mm = 0.0;  ///< 0: none
    double flange_radius_mm = 0.0;
    double basket_radius_mm = 0.0;  ///< behind the baffle; 0 of a driver that is turned
    std::vector<Hole> bolts;        ///< from the seat
    std::vector<std::string> notes;
    double groove_radius_mm = 0.0;  ///< of a round cord's groove in the seat, to its inner edge; 0: none
    JointMade joint{};

    double front_radius_mm() const { return parts::front_radius_mm(mount, form); }
    double back_radius_mm() const { return parts::back_radius_mm(mount, form); }
};

/// That the request can be had at all. Faults: BadJob      a flange's thickness that is wanted and not given
///                                            Impossible  from behind a baffle that does not come off
///                                            NotBuilt    from behind a ring or a dish
Status check_stances(const EnclosureRequest& request);

using DriverPlans = std::vector<const DriverPlan*>;

/// What else the place of a driver must have, for the hint that tells one.
struct MoreRoom {
    /// Room beyond what is needed of a driver that stood at a place, changing by at most 1 a millimetre; may be empty.
    std::function<double(const DriverPlan&, Point2)> room_mm{};
    /// Whether the baffle takes these at all; may be empty.
    std::function<Status(const DriverPlans&)> takes{};
};

/// Every driver of the request. `flat`: the flat of the outer face. `back`: the plane region that holes across the
/// baffle come out of, called `back_name` in faults: the cavity's front, or the back of a separate plate. Faults: those
/// of baffle_form()
///         Impossible  larger than the flat, a hole that meets an edge, or two drivers that meet: by how much, which
///                     way, what would fit; a centre that is told as fitting has stood these checks and those of `more`
Result<std::vector<DriverPlan>> plan_drivers(const Site& site, const Outline& flat, const Outline& back,
                                             const std::string& back_name, const MoreRoom& more = {});

/// The baffle with its form and holes: both plane faces, and the walls, floors and bottoms between them.
struct Drilled {
    TopoDS_Face front, back;
    std::vector<TopoDS_Face> more;
    bool pierces = false;  ///< some hole goes through
    // What closes the air, up to the drivers' seats; empty without a driver in front.
    std::vector<TopoDS_Wire> out_of_back;  ///< of each in the back's plane: the cut-out, or the dish's back
    std::vector<TopoDS_Face> air_side;     ///< the dish's back, the cut-outs' walls, and a lid in each seat
};
/// `screws` start in the front face. A driver from behind adds no air: the air ends at its seat, the inner face.
Drilled drill(const Site& site, const TopoDS_Face& front, const TopoDS_Face& back, double back_depth_mm,
              const DriverPlans& drivers, const std::vector<Hole>& screws);

}  // namespace geom::parts
