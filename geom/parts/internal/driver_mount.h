// The driver's place in the baffle: judged against the outlines before anything is modelled, then modelled as circles
// and walls between plane faces.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

struct DriverPlan {
    Point2 centre;
    double cutout_radius_mm = 0.0;
    double seat_depth_mm = 0.0;     ///< of the recess; 0: the flange sits on the face
    double recess_radius_mm = 0.0;  ///< 0: none
    double flange_radius_mm = 0.0;
    double basket_radius_mm = 0.0;
    std::vector<Hole> bolts;  ///< from the seat
    std::vector<std::string> notes;
};

/// `flat`: the flat of the outer face. `back`: the plane region that holes across the baffle come out of, called
/// `back_name` in faults: the cavity's front, or the back of a separate plate.
/// Faults: Impossible  larger than the flat, or a hole that meets an edge: by how much, which way, what would fit
Result<DriverPlan> plan_driver(const Site& site, const Outline& flat, const Outline& back,
                               const std::string& back_name);

/// The baffle with its holes: both plane faces, and the walls, floors and bottoms between them.
struct Drilled {
    TopoDS_Face front, back;
    std::vector<TopoDS_Face> more;
    TopoDS_Wire cutout_at_seat, cutout_at_back;  ///< null without a driver
    std::vector<TopoDS_Face> cutout_wall;
    bool pierces = false;  ///< some hole goes through
};
/// `driver` may be null; `screws` start in the front face.
Drilled drill(const Site& site, const TopoDS_Face& front, const TopoDS_Face& back, double back_depth_mm,
              const DriverPlan* driver, const std::vector<Hole>& screws);

}  // namespace geom::parts
