// A box tree with leaves of 16 samples, which are gone through in step. The distance is the design's blended plane:
// from the nearest disc's foot f, the planes of the samples about f are averaged with weights that fall with distance
// and with the turn of the normal, and the foot moves onto that average. The least of all discs would be biased low by
// what noise is left; the average is not. Normals need no orientation: each is turned to agree with the disc's. Weights
// are polynomials of compact support, (1 - d^2/R^2)^2 cos^8, so there is no jump where a sample enters.
//
// At a sharp edge of an obstacle the discs of one face would stand out beyond the other face by up to their radius and
// take as much room away; so each disc ends where the plane of a turned neighbour crosses it.
//
// Nothing below is sensitive to errno or traps, and saying so lets the loops over a leaf run in step.
#pragma GCC optimize("no-math-errno", "no-trapping-math")
#include "geom/space/internal/sample_tree.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::space::internal {
namespace {

constexpr float kSpacingOfRadius = 1.0f / 0.9f;
constexpr float kBlendReach = 3.6f;  // spacings
constexpr float kClipReach = 2.2f;   // spacings
constexpr float kTurned = 0.85f;     // cosine below which a neighbour belongs to another face
constexpr float kLeastDisc = 0.25f;  // spacings that are left of a clipped disc
constexpr float kOfLayer = 0.6f;     // of the distance between layers, off by which a sample is of the other one
constexpr float kFarAway = 1e9f;
constexpr std::size_t kStack = 96;

template <class Node>
inline float gap2(const Node& n, Vec3f p) {
    const float dx = std::max(std::max(n.lo[0] - p.x, p.x - n.hi[0]), 0.0f),
                dy = std::max(std::max(n.lo[1] - p.y, p.y - n.hi[1]), 0.0f),
                dz = std::max(std::max(n.lo[2] - p.z, p.z - n.hi[2]), 0.0f);
    return dx * dx + dy * dy + dz * dz;
}

}  // namespace

SampleTree::SampleTree(const std::vector<LocalSample>& samples) {
#if defined(__x86_64__)
    wide_ = __builtin_cpu_supports("avx2") != 0;
#endif
    std::vector<std::uint32_t> order(samples.size());
    std::iota(order.begin(), order.end(), 0u);
    nodes_.reserve(samples.size() / 6 + 2);
    leaves_.reserve(samples.size() / kLeaf + 1);
    if (samples.empty()) return;
    build(0, static_cast<std::uint32_t>(samples.size()), order, samples);
    clip_discs();
}

std::uint32_t SampleTree::build(std::uint32_t begin, std::uint32_t end, std::vector<std::uint32_t>& order,
                                const std::vector<LocalSample>& s) {
    const auto self = static_cast<std::uint32_t>(nodes_.size());
    nodes_.emplace_back();
    Node n;
    for (int a = 0; a < 3; ++a) n.lo[a] = 1e30f, n.hi[a] = -1e30f;
    const auto along = [&](std::uint32_t q, int a) { return a == 0 ? s[q].at.x : a == 1 ? s[q].at.y : s[q].at.z; };
    for (std::uint32_t q = begin; q < end; ++q) {
        for (int a = 0; a < 3; ++a) {
            n.lo[a] = std::min(n.lo[a], along(order[q], a));
            n.hi[a] = std::max(n.hi[a], along(order[q], a));
        }
        n.radius = std::max(n.radius, s[order[q]].radius);
    }
    if (end - begin > kLeaf) {
        int axis = 0;
        for (int a = 1; a < 3; ++a)
            if (n.hi[a] - n.lo[a] > n.hi[axis] - n.lo[axis]) axis = a;
        // Half of the leaves to each side, so that all but one are full.
        const std::uint32_t leaves = (end - begin + kLeaf - 1) / kLeaf, half = begin + (leaves + 1) / 2 * kLeaf;
        std::nth_element(order.begin() + begin, order.begin() + half, order.begin() + end,
                         [&](std::uint32_t a, std::uint32_t b) {
                             const float va = along(a, axis), vb = along(b, axis);
                             return va < vb || (va == vb && a < b);
                         });
        build(begin, half, order, s);
        n.right = build(half, end, order, s);
    } else {
        n.leaf = static_cast<std::uint32_t>(leaves_.size());
        Leaf leaf;
        for (std::uint32_t q = 0; q < kLeaf; ++q) {
            const bool is = begin + q < end;
            const LocalSample filler{{kFarAway, kFarAway, kFarAway}, {1, 0, 0}, 0.0f};
            const LocalSample& from = is ? s[order[begin + q]] : filler;
            leaf.x[q] = from.at.x, leaf.y[q] = from.at.y, leaf.z[q] = from.at.z;
            leaf.nx[q] = from.normal.x, leaf.ny[q] = from.normal.y, leaf.nz[q] = from.normal.z;
            leaf.r[q] = from.radius;
            layer_.push_back(from.layer > 0.0f ? 1.0f / (kOfLayer * kOfLayer * from.layer * from.layer) : 0.0f);
        }
        leaves_.push_back(leaf);
    }
    nodes_[self] = n;
    return self;
}

/// Every leaf whose samples' box comes within `reach` of a place.
template <class F>
inline void SampleTree::visit(Vec3f about, float reach, F&& leaf) const {
    const float reach2 = reach * reach;
    std::uint32_t stack[kStack];
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t at = stack[--top];
        const Node& n = nodes_[at];
        if (gap2(n, about) >= reach2) continue;
        if (n.right == 0) {
            leaf(n.leaf);
        } else {
            stack[top++] = n.right;
            stack[top++] = at + 1;
        }
    }
}

void SampleTree::clip_discs() {
    std::vector<const Node*> own(leaves_.size());
    for (const Node& n : nodes_)
        if (n.right == 0) own[n.leaf] = &n;
    std::vector<Leaf> clipped = leaves_;
    parallel_for(leaves_.size(), 256, [&](std::size_t begin, std::size_t end) {
        std::vector<std::uint32_t> around;
        for (std::size_t l = begin; l < end; ++l) {
            const Node& box = *own[l];
            const Vec3f middle{0.5f * (box.lo[0] + box.hi[0]), 0.5f * (box.lo[1] + box.hi[1]),
                               0.5f * (box.lo[2] + box.hi[2])};
            const Vec3f half{0.5f * (box.hi[0] - box.lo[0]), 0.5f * (box.hi[1] - box.lo[1]),
                             0.5f * (box.hi[2] - box.lo[2])};
            const float reach = kClipReach * kSpacingOfRadius * box.radius;
            const Leaf& leaf = leaves_[l];
            const Vec3f n0{leaf.nx[0], leaf.ny[0], leaf.nz[0]};
            around.clear();
            bool turns = false;
            visit(middle, norm(half) + reach, [&](std::uint32_t other) {
                around.push_back(other);
                const Leaf& o = leaves_[other];
                for (std::uint32_t q = 0; q < kLeaf; ++q)
                    turns = turns ||
                            (o.x[q] < kFarAway && std::abs(o.nx[q] * n0.x + o.ny[q] * n0.y + o.nz[q] * n0.z) < 0.92f);
            });
            if (!turns) continue;
            for (std::uint32_t b = 0; b < kLeaf; ++b) {
                if (!(leaf.x[b] < kFarAway)) continue;
                const Vec3f at{leaf.x[b], leaf.y[b], leaf.z[b]}, nb{leaf.nx[b], leaf.ny[b], leaf.nz[b]};
                const float spacing = kSpacingOfRadius * leaf.r[b], near2 = kClipReach * kClipReach * spacing * spacing;
                float radius = leaf.r[b];
                for (const std::uint32_t other : around) {
                    const Leaf& o = leaves_[other];
                    for (std::uint32_t q = 0; q < kLeaf; ++q) {
                        const Vec3f d = Vec3f{o.x[q], o.y[q], o.z[q]} - at, nq{o.nx[q], o.ny[q], o.nz[q]};
                        const float c = dot(nb, nq);
                        if (dot(d, d) > near2 || std::abs(c) > kTurned) continue;
                        const float height = -dot(d, nq), sine = std::sqrt(1.0f - c * c),
                                    away = std::abs(height) / sine;
                        const Vec3f across = (nq - nb * c) * ((height > 0.0f ? -1.0f : 1.0f) / sine);
                        const Vec3f gap = across * away - d;
                        if (dot(gap, gap) < 2.25f * spacing * spacing)
                            radius = std::min(radius, std::max(away, kLeastDisc * spacing));
                    }
                }
                clipped[l].r[b] = radius;
            }
        }
    });
    // The spacing is still read off the disc that was there: keep it beside the clipped one.
    spacing_.resize(leaves_.size() * kLeaf);
    for (std::size_t l = 0; l < leaves_.size(); ++l)
        for (std::uint32_t q = 0; q < kLeaf; ++q) spacing_[l * kLeaf + q] = kSpacingOfRadius * leaves_[l].r[q];
    leaves_ = std::move(clipped);
}

float SampleTree::nearest(Vec3f x, float at_most) const {
    if (leaves_.empty()) return at_most;
    float best2 = at_most * at_most;
    std::uint32_t stack[kStack];
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t at = stack[--top];
        const Node& n = nodes_[at];
        if (gap2(n, x) >= best2) continue;
        if (n.right == 0) {
            const Leaf& l = leaves_[n.leaf];
            for (std::uint32_t q = 0; q < kLeaf; ++q) {
                const float dx = l.x[q] - x.x, dy = l.y[q] - x.y, dz = l.z[q] - x.z;
                best2 = std::min(best2, dx * dx + dy * dy + dz * dz);
            }
            continue;
        }
        const bool left_first = gap2(nodes_[at + 1], x) <= gap2(nodes_[n.right], x);
        stack[top++] = left_first ? n.right : at + 1;
        stack[top++] = left_first ? at + 1 : n.right;
    }
    return std::sqrt(best2);
}

__attribute__((always_inline)) inline float SampleTree::blended_here(Vec3f x, float at_most, float level, float within,
                                                                     Hint& hint) const {
    // 1. The nearest disc, starting with the leaf that held the last one.
    float best2 = at_most * at_most, best = at_most;
    std::uint32_t disc = ~0u;
    const auto scan = [&](std::uint32_t number) __attribute__((always_inline)) {
        const Leaf& l = leaves_[number];
        float d2[kLeaf];
        for (std::uint32_t q = 0; q < kLeaf; ++q) {
            const float dx = x.x - l.x[q], dy = x.y - l.y[q], dz = x.z - l.z[q];
            const float up = dx * l.nx[q] + dy * l.ny[q] + dz * l.nz[q];
            const float aside2 = dx * dx + dy * dy + dz * dz - up * up;
            const float aside = std::sqrt(aside2 > 0.0f ? aside2 : 0.0f) - l.r[q];
            const float over = aside > 0.0f ? aside : 0.0f;
            d2[q] = up * up + over * over;
        }
        for (std::uint32_t q = 0; q < kLeaf; ++q) {
            // Equal distances: the lower number, so that the hint decides nothing.
            const std::uint32_t number_q = number * kLeaf + q;
            if (d2[q] < best2 || (d2[q] == best2 && number_q < disc)) best2 = d2[q], disc = number_q;
        }
        best = std::sqrt(best2);
    };
    if (hint.leaf < leaves_.size()) scan(hint.leaf);
    std::uint32_t stack[kStack];
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t at = stack[--top];
        const Node& n = nodes_[at];
        const float reach = best + n.radius;
        if (gap2(n, x) > reach * reach) continue;
        if (n.right == 0) {
            if (n.leaf != hint.leaf) scan(n.leaf);
            continue;
        }
        const bool left_first = gap2(nodes_[at + 1], x) <= gap2(nodes_[n.right], x);
        stack[top++] = left_first ? n.right : at + 1;
        stack[top++] = left_first ? at + 1 : n.right;
    }
    if (disc == ~0u) return at_most;
    hint.leaf = disc / kLeaf;
    if (std::abs(best - level) > within) return best;

    // 2. Its foot, and the average plane about the foot.
    const Leaf& home = leaves_[disc / kLeaf];
    const std::uint32_t d = disc % kLeaf;
    const Vec3f q0{home.x[d], home.y[d], home.z[d]};
    Vec3f n0{home.nx[d], home.ny[d], home.nz[d]};
    const Vec3f e = x - q0;
    float up = dot(e, n0);
    if (up < 0.0f) n0 = n0 * -1.0f, up = -up;
    Vec3f aside = e - n0 * up;
    const float len = norm(aside);
    if (len > home.r[d]) aside = aside * (home.r[d] / len);
    const Vec3f foot = q0 + aside;

    const float reach = kBlendReach * spacing_[disc], inv2 = 1.0f / (reach * reach), layer = layer_[disc];
    float sum[kLeaf] = {}, offset[kLeaf] = {}, sx[kLeaf] = {}, sy[kLeaf] = {}, sz[kLeaf] = {};
    visit(
        foot, reach, [&](std::uint32_t number) __attribute__((always_inline)) {
            const Leaf& l = leaves_[number];
            for (std::uint32_t q = 0; q < kLeaf; ++q) {
                const float dx = foot.x - l.x[q], dy = foot.y - l.y[q], dz = foot.z - l.z[q];
                const float fall = 1.0f - (dx * dx + dy * dy + dz * dz) * inv2;
                const float near = fall > 0.0f ? fall : 0.0f;
                const float turn = l.nx[q] * n0.x + l.ny[q] * n0.y + l.nz[q] * n0.z;
                const float t2 = turn * turn, t4 = t2 * t2;
                const float height = l.nx[q] * dx + l.ny[q] * dy + l.nz[q] * dz;
                const float same = 1.0f - height * height * layer, of_layer = same > 0.0f ? same : 0.0f;
                const float w = near * near * t4 * t4 * (of_layer * of_layer), ws = turn < 0.0f ? -w : w;
                sum[q] += w;
                offset[q] += ws * height;
                sx[q] += ws * l.nx[q];
                sy[q] += ws * l.ny[q];
                sz[q] += ws * l.nz[q];
            }
        });
    float weight = 0.0f, shift = 0.0f;
    Vec3f normal;
    for (std::uint32_t q = 0; q < kLeaf; ++q)
        weight += sum[q], shift += offset[q], normal = normal + Vec3f{sx[q], sy[q], sz[q]};
    const float turn_len = norm(normal);
    if (!(weight > 0.0f) || !(turn_len > 0.0f)) return best;
    return norm(x - (foot - normal * (shift / (weight * turn_len))));
}

#if defined(__x86_64__)
__attribute__((target("avx2"))) float SampleTree::blended_wide(Vec3f x, float at_most, float level, float within,
                                                               Hint& hint) const {
    return blended_here(x, at_most, level, within, hint);
}
#else
float SampleTree::blended_wide(Vec3f x, float at_most, float level, float within, Hint& hint) const {
    return blended_here(x, at_most, level, within, hint);
}
#endif

float SampleTree::blended(Vec3f x, float at_most, float level, float within, Hint& hint) const {
    if (leaves_.empty()) return at_most;
    return wide_ ? blended_wide(x, at_most, level, within, hint) : blended_here(x, at_most, level, within, hint);
}

}  // namespace geom::space::internal
