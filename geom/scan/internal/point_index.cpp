// Codes interleave 21 bits an axis, finest cell = largest extent / 2^21, so that the answer to "which places lie in
// cell (x, y, z) of level l" is a pair of binary searches, shortened by a table over the top 18 bits.
//
// A leaf is a cell with at most kLeafMost points. Its candidates are the 27 cells round it. A query knows all points
// within its distance to the border of that block; if k of them lie there they are the answer, otherwise the block of
// the parent level is taken, four to eight times as large, until it is.
#include "geom/scan/internal/point_index.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

namespace geom::scan::internal {
namespace {

constexpr int kBits = 21;
constexpr int kBucketBits = 18;
constexpr std::uint32_t kCells = 1u << kBits;
constexpr std::uint32_t kLeafMost = 48;

std::uint64_t spread(std::uint64_t v) {
    v = (v | v << 32) & 0x001F00000000FFFFull;
    v = (v | v << 16) & 0x001F0000FF0000FFull;
    v = (v | v << 8) & 0x100F00F00F00F00Full;
    v = (v | v << 4) & 0x10C30C30C30C30C3ull;
    return (v | v << 2) & 0x1249249249249249ull;
}

std::uint64_t morton(std::uint32_t x, std::uint32_t y, std::uint32_t z) {
    return spread(x) | spread(y) << 1 | spread(z) << 2;
}

std::uint32_t gather_bits(std::uint64_t v) {
    v &= 0x1249249249249249ull;
    v = (v | v >> 2) & 0x10C30C30C30C30C3ull;
    v = (v | v >> 4) & 0x100F00F00F00F00Full;
    v = (v | v >> 8) & 0x001F0000FF0000FFull;
    v = (v | v >> 16) & 0x001F00000000FFFFull;
    return static_cast<std::uint32_t>((v | v >> 32) & 0x1FFFFFull);
}

struct Key {
    std::uint64_t code;
    std::uint32_t index;
};

/// Stable, by code, least digit first.
void radix_sort(std::vector<Key>& keys) {
    constexpr int kDigit = 11;
    std::vector<Key> other(keys.size());
    for (int shift = 0; shift < 3 * kBits; shift += kDigit) {
        std::array<std::uint32_t, (1 << kDigit) + 1> start{};
        const std::uint64_t mask = (1 << kDigit) - 1;
        for (const Key& k : keys) ++start[(k.code >> shift & mask) + 1];
        if (std::any_of(start.begin(), start.end(), [&](std::uint32_t c) { return c == keys.size(); })) continue;
        for (std::size_t i = 1; i < start.size(); ++i) start[i] += start[i - 1];
        for (const Key& k : keys) other[start[k.code >> shift & mask]++] = k;
        keys.swap(other);
    }
}

/// Distance and candidate in one number that sorts by distance, then by candidate.
std::uint64_t packed(float d2, std::uint32_t candidate) {
    return static_cast<std::uint64_t>(std::bit_cast<std::uint32_t>(d2)) << 32 | candidate;
}

}  // namespace

struct PointIndex::Candidates {
    std::vector<float> x, y, z, d2;
    std::vector<std::uint32_t> place;
    std::vector<std::uint64_t> near;
    Point3 centre;  ///< origin of x, y, z
    Point3 lo, hi;  ///< of the block, relative to centre; infinite at the top
    void resize(std::size_t n) {
        if (x.size() < n) {
            const std::size_t m = n + n / 2 + 64;
            x.resize(m), y.resize(m), z.resize(m), d2.resize(m), place.resize(m), near.resize(m);
        }
        count = n;
    }
    std::size_t count = 0;
    /// Squared distances to q; then those under `limit2` into near; how many.
    std::size_t select(const float q[3], float limit2) {
        const std::size_t n = count;
        const float *px = x.data(), *py = y.data(), *pz = z.data();
        float* pd = d2.data();
        for (std::size_t j = 0; j < n; ++j) {
            const float dx = px[j] - q[0], dy = py[j] - q[1], dz = pz[j] - q[2];
            pd[j] = dx * dx + dy * dy + dz * dz;
        }
        return refilter(limit2);
    }
    std::size_t refilter(float limit2) {
        std::size_t m = 0;
        for (std::size_t j = 0; j < count; ++j) {
            near[m] = packed(d2[j], static_cast<std::uint32_t>(j));
            m += d2[j] < limit2 ? 1 : 0;
        }
        return m;
    }
    /// Squared distance from q to the border of the block.
    float known2(const float q[3]) const {
        float least = std::numeric_limits<float>::infinity();
        for (std::size_t a = 0; a < 3; ++a) {
            least = std::min(least, q[a] - static_cast<float>(lo[a]));
            least = std::min(least, static_cast<float>(hi[a]) - q[a]);
        }
        least = std::max(least * 0.99999f, 0.0f);
        return least * least;
    }
};

PointIndex::PointIndex(std::span<const Point3> points) {
    EXPECTS(points.size() < kNone - 1);
    Aabb box;
    for (const Point3& p : points) box.grow(p);
    const Vec3 size = box.size();
    const double extent = std::max({size.x, size.y, size.z, 1e-9});
    EXPECTS(points.empty() || std::isfinite(extent));
    origin_ = points.empty() ? Point3{} : box.lo;
    cell_mm_ = extent * (1.0 + 1e-9) / kCells;

    std::vector<Key> keys(points.size());
    parallel_for(points.size(), 1 << 14, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            const Vec3 d = (points[i] - origin_) / cell_mm_;
            const auto whole = [](double v) { return std::min(static_cast<std::uint32_t>(v), kCells - 1); };
            keys[i] = {morton(whole(d.x), whole(d.y), whole(d.z)), static_cast<std::uint32_t>(i)};
        }
    });
    radix_sort(keys);
    points_.resize(points.size());
    order_.resize(points.size());
    codes_.resize(points.size());
    repeats_.resize(points.size());
    for (std::size_t i = 0; i < keys.size(); ++i) {
        points_[i] = points[keys[i].index];
        order_[i] = keys[i].index;
        codes_[i] = keys[i].code;
        repeats_[i] = i > 0 && keys[i].code == keys[i - 1].code;
    }
    bucket_.assign((std::size_t{1} << kBucketBits) + 1, 0);
    for (const std::uint64_t code : codes_) ++bucket_[(code >> (3 * kBits - kBucketBits)) + 1];
    for (std::size_t i = 1; i < bucket_.size(); ++i) bucket_[i] += bucket_[i - 1];
    find_leaves();
}

std::uint32_t PointIndex::lower_bound(std::uint64_t code) const {
    const std::uint64_t bucket = code >> (3 * kBits - kBucketBits);
    if (bucket >= bucket_.size() - 1) return static_cast<std::uint32_t>(codes_.size());
    const auto begin = codes_.begin() + bucket_[bucket], end = codes_.begin() + bucket_[bucket + 1];
    return static_cast<std::uint32_t>(std::lower_bound(begin, end, code) - codes_.begin());
}

PointIndex::Range PointIndex::cell_range(std::uint32_t x, std::uint32_t y, std::uint32_t z, int level) const {
    const std::uint64_t code = morton(x, y, z);
    return {lower_bound(code << (3 * level)), lower_bound((code + 1) << (3 * level))};
}

void PointIndex::find_leaves() {
    if (codes_.empty()) return;
    std::vector<Leaf> stack{{0, static_cast<std::uint32_t>(codes_.size()), kBits}};
    while (!stack.empty()) {
        const Leaf cell = stack.back();
        stack.pop_back();
        if (cell.end - cell.begin <= kLeafMost || cell.level == 0) {
            leaves_.push_back(cell);
            continue;
        }
        const int shift = 3 * (cell.level - 1);
        std::uint32_t end = cell.end;
        const std::uint64_t base = codes_[cell.begin] >> (shift + 3) << 3;
        for (std::uint64_t child = 8; child-- > 0;) {  // last first, so that the stack gives the first one first
            const auto begin = static_cast<std::uint32_t>(
                std::lower_bound(codes_.begin() + cell.begin, codes_.begin() + end, (base + child) << shift) -
                codes_.begin());
            if (begin < end) stack.push_back({begin, end, cell.level - 1});
            end = begin;
        }
    }
    std::vector<int> levels;
    levels.reserve(leaves_.size());
    for (const Leaf& leaf : leaves_) levels.push_back(leaf.level);
    std::nth_element(levels.begin(), levels.begin() + static_cast<std::ptrdiff_t>(levels.size() / 2), levels.end());
    start_level_ = levels[levels.size() / 2];
}

void PointIndex::gather(const std::uint32_t cell[3], int level, Candidates& out) const {
    std::array<Range, 27> ranges;
    std::size_t count = 0, total = 0;
    const double edge = std::ldexp(cell_mm_, level);
    out.centre = origin_ + Vec3{cell[0] + 0.5, cell[1] + 0.5, cell[2] + 0.5} * edge;
    if (level >= kBits) {
        ranges[count++] = {0, static_cast<std::uint32_t>(codes_.size())};
        total = codes_.size();
        out.lo = Point3{-1, -1, -1} * 1e30;
        out.hi = Point3{1, 1, 1} * 1e30;
    } else {
        const std::uint32_t last = (kCells >> level) - 1;
        // At the border of the tree there is nothing beyond, so the block knows everything on that side.
        for (std::size_t a = 0; a < 3; ++a) {
            out.lo[a] = cell[a] <= 1 ? -1e30 : -1.5 * edge;
            out.hi[a] = cell[a] + 1 >= last ? 1e30 : 1.5 * edge;
        }
        for (std::uint32_t dz = 0; dz < 3; ++dz)
            for (std::uint32_t dy = 0; dy < 3; ++dy)
                for (std::uint32_t dx = 0; dx < 3; ++dx) {
                    const std::uint32_t x = cell[0] + dx - 1, y = cell[1] + dy - 1, z = cell[2] + dz - 1;
                    if (x > last || y > last || z > last) continue;
                    const Range r = cell_range(x, y, z, level);
                    if (r.begin == r.end) continue;
                    ranges[count++] = r;
                    total += r.end - r.begin;
                }
    }
    std::sort(ranges.begin(), ranges.begin() + static_cast<std::ptrdiff_t>(count),
              [](const Range& a, const Range& b) { return a.begin < b.begin; });
    out.resize(total);
    std::size_t j = 0;
    for (std::size_t r = 0; r < count; ++r)
        for (std::uint32_t p = ranges[r].begin; p < ranges[r].end; ++p, ++j) {
            const Vec3 d = points_[p] - out.centre;
            out.x[j] = static_cast<float>(d.x);
            out.y[j] = static_cast<float>(d.y);
            out.z[j] = static_cast<float>(d.z);
            out.place[j] = p;
        }
}

void PointIndex::solve_leaf(const Leaf& leaf, int k, std::uint32_t* out,
                            const std::vector<std::uint32_t>* wanted) const {
    static thread_local Candidates c;
    static thread_local std::vector<std::uint32_t> pending, still;
    pending.clear();
    if (wanted != nullptr) {
        pending.assign(wanted->begin(), wanted->end());
    } else {
        for (std::uint32_t p = leaf.begin; p < leaf.end; ++p) pending.push_back(p);
    }
    const auto ask = static_cast<std::size_t>(k) + 1;  // the point itself is among them
    float guess2 = std::numeric_limits<float>::infinity();
    std::size_t slot_base = leaf.begin;
    for (int level = leaf.level; !pending.empty(); ++level) {
        const std::uint64_t code = codes_[leaf.begin] >> (3 * std::min(level, kBits));
        const std::uint32_t cell[3] = {gather_bits(code), gather_bits(code >> 1), gather_bits(code >> 2)};
        gather(cell, level, c);
        still.clear();
        for (const std::uint32_t p : pending) {
            const Vec3 d = points_[p] - c.centre;
            const float q[3] = {static_cast<float>(d.x), static_cast<float>(d.y), static_cast<float>(d.z)};
            const float known2 = level >= kBits ? std::numeric_limits<float>::infinity() : c.known2(q);
            std::size_t m = c.select(q, std::min(known2, guess2));
            if (m < ask && guess2 < known2) m = c.refilter(known2);
            if (m < ask && level < kBits) {
                still.push_back(p);
                continue;
            }
            const std::size_t take = std::min(m, ask);
            const auto first = c.near.begin();
            auto at = [&](std::size_t i) { return first + static_cast<std::ptrdiff_t>(i); };
            if (take < m) std::nth_element(first, at(take - 1), at(m));
            const std::size_t head = std::min<std::size_t>(9, take);
            if (head < take) std::nth_element(first, at(head), at(take));
            std::sort(first, at(head));
            float far2 = 0.0f;
            std::uint32_t* row = out + (p - slot_base) * static_cast<std::size_t>(k);
            std::size_t n = 0;
            for (std::size_t i = 0; i < take; ++i) {
                const auto j = static_cast<std::uint32_t>(c.near[i]);
                far2 = std::max(far2, c.d2[j]);
                if (c.place[j] != p && n < static_cast<std::size_t>(k)) row[n++] = c.place[j];
            }
            for (; n < static_cast<std::size_t>(k); ++n) row[n] = kNone;
            // The next point of this leaf has its k-th about as far.
            guess2 = far2 * 2.0f;
        }
        pending.swap(still);
    }
}

std::vector<std::uint32_t> PointIndex::all_nearest(int k) const {
    EXPECTS(k > 0);
    const auto row = static_cast<std::size_t>(k);
    std::vector<std::uint32_t> out(points_.size() * row);
    parallel_for(leaves_.size(), 64, [&](std::size_t begin, std::size_t end) {
        for (std::size_t l = begin; l < end; ++l)
            solve_leaf(leaves_[l], k, out.data() + leaves_[l].begin * row, nullptr);
    });
    return out;
}

std::vector<std::uint32_t> PointIndex::nearest_of(std::span<const std::uint32_t> places, int k) const {
    EXPECTS(k > 0);
    const auto row = static_cast<std::size_t>(k);
    std::vector<std::uint32_t> out(places.size() * row);
    parallel_for(places.size(), 64, [&](std::size_t begin, std::size_t end) {
        std::vector<std::uint32_t> found(row + 1);
        std::vector<float> d2(row + 1);
        for (std::size_t i = begin; i < end; ++i) {
            const int n = nearest(points_[places[i]], k + 1, found.data(), d2.data());
            std::size_t m = 0;
            for (int j = 0; j < n && m < row; ++j)
                if (found[static_cast<std::size_t>(j)] != places[i])
                    out[i * row + m++] = found[static_cast<std::size_t>(j)];
            for (; m < row; ++m) out[i * row + m] = kNone;
        }
    });
    return out;
}

int PointIndex::nearest(Point3 x, int k, std::uint32_t* places, float* distance2_mm2, float within_mm) const {
    if (points_.empty() || k <= 0) return 0;
    static thread_local Candidates c;
    const auto ask = static_cast<std::size_t>(k);
    // Outside the tree the nearest cell of the tree is as good a start; what the block knows is measured from x itself.
    const Vec3 d = (x - origin_) / cell_mm_;
    std::uint32_t fine[3];
    double outside_mm = 0.0;
    for (std::size_t a = 0; a < 3; ++a) {
        const double v = std::clamp(d[a], 0.0, static_cast<double>(kCells - 1));
        fine[a] = static_cast<std::uint32_t>(v);
        outside_mm = std::max(outside_mm, std::abs(v - d[a]) * cell_mm_);
    }
    int level = start_level_;
    while (level < kBits && std::ldexp(cell_mm_, level) < outside_mm) ++level;
    const float within2 = within_mm * within_mm;
    for (;; ++level) {
        const std::uint32_t cell[3] = {fine[0] >> level, fine[1] >> level, fine[2] >> level};
        gather(cell, level, c);
        if (c.count < ask && level < kBits && std::isinf(within_mm)) continue;
        const Vec3 r = x - c.centre;
        const float q[3] = {static_cast<float>(r.x), static_cast<float>(r.y), static_cast<float>(r.z)};
        const float known2 = level >= kBits ? std::numeric_limits<float>::infinity() : c.known2(q);
        const std::size_t m = c.select(q, known2);
        if (m < ask && level < kBits && known2 < within2) continue;
        const std::size_t take = std::min(m, ask);
        std::partial_sort(c.near.begin(), c.near.begin() + static_cast<std::ptrdiff_t>(take),
                          c.near.begin() + static_cast<std::ptrdiff_t>(m));
        for (std::size_t i = 0; i < take; ++i) {
            const auto j = static_cast<std::uint32_t>(c.near[i]);
            places[i] = c.place[j];
            distance2_mm2[i] = c.d2[j];
        }
        return static_cast<int>(take);
    }
}

}  // namespace geom::scan::internal
