#include "geom/measure/internal/face_fit.h"

#include "geom/core/checks.h"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <optional>

namespace geom::measure::internal {

namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

Eigen::Vector3d eigen(Vec3 v) {
    return {v.x, v.y, v.z};
}
Vec3 plain(const Eigen::Vector3d& v) {
    return {v.x(), v.y(), v.z()};
}

Vector solved(const Matrix& a, const Vector& b) {
    return a.colPivHouseholderQr().solve(b);
}

struct Frame {
    Vec3 u, v, w;  ///< unit, square to one another
    explicit Frame(Vec3 up) : w(up) {
        const Vec3 other = std::abs(up.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
        u = unit(cross(other, w));
        v = cross(w, u);
    }
};

void measure(FaceFit& fit, const std::vector<Point3>& places) {
    fit.off_mm = 0.0;
    for (const Point3& p : places) fit.off_mm = std::max(fit.off_mm, std::abs(fit.height_mm(p)));
    if (!std::isfinite(fit.off_mm)) fit.off_mm = 1e300;
}

FaceFit plane_through(const std::vector<Point3>& places) {
    Vec3 mean;
    for (const Point3& p : places) mean += p / static_cast<double>(places.size());
    Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
    for (const Point3& p : places) spread += eigen(p - mean) * eigen(p - mean).transpose();
    const Vec3 n = plain(Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvectors().col(0));
    FaceFit fit{"plane", 0.0, [=](Point3 p) { return dot(p - mean, n); }};
    measure(fit, places);
    return fit;
}

std::optional<FaceFit> sphere_through(const std::vector<Point3>& places, Point3 o) {
    if (places.size() < 5) return std::nullopt;
    const auto rows = static_cast<Eigen::Index>(places.size());
    Matrix a(rows, 4);
    Vector b(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
        const Vec3 p = places[static_cast<std::size_t>(i)] - o;
        a.row(i) << 2 * p.x, 2 * p.y, 2 * p.z, 1.0;
        b(i) = dot(p, p);
    }
    const Vector x = solved(a, b);
    const Point3 centre = o + Vec3{x(0), x(1), x(2)};
    const double r2 = x(3) + x.head<3>().squaredNorm();
    if (!(r2 > 0.0)) return std::nullopt;
    FaceFit fit{"sphere", 0.0, [centre, r = std::sqrt(r2)](Point3 p) { return distance(p, centre) - r; }};
    measure(fit, places);
    return fit;
}

/// |p|^2 = 2 p.c + q0 + q1 z + q2 z^2 round the axis: linear in all that is not the axis. (r0 + k z)^2 has q1^2 =
/// 4 (q0 + |c|^2) q2; what does not keep that is another surface of second degree, and fits as well as it fits.
struct Round {
    Frame frame;
    Point3 o;
    double cu = 0.0, cv = 0.0, q0 = 0.0, q1 = 0.0, q2 = 0.0;

    double height(Point3 p) const {
        const Vec3 d = p - o;
        const double x = dot(d, frame.u) - cu, y = dot(d, frame.v) - cv, z = dot(d, frame.w);
        const double r2 = q0 + cu * cu + cv * cv + q1 * z + q2 * z * z;
        return std::hypot(x, y) - (r2 > 0.0 ? std::sqrt(r2) : 0.0);
    }
};

Round round_about(Vec3 axis, const std::vector<Point3>& places, Point3 o, bool cone) {
    Round out{Frame(axis), o};
    const auto rows = static_cast<Eigen::Index>(places.size());
    Matrix a(rows, cone ? 5 : 3);
    Vector b(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
        const Vec3 d = places[static_cast<std::size_t>(i)] - o;
        const double x = dot(d, out.frame.u), y = dot(d, out.frame.v), z = dot(d, out.frame.w);
        a(i, 0) = 2 * x, a(i, 1) = 2 * y, a(i, 2) = 1.0;
        if (cone) a(i, 3) = z, a(i, 4) = z * z;
        b(i) = x * x + y * y;
    }
    const Vector x = solved(a, b);
    out.cu = x(0), out.cv = x(1), out.q0 = x(2);
    if (cone) out.q1 = x(3), out.q2 = x(4);
    return out;
}

Vector heights(const Round& round, const std::vector<Point3>& places) {
    Vector out(static_cast<Eigen::Index>(places.size()));
    for (std::size_t i = 0; i < places.size(); ++i) out(static_cast<Eigen::Index>(i)) = round.height(places[i]);
    return out;
}

std::optional<FaceFit> round_through(const std::vector<Point3>& places, const std::vector<Vec3>& normals,
                                     const std::vector<double>& weights, Point3 o, bool cone) {
    if (places.size() < (cone ? 8u : 6u)) return std::nullopt;
    Vec3 mean;
    double sum = 0.0;
    for (std::size_t i = 0; i < normals.size(); ++i) mean += normals[i] * weights[i], sum += weights[i];
    mean = cone && sum > 0.0 ? mean / sum : Vec3{};
    Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
    for (std::size_t i = 0; i < normals.size(); ++i)
        spread += weights[i] * eigen(normals[i] - mean) * eigen(normals[i] - mean).transpose();
    Vec3 axis = plain(Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvectors().col(0));
    Round best = round_about(axis, places, o, cone);
    double best_rms = heights(best, places).norm();
    for (int step = 0; step < 20; ++step) {
        const Frame frame(axis);
        constexpr double kTurn = 1e-6;
        const Vector h = heights(best, places);
        Matrix slopes(h.size(), 2);
        slopes.col(0) = (heights(round_about(unit(axis + frame.u * kTurn), places, o, cone), places) - h) / kTurn;
        slopes.col(1) = (heights(round_about(unit(axis + frame.v * kTurn), places, o, cone), places) - h) / kTurn;
        const Vector turn = solved(slopes, -h);
        if (!turn.allFinite() || turn.norm() > 0.5) break;
        const Vec3 next = unit(axis + frame.u * turn(0) + frame.v * turn(1));
        const Round tried = round_about(next, places, o, cone);
        const double rms = heights(tried, places).norm();
        if (!(rms < best_rms)) break;
        axis = next, best = tried, best_rms = rms;
    }
    FaceFit fit{cone ? "cone" : "cylinder", 0.0, [best](Point3 p) { return best.height(p); }};
    measure(fit, places);
    return fit;
}

std::optional<FaceFit> quadric_over(const std::vector<Point3>& places, Point3 o, Vec3 up) {
    if (places.size() < 7) return std::nullopt;
    const Frame frame(up);
    const auto rows = static_cast<Eigen::Index>(places.size());
    Matrix a(rows, 6);
    Vector b(rows);
    const auto row = [=](Point3 p) {
        const double x = dot(p - o, frame.u), y = dot(p - o, frame.v);
        return Eigen::Matrix<double, 1, 6>(1.0, x, y, x * x, x * y, y * y);
    };
    for (Eigen::Index i = 0; i < rows; ++i) {
        a.row(i) = row(places[static_cast<std::size_t>(i)]);
        b(i) = dot(places[static_cast<std::size_t>(i)] - o, frame.w);
    }
    const Vector x = solved(a, b);
    FaceFit fit{"quadric", 0.0, [=](Point3 p) { return dot(p - o, frame.w) - (row(p) * x)(0); }};
    measure(fit, places);
    return fit;
}

}  // namespace

FaceFit fit_face(const std::vector<Point3>& places, const std::vector<Vec3>& normals,
                 const std::vector<double>& weights, Point3 middle, Vec3 up) {
    EXPECTS(places.size() >= 3 && normals.size() == weights.size());
    FaceFit best = plane_through(places);
    double size = 0.0;
    for (const Point3& p : places) size = std::max(size, distance(p, middle));
    for (auto next : {sphere_through(places, middle), round_through(places, normals, weights, middle, false),
                      round_through(places, normals, weights, middle, true), quadric_over(places, middle, up)})
        // A form with more freedom has to be plainly better.
        if (next && next->off_mm < 0.2 * best.off_mm && best.off_mm > 1e-6 * size) best = std::move(*next);
    return best;
}

Point3 laid_on(const FaceFit& face, Point3 p, Vec3 up, double reach) {
    const auto h = [&](double t) { return face.height_mm(p + up * t); };
    double a = 0.0, ha = h(a);
    if (ha == 0.0) return p;
    double b = 1e-3 * reach, hb = h(b);
    for (int step = 0; step < 50; ++step) {
        if (hb == ha) break;
        const double c = b - hb * (b - a) / (hb - ha);
        if (!std::isfinite(c) || std::abs(c) > reach) return p;
        a = b, ha = hb;
        b = c, hb = h(b);
        if (std::abs(b - a) <= 1e-12 * reach) return p + up * b;
    }
    return std::abs(hb) <= 1e-9 * reach ? p + up * b : p;
}

}  // namespace geom::measure::internal
