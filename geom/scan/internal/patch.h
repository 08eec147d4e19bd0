// The neighbours of one sample as floats about it, and planes through them.
#pragma once

#include "geom/scan/internal/eigen3.h"
#include "geom/scan/internal/point_index.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::scan::internal {

/// exp(-x) for x >= 0, to 0.02, as (1 - x/16)^16; zero from 16 on. No library has a say in its last digit.
inline float falloff(float x) {
    float t = std::max(1.0f - x * (1.0f / 16.0f), 0.0f);
    t *= t, t *= t, t *= t;
    return t * t;
}

/// The place itself is the first entry. All sums over a patch are about the place, so nothing is lost far from the
/// frame's origin.
struct Patch {
    static constexpr int kMost = 64;
    alignas(32) float x[kMost], y[kMost], z[kMost], r2[kMost];
    std::uint32_t place[kMost];
    int count = 0;
    float most_r2 = 0.0f;

    void collect(const PointIndex& index, std::size_t at, const std::uint32_t* neighbours, int k,
                 const std::vector<char>& kept) {
        const Point3 centre = index.points()[at];
        x[0] = y[0] = z[0] = r2[0] = 0.0f;
        place[0] = static_cast<std::uint32_t>(at);
        count = 1;
        most_r2 = 0.0f;
        for (int m = 0; m < k && count < kMost; ++m) {
            const std::uint32_t j = neighbours[m];
            if (j == PointIndex::kNone || (!kept.empty() && !kept[j])) continue;
            const Vec3 d = index.points()[j] - centre;
            x[count] = static_cast<float>(d.x), y[count] = static_cast<float>(d.y), z[count] = static_cast<float>(d.z);
            r2[count] = x[count] * x[count] + y[count] * y[count] + z[count] * z[count];
            place[count] = j;
            most_r2 = std::max(most_r2, r2[count]);
            ++count;
        }
    }
    /// Keeps the `k` nearest; the place itself counts as one.
    void keep_nearest(int k) {
        if (count <= k) return;
        std::array<float, kMost> sorted;
        std::copy(r2, r2 + count, sorted.begin());
        std::nth_element(sorted.begin(), sorted.begin() + (k - 1), sorted.begin() + count);
        const float limit = sorted[static_cast<std::size_t>(k - 1)];
        int n = 0;
        for (int m = 0; m < count && n < k; ++m)
            if (r2[m] <= limit) x[n] = x[m], y[n] = y[m], z[n] = z[m], r2[n] = r2[m], place[n] = place[m], ++n;
        count = n;
        most_r2 = limit;
    }
};

struct PlaneFit {
    Vec3 mean;  ///< weighted, relative to the place
    Vec3 normal;
    double spread2 = 0;  ///< weighted mean square distance from the mean, all directions
    bool good = false;
};

/// Weighted total least squares; `fallback` is the normal of a patch that has none.
inline PlaneFit fit_plane(const Patch& p, const float* w, Vec3 fallback) {
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
    return {{mx, my, mz}, least_eigenvector(c, fallback), (xx + yy + zz) / sw, true};
}

/// Signed distances of a patch's points from a plane.
inline void heights(const Patch& p, const PlaneFit& plane, float* e) {
    const float nx = static_cast<float>(plane.normal.x), ny = static_cast<float>(plane.normal.y),
                nz = static_cast<float>(plane.normal.z), offset = static_cast<float>(dot(plane.normal, plane.mean));
    for (int m = 0; m < p.count; ++m) e[m] = nx * p.x[m] + ny * p.y[m] + nz * p.z[m] - offset;
}

}  // namespace geom::scan::internal
