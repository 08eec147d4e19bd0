// Axes: z is taken as it is, x is turned within the plane of both until it is square to z. Three axes: the nearest
// rotation, by the polar part of the matrix of the three (singular values all become one).
//
// Pairs: both sides are taken about their middles, the rotation is the polar part of the matrix of products, with the
// last singular direction turned round where only a mirror image would give more. What a mirror image would reach is
// compared: pairs that it fits and a rotation does not are mirrored pairs. One pair after the other is left out; the
// sum of squares that its absence saves (three components) against what is left is an F ratio.
#include "geom/scan/placing.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/core/text.h"

#include <fmt/format.h>
#include <Eigen/Dense>

#include <algorithm>
#include <cmath>

namespace geom::scan {

namespace {

using Eigen::Matrix3d;

Fault bad_job(std::string what, std::string hint) {
    return {FaultCode::BadJob, std::move(what), std::move(hint), {}, {}};
}

Eigen::Vector3d eigen_of(Vec3 v) {
    return {v.x, v.y, v.z};
}
Vec3 row(const Matrix3d& m, int r) {
    return {m(r, 0), m(r, 1), m(r, 2)};
}

double off_square_deg(Vec3 a, Vec3 b) {
    return Angle::rad(std::asin(std::min(1.0, std::abs(dot(a, b))))).deg();
}

Status check_square(const char* name, Vec3 a, const char* other, Vec3 b) {
    const double off = off_square_deg(a, b);
    if (off <= kSquareWithin_deg) return Done{};
    return bad_job(fmt::format("{} is {:.1f} deg off a right angle to {}; wanted a right angle, to {:g} deg", name, off,
                               other, kSquareWithin_deg),
                   "x and z become the vehicle's axes; y = z cross x");
}

/// Rows x, y, z from z and an x that is all but square to it.
Motion with_axes(Vec3 x, Vec3 z) {
    Motion motion;
    motion.z = unit(z);
    motion.x = unit(x - motion.z * dot(x, motion.z));
    motion.y = cross(motion.z, motion.x);
    return motion;
}

}  // namespace

Motion Motion::inverse() const {
    Motion back;
    back.x = {x.x, y.x, z.x};
    back.y = {x.y, y.y, z.y};
    back.z = {x.z, y.z, z.z};
    back.scale = 1.0 / scale;
    back.shift = -(back.turned(shift) * back.scale);
    return back;
}

Motion then(const Motion& first, const Motion& second) {
    const auto column = [&](Vec3 axis) { return second.turned(first.turned(axis)); };
    const Vec3 a = column({1, 0, 0}), b = column({0, 1, 0}), c = column({0, 0, 1});
    Motion both;
    both.x = {a.x, b.x, c.x};
    both.y = {a.y, b.y, c.y};
    both.z = {a.z, b.z, c.z};
    both.scale = first.scale * second.scale;
    both.shift = second.at(first.shift);
    return both;
}

Motion mirror_about(const Plane& plane) {
    const Vec3 n = unit(plane.outward);
    Motion motion;
    motion.x = Vec3{1, 0, 0} - n * (2.0 * n.x);
    motion.y = Vec3{0, 1, 0} - n * (2.0 * n.y);
    motion.z = Vec3{0, 0, 1} - n * (2.0 * n.z);
    motion.shift = n * (2.0 * dot(plane.point, n));
    return motion;
}

Result<Motion> place_by_axes(Point3 origin, std::optional<Vec3> x, std::optional<Vec3> y, std::optional<Vec3> z) {
    Motion motion;
    if (x && y && z) {
        GAPWRIGHT_CHECK(check_square("x", *x, "z", *z));
        GAPWRIGHT_CHECK(check_square("y", *y, "z", *z));
        GAPWRIGHT_CHECK(check_square("y", *y, "x", *x));
        if (dot(cross(*x, *y), *z) < 0.0)
            return bad_job("y lies the other way: x, y and z are left-handed; wanted y = z cross x",
                           "turn y round, or leave it out; for the other side of the vehicle use mirror");
        Matrix3d rows;
        rows << x->x, x->y, x->z, y->x, y->y, y->z, z->x, z->y, z->z;
        const Eigen::JacobiSVD<Matrix3d> svd(rows, Eigen::ComputeFullU | Eigen::ComputeFullV);
        const Matrix3d nearest = svd.matrixU() * svd.matrixV().transpose();
        motion.x = row(nearest, 0);
        motion.y = row(nearest, 1);
        motion.z = row(nearest, 2);
    } else if (y && z) {
        GAPWRIGHT_CHECK(check_square("y", *y, "z", *z));
        motion = with_axes(cross(*y, *z), *z);
    } else if (y) {
        const Vec3 first = x.value_or(Vec3{1, 0, 0});
        GAPWRIGHT_CHECK(check_square("y", *y, "x", first));
        motion = with_axes(first, cross(first, *y));
    } else {
        const Vec3 first = x.value_or(Vec3{1, 0, 0}), third = z.value_or(Vec3{0, 0, 1});
        GAPWRIGHT_CHECK(check_square("x", first, "z", third));
        motion = with_axes(first, third);
    }
    motion.shift = -motion.turned(origin);
    return motion;
}

Result<Motion> place_by_points(const PickedPoints& picked) {
    const auto& p = picked.scan;
    double longest = 0.0;
    for (int a = 0; a < 3; ++a)
        for (int b = a + 1; b < 3; ++b) {
            const double apart = distance(p[static_cast<std::size_t>(a)], p[static_cast<std::size_t>(b)]);
            longest = std::max(longest, apart);
            if (apart < 1.0)
                return bad_job(
                    fmt::format("{} and {} lie {:.3g} mm apart; wanted three places well apart", a + 1, b + 1, apart),
                    "pick places as far from each other as the scan allows");
        }
    const Vec3 along = unit(p[1] - p[0]);
    const Vec3 over = (p[2] - p[0]) - along * dot(p[2] - p[0], along);
    const double height = norm(over), wanted = longest / 50.0;
    if (height < wanted)
        return bad_job(fmt::format("lie on one line: the third is {:.3g} mm off the line through the first two; wanted "
                                   "{:.3g} mm at least to know the plane",
                                   height, wanted),
                       "pick the third place well to the side of the other two");
    const Vec3 a = unit(picked.along), n = unit(picked.normal);
    const double off = off_square_deg(a, n);
    if (off > kSquareWithin_deg)
        return bad_job(
            fmt::format("cannot become these: along is {:.1f} deg off a right angle to normal; wanted a right "
                        "angle, to {:g} deg",
                        off, kSquareWithin_deg),
            "along lies in the plane that normal is square to");
    // Scan numbers to picked numbers (first point the origin), and from there to the vehicle.
    const Motion to_picked = with_axes(along, cross(along, over));
    Motion motion = then(to_picked, with_axes(a, n).inverse());
    motion.shift = picked.at - motion.turned(p[0]);
    return motion;
}

// Pairs -------------------------------------------------------------------------------------------------------------

namespace {

struct Fitted {
    Motion motion;
    double sum2 = 0.0;           ///< of squared residuals
    double mirrored_sum2 = 0.0;  ///< of the best mirror image
    double scale = 1.0;          ///< of least squares, applied or not
};

/// How far points spread: roots of the mean squares along their own axes, largest first.
std::array<double, 3> spread_of(const std::vector<Point3>& points) {
    Point3 middle;
    for (const Point3& p : points) middle += p / static_cast<double>(points.size());
    Matrix3d m = Matrix3d::Zero();
    for (const Point3& p : points) m += eigen_of(p - middle) * eigen_of(p - middle).transpose();
    Eigen::SelfAdjointEigenSolver<Matrix3d> eigen(m / static_cast<double>(points.size()), Eigen::EigenvaluesOnly);
    const auto root = [&](int i) { return std::sqrt(std::max(0.0, eigen.eigenvalues()(i))); };
    return {root(2), root(1), root(0)};
}

constexpr std::size_t kNoPair = static_cast<std::size_t>(-1);

Fitted fit_without(const std::vector<PointPair>& pairs, std::size_t left_out, bool scale) {
    Point3 from, to;
    double n = 0.0;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        if (i == left_out) continue;
        from += pairs[i].scan;
        to += pairs[i].vehicle;
        n += 1.0;
    }
    from = from / n;
    to = to / n;
    Matrix3d products = Matrix3d::Zero();
    double from2 = 0.0, to2 = 0.0;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        if (i == left_out) continue;
        const Vec3 a = pairs[i].scan - from, b = pairs[i].vehicle - to;
        products += eigen_of(b) * eigen_of(a).transpose();
        from2 += norm2(a);
        to2 += norm2(b);
    }
    const Eigen::JacobiSVD<Matrix3d> svd(products, Eigen::ComputeFullU | Eigen::ComputeFullV);
    const Eigen::Vector3d s = svd.singularValues();
    const bool turn_last = svd.matrixU().determinant() * svd.matrixV().determinant() < 0.0;
    const Eigen::Vector3d signs(1.0, 1.0, turn_last ? -1.0 : 1.0);
    const Matrix3d rotation = svd.matrixU() * signs.asDiagonal() * svd.matrixV().transpose();
    const double kept = s(0) + s(1) + signs(2) * s(2), mirrored = s(0) + s(1) - signs(2) * s(2);

    Fitted fitted;
    fitted.scale = from2 > 0.0 ? kept / from2 : 1.0;
    Motion& motion = fitted.motion;
    motion.x = row(rotation, 0);
    motion.y = row(rotation, 1);
    motion.z = row(rotation, 2);
    motion.scale = scale ? fitted.scale : 1.0;
    motion.shift = to - motion.turned(from) * motion.scale;
    for (std::size_t i = 0; i < pairs.size(); ++i)
        if (i != left_out) fitted.sum2 += norm2(motion.at(pairs[i].scan) - pairs[i].vehicle);
    const double mirror_scale = scale && from2 > 0.0 ? mirrored / from2 : 1.0;
    fitted.mirrored_sum2 = std::max(0.0, to2 + mirror_scale * mirror_scale * from2 - 2.0 * mirror_scale * mirrored);
    return fitted;
}

/// Upper 1 % of F with 3 and `freedom` degrees of freedom, from the tables of the distribution [memory]; between the
/// lines the one with less freedom holds.
double f_limit(int freedom) {
    constexpr std::pair<int, double> kTable[] = {
        {1, 5403.0}, {2, 99.17}, {3, 29.46}, {4, 16.69}, {5, 12.06}, {6, 9.78},  {8, 7.59},  {9, 6.99}, {11, 6.22},
        {12, 5.95},  {15, 5.42}, {18, 5.09}, {20, 4.94}, {24, 4.72}, {30, 4.51}, {40, 4.31}, {60, 4.13}};
    double limit = kTable[0].second;
    for (const auto& [of, value] : kTable)
        if (of <= freedom) limit = value;
    return limit;
}

Status check_spread(const std::vector<PointPair>& pairs, bool of_scan) {
    std::vector<Point3> points;
    for (const PointPair& pair : pairs) points.push_back(of_scan ? pair.scan : pair.vehicle);
    const char* side = of_scan ? "scan" : "vehicle";
    const auto spread = spread_of(points);
    if (spread[0] < 1.0)
        return bad_job(fmt::format("have their {} points in one place (within {:.3g} mm); wanted them well apart", side,
                                   2.0 * spread[0]),
                       "take places at the ends of the scan");
    if (spread[1] < 0.02 * spread[0])
        return bad_job(fmt::format("have their {} points on one line (within {:.3g} mm over {:.4g} mm): the turn about "
                                   "it cannot be told",
                                   side, 2.0 * spread[1], 2.0 * spread[0]),
                       "add a pair well to the side of that line");
    return Done{};
}

Status check_unit(double scale) {
    for (const FileUnit taken : kFileUnits)
        for (const FileUnit meant : kFileUnits) {
            const double ratio = one(meant) / one(taken);
            if (taken == meant || std::abs(scale / ratio - 1.0) > 0.1) continue;
            return Fault{FaultCode::WrongUnit,
                         fmt::format("are {:.4g} times as far apart in the vehicle as on the scan: one of the two is "
                                     "not in the stated unit",
                                     scale),
                         fmt::format("that is the ratio of {} and {}: check [scan] length_unit and [job] length_unit",
                                     name_of(meant), name_of(taken)),
                         {},
                         {}};
        }
    return Done{};
}

/// Leaves out one pair after the other.
void find_bad_pair(const std::vector<PointPair>& pairs, bool scale, double sum2, PairFit& fit) {
    const int freedom = 3 * (static_cast<int>(pairs.size()) - 1) - (scale ? 7 : 6);
    std::size_t worst = kNoPair;
    Fitted without;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        const Fitted rest = fit_without(pairs, i, scale);
        if (worst != kNoPair && rest.sum2 >= without.sum2) continue;
        worst = i;
        without = rest;
    }
    const double off = distance(without.motion.at(pairs[worst].scan), pairs[worst].vehicle);
    // Rounding of the last bits is no agreement: a hundredth of a millimetre is as good as picked places get.
    const double left = std::max(without.sum2 / freedom, 1e-4);
    const double ratio = (sum2 - without.sum2) / 3.0 / left;
    if (off <= 2.0 || ratio <= f_limit(freedom)) return;
    fit.bad = worst;
    fit.bad_off_mm = off;
    fit.others_rms_mm = std::sqrt(without.sum2 / static_cast<double>(pairs.size() - 1));
}

}  // namespace

Result<PairFit> fit_pairs(const std::vector<PointPair>& pairs, bool scale) {
    if (pairs.size() < 3)
        return bad_job(fmt::format("are {}; wanted three at least, four to tell a bad one", pairs.size()),
                       "name a place on the scan and where it is in the vehicle");
    GAPWRIGHT_CHECK(check_spread(pairs, true));
    GAPWRIGHT_CHECK(check_spread(pairs, false));
    const Fitted all = fit_without(pairs, kNoPair, scale);
    GAPWRIGHT_CHECK(check_unit(all.scale));
    const double n = static_cast<double>(pairs.size());
    const double rms = std::sqrt(all.sum2 / n), mirrored_rms = std::sqrt(all.mirrored_sum2 / n);
    if (rms > 2.0 && rms > 3.0 * mirrored_rms)
        return bad_job(fmt::format("fit only as a mirror image: {:.3g} mm off at best, {:.3g} mm when mirrored", rms,
                                   mirrored_rms),
                       "one side has left and right, or up and down, exchanged: check signs and the order of the axes; "
                       "to make the part for the other seat give the pairs as scanned and set mirror");
    PairFit fit;
    fit.motion = all.motion;
    fit.rms_mm = rms;
    for (const PointPair& pair : pairs) {
        const double off = distance(all.motion.at(pair.scan), pair.vehicle);
        fit.residuals_mm.emplace_back(pair.name, off);
        fit.most_mm = std::max(fit.most_mm, off);
    }
    fit.can_tell = pairs.size() >= 4;
    if (fit.can_tell) find_bad_pair(pairs, scale, all.sum2, fit);
    return fit;
}

// Files -------------------------------------------------------------------------------------------------------------

void place(RawScan& scan, const Motion& motion) {
    constexpr std::size_t kGrain = 1 << 15;
    parallel_for(scan.points.size(), kGrain, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) scan.points[i] = motion.at(scan.points[i]);
    });
    parallel_for(scan.normals.size(), kGrain, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) scan.normals[i] = motion.turned(scan.normals[i]);
    });
    if (motion.mirrors())
        for (auto& triangle : scan.triangles) std::swap(triangle[1], triangle[2]);
}

namespace {

bool is_same(const Motion& a, const Motion& b) {
    return a.x == b.x && a.y == b.y && a.z == b.z && a.scale == b.scale && a.shift == b.shift;
}

/// Adds `more` to `all`; a cloud and a mesh become a cloud.
void join(RawScan& all, RawScan&& more) {
    if (all.triangles.empty() != more.triangles.empty()) turn_into_points(all.triangles.empty() ? more : all);
    if (all.normals.empty() || more.normals.empty())
        all.normals = {};
    else
        all.normals.insert(all.normals.end(), more.normals.begin(), more.normals.end());
    const auto base = static_cast<std::uint32_t>(all.points.size());
    all.points.insert(all.points.end(), more.points.begin(), more.points.end());
    for (const auto& t : more.triangles) all.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
    all.not_finite += more.not_finite;
    all.files.insert(all.files.end(), more.files.begin(), more.files.end());
}

Result<RawScan> read_one(const std::vector<std::filesystem::path>& paths, FileUnit unit, const PlacingOptions& options,
                         double used_bytes, const Context& context) {
    ReadOptions read = options.read;
    read.unit = unit;
    read.placed = false;
    read.memory_limit_bytes = std::max(0.0, read.memory_limit_bytes - used_bytes);
    return read_scans(paths, read, context);
}

void note_samples(PlacedScans& placed) {
    for (std::size_t i = 0; i < placed.files.size() && i < placed.scan.files.size(); ++i) {
        placed.files[i].sampled = placed.scan.files[i].sampled;
        placed.files[i].sampled_mm = placed.scan.files[i].sampled_mm;
    }
}

/// As the reading reckons: what points, normals and triangles take.
double bytes_of(const RawScan& scan) {
    return static_cast<double>(scan.points.size() + scan.normals.size()) * sizeof(Vec3) +
           static_cast<double>(scan.triangles.size()) * 12.0;
}

}  // namespace

Result<PlacedScans> read_placed_scans(const std::vector<ScanFile>& files, const PlacingOptions& options,
                                      const Context& context) {
    EXPECTS(!files.empty());
    PlacedScans placed;
    for (const ScanFile& file : files) placed.files.push_back({file.path, file.motion, file.pairs, {}});
    const bool is_one_place = std::all_of(files.begin(), files.end(), [&](const ScanFile& file) {
        return file.unit == files.front().unit && is_same(file.motion, files.front().motion);
    });
    if (is_one_place && !(options.join_by_fit && files.size() > 1)) {
        std::vector<std::filesystem::path> paths;
        for (const ScanFile& file : files) paths.push_back(file.path);
        GAPWRIGHT_TRY(scan, read_one(paths, files.front().unit, options, 0.0, context));
        place(scan, files.front().motion);
        placed.scan = std::move(scan);
        note_samples(placed);
        return placed;
    }
    PlacingOptions each = options;
    each.read.any_extent = false;  // of files that may have units of their own each is judged alone
    RawScan first;                 // kept apart while others are fitted to it
    for (std::size_t i = 0; i < files.size(); ++i) {
        const double used = bytes_of(placed.scan) + bytes_of(first);
        GAPWRIGHT_TRY(scan, read_one({files[i].path}, files[i].unit, each, used, context));
        place(scan, files[i].motion);
        if (i == 0) {
            if (options.join_by_fit) first = scan;
            placed.scan = std::move(scan);
            continue;
        }
        if (options.join_by_fit) {
            auto fitted = fit_pass(first, scan, Length::mm(10), context);
            if (!fitted) {
                Fault fault = std::move(fitted).error();
                fault.what = files[i].path.string() + " " + fault.what;
                return fault;
            }
            place(scan, fitted->first);
            placed.files[i].motion = then(files[i].motion, fitted->first);
            placed.files[i].fit = fitted->second;
        }
        join(placed.scan, std::move(scan));
    }
    note_samples(placed);
    return placed;
}

}  // namespace geom::scan
