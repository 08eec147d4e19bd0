// Noise: ordinary least squares of a quadric over the 24 nearest, in the frame of their plane; 24 - 6 degrees of
// freedom make its spread unbiased. The median over places does not see edges and outliers.
//
// Levelling (robust moving least squares): with R the distance to the farthest of the K nearest, a plane is fitted with
// weights exp(-2 r^2/R^2), then three times more with each neighbour also weighted by exp(-e^2/(2 (c s)^2)), e its
// distance from the last plane, s the noise, c = 4 and then 2.5. The point goes to its foot on the last plane; one that
// would move more than 4 s does not belong to the surface and is dropped.
//
// All sums are taken about the point itself, so nothing is lost far from the frame's origin. The exponentials are the
// compact (1 - x/16)^16, which no library has a say in, and which the compiler can take four at a time.
#include "geom/scan/internal/level.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/eigen3.h"

#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::scan::internal {
namespace {

constexpr int kMostNeighbours = 64;

/// exp(-x) for x >= 0, to 0.02; zero from 16 on.
inline float falloff(float x) {
    float t = std::max(1.0f - x * (1.0f / 16.0f), 0.0f);
    t *= t, t *= t, t *= t;
    return t * t;
}

/// Neighbours of one place, relative to it.
struct Patch {
    alignas(32) float x[kMostNeighbours], y[kMostNeighbours], z[kMostNeighbours], r2[kMostNeighbours];
    int count = 0;
    float most_r2 = 0.0f;

    void collect(const PointIndex& index, std::size_t place, const std::uint32_t* neighbours, int k,
                 const std::vector<char>& kept) {
        const Point3 centre = index.points()[place];
        x[0] = y[0] = z[0] = r2[0] = 0.0f;
        count = 1;
        most_r2 = 0.0f;
        for (int m = 0; m < k && count < kMostNeighbours; ++m) {
            const std::uint32_t j = neighbours[m];
            if (j == PointIndex::kNone || (!kept.empty() && !kept[j])) continue;
            const Vec3 d = index.points()[j] - centre;
            x[count] = static_cast<float>(d.x), y[count] = static_cast<float>(d.y), z[count] = static_cast<float>(d.z);
            r2[count] = x[count] * x[count] + y[count] * y[count] + z[count] * z[count];
            most_r2 = std::max(most_r2, r2[count]);
            ++count;
        }
    }
    /// Keeps the `k` nearest (the place itself counts as one).
    void keep_nearest(int k) {
        if (count <= k) return;
        std::array<float, kMostNeighbours> sorted;
        std::copy(r2, r2 + count, sorted.begin());
        std::nth_element(sorted.begin(), sorted.begin() + (k - 1), sorted.begin() + count);
        const float limit = sorted[static_cast<std::size_t>(k - 1)];
        int n = 0;
        for (int m = 0; m < count && n < k; ++m)
            if (r2[m] <= limit) x[n] = x[m], y[n] = y[m], z[n] = z[m], r2[n] = r2[m], ++n;
        count = n;
        most_r2 = limit;
    }
};

struct PlaneFit {
    Vec3 mean;    ///< weighted, relative to the place
    Vec3 normal;
    bool good = false;
};

PlaneFit fit_plane(const Patch& p, const float* w, Vec3 last_normal) {
    float sw = 0, sx = 0, sy = 0, sz = 0;
    for (int k = 0; k < p.count; ++k) sw += w[k], sx += w[k] * p.x[k], sy += w[k] * p.y[k], sz += w[k] * p.z[k];
    if (!(sw > 1e-6f)) return {};
    const float mx = sx / sw, my = sy / sw, mz = sz / sw;
    float xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0;
    for (int k = 0; k < p.count; ++k) {
        const float dx = p.x[k] - mx, dy = p.y[k] - my, dz = p.z[k] - mz;
        const float wx = w[k] * dx, wy = w[k] * dy, wz = w[k] * dz;
        xx += wx * dx, xy += wx * dy, xz += wx * dz, yy += wy * dy, yz += wy * dz, zz += wz * dz;
    }
    const Sym3 c{xx, xy, xz, yy, yz, zz};
    return {{mx, my, mz}, least_eigenvector(c, last_normal), true};
}

}  // namespace

double estimate_noise_mm(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                         const std::vector<char>& kept) {
    constexpr std::size_t kPlaces = 6000;
    constexpr int kFit = 24, kUnknowns = 6;
    const std::size_t n = index.size();
    const std::size_t stride = std::max<std::size_t>(n / kPlaces, 1);
    const std::size_t count = n / stride;
    std::vector<double> spread(count, -1.0);
    parallel_for(count, 128, [&](std::size_t begin, std::size_t end) {
        Patch patch;
        for (std::size_t i = begin; i < end; ++i) {
            const std::size_t place = i * stride;
            if (!kept.empty() && !kept[place]) continue;
            patch.collect(index, place, neighbours.data() + place * static_cast<std::size_t>(k), k, kept);
            patch.keep_nearest(kFit);
            if (patch.count < kFit || !(patch.most_r2 > 0.0f)) continue;
            float w[kMostNeighbours];
            std::fill(w, w + patch.count, 1.0f);
            const PlaneFit plane = fit_plane(patch, w, {0, 0, 1});
            const Vec3 u = any_perpendicular(plane.normal), v = cross(plane.normal, u);
            const double scale = 1.0 / std::sqrt(static_cast<double>(patch.most_r2));
            Eigen::Matrix<double, kFit, kUnknowns> a;
            Eigen::Matrix<double, kFit, 1> b;
            for (int m = 0; m < kFit; ++m) {
                const Vec3 d = Vec3{patch.x[m], patch.y[m], patch.z[m]} - plane.mean;
                const double s = dot(d, u) * scale, t = dot(d, v) * scale;
                a.row(m) << 1.0, s, t, s * s, s * t, t * t;
                b(m) = dot(d, plane.normal);
            }
            const Eigen::Matrix<double, kUnknowns, kUnknowns> normal_matrix =
                a.transpose() * a + 1e-9 * Eigen::Matrix<double, kUnknowns, kUnknowns>::Identity();
            const Eigen::Matrix<double, kUnknowns, 1> x = normal_matrix.ldlt().solve(a.transpose() * b);
            spread[i] = std::sqrt((b - a * x).squaredNorm() / (kFit - kUnknowns));
        }
    });
    std::erase_if(spread, [](double s) { return !(s >= 0.0); });
    if (spread.empty()) return 0.0;
    const auto middle = spread.begin() + static_cast<std::ptrdiff_t>(spread.size() / 2);
    std::nth_element(spread.begin(), middle, spread.end());
    // The median of chi with 18 degrees of freedom lies 1.9 % under its root mean square.
    return *middle / 0.981;
}

Levelled level(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k, const std::vector<char>& kept,
               double noise_mm, double spacing_mm) {
    const std::size_t n = index.size();
    const float s = static_cast<float>(std::max(noise_mm, 0.05));
    // Quiet clouds are fitted by fewer neighbours, which follow curvature and edges closer.
    const int fit = noise_mm > 0.15 * spacing_mm ? k + 1 : std::min(25, k + 1);
    std::vector<Point3> points(n);
    std::vector<Vec3> normals(n);
    std::vector<float> radius(n, -1.0f);
    parallel_for(n, 1024, [&](std::size_t begin, std::size_t end) {
        Patch patch;
        alignas(32) float near[kMostNeighbours], w[kMostNeighbours];
        for (std::size_t i = begin; i < end; ++i) {
            if (!kept[i]) continue;
            patch.collect(index, i, neighbours.data() + i * static_cast<std::size_t>(k), k, kept);
            patch.keep_nearest(fit);
            if (patch.count < 4 || !(patch.most_r2 > 0.0f)) continue;
            const float inv = 2.0f / patch.most_r2;
            for (int m = 0; m < patch.count; ++m) w[m] = near[m] = falloff(patch.r2[m] * inv);
            PlaneFit plane = fit_plane(patch, w, {0, 0, 1});
            for (const float c : {4.0f, 2.5f, 2.5f}) {
                const float nx = static_cast<float>(plane.normal.x), ny = static_cast<float>(plane.normal.y),
                            nz = static_cast<float>(plane.normal.z);
                const float offset = static_cast<float>(dot(plane.normal, plane.mean));
                const float inv_e = 1.0f / (2.0f * c * c * s * s);
                for (int m = 0; m < patch.count; ++m) {
                    const float e = nx * patch.x[m] + ny * patch.y[m] + nz * patch.z[m] - offset;
                    w[m] = near[m] * falloff(e * e * inv_e);
                }
                const PlaneFit next = fit_plane(patch, w, plane.normal);
                if (!next.good) break;
                plane = next;
            }
            if (!plane.good) continue;
            const double move = dot(plane.normal, plane.mean);
            normals[i] = plane.normal;
            points[i] = index.points()[i] + plane.normal * move;
            const double disc = 0.9 * std::sqrt(std::numbers::pi * static_cast<double>(patch.most_r2) / patch.count);
            radius[i] = std::abs(move) > 4.0 * static_cast<double>(s) ? -2.0f : static_cast<float>(disc);
        }
    });
    Levelled out;
    std::size_t good = 0;
    for (const float r : radius) good += r > 0.0f ? 1 : 0;
    out.points.reserve(good), out.normals.reserve(good), out.radius_mm.reserve(good), out.place.reserve(good);
    for (std::size_t i = 0; i < n; ++i) {
        if (!kept[i]) continue;
        if (radius[i] > 0.0f) {
            out.points.push_back(points[i]);
            out.normals.push_back(normals[i]);
            out.radius_mm.push_back(radius[i]);
            out.place.push_back(static_cast<std::uint32_t>(i));
        } else {
            out.moved_too_far.push_back(static_cast<std::uint32_t>(i));
        }
    }
    return out;
}

}  // namespace geom::scan::internal
