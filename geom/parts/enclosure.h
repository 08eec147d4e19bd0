// The enclosure: what is asked, and what was made.
//
// Frame   vehicle, mm.
#pragma once

#include "geom/core/context.h"
#include "geom/fixings/bolt.h"
#include "geom/fixings/wood_screws.h"
#include "geom/measure/mesh_measure.h"
#include "geom/parts/board.h"
#include "geom/parts/duct.h"
#include "geom/parts/flat_drawing.h"
#include "geom/scan/surface.h"
#include "geom/skin/skin.h"
#include "geom/sound/cabin.h"
#include "geom/sound/driver.h"
#include "geom/sound/wiring.h"
#include "geom/space/room.h"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

struct Material {
    std::string name = "ASA";
    double density_kg_m3 = 1075.0;
    bool is_metal = false;
    double softens_c = 0.0;  ///< temperature at which it softens, Celsius; 0: not known
    double e_GPa = 0.0;      ///< modulus of elasticity at room temperature, least of its range; 0: not known
    double nu = 0.0;         ///< Poisson's ratio
    bool is_board = false;   ///< wood: takes wood screws, no inserts by heat
};
/// The named materials of the reference table (mid-range densities); none when unknown.
std::optional<Material> find_material(const std::string& name);
std::vector<std::string> known_materials();

enum class Method { Print, Cnc, Layup, Boards };
/// Thinnest wall that makes sense [common practice]: four printed lines of 0.45, a milled wall or a board that does not
/// sing, two layers of mat.
constexpr Length least_wall(Method method) {
    return Length::mm(method == Method::Print ? 1.8 : method == Method::Layup ? 2.0 : 3.0);
}

struct Make {
    Method method = Method::Print;
    Length chord_error = Length::mm(0.05);                ///< of the meshes; at most 0.05
    std::optional<Vec3> bed;                              ///< mm
    enum class Plug { Inner, Outer } plug = Plug::Outer;  ///< for layup: which form the plug gives
};

/// What the driver sits on: the baffle's own face, the top of a ring that stands on it, or the floor of a dish sunk
/// into it. Both are of revolution about the driver's axis.
enum class BaffleShape { Flat, Ring, Dish };

/// Widths run from the edge of the cut-out: of the ring to its foot, of the dish's floor to its flank.
struct RaisedRing {
    Length height;                ///< of its top before the outer face
    std::optional<Length> width;  ///< none: as the flange needs it
    Length edge = Length::mm(1);  ///< chamfer of the outer edge, 45 degrees
};
struct SunkDish {
    Length depth;                  ///< of its floor behind the outer face; the inner face bulges in by as much
    std::optional<Length> width;   ///< none: as the flange needs it
    Angle flank = Angle::deg(45);  ///< from the driver's axis; 0: a cylinder
};

/// What makes the joint of a baffle or a driver's flange tight: flat tape, or a round cord in a groove.
struct Seal {
    std::optional<Length> cord{};  ///< its diameter; none: tape
};

/// Space before the driver's seat that stays free for the cone's travel and a grille.
struct GrilleRoom {
    Length height;
    std::optional<Length> diameter;  ///< none: that of the flange
};

struct Baffle {
    Plane plane;  ///< bare outer face at t = 0
    double travel_lo_mm = 0.0, travel_hi_mm = 0.0;
    Length thickness = Length::mm(12);
    bool separate = false;  ///< its own product, screwed to a rim flange of the shell
    Length rim_radius = Length::mm(3);
    // Of a separate baffle:
    std::string screw_thread = "M4";
    Length screw_pitch = Length::mm(80);  ///< at most, along the rim
    bool inserts = true;                  ///< heat-set inserts in the flange; otherwise pilot (tap drill) holes
    std::optional<Length> flange_width, flange_thickness;  ///< given, or chosen from the screws
    std::optional<Material> material;                      ///< of a separate baffle; none: as the shell
    BaffleShape shape = BaffleShape::Flat;
    RaisedRing ring;  ///< with BaffleShape::Ring
    SunkDish dish;    ///< with BaffleShape::Dish
    std::optional<GrilleRoom> grille_room;
    Seal seal{};                              ///< of a separate one
    std::optional<fixings::ToolRoom> tool{};  ///< for its screws; none: of the ISO tool sizes
};

struct Terminal {
    Length diameter = Length::mm(20);
    Point3 at;  ///< taken to the nearest wall of the box
    std::optional<Volume> displacement;
};

struct DriverMount {
    sound::Driver driver;
    Point3 centre;  ///< taken to the baffle plane along its normal
    Angle turn;     ///< of the bolt circle; 0 = up projected on the baffle, clockwise from the front
    Seal seal{};    ///< under its flange
    std::optional<fixings::ToolRoom> tool{};  ///< for its screws; none: of the ISO tool sizes
    bool from_behind = false;                 ///< its flange rests on the baffle's inner face; else on the outer one
    bool is_turned = false;                   ///< its magnet is outside and its cone looks into the box
};

/// One more driver in the same flat baffle.
struct DriverPlace {
    Point3 centre;  ///< taken to the baffle plane along its normal
    Angle turn;
    std::optional<sound::Driver> driver{};  ///< none: the same as the first
    bool from_behind = false, is_turned = false;
};

struct Foot {
    std::string name;
    Point3 point;  ///< hole centre on the vehicle's face
    Vec3 axis;     ///< the way the bolt travels going in
    std::string thread = "M8";
    fixings::BoltUse use{};
    std::string belongs_to{};  ///< what of the vehicle the bolt is, in the user's words
};

/// A sealed tube through the box for a long bolt: from its seat on the vehicle's face to a flat seat with a recess for
/// head and washer on the far side of the box.
struct Sleeve {
    std::string name;
    Point3 point;  ///< hole centre on the vehicle's face
    Vec3 axis;     ///< the way the bolt travels going in
    std::string thread = "M8";
    fixings::BoltUse use{};
    std::string belongs_to{};
    std::optional<Length> tube_wall{};  ///< none: that of the shell
    Length recess = Length::mm(0);      ///< by which the head's seat lies at least behind the outer skin; 0: head sunk
                                        ///< flush only where it must
};

/// A plate that stops short of something that moves.
struct FloatingEdge {
    std::string name;
    Plane plane;  ///< outward to what moves
    Length gap = Length::mm(3);
};
/// A bend of a plate of sheet metal, once: beyond the line the plate turns, and lies on the vehicle there with bolts of
/// its own, or stands free as a stiffener.
struct Bend {
    Plane at;                              ///< the turn begins where this meets the plate's lower face; outward to
                                           ///< what is turned
    Angle by;                              ///< towards the box positive, 5 to 120 degrees either way
    std::optional<Length> inner_radius{};  ///< none: the plate's thickness
    std::vector<Point3> points{};          ///< hole centres of the vehicle's bolts in the turned part, on the vehicle's
                                           ///< face; they go in square to it
    std::optional<Length> length{};        ///< of the turned part from the end of the bend, at least; none: as its
                                           ///< bolts need it
    double k_factor = 0.44;  ///< place of the neutral line from the inside, in thicknesses [common practice]
};
/// A mounting plate of its own: bolted to the vehicle first, then the box is screwed to it. The box stops at its upper
/// face, which is a limit plane.
struct MountPlate {
    std::string name;
    std::vector<Point3> points;  ///< hole centres of the vehicle's bolts, on the vehicle's face, in one plane
    Vec3 axis;                   ///< the way those bolts travel going in, square to the plate
    std::string thread = "M8";
    fixings::BoltUse use{};
    std::string belongs_to{};
    Length thickness = Length::mm(4);
    std::optional<Material> material{};  ///< none: aluminium 5754
    /// How the box is screwed to it: from inside through its wall, reached through the driver's cut-out before the
    /// driver is in; or through lugs that stand out of its side.
    enum class Through { Back, Rim } through = Through::Back;
    std::string screw_thread = "M6";
    int screws = 4;
    std::vector<FloatingEdge> floating{};
    std::optional<Bend> bend{};
};

/// A flange that stands out round the baffle, for screws into a panel.
struct PanelRim {
    std::string name;
    std::optional<Length> width{};      ///< beyond the box's outline; none: as head and edge distance need it
    std::optional<Length> thickness{};  ///< none: the baffle's
    std::string screw = "4.0";          ///< a wood screw, or a thread
    Length pitch = Length::mm(80);      ///< at most
};

/// A post inside the box from wall to wall, against the walls' resonance.
struct Brace {
    std::string name;
    Vec3 axis;
    Point3 at;                          ///< on its axis
    Length thickness = Length::mm(15);  ///< its diameter
};

/// What lines the box inside. Fibre and foam never change the net volume; sheet counts as thickness times the area of
/// the inner walls.
struct Lining {
    enum class Kind { Fibre, Foam, Sheet } kind = Kind::Fibre;
    Length thickness;
    double gain = 1.0;  ///< apparent over net volume; 1 of sheet
};

/// A rectangle with rounded corners instead of a port's circle, sizes of the inside.
struct PortSlot {
    Length width, height;  ///< to the right and up for one who looks at the baffle from the front, before it is turned
    Length corner_radius;
    Angle turn{};  ///< about the port's axis, counter-clockwise for one who looks at the baffle from the front
};

/// Where a port turns, once: sizes of its centre line.
struct PortBend {
    Vec3 towards;                   ///< the way that it turns; what of it lies along the baffle counts
    std::optional<Length> after{};  ///< from the baffle's outer face; none: as near behind the baffle as it goes
    /// None: as much as the inside is high in the bend's plane [common practice], or more where the outside wants it.
    std::optional<Length> radius{};
    Angle angle = Angle::deg(90);
};

/// A tube of the baffle's own material from the baffle's outer face into the box, open at both ends: round or a slot,
/// straight or with one bend.
struct Port {
    Length diameter;                 ///< inside; of no account with a slot
    Point3 at;                       ///< taken to the baffle plane along its normal
    double tuning_hz = 0.0;          ///< its length follows from it and the net volume; 0: the length is given
    std::optional<Length> length{};  ///< along its middle, from the baffle's outer face; with a tuning: as solved
    Length wall = Length::mm(3);
    Length mouth{};  ///< radius of its rounded outer end; 0: sharp
    /// From its inner end straight on; none: a diameter, of a slot four areas over the border [common practice].
    std::optional<Length> free_way{};
    int walls = 0;  ///< walls that its inner end lies along, for its length: 0, 1 or 2; a slot by its width
    std::optional<PortSlot> slot{};
    std::optional<PortBend> bend{};
};

/// What is changed until the box holds the asked volume: one thing, all else stays as asked.
struct Adjust {
    enum class What { Baffle, Limit, Wall, Fill } what = What::Baffle;
    std::string limit;  ///< name of the limit that moves
    /// Of a limit: how far it may move along its outward; of the wall: least and most. Unused otherwise.
    double lo_mm = 0.0, hi_mm = 0.0;
    /// A box that would hold too much: a pad at its back, part of the shell or a product of its own; or only told.
    enum class Fill { Integral, Separate, Told } fill = Fill::Integral;
};

struct EnclosureRequest {
    std::string name;
    Vec3 up{0, 0, 1};
    std::optional<Vec3> forward;
    space::RoomOptions room;  ///< its baffle, travel, up and wall repeat those below
    Volume net_volume;
    double tolerance_rel = 0.002;
    Adjust adjust;  ///< unless it is the baffle, the travel has no length: the baffle stays there
    Length wall = Length::mm(6);
    Length inner_radius = Length::mm(4);
    Material material;
    Baffle baffle;
    std::optional<Terminal> terminal;
    std::optional<DriverMount> driver;
    std::vector<Foot> feet;
    Make make;
    std::vector<Sleeve> sleeves{};
    std::vector<MountPlate> plates{};
    std::optional<PanelRim> panel_rim{};
    std::vector<Brace> braces{};
    int braces_to_place = 0;  ///< more, placed where the largest walls want them
    double deceleration_g = 20.0;
    std::vector<fixings::Thread> own_threads{};  ///< rows of the job's own
    double plays_to_Hz = 0.0;                    ///< highest frequency that the driver is used at; 0: not said
    std::vector<WallSide> sides{};               ///< of a box from numbers (box.h); empty: it follows a scan
    bool asks_volume = true;                     ///< a box from numbers may only be told what it holds

    bool follows_scan() const { return sides.empty(); }
    /// All of them, `driver` first.
    std::vector<DriverMount> drivers() const;
    std::vector<DriverPlace> more_drivers{};  ///< beside `driver`
    sound::Wiring wiring{};                   ///< of all of them
    std::optional<Lining> lining{};
    std::optional<Port> port{};
    std::optional<sound::CabinGain> cabin{};  ///< measured by the user: a line of the plot, in no number
};

/// "driver", "driver 2", ...
std::string driver_title(std::size_t index);

/// One piece to make or buy; the STEP assembly and the meshes have one entry each.
struct Product {
    std::string name;  ///< "shell", "baffle", "plug"; file names use it
    Brep solid;
    Material material;
    std::array<float, 3> colour{0.8f, 0.78f, 0.7f};
    bool is_tool = false;        ///< a plug or form: not part of mass and not of the assembly
    bool stands_in_air = false;  ///< a filler pad: lies in the air that the shell's own mesh shows
    bool on_vehicle = false;     ///< a mounting plate: bolted to the vehicle, whose face it touches, before the box
};

/// A signed line of the volume ledger: positive adds air, negative takes it away. The lines sum to the net volume.
struct LedgerLine {
    std::string name;
    double litres = 0.0;
};

/// A piece of the air as one product's own mesh shows it: the product's openings, each capped at its plane, and a
/// point in the piece. An integral box has one; with a separate baffle the shell's air ends at its mouth, and the
/// driver's cut-out is the piece inside the baffle. The pieces add up to the air: net volume plus solids_in_air.
struct AirPiece {
    std::string product;
    std::vector<measure::Opening> openings;
    Point3 at;
    double filled_mm3 = 0.0;  ///< what another product fills of it: the back of a separate baffle's dish
};

/// The baffle round the driver as made. Depths are behind the bare outer face (negative: before it), radii about the
/// driver's axis.
struct DriverSeat {
    Point3 centre;                ///< on the axis, in the bare outer face
    double face_mm = 0.0;         ///< of the face that the flange sits on or is let into: ring's top, dish's floor
    double face_radius_mm = 0.0;  ///< of that face; 0: the baffle's own
    double foot_radius_mm = 0.0;  ///< where ring or dish meets the outer face; 0: flat
    double back_mm = 0.0;         ///< where the cut-out comes out
    double boss_radius_mm = 0.0;  ///< where the dish's back meets the inner face; 0: none
};

enum class FixingKind { Foot, Sleeve, Plate, Rim };
/// What is in place when a bolt goes in. A driver from behind is screwed to its baffle on the bench.
enum class Step { DriverBehindBaffle, PlateOnVehicle, BoxOnVehicle, BoxOnPlate, BaffleOnBox, DriverOnBaffle };

/// A bolt or screw that the part has a hole for, and how it is reached.
struct BoltMade {
    std::string name;    ///< "driver screw 3"
    std::string thread;  ///< or the size of a wood screw
    Point3 head_seat;    ///< on its axis, where head or washer presses
    Vec3 axis;           ///< the way it goes in, unit
    fixings::HoleShape hole{};
    fixings::ToolRoom tool{};
    Step step = Step::BoxOnVehicle;
    std::string product;     ///< that its hole is in, where the head presses or the driver does
    double reach_mm = 0.0;   ///< from the head's seat to the end of its hole
    double clamps_mm = 0.0;  ///< of that, a driver's flange
};

/// A joint between two products, or with the driver: its screws, and what makes it tight.
struct JointMade {
    std::string name;  ///< "baffle", "driver"
    int screws = 0;
    double pitch_mm = 0.0;                                         ///< longest way from one screw to the next
    double pitch_asked_mm = 0.0;                                   ///< at most; 0: not asked
    double land_mm = 0.0;                                          ///< least width of the flat that presses
    double cord_mm = 0.0, groove_mm = 0.0, groove_depth_mm = 0.0;  ///< 0: tape
    double left_mm = 0.0;                                          ///< least, from the groove to a hole or an edge
};

struct FixingMade {
    std::string name, thread;
    Point3 point;
    Vec3 axis;
    double hole_mm = 0.0;
    double edge_distance_mm = 0.0, edge_wanted_mm = 0.0;
    double web_section_mm2 = 0.0, web_wanted_mm2 = 0.0;  ///< least section of the web, measured by cuts on the B-rep
    FixingKind kind = FixingKind::Foot;
    BoltMade bolt{};  ///< the vehicle's bolt
    fixings::BoltUse use{};
    double grip_mm = 0.0;         ///< from the head's seat to the vehicle's face
    double bears_mm = 0.0;        ///< thickness of material that the shank bears in at the vehicle's face
    double seat_radius_mm = 0.0;  ///< of what stands on the vehicle's face
    bool has_metal_sleeve = false;
    std::string belongs_to{};
    double tube_mm3 = 0.0;              ///< air taken by a sleeve
    double measured_hole_mm = 0.0;      ///< diameter on the B-rep
    double measured_off_axis_mm = 0.0;  ///< greatest distance of that hole's axis from the asked one, over its length
};

/// Where the box stands nearer to the vehicle's face than its clearance by intention, beside the fixings' own seats: a
/// round place of its outside.
struct SeatMade {
    Point3 at;
    Vec3 axis;
    double radius_mm = 0.0;
    double over_mm = 0.0;  ///< thickness of what lies between it and the vehicle's face
};

struct BraceMade {
    std::string name;
    Point3 from, to;  ///< where its axis meets the inner walls
    double thickness_mm = 0.0, volume_mm3 = 0.0;
};

/// A port as made, and what it does with the measured net volume.
struct PortMade {
    bool is_glued_in = false;  ///< a tube of its own, in a hole of its outside through the baffle
    Point3 mouth;              ///< on its axis, in the baffle's outer face
    Vec3 inward;               ///< unit
    double diameter_mm = 0.0;  ///< 0: a slot
    double wall_mm = 0.0, mouth_radius_mm = 0.0;
    double length_mm = 0.0;    ///< along its middle, from the outer face to the inner end
    double behind_mm = 0.0;    ///< of that behind the baffle's inner face
    double tube_mm3 = 0.0;     ///< air that the tube takes, its inside contained
    double free_way_mm = 0.0;  ///< asked before its inner end
    double asked_hz = 0.0;     ///< 0: its length was given
    double tuning_hz = 0.0;    ///< by its length and the measured net volume
    DuctSection inside{};
    DuctPath path{};  ///< from the mouth to the inner end
};

/// An edge of two limits that was left sharp.
struct SharpEdgeMade {
    std::string name;            ///< "top / front line"
    Point3 from, to;             ///< of what is sharp outside, on the edge
    double run_out_mm = 0.0;     ///< beyond either
    bool is_inside_too = false;  ///< else the air's edge stays rounded, and the note says why
    Point3 inside_from, inside_to;
    double outside_mm3 = 0.0, inside_mm3 = 0.0;  ///< added to outer body and air, measured on the B-rep
    double inside_by_form_mm3 = 0.0;             ///< the latter in closed form
    std::string note;                            ///< one sentence for people
};

/// What was solved, and what came out.
struct Solved {
    std::string what;            ///< "baffle", "limit 'top'", "wall", "fill"
    double value_mm = 0.0;       ///< place on the travel, way of the limit, wall, or greatest thickness of the pad
    double filled_litres = 0.0;  ///< by a pad, or to be filled by hand
    std::string text;            ///< one line for people
};

struct Enclosure {
    std::vector<Product> products;
    /// What was put together last, kept for checks: the filled outer body and the air, before driver and port holes.
    Brep outer_body, air_body;
    skin::SkinQuality outer_quality, inner_quality;
    double baffle_t_mm = 0.0;           ///< where on the travel the outer face lies
    Plane baffle_plane;                 ///< the bare outer face
    Plane seat_plane;                   ///< where the driver's flange rests
    std::vector<Plane> driver_seats{};  ///< of all drivers, each through its own axis, outward as the baffle
    std::optional<Plane> pad_plane;     ///< where a filler pad begins; outward from the air into the pad
    Volume pad_by_brep;                 ///< of that pad
    Solved solved;
    std::optional<DriverSeat> seat;    ///< none without a driver
    Volume net_by_field, net_by_brep;  ///< net volume, two ways; the third comes from the written mesh (check/)
    Volume solids_in_air;              ///< driver and terminal: what the net volume is less of than the air of the mesh
    double uncertainty_rel = 0.0;
    std::vector<LedgerLine> ledger;
    std::vector<measure::Opening>
        openings;                      ///< of all products; each to be capped when the air is measured on the mesh
    std::vector<AirPiece> air_pieces;  ///< the same openings by product, with a point of each piece of the air
    std::vector<FixingMade> fixings;
    std::vector<std::string> notes;
    std::vector<BoltMade> screws{};  ///< of driver, baffle, plate: all but the vehicle's own bolts
    std::vector<BraceMade> braces{};
    std::vector<JointMade> joints{};
    std::vector<SeatMade> seats{};
    std::vector<FlatDrawing> flats{};  ///< of each flat piece
    std::vector<SharpEdgeMade> sharp_edges{};
    std::vector<Board> boards{};  ///< of a box from numbers that is made from boards
    Volume outside{}, inside{};   ///< of a box from numbers, closed forms
    std::optional<PortMade> port{};
};

/// What is left when the asked volume cannot be had.
struct Relief {
    std::string what;  ///< "wall 4 instead of 6 mm"
    double litres_more = 0.0;
};

/// The whole way from surface to part; reads top to bottom in enclosure.cpp.
///
/// Faults: those of space::free_room and skin::make_skin;
///         Impossible     the gap cannot hold the volume (the most it can, and what would free how much), the driver
///                        is larger than the baffle, a wall thicker than the room, a foot that cannot reach
///         MethodRefused  a closed hollow shell by "cnc" without a separate baffle
struct Made {
    space::Room room;
    Enclosure enclosure;
    EnclosureRequest request;  ///< as made: with what was solved put in
};
Result<Made> make_enclosure(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

}  // namespace geom::parts
