// The first file becomes points with planes: even samples of a mesh, or the points of a cloud with the plane of their
// 24 nearest. Samples of the pass are taken evenly along the curve of its index. Each round pairs a sample with the
// nearest point of the first file, where that is near, flat, and not beyond its edge, and moves the pass by the small
// motion that takes the samples to the planes in weighted least squares. Weights are Tukey's (0 beyond 4.685 spreads,
// the spread from the median of distances), so that what only one of the passes saw does not pull.
//
// The mean square that a unit of each motion changes the distances by is the matrix of least squares itself, taken
// about the middle and with turns counted at the mean radius; its least eigenvalue says whether a motion is left open:
// two planes that slide on each other have 0 there.
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
#include <cmath>
#include <limits>

namespace geom::scan {

namespace {

using internal::PointIndex;

constexpr int kNeighbours = 24;
constexpr int kRounds = 60;
constexpr std::size_t kMostFixed = 400000, kMostMoving = 20000;
constexpr double kLeastOverlap = 0.1;
/// Of the mean square of the distances' change; noise in the planes alone gives a few thousandths.
constexpr double kLeastHold = 0.015;
constexpr double kAtRest_mm = 0.01;
constexpr double kLeastSpread_mm = 0.05;

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
    parallel_for(samples.size(), 512, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            std::uint32_t place = PointIndex::kNone;
            float distance2 = 0.0F;
            if (planes.index.nearest(samples[i], 1, &place, &distance2) == 0) continue;
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

/// Weighted least squares of one round: a turn about `middle`, then a shift.
struct Step {
    Point3 middle;
    double radius_mm = 0.0;
    double hold = 0.0;           ///< least eigenvalue
    Vec3 open_turn, open_shift;  ///< its vector, turns counted at the radius
    Vec3 turn_rad, shift_mm;
};

Step step_of(const std::vector<Contact>& contacts, double spread_mm) {
    const auto weight = [&](const Contact& c) {
        if (!c.is_there()) return 0.0;
        const double u = c.off_mm / (4.685 * spread_mm);
        return std::abs(u) >= 1.0 ? 0.0 : (1.0 - u * u) * (1.0 - u * u);
    };
    Step step;
    double sum = 0.0, square = 0.0;
    for (const Contact& c : contacts) {
        const double w = weight(c);
        if (w > 0.0) step.middle += c.at * w, sum += w;
    }
    if (sum <= 0.0) return step;
    step.middle = step.middle / sum;
    for (const Contact& c : contacts)
        if (const double w = weight(c); w > 0.0) square += w * norm2(c.at - step.middle);
    step.radius_mm = std::max(1.0, std::sqrt(square / sum));
    using Matrix6 = Eigen::Matrix<double, 6, 6>;
    using Vector6 = Eigen::Matrix<double, 6, 1>;
    Matrix6 a = Matrix6::Zero();
    Vector6 b = Vector6::Zero();
    for (const Contact& c : contacts) {
        const double w = weight(c);
        if (w <= 0.0) continue;
        const Vec3 t = cross(c.at - step.middle, c.normal) / step.radius_mm;
        Vector6 j;
        j << t.x, t.y, t.z, c.normal.x, c.normal.y, c.normal.z;
        a += j * j.transpose() * (w / sum);
        b -= j * (c.off_mm * w / sum);
    }
    const Eigen::SelfAdjointEigenSolver<Matrix6> eigen(a);
    step.hold = eigen.eigenvalues()(0);
    const Vector6 open = eigen.eigenvectors().col(0);
    step.open_turn = {open(0), open(1), open(2)};
    step.open_shift = {open(3), open(4), open(5)};
    if (step.hold < kLeastHold) return step;
    const Vector6 x = a.ldlt().solve(b);
    step.turn_rad = Vec3{x(0), x(1), x(2)} / step.radius_mm;
    step.shift_mm = {x(3), x(4), x(5)};
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
    const std::vector<Point3> placed = samples;
    Motion all;
    PassFit fit;
    double last_move_mm = 0.0;
    for (bool at_rest = false; !at_rest;) {
        if (context.is_cancelled()) return Context::interrupted();
        const std::vector<Contact> contacts = contacts_of(planes, samples, reach.mm());
        fit.overlap = overlap_of(contacts);
        if (fit.overlap < kLeastOverlap)
            return bad_job(fmt::format("overlaps the first file by {:.0f} % (within {:g} mm); wanted {:.0f} % at least",
                                       100.0 * fit.overlap, reach.mm(), 100.0 * kLeastOverlap),
                           "place it nearer (by pairs, to some millimetres), or leave join out");
        fit.after_mm = median_off(contacts);
        if (fit.rounds == 0) fit.before_mm = fit.after_mm;
        if (fit.rounds == kRounds)
            return bad_job(
                fmt::format("finds no rest on the first file: after {} rounds it still moves {:.2g} mm a round",
                            kRounds, last_move_mm),
                "place it nearer, or leave join out");
        const Step step = step_of(contacts, std::max(kLeastSpread_mm, 1.4826 * fit.after_mm));
        if (step.hold < kLeastHold) return left_open(step);
        const Motion motion = motion_of(step);
        last_move_mm = 0.0;
        for (Point3& p : samples) {
            const Point3 moved = motion.at(p);
            last_move_mm = std::max(last_move_mm, distance(moved, p));
            p = moved;
        }
        all = then(all, motion);
        ++fit.rounds;
        at_rest = last_move_mm < kAtRest_mm;
    }
    const std::vector<Contact> contacts = contacts_of(planes, samples, reach.mm());
    fit.overlap = overlap_of(contacts);
    fit.after_mm = median_off(contacts);
    for (std::size_t i = 0; i < samples.size(); ++i)
        if (contacts[i].is_there()) fit.moved_mm = std::max(fit.moved_mm, distance(samples[i], placed[i]));
    fit.turned_deg = Angle::rad(std::acos(std::clamp((all.x.x + all.y.y + all.z.z - 1.0) / 2.0, -1.0, 1.0))).deg();
    if (fit.moved_mm > 2.0 * reach.mm())
        return bad_job(fmt::format("was moved {:.3g} mm to lie on the first file; wanted {:g} mm at most", fit.moved_mm,
                                   2.0 * reach.mm()),
                       "place it nearer by pairs, or leave join out");
    return std::pair(all, fit);
}

}  // namespace geom::scan
