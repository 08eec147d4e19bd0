// Noise of a cloud, and the cloud with the noise taken out by local planes.
#pragma once

#include "geom/scan/internal/point_index.h"

#include <vector>

namespace geom::scan::internal {

/// Standard deviation of the points about local quadrics, from the `k` nearest of a few thousand places. Only places
/// with `kept` count (an empty `kept` keeps all).
double estimate_noise_mm(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                         const std::vector<char>& kept);

struct Levelled {
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<float> radius_mm;
    std::vector<std::uint32_t> place;        ///< of each in the index
    std::vector<std::uint32_t> moved_too_far;  ///< places dropped
};

/// Moves each kept place onto a plane fitted robustly to its neighbours; `noise_mm` sets what the fit believes.
Levelled level(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k, const std::vector<char>& kept,
               double noise_mm, double spacing_mm);

}  // namespace geom::scan::internal
