// What is told apart, and what is not: two distributions of one spread are taken for two from 2.2 spreads apart, where
// the best pair for a single normal distribution lies closer than that in all but rare runs. At an edge or a step the
// heights form two groups too, but side by side: a point's neighbours are then of its own group. Of layers one over the
// other they are of both.
#include "geom/scan/internal/layers.h"

namespace geom::scan::internal {
namespace {

constexpr int kBins = 96;
constexpr double kRange = 6.0;       // spreads that the bins reach to either side
constexpr double kLeastApart = 2.2;  // spreads between layers that are two
constexpr double kLeastApart_mm = 0.4;
constexpr double kLeastGain = 0.012;  // of log-likelihood a point, against one normal distribution
constexpr double kLeastShare = 0.02;
constexpr double kSideOdds = 2.9;  // logarithm of the odds that a given normal tells the side: 18 to 1
constexpr int kRounds = 8, kEmRounds = 80;
constexpr double kLeastNoise_mm = 0.03;
constexpr double kRough = 1.4;   // more scatter within the layers than the guess: they are not what is there
constexpr double kSteady = 8.0;  // points that the run's distance counts for

struct Mixture {
    double share = 0.5, low = 0.0, high = 0.0, sigma = 1.0, gain = -1e9;
};

/// Log-likelihood a point of binned heights, and the best mixture from a start.
Mixture fitted(const std::array<double, kBins>& part, double width, double mean, Mixture m) {
    for (int round = 0; round < kEmRounds; ++round) {
        double sum[2] = {}, first[2] = {}, second[2] = {}, log_likelihood = 0.0;
        for (int b = 0; b < kBins; ++b) {
            const double count = part[static_cast<std::size_t>(b)];
            if (!(count > 0.0)) continue;
            const double x = (b + 0.5) * width - kRange;
            const double el = (x - m.low) / m.sigma, eh = (x - m.high) / m.sigma;
            const double pl = (1.0 - m.share) * std::exp(-0.5 * el * el), ph = m.share * std::exp(-0.5 * eh * eh);
            const double all = pl + ph + 1e-12, q = ph / all;
            if (round + 1 == kEmRounds) log_likelihood += count * std::log(all / m.sigma);
            sum[0] += count * (1.0 - q), sum[1] += count * q;
            first[0] += count * (1.0 - q) * x, first[1] += count * q * x;
            second[0] += count * (1.0 - q) * x * x, second[1] += count * q * x * x;
        }
        m.gain = round + 1 == kEmRounds ? log_likelihood : -1e9;
        if (!(sum[0] > 1e-3) || !(sum[1] > 1e-3)) break;
        m.low = first[0] / sum[0], m.high = first[1] / sum[1], m.share = sum[1];
        const double within = second[0] - sum[0] * m.low * m.low + second[1] - sum[1] * m.high * m.high;
        m.sigma = std::sqrt(std::max(within, width * width));
    }
    double second = 0.0;
    for (int b = 0; b < kBins; ++b) {
        const double x = (b + 0.5) * width - kRange - mean;
        second += part[static_cast<std::size_t>(b)] * x * x;
    }
    m.gain -= -0.5 - 0.5 * std::log(second);
    return m;
}

/// Whether the points of the thinner layer lie among those of the other, seen from above: as far out as the ball of the
/// patch reaches in both.
bool are_mixed(const Patch& patch, const char* label, Vec3 normal, double apart_mm) {
    const Vec3 a = any_perpendicular(normal), b = cross(normal, a);
    const double reach2 = static_cast<double>(patch.most_r2) - apart_mm * apart_mm;
    float u[Patch::kMost], v[Patch::kMost];
    char of_layer[Patch::kMost];
    int count = 0, ones = 0;
    for (int m = 0; m < patch.count; ++m) {
        const Vec3 d{patch.x[m], patch.y[m], patch.z[m]};
        const double du = dot(d, a), dv = dot(d, b);
        if (du * du + dv * dv > reach2) continue;
        u[count] = static_cast<float>(du), v[count] = static_cast<float>(dv);
        ones += of_layer[count++] = label[m];
    }
    const char thin = 2 * ones <= count ? 1 : 0;
    const int few = thin == 1 ? ones : count - ones;
    if (few == 0) return true;
    constexpr int kAsked = 6;
    int same = 0;
    for (int m = 0; m < count; ++m) {
        if (of_layer[m] != thin) continue;
        std::array<float, kAsked> best;
        std::array<char, kAsked> near{};
        best.fill(1e30f);
        for (int o = 0; o < count; ++o) {
            if (o == m) continue;
            const float du = u[o] - u[m], dv = v[o] - v[m], d2 = du * du + dv * dv;
            if (d2 >= best[kAsked - 1]) continue;
            std::size_t at = kAsked - 1;
            for (; at > 0 && best[at - 1] > d2; --at) best[at] = best[at - 1], near[at] = near[at - 1];
            best[at] = d2, near[at] = of_layer[o];
        }
        for (const char l : near) same += l == thin ? 1 : 0;
    }
    const double chance = static_cast<double>(few) / count;
    return same < (chance + 0.35 * (1.0 - chance)) * kAsked * few;
}

}  // namespace

LayerGuess guess_layers(std::span<const float> height, double sigma, double least_mm) {
    if (height.size() < 200 || !(sigma > 0.0)) return {};
    std::array<double, kBins> part{};
    constexpr double kWidth = 2.0 * kRange / kBins;
    double total = 0.0, mean = 0.0;
    for (const float h : height) {
        const double x = static_cast<double>(h) / sigma + kRange;
        if (!(x >= 0.0) || x >= 2.0 * kRange) continue;
        part[static_cast<std::size_t>(x / kWidth)] += 1.0;
        total += 1.0;
    }
    if (total < 200.0) return {};
    for (int b = 0; b < kBins; ++b) {
        double& p = part[static_cast<std::size_t>(b)];
        p /= total;
        mean += p * ((b + 0.5) * kWidth - kRange);
    }
    Mixture best;
    for (const Mixture& start :
         {Mixture{0.5, -0.9, 0.9, 0.45}, Mixture{0.12, -0.3, 2.2, 0.6}, Mixture{0.88, -2.2, 0.3, 0.6}})
        if (const Mixture m = fitted(part, kWidth, mean, start); m.gain > best.gain) best = m;
    const double apart = best.high - best.low, thin = std::min(best.share, 1.0 - best.share);
    if (best.gain < kLeastGain || apart < kLeastApart * best.sigma || thin < kLeastShare ||
        apart * sigma < std::max(kLeastApart_mm, least_mm))
        return {};
    return {static_cast<float>(apart * sigma), static_cast<float>(best.sigma * sigma), static_cast<float>(thin),
            static_cast<float>(best.gain), 0.0f};
}

std::optional<LayerPair> split_layers(const Patch& patch, const float* near, const std::vector<Vec3>& given,
                                      const LayerGuess& guess, bool fix) {
    if (patch.count < 24) return std::nullopt;
    const PlaneFit all = fit_plane(patch, near, {0, 0, 1});
    if (!all.good) return std::nullopt;
    alignas(32) float e[Patch::kMost];
    heights(patch, all, e);

    const bool by_side = guess.side != 0.0f && !given.empty();
    float odds[Patch::kMost] = {};
    const auto take_sides = [&](Vec3 normal) {
        for (int m = 0; m < patch.count; ++m) {
            const double c = dot(given[patch.place[m]], normal) * static_cast<double>(guess.side);
            odds[m] = static_cast<float>(c > 0.3 ? kSideOdds : c < -0.3 ? -kSideOdds : 0.0);
        }
    };
    if (by_side) take_sides(all.normal);

    const auto apart0 = static_cast<double>(guess.apart_mm);
    struct State {
        Vec3 normal;
        Vec3 mean[2];
        double share = 0.5, low = 0.0, high = 0.0, sigma = 1.0, fit = -1e30, spread2[2] = {};
        float q[Patch::kMost];
        bool good = false;
    };
    const auto run = [&](double share) {
        State s;
        s.normal = all.normal, s.share = share, s.sigma = static_cast<double>(guess.noise_mm);
        s.low = -share * apart0, s.high = (1.0 - share) * apart0;
        float h[Patch::kMost];
        std::copy(e, e + patch.count, h);
        float base = static_cast<float>(dot(all.normal, all.mean));
        for (int m = 0; m < patch.count; ++m) h[m] += base;
        s.low += static_cast<double>(base), s.high += static_cast<double>(base);
        for (int round = 0; round < kRounds; ++round) {
            // Wide at first: the plane through both layers is tilted by where their points happen to lie.
            const double sigma_now = std::max(s.sigma, round < kRounds - 3 ? 0.3 * apart0 * std::pow(0.6, round) : 0.0);
            const double inv = 0.5 / (sigma_now * sigma_now);
            const double prior = std::log(std::max(s.share, 1e-3) / std::max(1.0 - s.share, 1e-3));
            float sum[2] = {}, sx[2] = {}, sy[2] = {}, sz[2] = {}, w[2][Patch::kMost];
            double likely = 0.0, weight = 0.0, squares = 0.0;
            for (int m = 0; m < patch.count; ++m) {
                const double dl = static_cast<double>(h[m]) - s.low, dh = static_cast<double>(h[m]) - s.high;
                const double log_odds =
                    prior + static_cast<double>(odds[m]) * (round == 0 ? 4.0 : 1.0) + (dl * dl - dh * dh) * inv;
                const double q = 1.0 / (1.0 + std::exp(-std::clamp(log_odds, -40.0, 40.0)));
                const double nearest = std::min(dl * dl, dh * dh);
                // Strays count for neither.
                const double believed = nearest > 12.0 * sigma_now * sigma_now ? 0.0 : 1.0;
                const double wm = static_cast<double>(near[m]);
                likely += wm * (-std::min(nearest * inv, 6.0) +
                                std::log(std::max(s.share * q + (1.0 - s.share) * (1.0 - q), 1e-3)));
                s.q[m] = static_cast<float>(q);
                w[1][m] = static_cast<float>(wm * q * believed),
                w[0][m] = static_cast<float>(wm * (1.0 - q) * believed);
                weight += wm * believed, squares += wm * wm * believed;
                for (int f = 0; f < 2; ++f)
                    sum[f] += w[f][m], sx[f] += w[f][m] * patch.x[m], sy[f] += w[f][m] * patch.y[m],
                        sz[f] += w[f][m] * patch.z[m];
            }
            s.fit = likely;
            if (!(sum[0] > 0.01f * static_cast<float>(weight)) || !(sum[1] > 0.01f * static_cast<float>(weight)))
                return s;
            float xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0;
            for (int f = 0; f < 2; ++f) {
                const float mx = sx[f] / sum[f], my = sy[f] / sum[f], mz = sz[f] / sum[f];
                float ax = 0, bx = 0, cx = 0;
                for (int m = 0; m < patch.count; ++m) {
                    const float dx = patch.x[m] - mx, dy = patch.y[m] - my, dz = patch.z[m] - mz, wm = w[f][m];
                    ax += wm * dx * dx, bx += wm * dy * dy, cx += wm * dz * dz;
                    xy += wm * dx * dy, xz += wm * dx * dz, yz += wm * dy * dz;
                }
                xx += ax, yy += bx, zz += cx;
                s.mean[f] = {static_cast<double>(mx), static_cast<double>(my), static_cast<double>(mz)};
                s.spread2[f] = static_cast<double>((ax + bx + cx) / sum[f]);
            }
            Vec3 normal = least_eigenvector({static_cast<double>(xx), static_cast<double>(xy), static_cast<double>(xz),
                                             static_cast<double>(yy), static_cast<double>(yz), static_cast<double>(zz)},
                                            s.normal);
            if (dot(normal, s.normal) < 0.0) normal = -normal;
            s.normal = normal;
            const float nx = static_cast<float>(normal.x), ny = static_cast<float>(normal.y),
                        nz = static_cast<float>(normal.z);
            for (int m = 0; m < patch.count; ++m) h[m] = nx * patch.x[m] + ny * patch.y[m] + nz * patch.z[m];
            s.low = dot(normal, s.mean[0]), s.high = dot(normal, s.mean[1]);
            s.share = static_cast<double>(sum[1]) / static_cast<double>(sum[0] + sum[1]);
            if (!fix) {
                double within = 0.0;
                for (int m = 0; m < patch.count; ++m) {
                    const double dl = static_cast<double>(h[m]) - s.low, dh = static_cast<double>(h[m]) - s.high;
                    within += static_cast<double>(w[0][m]) * dl * dl + static_cast<double>(w[1][m]) * dh * dh;
                }
                const double points = weight * weight / std::max(squares, 1e-9);
                const double sigma = std::sqrt(within / weight * points / std::max(points - 4.0, 4.0));
                s.sigma = std::clamp(sigma, std::max(kLeastNoise_mm, 0.1 * static_cast<double>(guess.noise_mm)),
                                     1.3 * static_cast<double>(guess.noise_mm));
            }
            s.good = true;
        }
        return s;
    };
    const auto thin0 = static_cast<double>(guess.near_share);
    State best = run(thin0);
    if (!by_side && thin0 < 0.4) {
        if (State other = run(1.0 - thin0); other.good && (!best.good || other.fit > best.fit)) best = other;
    }
    if (!best.good) return std::nullopt;

    LayerPair out;
    const double apart = best.high - best.low;
    if (!(apart > 0.5 * apart0) || apart > 1.7 * apart0) return std::nullopt;
    if (!by_side && apart < 0.8 * kLeastApart * best.sigma) return std::nullopt;
    char label[Patch::kMost];
    int ones = 0;
    double scatter2 = 0.0, weight = 0.0;
    for (int m = 0; m < patch.count; ++m) {
        label[m] = best.q[m] > 0.5f ? 1 : 0;
        ones += label[m];
        const double h =
            dot(best.normal, Vec3{patch.x[m], patch.y[m], patch.z[m]}) - (label[m] == 1 ? best.high : best.low);
        scatter2 += static_cast<double>(near[m]) * std::min(h * h, 25.0 * best.sigma * best.sigma);
        weight += static_cast<double>(near[m]);
    }
    if (ones < 2 || patch.count - ones < 2) return std::nullopt;
    out.noise_mm = std::sqrt(scatter2 / weight);
    if (out.noise_mm > kRough * std::max(static_cast<double>(guess.noise_mm), kLeastNoise_mm)) return std::nullopt;
    if (!by_side && !are_mixed(patch, label, best.normal, apart)) return std::nullopt;
    if (!fix) out.noise_mm = best.sigma;

    // The distance of few points from many is told better by the whole run.
    double low = best.low, high = best.high;
    if (fix) {
        const double few = std::min(ones, patch.count - ones);
        const double steady = (few * apart + kSteady * apart0) / (few + kSteady),
                     middle = best.share * high + (1.0 - best.share) * low;
        high = middle + (1.0 - best.share) * steady, low = middle - best.share * steady;
    }
    out.apart_mm = high - low;
    const int own = label[0];
    for (int f = 0; f < 2; ++f) {
        const double to = (f == 1 ? high : low) - dot(best.normal, best.mean[f]);
        out.plane[f == own ? 0 : 1] = {best.mean[f] + best.normal * to, best.normal, best.spread2[f], true};
        out.share[f == own ? 0 : 1] = f == 1 ? best.share : 1.0 - best.share;
    }
    return out;
}

}  // namespace geom::scan::internal
