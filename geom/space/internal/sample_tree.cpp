// A box tree with leaves of at most 16 samples, which are gone through in step. The distance is the design's blended
// plane: from the nearest disc's foot f, the planes of the samples about f are averaged with weights that fall with
// distance and with the turn of the normal, and the foot moves onto that average. The least of all discs would be
// biased low by what noise is left; the average is not. Normals need no orientation: each is turned to agree with the
// disc's. Weights are polynomials of compact support, (1 - d^2/R^2)^2 cos^8, so there is no jump where a sample enters.
#include "geom/space/internal/sample_tree.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::space::internal {
namespace {
constexpr std::uint32_t kLeaf = 16;
constexpr float kSpacingOfRadius = 1.0f / 0.9f;
constexpr float kBlendReach = 3.6f;  // spacings
constexpr std::size_t kStack = 96;
}  // namespace

SampleTree::SampleTree(std::vector<LocalSample> samples) {
    std::vector<std::uint32_t> order(samples.size());
    std::iota(order.begin(), order.end(), 0u);
    nodes_.reserve(samples.size() / 4 + 1);
    if (!samples.empty()) build(0, static_cast<std::uint32_t>(samples.size()), order, samples);
    for (auto* v : {&x_, &y_, &z_, &nx_, &ny_, &nz_, &radius_}) v->reserve(samples.size());
    for (const std::uint32_t q : order) {
        const LocalSample& s = samples[q];
        x_.push_back(s.at.x), y_.push_back(s.at.y), z_.push_back(s.at.z);
        nx_.push_back(s.normal.x), ny_.push_back(s.normal.y), nz_.push_back(s.normal.z);
        radius_.push_back(s.radius);
    }
}

std::uint32_t SampleTree::build(std::uint32_t begin, std::uint32_t end, std::vector<std::uint32_t>& order,
                                const std::vector<LocalSample>& s) {
    const auto self = static_cast<std::uint32_t>(nodes_.size());
    nodes_.emplace_back();
    Node n;
    n.begin = begin, n.end = end;
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
        const std::uint32_t half = begin + (end - begin) / 2;
        std::nth_element(order.begin() + begin, order.begin() + half, order.begin() + end, [&](std::uint32_t a, std::uint32_t b) {
            const float va = along(a, axis), vb = along(b, axis);
            return va < vb || (va == vb && a < b);
        });
        build(begin, half, order, s);
        n.right = build(half, end, order, s);
    }
    nodes_[self] = n;
    return self;
}

float SampleTree::nearest(Vec3f x, float at_most) const {
    if (empty()) return at_most;
    float best2 = at_most * at_most;
    const auto gap2 = [&](const Node& n) {
        const float dx = std::max({n.lo[0] - x.x, 0.0f, x.x - n.hi[0]}), dy = std::max({n.lo[1] - x.y, 0.0f, x.y - n.hi[1]}),
                    dz = std::max({n.lo[2] - x.z, 0.0f, x.z - n.hi[2]});
        return dx * dx + dy * dy + dz * dz;
    };
    std::uint32_t stack[kStack];
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const Node& n = nodes_[stack[--top]];
        if (gap2(n) >= best2) continue;
        if (n.right == 0) {
            for (std::uint32_t q = n.begin; q < n.end; ++q) {
                const float dx = x_[q] - x.x, dy = y_[q] - x.y, dz = z_[q] - x.z;
                best2 = std::min(best2, dx * dx + dy * dy + dz * dz);
            }
            continue;
        }
        const auto left = static_cast<std::uint32_t>(&n - nodes_.data()) + 1;
        const bool left_first = gap2(nodes_[left]) <= gap2(nodes_[n.right]);
        stack[top++] = left_first ? n.right : left;
        stack[top++] = left_first ? left : n.right;
    }
    return std::sqrt(best2);
}

float SampleTree::blended(Vec3f x, float at_most) const {
    if (empty()) return at_most;
    const auto box_gap2 = [](const Node& n, Vec3f p) {
        const float dx = std::max({n.lo[0] - p.x, 0.0f, p.x - n.hi[0]}), dy = std::max({n.lo[1] - p.y, 0.0f, p.y - n.hi[1]}),
                    dz = std::max({n.lo[2] - p.z, 0.0f, p.z - n.hi[2]});
        return dx * dx + dy * dy + dz * dz;
    };
    // 1. The nearest disc.
    float best2 = at_most * at_most, best = at_most;
    std::uint32_t disc = ~0u;
    std::uint32_t stack[kStack];
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const Node& n = nodes_[stack[--top]];
        const float reach = best + n.radius;
        if (box_gap2(n, x) >= reach * reach) continue;
        if (n.right == 0) {
            float d2[kLeaf];
            const std::uint32_t count = n.end - n.begin;
            for (std::uint32_t q = 0; q < count; ++q) {
                const std::uint32_t s = n.begin + q;
                const float dx = x.x - x_[s], dy = x.y - y_[s], dz = x.z - z_[s];
                const float up = dx * nx_[s] + dy * ny_[s] + dz * nz_[s];
                const float aside2 = std::max(0.0f, dx * dx + dy * dy + dz * dz - up * up);
                const float over = std::max(0.0f, std::sqrt(aside2) - radius_[s]);
                d2[q] = up * up + over * over;
            }
            for (std::uint32_t q = 0; q < count; ++q)
                if (d2[q] < best2) {
                    best2 = d2[q];
                    best = std::sqrt(best2);
                    disc = n.begin + q;
                }
            continue;
        }
        const auto left = static_cast<std::uint32_t>(&n - nodes_.data()) + 1;
        const bool left_first = box_gap2(nodes_[left], x) <= box_gap2(nodes_[n.right], x);
        stack[top++] = left_first ? n.right : left;
        stack[top++] = left_first ? left : n.right;
    }
    if (disc == ~0u) return at_most;

    // 2. Its foot, and the average plane about the foot.
    const Vec3f q0{x_[disc], y_[disc], z_[disc]};
    Vec3f n0{nx_[disc], ny_[disc], nz_[disc]};
    const Vec3f e = x - q0;
    float up = dot(e, n0);
    if (up < 0.0f) n0 = n0 * -1.0f, up = -up;
    Vec3f aside = e - n0 * up;
    const float len = norm(aside);
    if (len > radius_[disc]) aside = aside * (radius_[disc] / len);
    const Vec3f foot = q0 + aside;

    const float reach = kBlendReach * kSpacingOfRadius * radius_[disc], reach2 = reach * reach, inv2 = 1.0f / reach2;
    float sum = 0.0f, offset = 0.0f;
    Vec3f normal;
    top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t at = stack[--top];
        const Node& n = nodes_[at];
        if (box_gap2(n, foot) >= reach2) continue;
        if (n.right != 0) {
            stack[top++] = n.right;
            stack[top++] = at + 1;
            continue;
        }
        float w[kLeaf], h[kLeaf], sign[kLeaf];
        const std::uint32_t count = n.end - n.begin;
        for (std::uint32_t q = 0; q < count; ++q) {
            const std::uint32_t s = n.begin + q;
            const float dx = foot.x - x_[s], dy = foot.y - y_[s], dz = foot.z - z_[s];
            const float near = std::max(0.0f, 1.0f - (dx * dx + dy * dy + dz * dz) * inv2);
            const float turn = nx_[s] * n0.x + ny_[s] * n0.y + nz_[s] * n0.z;
            const float t2 = turn * turn, t4 = t2 * t2;
            sign[q] = turn < 0.0f ? -1.0f : 1.0f;
            w[q] = near * near * t4 * t4;
            h[q] = sign[q] * (nx_[s] * dx + ny_[s] * dy + nz_[s] * dz);
        }
        for (std::uint32_t q = 0; q < count; ++q) {
            const std::uint32_t s = n.begin + q;
            sum += w[q];
            offset += w[q] * h[q];
            const float ws = w[q] * sign[q];
            normal = normal + Vec3f{nx_[s] * ws, ny_[s] * ws, nz_[s] * ws};
        }
    }
    const float turn_len = norm(normal);
    if (!(sum > 0.0f) || !(turn_len > 0.0f)) return best;
    const Vec3f moved = foot - normal * (offset / (sum * turn_len));
    return norm(x - moved);
}

}  // namespace geom::space::internal
