// Judges a made part against its job: each check with value, limit, ok, and how it was measured.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/sound/box_sound.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace geom::check {

enum class Kind { SoundSolid, Fit };

struct CheckLine {
    std::string name;  ///< "net volume, three ways"
    Kind kind = Kind::Fit;
    bool ok = false;
    double value = 0.0, limit = 0.0;  ///< the note says whether the limit is the most or the least
    std::string unit;                 ///< "mm", "L", "%", ""
    std::string note;                 ///< how measured, where
    std::optional<Point3> place{};    ///< where it fails, when that is one place
    bool is_judged = true;            ///< else what it wants to know is missing, which the note says; ok then
};

struct WallFigures {
    double asked_mm = 0, min_mm = 0, median_mm = 0;
    Point3 at;
};
/// The least of one move of the way in.
struct MoveClearance {
    std::string move;     ///< "turn by 20 deg about ..."
    double least_mm = 0;  ///< scanned surface to the covered part
    Point3 at;            ///< of the surface
    double share = 1.0;   ///< of the move that is done then; below zero while a first slide is still carried on
    std::string how_far;  ///< "12.4 deg of 20 deg done"
};
struct ClearanceFigures {
    double asked_mm = 0, min_mm = 0, along_insertion_min_mm = 0;
    double bound_mm = 0;       ///< how much nearer the true surface may be, away from closed holes and sharp edges
    double edge_bound_mm = 0;  ///< the same at sharp edges that stand into the gap
    Point3 at, along_insertion_at;
    std::size_t along_insertion_move = 0;  ///< the way in by moves: at which it is least, counted from 1
    std::vector<MoveClearance> moves{};    ///< in the order of going in; none for a straight way
    std::size_t raw_points_nearer = 0;     ///< raw points nearer than asked: counted, no failed check
};
/// What is free before the driver's seat.
struct FrontFit {
    double asked_mm = 0;     ///< height of the grille room; 0: none asked
    double diameter_mm = 0;  ///< that is looked at
    double least_mm = 0;     ///< left beside the grille room, beyond what is asked of limits and keep-outs
    double free_mm = 0;      ///< straight before the seat, up to 500
    std::string met;         ///< what ends it: "keep-out \"seat\"", "the scanned surface"; empty: nothing
    Point3 met_at;
    double cone_needs_mm = 0;  ///< front at rest, travel, and a little more
    bool cone_is_estimated = false;
    bool is_magnet = false;  ///< of a driver that is turned round: the magnet, and air for its vent, in place of a cone
    double before_baffle_mm = 0;  ///< how far grille room (or what the cone needs) stands before the outer face
};
/// How a driver, or its cone, stands in the box.
struct BodyFit {
    std::string who;   ///< "driver 2"
    std::string name;  ///< of its file
    double wall_gap_mm = 0;
    std::optional<double> rear_gap_mm{};  ///< behind a magnet; none of a cone
    Point3 at;                            ///< the tighter of the two
};
struct DriverFit {
    bool has_driver = false;
    double rear_gap_wanted_mm = 0;
    std::vector<BodyFit> bodies{};  ///< of all that are judged
    std::optional<std::size_t> tightest{};
    FrontFit front;
};

/// A piece of the outer skin that faces no scanned surface, nor a limit or keep-out: look there before cutting.
struct UnscannedPiece {
    std::string faces;  ///< "a closed hole of the scan", "no scanned surface"
    Point3 place;       ///< middle of the piece
    double area_mm2 = 0.0;
};

/// The flat area of the wall with the lowest first resonance, as the rectangle that it swings like.
struct WallResonance {
    Point3 centre;
    Vec3 along, outward;  ///< of the longer side; out of the air
    double longer_mm = 0.0, shorter_mm = 0.0, thickness_mm = 0.0;
    double area_mm2 = 0.0;                        ///< of the whole area
    double supported_Hz = 0.0, clamped_Hz = 0.0;  ///< a real wall lies between
};
/// One more brace, where it does most, and the lowest resonance that is left then.
struct BraceTried {
    Point3 from, to;
    double thickness_mm = 0.0, litres = 0.0;
    WallResonance lowest;
};
struct StiffnessFigures {
    double plays_to_Hz = 0.0, wanted_Hz = 0.0;  ///< 0: not said
    double e_GPa = 0.0;                         ///< 0: not known, nothing is worked out
    std::optional<WallResonance> lowest;        ///< none: no wall is flat
    std::optional<BraceTried> with_brace;       ///< none: no place for one
};

/// What the deceleration asks of one of the vehicle's bolts in its worst direction, and what it bears.
struct BoltSum {
    std::string name, thread;
    std::string direction;  ///< "forward": where the box would go
    double g = 0.0;
    double tension_N = 0.0, shear_N = 0.0;
    double use_rel = 0.0;         ///< of the proof load with its safety factor: at most 1
    double most_tension_N = 0.0;  ///< in any direction
    double washer_MPa = 0.0;      ///< that tension on the ring under head or washer beside hole or metal sleeve; told
    double preload_N = 0.0, torque_N_m = 0.0;
    double seat_MPa = 0.0, seat_most_MPa = 0.0;        ///< at that preload; 0: metal, not limited
    double bearing_MPa = 0.0, bearing_most_MPa = 0.0;  ///< of the shank in the part
    bool has_metal_sleeve = false;
};
struct RestraintFigures {
    double deceleration_g = 0.0;
    double mass_kg = 0.0;
    bool driver_mass_is_known = true;
    std::vector<BoltSum> bolts;  ///< of feet, sleeves and plates; empty: none
};

struct Verdict {
    std::vector<CheckLine> lines;
    Volume net_by_mesh;
    WallFigures wall;
    ClearanceFigures clearance;
    DriverFit driver_fit;
    StiffnessFigures stiffness;
    RestraintFigures restraint;
    std::optional<sound::BoxSound> sound;   ///< none without a driver
    std::vector<UnscannedPiece> unscanned;  ///< largest first, from 25 mm2
    double mass_kg = 0.0;                   ///< products that are no tools, and the driver when its mass is known
    Point3 centre_of_mass;
    Aabb box;
    int faces = 0, bspline_faces = 0, plane_faces = 0;
    bool valid = false, closed = false;

    bool is_sound() const;
    bool fits() const;
};

/// The written files of one product, where they lie now.
struct WrittenProduct {
    std::string name;
    std::filesystem::path stl;
};
struct Written {
    std::filesystem::path step;
    std::vector<WrittenProduct> products;  ///< in the order of the made part's products, tools included
};

/// Measures the finished part and the re-read files.
Result<Verdict> judge(const parts::Made& made, const parts::EnclosureRequest& request, const scan::Surface& surface,
                      const Written& written, const Context& context);

/// A standing caution, by name.
struct Caution {
    std::string name, text;
};
std::vector<Caution> cautions(const parts::EnclosureRequest& request, const Verdict& verdict);

}  // namespace geom::check
