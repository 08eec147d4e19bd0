// Clamped: Ritz with products of polynomials (1 - x^2)^2 P(x), P the even Legendre polynomials, which keep the edges
// clamped and converge to all digits in seven a side; the first mode is even both ways.
#include "geom/fixings/plate_modes.h"

#include "geom/core/checks.h"

#include <Eigen/Dense>

#include <cmath>
#include <numbers>

namespace geom::fixings {
namespace {

constexpr int kTerms = 7;
constexpr int kPoints = 2000;  // of Simpson's rule over the beam

/// The first even functions on [-1, 1], clamped at both ends.
struct Beam {
    Eigen::Matrix<double, kTerms, kTerms> f0, f1, f2;  ///< integrals of products of values, slopes and curvatures

    Beam() {
        f0.setZero(), f1.setZero(), f2.setZero();
        for (int p = 0; p <= kPoints; ++p) {
            const double x = -1.0 + 2.0 * p / kPoints;
            const double weight = 2.0 / kPoints / 3.0 * (p == 0 || p == kPoints ? 1.0 : p % 2 == 1 ? 4.0 : 2.0);
            Eigen::Matrix<double, kTerms, 1> v, d, dd;
            // P, P', P'' by recurrence.
            constexpr int kDegrees = 2 * kTerms;
            double q[kDegrees] = {1.0, x}, q1[kDegrees] = {0.0, 1.0}, q2[kDegrees] = {0.0, 0.0};
            for (int n = 2; n < kDegrees; ++n) {
                q[n] = ((2 * n - 1) * x * q[n - 1] - (n - 1) * q[n - 2]) / n;
                q1[n] = q1[n - 2] + (2 * n - 1) * q[n - 1];
                q2[n] = q2[n - 2] + (2 * n - 1) * q1[n - 1];
            }
            const double w = (1.0 - x * x) * (1.0 - x * x), w1 = -4.0 * x * (1.0 - x * x), w2 = 12.0 * x * x - 4.0;
            for (int i = 0; i < kTerms; ++i) {
                v[i] = w * q[2 * i];
                d[i] = w1 * q[2 * i] + w * q1[2 * i];
                dd[i] = w2 * q[2 * i] + 2.0 * w1 * q1[2 * i] + w * q2[2 * i];
            }
            f0 += weight * v * v.transpose();
            f1 += weight * d * d.transpose();
            f2 += weight * dd * dd.transpose();
        }
    }
};

}  // namespace

double lambda_supported(double a_over_b) {
    EXPECTS(a_over_b > 0.0);
    return std::numbers::pi * std::numbers::pi * (1.0 + a_over_b * a_over_b);
}

double lambda_clamped(double a_over_b) {
    EXPECTS(a_over_b > 0.0);
    if (a_over_b < 1.0) return lambda_clamped(1.0 / a_over_b) * a_over_b * a_over_b;
    // A clamped strip of width b: 22.373 (a/b)^2, which longer plates come down to.
    if (a_over_b > 10.0) return 22.3733 * a_over_b * a_over_b;
    static const Beam beam;
    constexpr int n = kTerms * kTerms;
    Eigen::MatrixXd stiff(n, n), mass(n, n);
    const double r = a_over_b;  // x = X a / 2, y = Y b / 2
    for (int i = 0; i < kTerms; ++i)
        for (int j = 0; j < kTerms; ++j)
            for (int k = 0; k < kTerms; ++k)
                for (int l = 0; l < kTerms; ++l) {
                    // The square of the Laplacian's integral: with clamped edges nu falls out.
                    stiff(i * kTerms + j, k * kTerms + l) = beam.f2(i, k) * beam.f0(j, l) +
                                                            2.0 * r * r * beam.f1(i, k) * beam.f1(j, l) +
                                                            r * r * r * r * beam.f0(i, k) * beam.f2(j, l);
                    mass(i * kTerms + j, k * kTerms + l) = beam.f0(i, k) * beam.f0(j, l);
                }
    const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::MatrixXd> solver(stiff, mass, Eigen::EigenvaluesOnly);
    return 4.0 * std::sqrt(solver.eigenvalues()[0]);  // (2/a)^2 of the derivatives against a^2
}

FirstResonance first_resonance(Length longer, Length shorter, Length thickness, const PlateMaterial& material) {
    EXPECTS(longer.mm() > 0.0 && shorter.mm() > 0.0 && thickness.mm() > 0.0 && material.density_kg_m3 > 0.0);
    const double a = std::max(longer.mm(), shorter.mm()) * 1e-3, b = std::min(longer.mm(), shorter.mm()) * 1e-3,
                 h = thickness.mm() * 1e-3;
    const double d = material.e_GPa * 1e9 * h * h * h / (12.0 * (1.0 - material.nu * material.nu));
    const double unit_Hz = std::sqrt(d / (material.density_kg_m3 * h)) / (a * a) / (2.0 * std::numbers::pi);
    return {lambda_supported(a / b) * unit_Hz, lambda_clamped(a / b) * unit_Hz};
}

}  // namespace geom::fixings
