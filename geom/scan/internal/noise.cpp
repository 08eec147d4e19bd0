// Ordinary least squares of a quadric over the 24 nearest, in the frame of their plane; 24 - 6 degrees of freedom make
// its spread unbiased. Medians do not see edges and outliers: one over the cloud, and one over each run of 64 fitted
// places along the curve of the index, a patch some twenty spacings wide, for scans whose noise differs from face to
// face (cloth against metal, near against far, two scanners joined).
//
// Points in two layers (a wall scanned twice, a sheet from both sides) look like noise of half their distance, but of
// another shape: the kurtosis of their residuals tells, in a wider patch, for nearer ones see a ball between the layers.
#include "geom/scan/internal/noise.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/patch.h"

#include <Eigen/Dense>

namespace geom::scan::internal {
namespace {

constexpr std::size_t kMostFits = 40000, kRun = 64;
constexpr int kFit = 24, kWide = 56, kUnknowns = 6;
/// The median of chi with 18 degrees of freedom lies this much under its root mean square.
constexpr double kMedianOfChi = 0.981;
/// Kurtosis of the residuals, in the median of a run, below which they lie in two layers. Set on scenes of plain and
/// doubled walls, where one run in twenty of a plain wall lies below it. Of the kWide nearest, which see both layers
/// where kFit see a ball between them.
constexpr double kLayered = 2.3;
constexpr double kLeastLayered_mm = 0.2;   ///< less spread than this is not looked at
constexpr double kLeastLayeredPart = 0.1;  ///< of the runs, from which the cloud counts as layered

struct Spread {
    double mm = -1.0;  ///< negative when the place has too few neighbours
    double kurtosis = -1.0;
};

template <int kPoints>
Spread spread_at(const Patch& patch) {
    if (patch.count < kPoints || !(patch.most_r2 > 0.0f)) return {};
    float w[Patch::kMost];
    std::fill(w, w + patch.count, 1.0f);
    const PlaneFit plane = fit_plane(patch, w, {0, 0, 1});
    const Vec3 u = any_perpendicular(plane.normal), v = cross(plane.normal, u);
    const double scale = 1.0 / std::sqrt(static_cast<double>(patch.most_r2));
    Eigen::Matrix<double, kPoints, kUnknowns> a;
    Eigen::Matrix<double, kPoints, 1> b;
    for (int m = 0; m < kPoints; ++m) {
        const Vec3 d = Vec3{patch.x[m], patch.y[m], patch.z[m]} - plane.mean;
        const double s = dot(d, u) * scale, t = dot(d, v) * scale;
        a.row(m) << 1.0, s, t, s * s, s * t, t * t;
        b(m) = dot(d, plane.normal);
    }
    using Square = Eigen::Matrix<double, kUnknowns, kUnknowns>;
    const Square normal_matrix = a.transpose() * a + 1e-9 * Square::Identity();
    const Eigen::Matrix<double, kUnknowns, 1> x = normal_matrix.ldlt().solve(a.transpose() * b);
    const Eigen::Array<double, kPoints, 1> rest2 = (b - a * x).array().square();
    const double mean2 = rest2.mean();
    return {std::sqrt(rest2.sum() / (kPoints - kUnknowns)),
            mean2 > 0.0 ? rest2.square().mean() / (mean2 * mean2) : -1.0};
}

/// Of the values that are not negative; -1 when there are none. Reorders.
double quantile(std::vector<double>& v, double q) {
    std::erase_if(v, [](double s) { return !(s >= 0.0); });
    if (v.empty()) return -1.0;
    const auto at = v.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
    std::nth_element(v.begin(), at, v.end());
    return *at / kMedianOfChi;
}

}  // namespace

Noise estimate_noise(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                     const std::vector<char>& kept) {
    const std::size_t n = index.size();
    const std::size_t stride = n / kMostFits + 1;
    std::vector<double> spread((n + stride - 1) / stride, -1.0), kurtosis(spread);
    parallel_for(spread.size(), 256, [&](std::size_t begin, std::size_t end) {
        Patch patch;
        for (std::size_t i = begin; i < end; ++i) {
            const std::size_t place = i * stride;
            if (!kept.empty() && !kept[place]) continue;
            patch.collect(index, place, neighbours.data() + place * static_cast<std::size_t>(k), k, kept);
            patch.keep_nearest(kWide);
            kurtosis[i] = spread_at<kWide>(patch).kurtosis;
            patch.keep_nearest(kFit);
            spread[i] = spread_at<kFit>(patch).mm;
        }
    });
    Noise noise;
    std::vector<double> all = spread;
    noise.median_mm = std::max(quantile(all, 0.5), 0.0);

    noise.at_mm.resize(n);
    std::vector<double> runs;
    std::size_t layered = 0;
    for (std::size_t begin = 0; begin < spread.size(); begin += kRun) {
        const std::size_t end = std::min(begin + kRun, spread.size());
        std::vector<double> run(spread.begin() + static_cast<std::ptrdiff_t>(begin),
                                spread.begin() + static_cast<std::ptrdiff_t>(end));
        const double here = quantile(run, 0.5);
        if (run.size() >= kRun / 4) runs.push_back(here * kMedianOfChi);
        std::vector<double> shape(kurtosis.begin() + static_cast<std::ptrdiff_t>(begin),
                                  kurtosis.begin() + static_cast<std::ptrdiff_t>(end));
        const double flat = quantile(shape, 0.5) * kMedianOfChi;
        if (run.size() >= kRun / 4 && here > kLeastLayered_mm && flat > 0.0 && flat < kLayered) ++layered;
        const double told = run.size() >= kRun / 4 ? here : noise.median_mm;
        std::fill(noise.at_mm.begin() + static_cast<std::ptrdiff_t>(begin * stride),
                  noise.at_mm.begin() + static_cast<std::ptrdiff_t>(std::min(end * stride, n)),
                  static_cast<float>(told));
    }
    noise.high_mm = std::max(quantile(runs, 0.9), noise.median_mm);
    noise.is_layered = static_cast<double>(layered) > kLeastLayeredPart * static_cast<double>(runs.size());
    return noise;
}

}  // namespace geom::scan::internal
