// A separate baffle: the plate cut from the outer body, and the shell's rim flange that it is screwed to.
#pragma once

#include "geom/parts/internal/driver_mount.h"
#include "geom/parts/internal/seal.h"

#include <optional>

namespace geom::parts {

/// The place so far along a closed loop.
Point2 along(const Loop& loop, double at_mm);
/// A closed spline through the loop's points, at a depth.
TopoDS_Wire smooth_wire(const Site& site, const Loop& loop, double depth_mm);

struct FlangePlan {
    RimFlange size;
    Loop mouth;  ///< the opening inside the flange
    std::vector<Point2> screws;
    double screw_gap_mm = 0.0;  ///< longest way along the rim between two screws
    std::vector<std::string> notes;
    std::optional<GrooveLoops> groove{};  ///< in the flange's front
    JointMade joint{};
};

/// What a driver asks, about its axis, of the air's outlines in both planes of the flange.
double room_in_mouth_mm(const DriverPlan& driver);

/// `flat`, `plate_back`: the plate's two outlines. `air_front`, `air_behind`: the air's outline in the plate's back
/// plane and in the flange's back plane. Faults: Impossible  the flange does not clear the
/// basket, or there is no place for a screw within the pitch
Result<FlangePlan> plan_flange(const Site& site, const RimFlange& size, const Outline& flat, const Outline& plate_back,
                               const Outline& air_front, const Outline& air_behind, const DriverPlans& drivers);

/// Shell and air once the flange is in, sharing all faces between them; the outer body's rest is given by its faces.
struct Flanged {
    std::vector<TopoDS_Face> shell_faces;  ///< of the shell, one closed surface
    std::vector<TopoDS_Face> air_faces;    ///< of the air behind the plate, without its front
    TopoDS_Face air_front;                 ///< its front, in the mouth
};
/// `rest`: the outer body behind the plate; `air_rest`: the air behind the flange.
Result<Flanged> flanged(const Site& site, const FlangePlan& plan, const TopoDS_Solid& rest,
                        const TopoDS_Solid& air_rest);

}  // namespace geom::parts
