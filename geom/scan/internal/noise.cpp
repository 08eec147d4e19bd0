// Ordinary least squares of a quadric over the 24 nearest, in the frame of their plane; 24 - 6 degrees of freedom make
// its spread unbiased. Medians do not see edges and outliers: one over the cloud, and one over each run of 64 fitted
// places along the curve of the index, a patch some twenty spacings wide, for scans whose noise differs from face to
// face (cloth against metal, near against far, two scanners joined).
//
// Points in two layers (a wall scanned twice, a sheet from both sides) look like noise of half their distance, but of
// another shape: the kurtosis of their residuals tells, in a wider patch, for nearer ones see a ball between the
// layers.
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
constexpr double kLeastSplit = 0.3;        ///< of a run's patches that must bear out its two layers
constexpr double kFlatAll = 2.74;  ///< kurtosis in the median of a cloud that lies in two layers; 2.81 to 2.83 of walls
constexpr double kMostGuessedPart = 0.5;  ///< of the runs, that seem to have layers without any to bear it out
constexpr double kPlainFrom = 2.65, kPlainTo = 3.0;  ///< kurtosis in the median of a run that has one layer
constexpr std::size_t kManyRuns = 30;                ///< from which that median is sure
constexpr double kSideErrors = 3.5;                  ///< standard errors between the sides that given normals tell

struct Spread {
    double mm = -1.0;  ///< negative when the place has too few neighbours
    double kurtosis = -1.0;
    Vec3 normal;
};

/// `rest`: the points' heights about the quadric, kPoints of them, when asked for.
template <int kPoints>
Spread spread_at(const Patch& patch, float* rest = nullptr) {
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
    const Eigen::Array<double, kPoints, 1> e = (b - a * x).array(), rest2 = e.square();
    if (rest != nullptr)
        for (int m = 0; m < kPoints; ++m) rest[m] = static_cast<float>(e(m));
    const double mean2 = rest2.mean();
    return {std::sqrt(rest2.sum() / (kPoints - kUnknowns)),
            mean2 > 0.0 ? rest2.square().mean() / (mean2 * mean2) : -1.0, plane.normal};
}

/// Of the values that are not negative; -1 when there are none. Reorders.
double quantile(std::vector<double>& v, double q) {
    std::erase_if(v, [](double s) { return !(s >= 0.0); });
    if (v.empty()) return -1.0;
    const auto at = v.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
    std::nth_element(v.begin(), at, v.end());
    return *at / kMedianOfChi;
}

/// What one run's patches tell.
struct Run {
    std::vector<double> spread, kurtosis, wide;
    std::vector<float> height;
    Vec3 normal;               ///< of the first patch, along which the heights of all are signed
    std::vector<double> side;  ///< how far apart the two sides are that given normals tell, in standard errors, signed
    std::vector<double> side_apart_mm, side_noise_mm;
};

class Runs {
public:
    Runs(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k, const std::vector<char>& kept,
         const std::vector<Vec3>& given, double least_apart_mm)
        : index_(index),
          neighbours_(neighbours),
          k_(k),
          kept_(kept),
          given_(given),
          least_apart_mm_(least_apart_mm),
          stride_(index.size() / kMostFits + 1) {}

    std::size_t places_a_run() const { return kRun * stride_; }
    std::size_t count() const { return (index_.size() + places_a_run() - 1) / places_a_run(); }

    Run look_at(std::size_t number) const {
        Run run;
        Patch patch;
        each_place(number, [&](std::size_t place) {
            patch.collect(index_, place, neighbours_.data() + place * static_cast<std::size_t>(k_), k_, kept_);
            patch.keep_nearest(kWide);
            float rest[kWide];
            const Spread wide = spread_at<kWide>(patch, rest);
            if (wide.mm >= 0.0) {
                if (run.height.empty()) run.normal = wide.normal;
                const float sign = dot(wide.normal, run.normal) < 0.0 ? -1.0f : 1.0f;
                for (const float e : rest) run.height.push_back(sign * e);
                if (!given_.empty()) tell_sides(patch, wide.normal, run);
            }
            run.wide.push_back(wide.mm);
            run.kurtosis.push_back(wide.kurtosis);
            patch.keep_nearest(kFit);
            run.spread.push_back(spread_at<kFit>(patch).mm);
        });
        return run;
    }

    /// Which layers all heights of a run tell of.
    LayerGuess guess_of(const Run& run) const {
        if (run.height.size() < kRun / 4 * kWide) return {};
        if (const LayerGuess guess = guess_by_side(run)) return guess;
        std::vector<double> wide = run.wide, shape = run.kurtosis;
        const double flat = quantile(shape, 0.5) * kMedianOfChi;
        if (flat > kPlainFrom && flat < kPlainTo) return {};
        return guess_layers(run.height, quantile(wide, 0.5), least_apart_mm_);
    }

    /// The guess borne out by the run's patches one by one, or none.
    LayerGuess borne_out(std::size_t number, LayerGuess guess) const {
        std::vector<double> apart, noise, share;
        std::size_t asked = 0;
        Patch patch;
        each_place(number, [&](std::size_t place) {
            patch.collect(index_, place, neighbours_.data() + place * static_cast<std::size_t>(k_), k_, kept_);
            if (patch.count < 24 || !(patch.most_r2 > 0.0f)) return;
            ++asked;
            float near[Patch::kMost];
            for (int m = 0; m < patch.count; ++m) near[m] = falloff(2.0f * patch.r2[m] / patch.most_r2);
            if (const auto pair = split_layers(patch, near, given_, guess, false)) {
                apart.push_back(pair->apart_mm), noise.push_back(pair->noise_mm);
                share.push_back(std::min(pair->share[0], pair->share[1]));
            }
        });
        if (static_cast<double>(apart.size()) < kLeastSplit * static_cast<double>(asked)) return {};
        guess.apart_mm = static_cast<float>(quantile(apart, 0.5) * kMedianOfChi);
        guess.noise_mm = static_cast<float>(quantile(noise, 0.5) * kMedianOfChi);
        guess.near_share = static_cast<float>(quantile(share, 0.5) * kMedianOfChi);
        return guess;
    }

private:
    template <class Body>
    void each_place(std::size_t number, Body body) const {
        const std::size_t end = std::min((number + 1) * places_a_run(), index_.size());
        for (std::size_t place = number * places_a_run(); place < end; place += stride_)
            if (kept_.empty() || kept_[place]) body(place);
    }
    void tell_sides(const Patch& patch, Vec3 normal, Run& run) const {
        double n[2] = {}, sum[2] = {}, sum2[2] = {};
        for (int m = 0; m < patch.count; ++m) {
            const double c = dot(given_[patch.place[m]], normal);
            if (std::abs(c) < 0.3) continue;
            const double h = dot(Vec3{patch.x[m], patch.y[m], patch.z[m]}, normal);
            const int f = c > 0.0 ? 1 : 0;
            n[f] += 1.0, sum[f] += h, sum2[f] += h * h;
        }
        if (n[0] < 3.0 || n[1] < 3.0) return run.side.push_back(0.0);
        const double apart = sum[1] / n[1] - sum[0] / n[0];
        const double within =
            (sum2[0] - sum[0] * sum[0] / n[0] + sum2[1] - sum[1] * sum[1] / n[1]) / (n[0] + n[1] - 2.0);
        run.side.push_back(apart / std::sqrt(std::max(within, 1e-6) * (1.0 / n[0] + 1.0 / n[1])));
        run.side_apart_mm.push_back(std::abs(apart));
        run.side_noise_mm.push_back(std::sqrt(std::max(within, 0.0)));
    }
    LayerGuess guess_by_side(const Run& run) const {
        if (run.side.size() < kRun / 4) return {};
        std::size_t up = 0, down = 0;
        for (const double s : run.side) up += s > kSideErrors ? 1 : 0, down += s < -kSideErrors ? 1 : 0;
        if (2 * std::max(up, down) < run.side.size()) return {};
        std::vector<double> apart = run.side_apart_mm, noise = run.side_noise_mm;
        LayerGuess guess{static_cast<float>(quantile(apart, 0.5)), static_cast<float>(quantile(noise, 0.5)), 0.5f, 1e3f,
                         up > down ? 1.0f : -1.0f};
        return guess.apart_mm > 0.3f ? guess : LayerGuess{};
    }

    const PointIndex& index_;
    const std::vector<std::uint32_t>& neighbours_;
    int k_;
    const std::vector<char>& kept_;
    const std::vector<Vec3>& given_;
    double least_apart_mm_;
    std::size_t stride_;
};

/// How many of the runs round one have layers of about the same distance, and how many runs those are. One run in
/// twenty of a plain wall seems to have layers by chance; not most of a run's surroundings.
std::pair<std::size_t, std::size_t> alike_around(const std::vector<LayerGuess>& guess, std::size_t run) {
    constexpr std::size_t kAround = 4;
    std::size_t asked = 0, alike = 0;
    for (std::size_t r = run > kAround ? run - kAround : 0; r <= run + kAround && r < guess.size(); ++r) {
        if (r == run) continue;
        ++asked;
        alike += guess[r] && std::abs(guess[r].apart_mm - guess[run].apart_mm) < 0.4f * guess[run].apart_mm ? 1 : 0;
    }
    return {alike, std::max<std::size_t>(asked, 1)};
}

}  // namespace

Noise estimate_noise(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                     const std::vector<char>& kept, const std::vector<Vec3>& given, double least_apart_mm) {
    const std::size_t n = index.size();
    const Runs runs(index, neighbours, k, kept, given, least_apart_mm);
    std::vector<Run> told(runs.count());
    std::vector<LayerGuess> guess(told.size()), layers(told.size());
    parallel_for(told.size(), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t r = begin; r < end; ++r) {
            told[r] = runs.look_at(r);
            guess[r] = runs.guess_of(told[r]);
            told[r].height = {};
        }
    });
    std::vector<LayerGuess> borne(told.size());
    parallel_for(told.size(), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t r = begin; r < end; ++r)
            if (guess[r] && 2 * alike_around(guess, r).first >= alike_around(guess, r).second)
                borne[r] = runs.borne_out(r, guess[r]);
    });
    // Corners look layered too, but only in a run or two.
    for (std::size_t r = 0; r < told.size(); ++r) {
        if (!borne[r] || 3 * alike_around(borne, r).first < alike_around(borne, r).second) continue;
        layers[r] = borne[r];
        for (double& s : told[r].spread) s = s >= 0.0 ? static_cast<double>(layers[r].noise_mm) : s;
    }
    Noise noise;
    std::vector<double> all;
    for (const Run& run : told) all.insert(all.end(), run.spread.begin(), run.spread.end());
    noise.median_mm = std::max(quantile(all, 0.5), 0.0);

    noise.at_mm.resize(n);
    noise.places_a_run = runs.places_a_run();
    std::vector<double> high;
    std::size_t layered = 0;
    for (std::size_t r = 0; r < told.size(); ++r) {
        Run& run = told[r];
        const bool is_told = run.spread.size() >= kRun / 4;
        const double here = quantile(run.spread, 0.5);
        if (is_told) high.push_back(here * kMedianOfChi);
        const double flat = quantile(run.kurtosis, 0.5) * kMedianOfChi;
        if (is_told && !layers[r] && here > kLeastLayered_mm && flat > 0.0 && flat < kLayered) ++layered;
        std::fill(noise.at_mm.begin() + static_cast<std::ptrdiff_t>(r * noise.places_a_run),
                  noise.at_mm.begin() + static_cast<std::ptrdiff_t>(std::min((r + 1) * noise.places_a_run, n)),
                  static_cast<float>(is_told ? here : noise.median_mm));
    }
    noise.high_mm = std::max(quantile(high, 0.9), noise.median_mm);
    std::vector<double> shape;
    for (std::size_t r = 0; r < told.size(); ++r)
        if (!layers[r]) shape.insert(shape.end(), told[r].kurtosis.begin(), told[r].kurtosis.end());
    const double usual_shape = quantile(shape, 0.5) * kMedianOfChi;
    noise.is_layered =
        static_cast<double>(layered) > kLeastLayeredPart * static_cast<double>(high.size()) ||
        (shape.size() >= kManyRuns * kRun && noise.median_mm > kLeastLayered_mm && usual_shape < kFlatAll);
    std::vector<double> step;
    std::size_t borne_out = 0;
    for (std::size_t r = 0; r < guess.size(); ++r) {
        borne_out += layers[r] ? 1 : 0;
        if (guess[r]) step.push_back(static_cast<double>((layers[r] ? layers[r] : guess[r]).apart_mm));
    }
    if (static_cast<double>(borne_out) > kLeastLayeredPart * static_cast<double>(told.size()) ||
        static_cast<double>(step.size()) > kMostGuessedPart * static_cast<double>(told.size())) {
        noise.doubtful_part = static_cast<double>(step.size() - borne_out) / static_cast<double>(told.size());
        noise.step_mm = quantile(step, 0.5) * kMedianOfChi;
    }
    if (std::any_of(layers.begin(), layers.end(), [](const LayerGuess& l) { return static_cast<bool>(l); }))
        noise.layers = std::move(layers);
    return noise;
}

}  // namespace geom::scan::internal
