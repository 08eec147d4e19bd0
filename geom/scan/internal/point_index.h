// Nearest points by an octree that is only an order: points sorted along a Morton curve, cells found as ranges of it.
//
// Every cell of every level is a run of neighbouring codes, so leaves of any size cost nothing to store, and the
// candidates of a whole leaf are gathered once for all of its points. Answers are exact and depend neither on threads
// nor on the order in which the points came (equal distances are taken in curve order).
//
// Precision  Distances are taken in float about a near origin, so they are good to about 1e-6 of themselves wherever
// the
//            points lie in the frame.
#pragma once

#include "geom/core/vec.h"

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

namespace geom::scan::internal {

class PointIndex {
public:
    /// Sorts a copy of `points`. EXPECTS: finite; at most 2^32 - 2 of them.
    explicit PointIndex(std::span<const Point3> points);

    std::size_t size() const { return points_.size(); }
    /// The points in curve order; "place" below is a place in this order.
    const std::vector<Point3>& points() const { return points_; }
    /// Place -> index in what the constructor was given.
    const std::vector<std::uint32_t>& order() const { return order_; }
    /// Places whose points fall into the same finest cell as the one before (equal or all but equal points).
    const std::vector<bool>& repeats() const { return repeats_; }
    double finest_cell_mm() const { return cell_mm_; }

    /// For every place its `k` nearest other places, k a place, kNone where there are fewer points. The first
    /// min(k, 8) of each are sorted by distance; the others are in no order, but always the same one.
    static constexpr std::uint32_t kNone = 0xFFFFFFFFu;
    std::vector<std::uint32_t> all_nearest(int k) const;
    /// The same for the given places only.
    std::vector<std::uint32_t> nearest_of(std::span<const std::uint32_t> places, int k) const;

    /// The `k` places nearest to `x`, sorted by distance, into `places` and `distance2_mm2`; how many there are. Those
    /// farther than `within_mm` may be left out: nothing is looked for beyond it.
    int nearest(Point3 x, int k, std::uint32_t* places, float* distance2_mm2,
                float within_mm = std::numeric_limits<float>::infinity()) const;

private:
    struct Range {
        std::uint32_t begin, end;
    };
    struct Leaf {
        std::uint32_t begin, end;
        int level;
    };
    struct Candidates;
    Range cell_range(std::uint32_t x, std::uint32_t y, std::uint32_t z, int level) const;
    std::uint32_t lower_bound(std::uint64_t code) const;
    void gather(const std::uint32_t cell[3], int level, Candidates& out) const;
    void find_leaves();
    void solve_leaf(const Leaf& leaf, int k, std::uint32_t* out, const std::vector<std::uint32_t>* wanted) const;

    std::vector<Point3> points_;
    std::vector<std::uint32_t> order_;
    std::vector<bool> repeats_;
    std::vector<std::uint64_t> codes_;
    std::vector<std::uint32_t> bucket_;  ///< first place of each value of the code's top bits
    std::vector<Leaf> leaves_;
    Point3 origin_;
    double cell_mm_ = 1.0;  ///< edge of the finest cell
    int start_level_ = 0;   ///< of single queries
};

}  // namespace geom::scan::internal
