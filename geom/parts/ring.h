// The adapter ring: a spacer between a round seat on the vehicle and a driver, level or tilted.
//
// Frame   vehicle, mm. The seat plane's outward points from the vehicle to the listener; heights are over the seat.
// Shape   a true cylinder about the seat's axis, cut by the seat plane and by the front face on which the driver's
//         flange rests; the front face is lowest on the side that it turns to. The bore is a cylinder about the
//         driver's axis (square to the front face) or parallel to the seat's (square to the seat).
#pragma once

#include "geom/parts/enclosure.h"

namespace geom::parts {

struct RingSeat {
    Plane plane;              ///< point: on the ring's axis, in the seat
    Length outside_diameter;  ///< of the ring
};

/// A bolt along the seat's axis into the vehicle.
struct RingBolt {
    std::string name;
    Point3 point;  ///< taken to the seat along its normal
    std::string thread = "M5";
    /// Ring left under washer and head, which are sunk into it; none: a plain hole, whose head stands on the front.
    std::optional<Length> under_head{};
};

struct RingRequest {
    std::string name = "ring";
    RingSeat seat;
    sound::Driver driver;
    Angle turn{};         ///< of the driver's bolt circle; 0 = up projected on the front face, clockwise from the front
    Vec3 up{0, 0, 1};     ///< direction
    Vec3 shift{};         ///< of the driver's centre on the front face beside the seat's axis, mm; its part in the seat
    Length height;        ///< of the thin side, where the front face comes nearest to the seat
    Angle tilt{};         ///< between the driver's axis and the seat's, 0 to 45 deg
    Vec3 tilt_towards{};  ///< the driver turns this way; its part in the seat. Not asked for where tilt is 0
    enum class Bore { Driver, Seat } bore = Bore::Driver;
    std::optional<Length> bore_diameter;  ///< none: that of the driver's cut-out
    bool inserts = true;                  ///< heat-set inserts for the driver's screws where the material takes them
    std::vector<RingBolt> bolts;
    Material material;
    Make make;
    std::vector<fixings::Thread> own_threads;
};

/// Two things that must leave some of the ring between them, and what they leave: never told too large.
struct RingWeb {
    std::string between;  ///< "driver screw 2 and vehicle bolt \"left\""
    double left_mm = 0.0, wanted_mm = 0.0;
    Point3 at;  ///< where they come nearest, about
};

struct RingHole {
    std::string name;
    Point3 from;               ///< on the axis, where it begins: in the front face, or in the seat
    Vec3 way;                  ///< into the ring, unit
    double depth_mm = 0.0;     ///< along the axis
    double diameter_mm = 0.0;  ///< asked
    double made_mm = 0.0;      ///< as the finished B-rep has it
    double off_axis_mm = 0.0;  ///< of the B-rep's hole, greatest
};

struct Ring {
    Product product;
    Plane front;  ///< the face that the flange rests on; point: the driver's centre
    Length most_height, least_height;
    Volume volume;  ///< of the B-rep
    std::vector<RingHole> holes;
    std::vector<RingWeb> webs;  ///< all that were judged, each kept
    std::vector<std::string> notes;
};

/// Rules   least wall of the method round every hole, more beside an insert as its table has it; from a vehicle bolt's
///         centre to outside and bore at least 1.2 of its hole (EN 1993-1-8 Table 3.3, steel plate); a driver's screw
///         that ends blind keeps a floor over the seat; the flange lies on the front face as a whole and covers the
///         bore's mouth by 3 mm [common practice]; heads are sunk where the face is tilted or the flange lies over
///         them.
/// Webs    of holes that are parallel are exact; others are distances of capsules round them and so never too large.
/// Faults: BadJob      a value without meaning: a length that is not positive, a tilt out of range, no direction
///         Impossible  a rule is broken: what leaves how much to what, where, wanted how much; where another turn of
///         the
///                     driver's bolt circle keeps every rule, the hint names it
///         NotBuilt    a driver whose flange is let in by a recess
///         Internal    the kernel failed
Result<Ring> make_ring(const RingRequest& request, const Context& context);

}  // namespace geom::parts
