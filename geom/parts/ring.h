// The adapter ring: a spacer between a seat on the vehicle and a driver, level or tilted.
//
// Frame   vehicle, mm. The seat plane's outward points from the vehicle to the listener; heights are over the seat.
//         Outlines: x to the right, y up for the listener (ring_outline.h).
// Shape   straight up from the seat's outline and cut by the front face, or ruled from it to an outline of its own in
//         the front face, which is tilted; it is lowest on the side that it turns to. True cylinders, cones and planes
//         where the outlines are circles and lines. The bore is a cylinder (elliptic, where asked) about the driver's
//         axis or parallel to the seat's, or ruled from the driver's cut-out to the opening of the vehicle.
// Foot    plane, or as a scanned skin has it (scan_foot.h).
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/parts/ring_outline.h"
#include "geom/parts/sheet_layers.h"

namespace geom::parts {

struct RingSeat {
    Plane plane;                         ///< point: on the ring's axis, in the seat
    RingOutline outside;                 ///< of the ring, in the seat
    std::optional<RingOutline> opening;  ///< of the vehicle, in the seat, about the same point
};

/// The ring is only as wide as `outside` from this height over the seat on.
struct RingStep {
    RingOutline outside;
    Length height;
};

/// Of the bore's back edge, about the seat's axis: a chamfer, or a quarter of a round.
struct RingFlare {
    enum class Kind { Chamfer, Round } kind = Kind::Chamfer;
    Length size;                       ///< how much wider the mouth is all round, at least; of a round its radius
    Angle from_axis = Angle::deg(45);  ///< of a chamfer
};

/// Stands into the vehicle's opening and holds the ring in its place.
struct RingLip {
    Length height;                  ///< behind the seat
    Length play = Length::mm(0.5);  ///< between it and the opening, all round
};

/// Part of a tube behind the bore's upper side, against water that runs down behind it.
struct RainLip {
    Length length;                   ///< behind the seat
    Angle spread = Angle::deg(140);  ///< of its arc, half to each side of up
    Length wall = Length::mm(2.4);
};

/// A groove for a round cord, round the bore.
struct RingGroove {
    enum class On { Seat, Front } on = On::Seat;
    Length cord;
};

/// What the driver's screws hold in.
struct DriverHold {
    enum class Kind { Insert, Tapped, WoodScrew, Through } kind = Kind::Insert;
    std::string wood_screw = "4.0";
};

/// A bolt along the seat's axis into the vehicle.
struct RingBolt {
    std::string name;
    Point3 point;  ///< taken to the seat along its normal
    std::string thread = "M5";
    /// Ring left under washer and head, which are sunk into it; of a countersunk head under its cone. None: a plain
    /// hole, whose head stands on the front; a countersunk head is then level with it.
    std::optional<Length> under_head{};
    bool is_countersunk = false;
    std::optional<double> foot_mm{};  ///< of a scanned foot, how high over the seat plane the ring begins under the
                                      ///< head; none: at the seat plane, or where the skin is highest
};

struct RingRequest {
    std::string name = "ring";
    RingSeat seat;
    sound::Driver driver;
    std::optional<Angle> turn{};  ///< of the driver's bolt circle; 0 = up projected on the front face, clockwise from
                                  ///< the front. None: 0, or the nearest to it that keeps every rule
    Vec3 up{0, 0, 1};             ///< direction
    Vec3 shift{};         ///< of the driver's centre on the front face beside the seat's axis, mm; its part in the seat
    Length height;        ///< of the thin side, where the front face comes nearest to the seat
    Angle tilt{};         ///< between the driver's axis and the seat's, 0 to 45 deg
    Vec3 tilt_towards{};  ///< the driver turns this way; its part in the seat. Not asked for where tilt is 0
    std::optional<RingOutline> front;  ///< about the driver's centre; none: straight up from the seat
    std::optional<RingStep> step;
    enum class Bore { Driver, Seat, Opening } bore = Bore::Driver;
    std::optional<Length> bore_diameter;        ///< none: that of the driver's cut-out
    std::optional<RingOutline> bore_outline;    ///< of a driver that is not round, square to the bore's axis
    std::optional<RingOutline> flange_outline;  ///< of the same, about its centre
    std::vector<FlatPoint> screws_at;           ///< of the same, about its centre; none: on the driver's bolt circle
    std::optional<RingFlare> flare;
    std::optional<double> free_area;  ///< least share of the cone's area that stays open behind it
    std::optional<Length> recess;     ///< the flange is let in by this much; none: the driver's own
    std::optional<RingLip> lip;
    std::optional<RainLip> rain_lip;
    std::vector<RingGroove> grooves;
    DriverHold hold;
    std::vector<RingBolt> bolts;
    std::optional<SheetOptions> layers;  ///< cut from sheets; EXPECTS neither foot nor rain lip
    std::optional<Brep> foot;  ///< what lies in front of a scanned skin, a gasket away; the ring goes down to it
    double foot_lowest_mm = 0.0, foot_highest_mm = 0.0;  ///< of the skin over the seat plane
    std::optional<Volume> door_volume;  ///< of the air behind the seat, to which the ring's inside is added
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
    Point3 from;               ///< on the axis, where it begins: in the face that the flange rests on, or in the seat
    Vec3 way;                  ///< into the ring, unit
    double depth_mm = 0.0;     ///< along the axis
    double diameter_mm = 0.0;  ///< asked
    double made_mm = 0.0;      ///< as the finished B-rep has it
    double off_axis_mm = 0.0;  ///< of the B-rep's hole, greatest
};

/// How open the way is for the air behind the cone. Where it is narrowest between front and seat: the bore less the
/// driver's body there, against that part of the cone's area that lies before it (all of it before the magnet).
struct FreeArea {
    double open_mm2 = 0.0, cone_mm2 = 0.0;
    double share = 0.0;
    Point3 at{};  ///< on the driver's axis
};

struct Ring {
    Product product;
    Plane front;  ///< the front face; point: the driver's centre
    Plane rest;   ///< on which the flange rests: the front face, or the floor of its recess
    Length most_height, least_height;
    Volume volume;    ///< of the B-rep
    Volume inside{};  ///< air of the bore between the flange's rest and the seat, the driver's body not taken off
    std::optional<Volume>
        air_behind{};  ///< where door_volume is given: with it, less what of the driver's body is known
    Angle turn{};      ///< of the driver's bolt circle
    std::optional<FreeArea> free_area{};  ///< none where the driver's file does not say enough
    double flare_mm = 0.0;
    std::vector<RingHole> holes;
    std::vector<RingWeb> webs;  ///< all that were judged, each kept
    std::optional<SheetLayers> layers{};
    std::vector<std::string> notes;
};

/// Rules   least wall of the method round every hole, more beside an insert as its table has it; from a vehicle bolt's
///         centre to outside and bore at least 1.2 of its hole (EN 1993-1-8 Table 3.3, steel plate); a driver's screw
///         that ends blind keeps a floor over the seat; the flange lies on the front face as a whole and covers the
///         bore's mouth by 3 mm [common practice]; heads are sunk where the face is tilted or the flange lies over
///         them; grooves keep 1.5 mm to every edge and hole.
/// Webs    of holes that are parallel are exact; others are distances of capsules round them, or to triangles within a
///         stated chord of the wall that is taken off: never told too large.
/// Faults: BadJob      a value without meaning: a length that is not positive, a tilt out of range, no direction, an
///                     outline that does not go round its middle, a lip without an opening
///         Impossible  a rule is broken: what leaves how much to what, where, wanted how much; where another turn of
///                     the driver's bolt circle keeps every rule, the hint names it
///         Internal    the kernel failed
///         and those of make_sheet_layers() where layers are asked for
Result<Ring> make_ring(const RingRequest& request, const Context& context);

}  // namespace geom::parts
