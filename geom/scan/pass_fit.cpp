// The first file becomes points with planes: even samples of a mesh, or the points of a cloud with the plane of their
// 24 nearest. Samples of the pass are taken evenly along the curve of its index. Each round pairs a sample with the
// nearest point of the first file, where that is near, flat, and not beyond its edge, and moves the pass by the small
// motion that takes the samples to the planes in weighted least squares. Weights are Tukey's (0 beyond 4.685 spreads,
// the spread from the median of distances), so that what only one of the passes saw does not pull.
//
// The mean square that a unit of each motion changes the distances by is the matrix of least squares itself, taken
// about the middle and with turns counted at the mean radius; its least eigenvalue says whether a motion is left open:
// two planes that slide on each other have 0 there. On the way such motions are left alone; at rest they are a fault.
//
// A pass that lies too far off for that is tried once more from a wider reach, halved when it comes to rest.
//
// How far parts of the overlap disagree is told by leaving out one of sixteen compact parts of the samples after the
// other (the jackknife): a thing that was moved between the passes lies in some of the parts, and the motion then
// depends on which of them are asked. What all parts have in common, as a camera's noise in stripes, is not seen by it.
//
// Sums are taken in the order of the samples, so threads change nothing.
#include "geom/core/parallel.h"
#include "geom/core/text.h"
#include "geom/scan/internal/eigen3.h"
#include "geom/scan/internal/mesh_samples.h"
#include "geom/scan/internal/point_index.h"
#include "geom/scan/placing.h"

#include <fmt/format.h>
#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace geom::scan {

namespace {

using internal::PointIndex;

constexpr int kNeighbours = 24;
constexpr int kRounds = 60;
constexpr int kParts = 16;
constexpr int kMostOpen = 8;
constexpr std::size_t kMostFixed = 400000, kMostMoving = 20000;
constexpr double kLeastOverlap = 0.1;
/// Of the mean square of the distances' change; noise in the planes alone gives a few thousandths. Motions held by less
/// are left alone on the way.
constexpr double kLeastMoved = 0.015;
/// What the rest is held by at least. Noise in stripes, as depth cameras give it, holds a wall that slides to 0.020;
/// two passes of real scans came to lie 5 to 7 mm off at 0.017, within 0.8 mm at 0.029, within 0.02 mm at 0.065.
constexpr double kLeastHold = 0.025;
constexpr double kAtRest_mm = 0.01;
constexpr double kLeastSpread_mm = 0.05;
/// The second try begins with so many times the reach, and a pass may be moved twice as far as that.
constexpr double kWider = 4.0;
constexpr double kMostDiffering_mm = 1.0;

Fault bad_job(std::string what, std::string hint) {
    return {FaultCode::BadJob, std::move(what), std::move(hint), {}, {}};
}

std::vector<Point3> some_points(const RawScan& scan, std::size_t most) {
    if (!scan.triangles.empty()) return internal::sample_mesh(scan, most).points;
    if (scan.points.size() <= most) return scan.points;
    const std::size_t step = (scan.points.size() + most - 1) / most;
    std::vector<Point3> some;
    for (std::size_t i = 0; i < scan.points.size(); i += step) some.push_back(scan.points[i]);
    return some;
}

/// Points with the planes of their neighbourhoods.
struct Planes {
    explicit Planes(std::vector<Point3> points) : index(points), normal(points.size()), reach_mm(points.size(), 0.0) {
        const auto nearest = index.all_nearest(kNeighbours);
        parallel_for(index.size(), 4096, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i) find_plane(i, &nearest[i * kNeighbours]);
        });
    }

    void find_plane(std::size_t i, const std::uint32_t* near) {
        const std::vector<Point3>& all = index.points();
        Point3 middle = all[i];
        double n = 1.0;
        for (int k = 0; k < kNeighbours; ++k)
            if (near[k] != PointIndex::kNone) middle += all[near[k]], n += 1.0;
        if (n < 6.0) return;
        middle = middle / n;
        internal::Sym3 m;
        const auto add = [&](Vec3 d) {
            m.xx += d.x * d.x, m.xy += d.x * d.y, m.xz += d.x * d.z;
            m.yy += d.y * d.y, m.yz += d.y * d.z, m.zz += d.z * d.z;
        };
        add(all[i] - middle);
        for (int k = 0; k < kNeighbours; ++k)
            if (near[k] != PointIndex::kNone) add(all[near[k]] - middle);
        const auto values = internal::eigenvalues(m);
        if (values.middle <= 0.0 || values.least > 0.15 * values.middle) return;  // an edge, or no surface
        normal[i] = internal::least_eigenvector(m, {0, 0, 1});
        reach_mm[i] = 2.0 * std::sqrt(values.most / n);
    }

    double farthest_mm() const { return reach_mm.empty() ? 0.0 : *std::max_element(reach_mm.begin(), reach_mm.end()); }

    PointIndex index;
    std::vector<Vec3> normal;
    std::vector<double> reach_mm;  ///< how far along the plane it holds; 0 where there is none
};

/// A sample and the plane it lies on.
struct Contact {
    Point3 at;
    Vec3 normal;
    double off_mm = std::numeric_limits<double>::quiet_NaN();  ///< signed, along the normal; NaN: none
    bool is_there() const { return !std::isnan(off_mm); }
};

std::vector<Contact> contacts_of(const Planes& planes, const std::vector<Point3>& samples, double reach_mm) {
    std::vector<Contact> contacts(samples.size());
    const auto within = static_cast<float>(1.01 * std::hypot(reach_mm, planes.farthest_mm()));
    parallel_for(samples.size(), 512, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            std::uint32_t place = PointIndex::kNone;
            float distance2 = 0.0F;
            if (planes.index.nearest(samples[i], 1, &place, &distance2, within) == 0) continue;
            if (planes.reach_mm[place] <= 0.0) continue;
            const Vec3 d = samples[i] - planes.index.points()[place];
            const double off = dot(d, planes.normal[place]);
            if (std::abs(off) > reach_mm || norm(d - planes.normal[place] * off) > planes.reach_mm[place]) continue;
            contacts[i] = {samples[i], planes.normal[place], off};
        }
    });
    return contacts;
}

double median_off(const std::vector<Contact>& contacts) {
    std::vector<double> off;
    for (const Contact& c : contacts)
        if (c.is_there()) off.push_back(std::abs(c.off_mm));
    if (off.empty()) return 0.0;
    const auto middle = off.begin() + static_cast<std::ptrdiff_t>(off.size() / 2);
    std::nth_element(off.begin(), middle, off.end());
    return *middle;
}

double overlap_of(const std::vector<Contact>& contacts) {
    const auto there = std::count_if(contacts.begin(), contacts.end(), [](const Contact& c) { return c.is_there(); });
    return static_cast<double>(there) / static_cast<double>(std::max<std::size_t>(1, contacts.size()));
}

using Matrix6 = Eigen::Matrix<double, 6, 6>;
using Vector6 = Eigen::Matrix<double, 6, 1>;

/// Weighted least squares of one round: a turn about `middle`, then a shift.
struct Step {
    Point3 middle;
    double radius_mm = 1.0;
    double hold = 0.0;             ///< least eigenvalue
    Vec3 open_turn, open_shift;    ///< its vector, turns counted at the radius
    Vec3 turn_rad, shift_mm;       ///< only along what is held
    double parts_differ_mm = 0.0;  ///< what leaving out parts of the samples changes, where it changes most
};

/// Tukey's.
double weight_of(const Contact& c, double spread_mm) {
    if (!c.is_there()) return 0.0;
    const double u = c.off_mm / (4.685 * spread_mm);
    return std::abs(u) >= 1.0 ? 0.0 : (1.0 - u * u) * (1.0 - u * u);
}

/// The standard deviation of x, by leaving out one part after the other; in millimetres at the corner of `box` that
/// moves most.
double parts_differ_of(const std::array<Matrix6, kParts>& a, const std::array<Vector6, kParts>& b, const Step& step,
                       const Aabb& box) {
    Matrix6 all_a = Matrix6::Zero();
    Vector6 all_b = Vector6::Zero();
    for (std::size_t k = 0; k < kParts; ++k) all_a += a[k], all_b += b[k];
    std::array<Vector6, kParts> without;
    Vector6 mean = Vector6::Zero();
    for (std::size_t k = 0; k < kParts; ++k) {
        without[k] = (all_a - a[k]).ldlt().solve(all_b - b[k]);
        mean += without[k] / kParts;
    }
    double most = 0.0;
    for (int corner = 0; corner < 8; ++corner) {
        const Point3 p{corner & 1 ? box.hi.x : box.lo.x, corner & 2 ? box.hi.y : box.lo.y,
                       corner & 4 ? box.hi.z : box.lo.z};
        double square = 0.0;
        for (const Vector6& x : without) {
            const Vector6 d = x - mean;
            square += norm2(cross(Vec3{d(0), d(1), d(2)} / step.radius_mm, p - step.middle) + Vec3{d(3), d(4), d(5)});
        }
        most = std::max(most, std::sqrt(square * (kParts - 1.0) / kParts));
    }
    return most;
}

Step step_of(const std::vector<Contact>& contacts, double spread_mm, const Aabb& box) {
    Step step;
    double sum = 0.0, square = 0.0;
    for (const Contact& c : contacts) {
        const double w = weight_of(c, spread_mm);
        if (w > 0.0) step.middle += c.at * w, sum += w;
    }
    if (sum <= 0.0) return step;
    step.middle = step.middle / sum;
    for (const Contact& c : contacts)
        if (const double w = weight_of(c, spread_mm); w > 0.0) square += w * norm2(c.at - step.middle);
    step.radius_mm = std::max(1.0, std::sqrt(square / sum));
    std::array<Matrix6, kParts> part_a;
    std::array<Vector6, kParts> part_b;
    part_a.fill(Matrix6::Zero());
    part_b.fill(Vector6::Zero());
    for (std::size_t i = 0; i < contacts.size(); ++i) {
        const Contact& c = contacts[i];
        const double w = weight_of(c, spread_mm);
        if (w <= 0.0) continue;
        const Vec3 t = cross(c.at - step.middle, c.normal) / step.radius_mm;
        Vector6 j;
        j << t.x, t.y, t.z, c.normal.x, c.normal.y, c.normal.z;
        const std::size_t part = i * kParts / contacts.size();  // samples are in the order of a curve: compact parts
        part_a[part] += j * j.transpose() * (w / sum);
        part_b[part] -= j * (c.off_mm * w / sum);
    }
    Matrix6 a = Matrix6::Zero();
    Vector6 b = Vector6::Zero();
    for (std::size_t k = 0; k < kParts; ++k) a += part_a[k], b += part_b[k];
    const Eigen::SelfAdjointEigenSolver<Matrix6> eigen(a);
    step.hold = eigen.eigenvalues()(0);
    const Vector6 open = eigen.eigenvectors().col(0);
    step.open_turn = {open(0), open(1), open(2)};
    step.open_shift = {open(3), open(4), open(5)};
    Vector6 x = Vector6::Zero();
    for (int k = 0; k < 6; ++k)
        if (eigen.eigenvalues()(k) >= kLeastMoved)
            x += eigen.eigenvectors().col(k) * (eigen.eigenvectors().col(k).dot(b) / eigen.eigenvalues()(k));
    step.turn_rad = Vec3{x(0), x(1), x(2)} / step.radius_mm;
    step.shift_mm = {x(3), x(4), x(5)};
    if (step.hold >= kLeastMoved) step.parts_differ_mm = parts_differ_of(part_a, part_b, step, box);
    return step;
}

Motion motion_of(const Step& step) {
    const double angle = norm(step.turn_rad);
    const Vec3 about = angle > 0.0 ? step.turn_rad / angle : Vec3{1, 0, 0};
    const Eigen::Vector3d axis(about.x, about.y, about.z);
    const Eigen::Matrix3d r = Eigen::AngleAxisd(angle, axis).toRotationMatrix();
    Motion motion;
    motion.x = {r(0, 0), r(0, 1), r(0, 2)};
    motion.y = {r(1, 0), r(1, 1), r(1, 2)};
    motion.z = {r(2, 0), r(2, 1), r(2, 2)};
    motion.shift = step.middle + step.shift_mm - motion.turned(step.middle);
    return motion;
}

Fault left_open(const Step& step) {
    const bool slides = norm(step.open_shift) >= norm(step.open_turn);
    const Vec3 v = unit(slides ? step.open_shift : step.open_turn);
    return bad_job(fmt::format("cannot be fitted to the first file: where they overlap the surface leaves {} {:.2f}, "
                               "{:.2f}, {:.2f} open",
                               slides ? "sliding along" : "turning about", v.x, v.y, v.z),
                   "scan passes that share surfaces facing three ways, or place this one by pairs and leave join out");
}

/// Rounds from `from` on with one reach, until a round moves no sample by more than `rest_mm`.
struct Rounds {
    Motion motion;
    std::vector<Point3> samples;
    double last_move_mm = 0.0;
    int count = 0;
};

Step one_round(const Planes& planes, double reach_mm, const Aabb& box, Rounds& rounds) {
    const std::vector<Contact> contacts = contacts_of(planes, rounds.samples, reach_mm);
    const Step step = step_of(contacts, std::max(kLeastSpread_mm, 1.4826 * median_off(contacts)), box);
    const Motion motion = motion_of(step);
    rounds.last_move_mm = 0.0;
    for (Point3& p : rounds.samples) {
        const Point3 moved = motion.at(p);
        rounds.last_move_mm = std::max(rounds.last_move_mm, distance(moved, p));
        p = moved;
    }
    rounds.motion = then(rounds.motion, motion);
    ++rounds.count;
    return step;
}

/// From a reach of `first_mm` to the last one.
Result<std::pair<Motion, PassFit>> fit_from(const Planes& planes, const std::vector<Point3>& placed, double first_mm,
                                            double reach_mm, const Context& context) {
    Aabb box;
    for (const Point3& p : placed) box.grow(p);
    Rounds rounds{{}, placed, 0.0, 0};
    PassFit fit;
    fit.before_mm = median_off(contacts_of(planes, placed, reach_mm));
    Step step;
    for (double reach = first_mm;; reach = std::max(reach_mm, reach / 2.0)) {
        const bool is_last = reach <= reach_mm;
        const double rest_mm = is_last ? kAtRest_mm : 0.05 * reach;
        const int most = is_last ? kRounds : kRounds / 6;
        int count = 0, open = 0;  // open: rounds one after the other that leave a motion open
        do {
            if (context.is_cancelled()) return Context::interrupted();
            step = one_round(planes, reach, box, rounds);
            open = step.hold < kLeastMoved ? open + 1 : 0;
        } while (rounds.last_move_mm >= rest_mm && ++count < most && open < kMostOpen);
        if (is_last) break;
    }
    const std::vector<Contact> contacts = contacts_of(planes, rounds.samples, reach_mm);
    fit.rounds = rounds.count;
    fit.overlap = overlap_of(contacts);
    fit.after_mm = median_off(contacts);
    fit.parts_differ_mm = step.parts_differ_mm;
    if (fit.overlap < kLeastOverlap)
        return bad_job(fmt::format("overlaps the first file by {:.0f} % (within {:g} mm); wanted {:.0f} % at least",
                                   100.0 * fit.overlap, reach_mm, 100.0 * kLeastOverlap),
                       "place it nearer (by pairs, to some millimetres), or leave join out");
    if (step.hold < kLeastHold) return left_open(step);
    if (rounds.last_move_mm >= kAtRest_mm)
        return bad_job(fmt::format("finds no rest on the first file: after {} rounds it still moves {:.2g} mm a round",
                                   rounds.count, rounds.last_move_mm),
                       "place it nearer, or leave join out");
    if (fit.parts_differ_mm > kMostDiffering_mm)
        return bad_job(fmt::format("cannot be fitted to the first file better than to {:.2g} mm: parts of the overlap "
                                   "would move it differently; wanted {:g} mm",
                                   fit.parts_differ_mm, kMostDiffering_mm),
                       "scan passes that share more, or place this one by pairs and leave join out");
    for (std::size_t i = 0; i < placed.size(); ++i)
        if (contacts[i].is_there()) fit.moved_mm = std::max(fit.moved_mm, distance(rounds.samples[i], placed[i]));
    const Motion& all = rounds.motion;
    fit.turned_deg = Angle::rad(std::acos(std::clamp((all.x.x + all.y.y + all.z.z - 1.0) / 2.0, -1.0, 1.0))).deg();
    if (const double most_mm = 2.0 * kWider * reach_mm; fit.moved_mm > most_mm)
        return bad_job(
            fmt::format("was moved {:.3g} mm to lie on the first file; wanted {:g} mm at most", fit.moved_mm, most_mm),
            "place it nearer by pairs, or leave join out");
    return std::pair(all, fit);
}

}  // namespace

Result<std::pair<Motion, PassFit>> fit_pass(const RawScan& fixed, const RawScan& moving, Length reach,
                                            const Context& context) {
    const Stage stage(context, "scan/fit");
    const Planes planes(some_points(fixed, kMostFixed));
    std::vector<Point3> samples;
    {
        const PointIndex index(some_points(moving, kMostFixed));
        const std::size_t step = std::max<std::size_t>(1, index.size() / kMostMoving);
        for (std::size_t i = 0; i < index.size(); i += step) samples.push_back(index.points()[i]);
    }
    auto near = fit_from(planes, samples, reach.mm(), reach.mm(), context);
    if (near || near.error().code != FaultCode::BadJob) return near;
    auto wide = fit_from(planes, samples, kWider * reach.mm(), reach.mm(), context);
    return wide || wide.error().code != FaultCode::BadJob ? std::move(wide) : std::move(near);
}

}  // namespace geom::scan
