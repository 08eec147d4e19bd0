// The port's tube: judged against outlines, air and driver before it is modelled, then modelled as prisms and pieces of
// revolution between plane faces, without a boolean.
#pragma once

#include "geom/parts/duct.h"
#include "geom/parts/flat_drawing.h"
#include "geom/parts/internal/driver_mount.h"

namespace geom::parts {

/// Stations and depths count from the bare outer face.
struct PortPlan {
    Point2 centre;
    DuctSection inside, outside;
    DuctPath path;
    double mouth_mm = 0.0;     ///< radius of the rounded outer end
    double back_mm = 0.0;      ///< of the baffle's inner face, on which the tube stands
    double free_way_mm = 0.0;  ///< asked before the inner end, straight on
    bool is_glued_in = false;  ///< a tube of its own, in a hole of its outside through the baffle

    double length_mm() const { return path.length_mm; }
    DuctSection front() const { return inside.grown(mouth_mm); }
    double tube_volume_mm3() const { return outside.area_mm2() * (length_mm() - back_mm); }
    /// Distance of a place from the tube, from so much of the way before its inner end, and from tube and free way;
    /// negative inside.
    double solid_mm(Point3 p) const { return path.distance_to(outside, back_mm, length_mm(), p); }
    double way_mm(Point3 p, double long_mm) const;
    double keeps_free_mm(Point3 p) const;
};

/// By the request alone. Faults: those of port_length()
///         MethodRefused  a baffle that no tube can stand on
///         Impossible     a wall, a mouth, or a form that the baffle's material does not let be made
Result<PortPlan> port_plan(const Site& site);

/// `flat`: the flat of the outer face. `back`, `back_name`: as of plan_driver(). `inner`: what the tube goes through
/// behind the baffle's back: the cavity's front, or the mouth behind a separate baffle, through which a bent tube goes
/// as a whole when the baffle is put on.
/// `air`: the air with all that stands in it taken away.
/// Faults: Impossible  it meets an edge, the driver, a hole, a wall or what stands in the box: by how much, what fits
Status check_port(const Site& site, const PortPlan& plan, const Outline& flat, const Outline& back,
                  const std::string& back_name, const Outline& inner, const DriverPlans& drivers,
                  const std::vector<Hole>& screws, const TopoDS_Solid& air);

/// Faces between the baffle's two faces: of the solid, and those that close the air at the inner end.
struct PortFaces {
    TopoDS_Wire mouth, foot;         ///< in the outer face, and round the tube in the inner one
    std::vector<TopoDS_Face> solid;  ///< flare, bore, rim, outside
    std::vector<TopoDS_Face> air;    ///< outside and rim, and a lid over the bore
};
Result<PortFaces> port_faces(const PortPlan& plan);

/// The air without the filled tube; `front`: its plane face in the baffle's inner face.
Result<TopoDS_Solid> without_port(const PortPlan& plan, const TopoDS_Solid& air, const TopoDS_Face& front);

/// Where the air that is measured ends: in the plane of the inner end.
measure::Opening port_opening(const PortPlan& plan);

PortMade port_made(const PortPlan& plan, const Port& asked);
/// What was made, for people.
std::string port_note(const PortPlan& plan);
/// Its hole through a baffle that is seen from the front, and what is written beside it.
void draw_port(FlatDrawing& drawing, const PortPlan& plan);
std::vector<std::string> port_lines(const PortPlan& plan);

}  // namespace geom::parts
