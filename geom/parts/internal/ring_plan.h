// Where everything of a ring lies, and that it keeps the rules: first the shape, then the holes in it.
//
// Frame   `seat`: origin on the ring's axis, z outward, x the way the driver turns. `view` and `front_view` are those
// of
//         outlines: x right, z up, y against the plane's outward.
#pragma once

#include "geom/parts/driver_body.h"
#include "geom/parts/internal/ring_webs.h"

namespace geom::parts {

struct RingShape {
    Frame seat, view, front_view;
    Plane front, rest;                      ///< point: on the driver's axis
    double slope = 0.0;                     ///< tangent of the tilt
    double middle_mm = 0.0, most_mm = 0.0;  ///< heights of the front face over the axis and on the high side
    double recess_mm = 0.0, recess_radius_mm = 0.0;
    double below_mm = 0.0;    ///< how far behind the seat plane the ring goes on: lip, rain lip, foot
    double outside_mm = 0.0;  ///< radius, where the outside is one cylinder from seat to front; 0: it is not
    bool has_round_bore = true;
    RingCut bore;                  ///< round: from the rest to the seat; otherwise only its axis
    std::optional<RingCut> flare;  ///< a chamfer
    double flare_round_mm = 0.0;   ///< radius of a flare that is a round; its mouth is bore + this
    double mouth_mm = 0.0;         ///< radius about the seat's axis that holds the bore's mouth, flared, in the seat
    Point3 mouth;                  ///< its centre, in the seat
    std::optional<DriverBody> body;
    std::optional<FreeArea> free_area;
    double flare_mm = 0.0;
    std::vector<RingWeb> webs;
    std::vector<std::string> notes;

    double front_over(Point3 local) const { return middle_mm - local.x * slope; }
    Vec3 outward() const { return seat.z; }
    /// Of a place taken to the seat plane along its normal.
    Point3 in_seat(Point3 p) const { return p - seat.z * dot(p - seat.origin, seat.z); }
};

/// Faults: those of make_ring(), the kernel's apart
Result<RingShape> plan_ring_shape(const RingRequest& request);

struct RingSides {
    RingSide outside, bore;
};

struct RingGrooveCut {
    RingGroove::On on = RingGroove::On::Seat;
    Plane face;  ///< that it is cut into; point: its centre
    double inner_mm = 0.0, outer_mm = 0.0, depth_mm = 0.0;
};

struct RingHoles {
    Angle turn;
    std::vector<RingCut> screws;              ///< of the driver
    std::vector<RingCut> nuts;                ///< of screws that go through, cut from the back
    std::vector<std::vector<RingCut>> bolts;  ///< of each its hole, then what its head is sunk in
    std::vector<RingGrooveCut> grooves;
    std::vector<RingWeb> webs;
    std::vector<std::string> notes;
};

/// Faults: those of make_ring(), the kernel's apart
Result<RingHoles> plan_ring_holes(const RingRequest& request, const RingShape& shape, const RingSides& sides,
                                  Angle turn);

}  // namespace geom::parts
