// Where a mounting plate lies, before anything is modelled: its frame on the vehicle's face, and the plane that the box
// stops at.
//
// Method  The plate lies with its lower face in the plane through its bolts' points. The box has a true plane face over
//         it: as high as the heads of the vehicle's bolts and the clearance from the vehicle's face ask, on pads round
//         the box's screws that reach down to the plate; on the plate itself where neither asks for more.
#pragma once

#include "geom/parts/enclosure.h"

#include <optional>

namespace geom::parts {

/// What of a bent plate lies beyond its bend.
struct TurnedPlace {
    Vec3 out;                   ///< in the plate, square to the bend, to what is turned; unit
    double line_mm = 0.0;       ///< where the bend begins, along `out` from the plate's origin
    double radians = 0.0;       ///< signed, towards the box positive
    double inner_mm = 0.0;      ///< radius on the inside
    double allowance_mm = 0.0;  ///< length of the bend in the flat blank: angle (r + k t)
    Frame frame;                ///< of its lower face: origin and x in the end of the bend, y away from it, z as the
                                ///< plate's own side towards the box
    Point3 centre;              ///< on the axis of the bend
    /// Of the side that looks along z, `height` over the lower face; outward from the box. For radians > 0.
    Plane plane(double height) const { return {frame.to_parent({0, 0, height}), -frame.z}; }
};

struct PlatePlace {
    Frame frame;  ///< origin: the bolts' middle on the vehicle's face; z away from the vehicle
    double thickness_mm = 0.0;
    double stand_mm = 0.0;  ///< of the box's plane face over the plate; 0: it lies on it
    std::optional<TurnedPlace> turned{};

    double face_mm() const { return thickness_mm + stand_mm; }  ///< height of the box's face over the vehicle's
    Point3 at(double x, double y, double height) const { return frame.to_parent({x, y, height}); }
    /// Of the plate's upper face or of the box's, outward from the box.
    Plane plane(double height) const { return {at(0, 0, height), -frame.z}; }
};

/// As given, or aluminium.
Material material_of(const MountPlate& plate);

/// Faults: BadJob      the points are not in one plane square to the axis within 0.5 mm, or fall together
///                     a bend of a board, beside the plate, or whose bolts do not lie where it turns them to
///         Impossible  a countersunk head deeper than the plate
Result<PlatePlace> plate_place(const MountPlate& plate, const EnclosureRequest& request);

/// The request with a limit for each plate, so that the room ends at the plane that the box stops at. A part that turns
/// towards the box is a limit too, to its side as far as the room goes, and so is its bend.
/// Faults: those of plate_place()
Result<EnclosureRequest> with_plate_limits(const EnclosureRequest& request);
/// The limits of with_plate_limits() moved to the plates' upper faces: nothing of the box is beyond those.
void limits_at_plates(EnclosureRequest& request);

/// Air that head and washer of a screw through the box's back take.
Volume plate_screws_volume(const EnclosureRequest& request);

}  // namespace geom::parts
