// The form of the baffle round the driver: nothing, a raised ring, or a sunk dish with its back. All of it is of
// revolution about the driver's axis: planes, cylinders and cones.
//
// Depth   behind the bare outer face, millimetres; negative before it.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

struct ProfilePoint {
    double radius_mm = 0.0, depth_mm = 0.0;
};
using Profile = std::vector<ProfilePoint>;

struct BaffleForm {
    Profile front;                ///< from the outer face to the face the flange sits on; empty: flat
    Profile back;                 ///< from the inner face to that of the dish's back; empty: none
    double face_mm = 0.0;         ///< of the face the flange sits on
    double face_radius_mm = 0.0;  ///< of that face; 0: the baffle's own
    double back_mm = 0.0;         ///< where the cut-out comes out

    double foot_radius_mm() const { return front.empty() ? 0.0 : front.front().radius_mm; }
    double boss_radius_mm() const { return back.empty() ? 0.0 : back.front().radius_mm; }
    /// Air that the dish's back takes, its cut-out not taken off again.
    double boss_mm3() const;
};

/// Radius of the pocket that a flange is let into; 0: it sits on the face, as every flange does on the inner one.
double recess_radius_mm(const DriverMount& mount);
/// Of the plane on which a driver's flange rests.
double seat_depth_mm(const DriverMount& mount, const BaffleForm& form);
/// About a driver's axis, of all that stands on or is let into the outer face, and of all that comes out of the inner
/// one.
double front_radius_mm(const DriverMount& mount, const BaffleForm& form);
double back_radius_mm(const DriverMount& mount, const BaffleForm& form);

/// Faults: BadJob      a ring or dish without a driver
///         Impossible  a top or floor that does not hold the flange, an edge that leaves nothing of the ring's wall
Result<BaffleForm> baffle_form(const EnclosureRequest& request);
/// The same where a fault will come later anyway: then flat.
BaffleForm baffle_form_or_flat(const EnclosureRequest& request);

/// Faults: Impossible  the dish's back comes too near the inner wall: by how much and where
Status check_boss_room(const Site& site, const BaffleForm& form, Point2 centre, const TopoDS_Solid& air);

/// What a profile sweeps about the driver's axis.
struct Turned {
    TopoDS_Wire from, to;  ///< circles at its two ends, shared with the faces
    std::vector<TopoDS_Face> faces;
};
Turned turned(const Site& site, Point2 centre, const Profile& profile);
/// The same of a line in a half-plane of the axis, its two ends at these depths.
Turned turned(const Site& site, Point2 centre, const TopoDS_Wire& line, double from_mm, double to_mm);

/// A filled solid with a profile worked into its plane face, which lies at the profile's beginning.
Result<TopoDS_Solid> shaped(const std::string& feature, const Site& site, Point2 centre, const Profile& profile,
                            const TopoDS_Solid& solid, const TopoDS_Face& face);

}  // namespace geom::parts
