// Clamped cubic B-splines on [0, 1] with single inner knots: bases, curves, patches.
#pragma once

#include "geom/core/vec.h"

#include <Eigen/Dense>

#include <array>
#include <vector>

namespace geom::skin {

class CubicBasis {
public:
    /// Breaks rise from 0 to 1.
    explicit CubicBasis(std::vector<double> breaks);
    CubicBasis() : CubicBasis({0.0, 1.0}) {}

    struct Values {
        int first;                   ///< index of the first of the four that are not zero
        std::array<double, 4> w, d;  ///< values and derivatives
    };
    Values at(double t) const;
    int size() const { return static_cast<int>(breaks_.size()) + 2; }
    int spans() const { return static_cast<int>(breaks_.size()) - 1; }
    int span_of(double t) const;
    const std::vector<double>& breaks() const { return breaks_; }
    /// Where control point i acts most.
    double greville(int i) const;
    /// `per_span` even parameters a span, and 1.
    std::vector<double> samples(int per_span) const;
    /// One row a parameter.
    Eigen::MatrixXd rows(const std::vector<double>& t) const;

private:
    std::vector<double> breaks_, knots_;
};

std::vector<double> reversed_breaks(std::vector<double> breaks);

struct SplineCurve {
    CubicBasis basis;
    Eigen::MatrixXd points;  ///< size x 3

    Vec3 control(int i) const { return {points(i, 0), points(i, 1), points(i, 2)}; }
    void set_control(int i, Vec3 p) { points(i, 0) = p.x, points(i, 1) = p.y, points(i, 2) = p.z; }
    Point3 at(double t) const;
    Vec3 derivative(double t) const;
};

struct SplinePatch {
    CubicBasis u, v;
    std::array<Eigen::MatrixXd, 3> points;  ///< u size x v size, one a coordinate

    Vec3 control(int i, int j) const { return {points[0](i, j), points[1](i, j), points[2](i, j)}; }
    void set_control(int i, int j, Vec3 p) { points[0](i, j) = p.x, points[1](i, j) = p.y, points[2](i, j) = p.z; }
    std::size_t control_points() const { return static_cast<std::size_t>(points[0].size()); }

    struct Jet {
        Point3 p;
        Vec3 du, dv;
    };
    Jet at(const CubicBasis::Values& bu, const CubicBasis::Values& bv) const;
    Jet at(double tu, double tv) const { return at(u.at(tu), v.at(tv)); }
};

/// Volume between the patch and `origin`: the integral of (S - origin) . (Su x Sv) / 3, exact but for rounding by five
/// Gauss points a span and way (the integrand has degree 8 in each parameter).
double cone_volume_mm3(const SplinePatch& patch, Point3 origin);

}  // namespace geom::skin
