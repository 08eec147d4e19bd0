// A flange that stands out round the baffle and is screwed to the panel behind it.
#pragma once

#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/internal/site.h"

namespace geom::parts {

struct RimPlan {
    std::string name, screw;
    double width_mm = 0.0, thickness_mm = 0.0;
    double hole_mm = 0.0, sink_mm = 0.0;  ///< clearance hole and countersink, diameters
    double centre_mm = 0.0;               ///< of the holes, from the box's outline outward
    double edge_wanted_mm = 0.0;
    Loop outline;
    std::vector<Point2> screws;
    double gap_mm = 0.0;      ///< longest way along the rim between two screws
    double engages_mm = 0.0;  ///< thread in the panel that is counted on
    double tool_mm = 0.0;     ///< straight room over a screw, across
    std::vector<std::string> notes;
};

/// What stands round a box with these outlines: in the baffle's plane, and where the flange ends behind it.
/// Faults: BadJob      unknown screw
///         Impossible  a width that does not hold the screws, a thickness that does not hold their heads, or the
///         vehicle,
///                     a limit or a keep-out in the way: where and by how much
Result<RimPlan> plan_rim(const Site& site, const PanelRim& rim, const Outline& flat, const Outline& behind,
                         double thickness_mm);

/// Thickness of the flange: given, the baffle's, or a little less where the baffle is a piece of its own.
/// Faults: Impossible  as thick as a separate baffle, or thicker
Result<double> rim_thickness(const Site& site, const PanelRim& rim);

struct RimOn {
    TopoDS_Solid outer;
    RimPlan plan;
};
/// The outer body with the flange round it and the holes in it.
Result<RimOn> with_rim(const Site& site, const PanelRim& rim, const TopoDS_Solid& outer);

/// Screws, seats and fixings of it, holes measured on the finished solid that has them.
Status note_rim(const Site& site, const RimPlan& plan, const TopoDS_Solid& solid, const std::string& product,
                Enclosure& made);

}  // namespace geom::parts
