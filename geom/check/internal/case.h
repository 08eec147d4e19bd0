// What all checks work on: the made part, the request, and the files read back once.
#pragma once

#include "geom/check/verdict.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/parts/driver_body.h"

#include <functional>
#include <optional>

namespace geom::check {

/// One product: as made, and as its files say.
struct ReadBack {
    const parts::Product* product = nullptr;
    TriMesh mesh;  ///< of the written STL, as it stands
    measure::MeshMeasure mesh_measure;
    std::vector<measure::Crossing> crossings;
    measure::SolidMeasure solid;  ///< of the B-rep as made
};

struct Case {
    const parts::Made& made;
    const parts::EnclosureRequest& request;
    const scan::Surface& surface;
    const Written& written;
    const Context& context;

    std::vector<ReadBack> products;  ///< in the order of Written
    TriMesh part;                    ///< all that goes in: no tools, no plates; one after the other
    TriMesh outer_body, air_body;    ///< tessellated from the B-reps that were kept for this

    const parts::Enclosure& enclosure() const { return made.enclosure; }
    double wanted_distance_mm() const { return request.room.clearance.mm() + request.room.covering.mm(); }
    /// Whether a place of the inner surface is the baffle's inner face, the back of its dish or its port's tube.
    bool is_on_baffle(Point3 p) const;
    Vec3 insert() const { return unit(request.room.insert.value_or(-request.baffle.plane.outward)); }
    /// Planes beyond which the part is outside: those declared, or the outermost baffle place.
    std::vector<Plane> open_planes() const {
        std::vector<Plane> open;
        for (const space::OpenPlane& o : request.room.open) open.push_back(o.plane);
        if (open.empty()) {
            open.push_back(request.baffle.plane);
            open.back().point += request.baffle.plane.outward * request.baffle.travel_hi_mm;
        }
        return open;
    }
    /// How much nearer than stated the true surface may be, away from closed holes and sharp edges: scan, field, and
    /// what the skin stands out of the field, which have nothing to do with one another, as a root of squares.
    double clearance_bound_mm() const;
    /// The same at sharp edges of the surface that stand into the gap.
    double edge_clearance_bound_mm() const;
    /// The same where holes were closed: field and skin as above, with the worst that a closed hole states, which holds
    /// what the scan leaves open.
    double hole_clearance_bound_mm() const;
    /// The same for limits and keep-outs, which are known exactly: field and skin alone.
    double rule_bound_mm() const;
};

/// "at least" or "at most" with its margin for rounding.
CheckLine at_least(std::string name, Kind kind, double value, double limit, std::string unit, std::string note);
CheckLine at_most(std::string name, Kind kind, double value, double limit, std::string unit, std::string note);
/// "at (12.0, -3.5, 88.1)"
std::string place(Point3 p);

/// The mass of all drivers and its centre; none when that of one is not known.
struct PointMass {
    double kg = 0.0;
    Point3 at;
};
std::optional<PointMass> driver_mass(const Case& c);  ///< making_check.cpp

/// What of each driver stands in the box, and before it; none where its file gives no mounting depth, or nothing does.
std::vector<std::optional<parts::DriverBody>> bodies_in_box(const Case& c);      ///< driver_check.cpp
std::vector<std::optional<parts::DriverBody>> bodies_before_box(const Case& c);  ///< driver_check.cpp

/// Work that may find a fault, several at a time; the first fault in the order given is returned.
Status all_of_them(const std::vector<std::function<Status()>>& work);

/// Reads the STL of a product and measures its triangles. (verdict.cpp)
Result<ReadBack> read_back_of(const parts::Product& product, const WrittenProduct& written);
/// B-reps as made, the STEP file and the written triangles; fills in the solids' measures. (sound.cpp)
Status check_solids(std::vector<ReadBack>& products, const std::filesystem::path& step_file, const Context& context,
                    Verdict& verdict);
Caution heat_caution(const parts::Material& material);  ///< cautions.cpp

Status check_sound(Case& c, Verdict& verdict);             ///< sound.cpp: check_solids(), net volume three ways
void check_volume_asked(const Case& c, Verdict& verdict);  ///< sound.cpp
void check_wall(const Case& c, Verdict& verdict);          ///< wall_check.cpp
Status check_boards(const Case& c, Verdict& verdict);      ///< boards_check.cpp: of a box from numbers
void check_clearance(const Case& c, Verdict& verdict);     ///< clearance_check.cpp
void check_rules(const Case& c, Verdict& verdict);         ///< rules_check.cpp: limits and keep-outs
void check_unscanned(const Case& c, Verdict& verdict);     ///< unscanned.cpp
void check_driver(const Case& c, Verdict& verdict);        ///< driver_check.cpp
void check_front(const Case& c, Verdict& verdict);         ///< front_check.cpp: the driver's, and a grille's
void check_joints(const Case& c, Verdict& verdict);        ///< joint_check.cpp: screws, seals, holes
void check_fixings(const Case& c, Verdict& verdict);       ///< fixing_check.cpp
void check_access(const Case& c, Verdict& verdict);        ///< access_check.cpp: room for the tool of each bolt
void check_stiffness(const Case& c, Verdict& verdict);     ///< stiffness_check.cpp: the walls' first resonance
void check_screw_loads(const Case& c, Verdict& verdict);   ///< screw_load_check.cpp: driver, baffle, plate
void check_restraint(const Case& c, Verdict& verdict);     ///< restraint_check.cpp; wants mass and centre of mass
void check_port(const Case& c, Verdict& verdict);          ///< port_check.cpp; wants tell_sound()
void tell_sound(const Case& c, Verdict& verdict);          ///< box_sound_check.cpp: what the driver does in it
void check_making(const Case& c, Verdict& verdict);        ///< making_check.cpp: size, bed, method, mass

}  // namespace geom::check
