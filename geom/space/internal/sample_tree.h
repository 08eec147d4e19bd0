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
    float layer = 0.0f;   ///< how far another layer is that its plane is not blended with; 0: there is none
};

class SampleTree {
public:
    explicit SampleTree(const std::vector<LocalSample>& samples);

    /// What a query leaves for the next one nearby; speeds it up, never changes it.
    struct Hint {
        std::uint32_t leaf = 0;
    };
    /// Distance from `x` to the blended surface near the nearest disc; `at_most` when every disc is farther than that.
    /// Where the nearest disc is more than `within` away from `level` its plain distance is returned.
    float blended(Vec3f x, float at_most, float level, float within, Hint& hint) const;
    /// Distance to the nearest sample.
    float nearest(Vec3f x, float at_most) const;

private:
    static constexpr std::uint32_t kLeaf = 16;
    struct Node {
        float lo[3], hi[3];       // of the samples' places
        float radius = 0.0f;      // largest disc below
        std::uint32_t leaf = 0;   // of a leaf: its number
        std::uint32_t right = 0;  // 0: a leaf; the left child follows its parent
    };
    /// Always full: what is missing stands infinitely far away.
    struct Leaf {
        float x[kLeaf], y[kLeaf], z[kLeaf], nx[kLeaf], ny[kLeaf], nz[kLeaf], r[kLeaf];
    };
    std::uint32_t build(std::uint32_t begin, std::uint32_t end, std::vector<std::uint32_t>& order,
                        const std::vector<LocalSample>& s);
    void clip_discs();
    template <class F>
    void visit(Vec3f about, float reach, F&& leaf) const;
    float blended_here(Vec3f x, float at_most, float level, float within, Hint& hint) const;
    float blended_wide(Vec3f x, float at_most, float level, float within, Hint& hint) const;

    std::vector<Node> nodes_;
    std::vector<Leaf> leaves_;
    std::vector<float> spacing_;  // of each sample, whatever was clipped
    std::vector<float>
        layer_;  // of each sample: 1 over the square of the height from which others are of another layer
    bool wide_ = false;
};

}  // namespace geom::space::internal
