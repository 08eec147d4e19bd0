// Levelled samples in grid-local millimetres, in a tree: nearest disc, and from it the blended plane distance.
#pragma once

#include "geom/space/internal/tricubic.h"

#include <cstdint>
#include <vector>

namespace geom::space::internal {

/// Samples as the surface gives them, already in the numbers of the grid (mm from its corner).
struct LocalSample {
    Vec3f at, normal;
    float radius = 0.0f;  ///< of the disc, about 0.9 of the local spacing
};

class SampleTree {
public:
    explicit SampleTree(std::vector<LocalSample> samples);

    bool empty() const { return radius_.empty(); }
    /// Distance from `x` to the blended surface near the nearest disc; `at_most` when every disc is farther than that.
    float blended(Vec3f x, float at_most) const;
    /// Distance to the nearest sample.
    float nearest(Vec3f x, float at_most) const;

private:
    struct Node {
        float lo[3], hi[3];         // of the samples' places
        float radius = 0.0f;        // largest disc below
        std::uint32_t begin = 0, end = 0, right = 0;  // right == 0: a leaf
    };
    std::uint32_t build(std::uint32_t begin, std::uint32_t end, std::vector<std::uint32_t>& order, const std::vector<LocalSample>& s);

    std::vector<Node> nodes_;
    std::vector<float> x_, y_, z_, nx_, ny_, nz_, radius_;  // in order of the leaves
};

}  // namespace geom::space::internal
