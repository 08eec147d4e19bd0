// A cloud with its noise taken out by local planes, and its sharp edges put back.
#pragma once

#include "geom/scan/internal/noise.h"

#include <vector>

namespace geom::scan::internal {

struct Levelled {
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<float> radius_mm;
    std::vector<std::uint32_t> moved_too_far;  ///< places dropped
    std::size_t edge_samples = 0;              ///< how many at the end of the lists lie on sharp edges
    std::vector<float> layer_mm;               ///< how far the other layer is, 0 where there is one; empty: nowhere two
    double unsplit_part = 0.0;                 ///< of the places in runs with two layers: not told which is theirs
    double layer_spacing_mm = 0.0;             ///< between points of one layer, nine tenths have less
};

/// Moves each kept place onto a plane fitted robustly to its neighbours. `weight` says how many raw points each place
/// stands for; empty: one each. `given`: the scan's normals by place, or empty.
Levelled level(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
               const std::vector<char>& kept, const std::vector<float>& weight, const std::vector<Vec3>& given,
               const Noise& noise, double spacing_mm);

}  // namespace geom::scan::internal
