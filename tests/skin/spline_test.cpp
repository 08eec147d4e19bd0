#include "geom/skin/internal/spline.h"

#include <catch2/catch.hpp>

#include <cmath>

using geom::Vec3;
using namespace geom::skin;

TEST_CASE("basis values sum to one and derivatives match differences", "[skin][spline]") {
    const CubicBasis basis({0.0, 0.1, 0.15, 0.5, 0.9, 1.0});
    REQUIRE(basis.size() == 8);
    for (const double t : {0.0, 0.03, 0.1, 0.149, 0.33, 0.77, 0.999, 1.0}) {
        const auto b = basis.at(t);
        double sum = 0.0, slope = 0.0;
        for (std::size_t q = 0; q < 4; ++q) sum += b.w[q], slope += b.d[q];
        CHECK(sum == Approx(1.0).margin(1e-14));
        CHECK(slope == Approx(0.0).margin(1e-11));
    }
    const double t = 0.3, e = 1e-6;
    const auto b = basis.at(t), lo = basis.at(t - e), hi = basis.at(t + e);
    REQUIRE(lo.first == hi.first);
    for (std::size_t q = 0; q < 4; ++q)
        CHECK(b.d[q] == Approx((hi.w[q] - lo.w[q]) / (2 * e)).epsilon(1e-6).margin(1e-6));
}

TEST_CASE("a spline with control points at its Greville abscissae is the identity", "[skin][spline]") {
    // Linear precision of B-splines (Schoenberg; closed form).
    const CubicBasis basis({0.0, 0.2, 0.21, 0.6, 1.0});
    SplineCurve line{basis, Eigen::MatrixXd::Zero(basis.size(), 3)};
    for (int i = 0; i < basis.size(); ++i) line.set_control(i, {basis.greville(i), 0, 0});
    for (double t = 0.0; t <= 1.0; t += 0.07) {
        CHECK(line.at(t).x == Approx(t).margin(1e-13));
        CHECK(line.derivative(t).x == Approx(1.0).epsilon(1e-12));
    }
}

TEST_CASE("the volume under a patch is exact", "[skin][spline][oracle]") {
    // S = (u, v, u^2 v / 2): the cone volume with apex at the origin is the integral of (S . (Su x Sv)) / 3
    //   = (1/3) * integral of (z - u z_u - v z_v) = (1/3) * (-2) * integral of u^2 v / 2 = -1/18.
    // u^2 v / 2 is held exactly by bicubic splines; its control points are products of blossoms.
    SplinePatch patch;
    patch.u = CubicBasis({0.0, 0.4, 1.0});
    patch.v = CubicBasis({0.0, 0.3, 0.5, 1.0});
    for (auto& m : patch.points) m = Eigen::MatrixXd::Zero(patch.u.size(), patch.v.size());
    const auto knots = [](const CubicBasis& b) {
        std::vector<double> k(3, 0.0);
        k.insert(k.end(), b.breaks().begin(), b.breaks().end());
        k.insert(k.end(), 3, 1.0);
        return k;
    };
    const auto ku = knots(patch.u);
    for (int i = 0; i < patch.u.size(); ++i)
        for (int j = 0; j < patch.v.size(); ++j) {
            const auto s = static_cast<std::size_t>(i);
            const double a = ku[s + 1], b = ku[s + 2], c = ku[s + 3];
            patch.set_control(
                i, j,
                {patch.u.greville(i), patch.v.greville(j), (a * b + b * c + c * a) / 3.0 * patch.v.greville(j) / 2.0});
        }
    CHECK(patch.at(0.7, 0.6).p.z == Approx(0.7 * 0.7 * 0.6 / 2).epsilon(1e-13));
    CHECK(cone_volume_mm3(patch, {0, 0, 0}) == Approx(-1.0 / 18.0).epsilon(1e-12));
}
