// What a deceleration asks of the bolts of a box, and what they bear: sums, not a crash test.
//
// Frame   vehicle, mm; forces N, moments N mm, pressures MPa.
// Method  The box is rigid and every bolt a spring, equally stiff each way, at its seat: forces and moments of the
//         centre of mass go to them by least squares, which gives F/N and F h/(N_r d) of the reference on a rectangle
//         of bolts. What moment a group cannot take by its bolts alone (one bolt, or two in a row) the seats take as a
//         couple over their radius; a twist about the only bolt's axis is not held at all.
// Rule    (T/Fp)^2 + (S/(0.6 Fp))^2 <= 1/SF^2 on proof load Fp (ISO 898-1), SF 1.5 [common practice].
#pragma once

#include "geom/core/result.h"
#include "geom/core/vec.h"
#include "geom/fixings/bolt.h"

#include <string>
#include <vector>

namespace geom::fixings {

constexpr double kGravity_m_s2 = 9.80665;  ///< ISO 80000-3
constexpr double kSafety = 1.5;            ///< common practice

/// Where a bolt holds the box.
struct Held {
    std::string name;
    Point3 seat;  ///< on the vehicle's face
    Vec3 axis;    ///< the way the bolt goes in, unit
    double proof_N = 0.0;
    double seat_radius_mm = 0.0;  ///< of the foot's pad or sleeve's end on the vehicle
};

struct BoltForce {
    double tension_N = 0.0;  ///< pulls the box off its seat; pressing on the seat is 0
    double shear_N = 0.0;
    Vec3 force_N;          ///< of the box on the bolt
    Vec3 couple_N_mm;      ///< that its seat takes
    double use_rel = 0.0;  ///< sqrt((T/Fp)^2 + (S/(0.6 Fp))^2) * SF: at most 1
};

/// One direction of the deceleration.
struct LoadCase {
    std::string name;  ///< "forward", "rearward", "left", "right", "upward"
    Vec3 towards;      ///< where the box would go, unit
    double g = 0.0;
};
/// `deceleration_g` forward, half of it rearward, sideways and upward. Without a `forward` each horizontal direction of
/// sixteen takes the full one.
std::vector<LoadCase> load_cases(double deceleration_g, Vec3 up, const std::optional<Vec3>& forward);

struct Restraint {
    std::vector<BoltForce> bolts;
    bool is_held = true;  ///< false: a twist that no bolt holds
    double unheld_N_mm = 0.0;
};
/// EXPECTS: at least one bolt.
Restraint restrain(double mass_kg, Point3 centre_of_mass, const std::vector<Held>& bolts, const LoadCase& load);

/// What is under head and washer.
struct Seat {
    double hole_mm = 0.0, outside_mm = 0.0;  ///< ring that is pressed on
    double most_MPa = 0.0;                   ///< 0: metal, not limited here
};
/// 10 MPa printed, 4 MPa board [common practice]; 0 in metal.
double most_seat_pressure_MPa(bool is_printed, bool is_board);

struct Preload {
    double force_N = 0.0;       ///< 0.75 of the proof load, or what the seat bears
    double torque_N_m = 0.0;    ///< K d F, K = 0.2 dry
    double pressure_MPa = 0.0;  ///< under the washer at 0.75 of the proof load
    bool wants_sleeve = false;  ///< the seat would be crushed: a metal sleeve, or the lower force
};
Preload preload(const Thread& thread, Grade grade, const Seat& seat, bool has_sleeve);

/// S over hole diameter by wall.
double bearing_MPa(double shear_N, double bolt_mm, double wall_mm);

}  // namespace geom::fixings
