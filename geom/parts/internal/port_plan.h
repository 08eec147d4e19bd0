// The port's tube: judged against outlines, air and driver before it is modelled, then modelled as bodies of revolution
// between plane faces, without a boolean.
#pragma once

#include "geom/parts/internal/driver_mount.h"

namespace geom::parts {

/// Depths behind the bare outer face.
struct PortPlan {
    Point2 centre;
    double bore_mm = 0.0, tube_mm = 0.0;  ///< radii inside and outside
    double mouth_mm = 0.0;                ///< radius of the rounded outer end
    double length_mm = 0.0;
    double back_mm = 0.0;      ///< of the baffle's inner face, on which the tube stands
    double free_way_mm = 0.0;  ///< asked before the inner end
    bool is_glued_in = false;  ///< a tube of its own, in a hole of its outside through the baffle

    double front_radius_mm() const { return bore_mm + mouth_mm; }
    double tube_volume_mm3() const;
    /// Distance of a place from the tube and from the free way before its inner end, negative inside.
    double solid_mm(const Site& site, Point3 p) const;
    double keeps_free_mm(const Site& site, Point3 p) const;
};

/// By the request alone. Faults: those of port_length()
Result<PortPlan> port_plan(const Site& site);

/// `flat`: the flat of the outer face. `back`, `back_name`: as of plan_driver(). `inner`: what the tube goes through
/// behind the baffle's back: the cavity's front, or the mouth behind a separate baffle.
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
PortFaces port_faces(const Site& site, const PortPlan& plan);

}  // namespace geom::parts
