// Equal springs at the seats: the force goes to all bolts alike, the moment about their middle turns them about it, and
// each takes its share across its arm, f = L/N + w x d with J w = M, J the sum of |d|^2 - d d^T. Turns about which the
// bolts' arms are shorter than a seat's radius are left to the seats.
#include "geom/fixings/restraint.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>
#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::fixings {
namespace {

constexpr double kPreloadShare = 0.75;  // of the proof load, joints that are opened again
constexpr double kTorqueFactor = 0.20;  // dry
constexpr double kShearShare = 0.6;     // of the proof load [common practice]
constexpr double kPrinted_MPa = 10.0, kBoard_MPa = 4.0;
constexpr int kLevelDirections = 16;
constexpr double kTwist_rel = 1e-6;  // of the load's moment: below is rounding

Vec3 level(Vec3 direction, Vec3 up) {
    return unit(direction - up * dot(direction, up));
}

}  // namespace

std::vector<LoadCase> load_cases(double deceleration_g, Vec3 up, const std::optional<Vec3>& forward) {
    const double half = deceleration_g / 2.0;
    const Vec3 z = unit(up);
    std::vector<LoadCase> cases;
    if (forward) {
        const Vec3 f = level(*forward, z), left = cross(z, f);
        cases = {{"forward", f, deceleration_g}, {"rearward", -f, half}, {"left", left, half}, {"right", -left, half}};
    } else {
        const Vec3 x = unit(any_perpendicular(z)), y = cross(z, x);
        for (int i = 0; i < kLevelDirections; ++i) {
            const double a = 2.0 * std::numbers::pi * i / kLevelDirections;
            cases.push_back({fmt::format("level, {} deg", plain_number(Angle::rad(a).deg())),
                             x * std::cos(a) + y * std::sin(a), deceleration_g});
        }
    }
    cases.push_back({"upward", z, half});
    return cases;
}

Restraint restrain(double mass_kg, Point3 centre_of_mass, const std::vector<Held>& bolts, const LoadCase& load) {
    EXPECTS(!bolts.empty());
    const auto n = static_cast<double>(bolts.size());
    Point3 middle;
    double seat_mm = 0.0;
    for (const Held& bolt : bolts) {
        middle += bolt.seat / n;
        seat_mm += bolt.seat_radius_mm / n;
    }
    const Vec3 force = unit(load.towards) * (mass_kg * load.g * kGravity_m_s2);
    const Vec3 moment = cross(centre_of_mass - middle, force);

    Eigen::Matrix3d j = Eigen::Matrix3d::Zero();
    for (const Held& bolt : bolts) {
        const Vec3 a = bolt.seat - middle;
        const Eigen::Vector3d d(a.x, a.y, a.z);
        j += d.squaredNorm() * Eigen::Matrix3d::Identity() - d * d.transpose();
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(j);
    const Eigen::Vector3d m(moment.x, moment.y, moment.z);
    Eigen::Vector3d turn = Eigen::Vector3d::Zero(), left = Eigen::Vector3d::Zero();
    for (int i = 0; i < 3; ++i) {
        const Eigen::Vector3d axis = solver.eigenvectors().col(i);
        const double share = axis.dot(m), stiff = solver.eigenvalues()[i];
        if (stiff > std::max(seat_mm * seat_mm, 1e-9))
            turn += axis * (share / stiff);
        else
            left += axis * share;
    }
    const Vec3 w{turn.x(), turn.y(), turn.z()}, rest = Vec3{left.x(), left.y(), left.z()} / n;

    Restraint result;
    for (const Held& bolt : bolts) {
        const Vec3 axis = unit(bolt.axis), f = force / n + cross(w, bolt.seat - middle);
        const double along = dot(f, axis);
        const double twist = std::abs(dot(rest, axis)), tilt = norm(rest - axis * dot(rest, axis));
        BoltForce b;
        b.force_N = f;
        b.couple_N_mm = rest - axis * dot(rest, axis);
        b.tension_N = std::max(0.0, -along) + (tilt > 0.0 ? tilt / std::max(bolt.seat_radius_mm, 1e-9) : 0.0);
        b.shear_N = norm(f - axis * along);
        b.use_rel = std::hypot(b.tension_N / bolt.proof_N, b.shear_N / (kShearShare * bolt.proof_N)) * kSafety;
        result.bolts.push_back(b);
        if (twist > kTwist_rel * (norm(moment) + norm(force))) {
            result.is_held = false;
            result.unheld_N_mm += twist;
        }
    }
    return result;
}

double most_seat_pressure_MPa(bool is_printed, bool is_board) {
    return is_board ? kBoard_MPa : is_printed ? kPrinted_MPa : 0.0;
}

Preload preload(const Thread& thread, Grade grade, const Seat& seat, bool has_sleeve) {
    Preload result;
    result.force_N = kPreloadShare * proof_N(thread, grade);
    const double area = std::numbers::pi / 4.0 * (seat.outside_mm * seat.outside_mm - seat.hole_mm * seat.hole_mm);
    result.pressure_MPa = area > 0.0 ? result.force_N / area : 0.0;
    if (seat.most_MPa > 0.0 && result.pressure_MPa > seat.most_MPa) {
        result.wants_sleeve = true;
        if (!has_sleeve) result.force_N = seat.most_MPa * area;
    }
    result.torque_N_m = kTorqueFactor * thread.d_mm * 1e-3 * result.force_N;
    return result;
}

double bearing_MPa(double shear_N, double bolt_mm, double wall_mm) {
    EXPECTS(bolt_mm > 0.0 && wall_mm > 0.0);
    return shear_N / (bolt_mm * wall_mm);
}

}  // namespace geom::fixings
