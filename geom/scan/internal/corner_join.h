// Gives equal corners (bit for bit, -0 as 0) one index. Open addressing, grown as the points do.
#pragma once

#include "geom/core/vec.h"

#include <bit>
#include <cstdint>
#include <vector>

namespace geom::scan::internal {

class CornerJoin {
public:
    /// Points that are in `points` already are left alone and never joined with.
    explicit CornerJoin(std::vector<Point3>& points) : points_(points), first_(points.size()), table_(1 << 12, kFree) {}
    std::uint32_t index(Point3 p) {
        p = {p.x + 0.0, p.y + 0.0, p.z + 0.0};
        if ((points_.size() - first_) * 2 > table_.size()) grow();
        std::size_t slot = hash(p) & (table_.size() - 1);
        while (table_[slot] != kFree) {
            const Point3& q = points_[table_[slot]];
            if (q == p) return table_[slot];
            slot = (slot + 1) & (table_.size() - 1);
        }
        points_.push_back(p);
        return table_[slot] = static_cast<std::uint32_t>(points_.size() - 1);
    }

private:
    static constexpr std::uint32_t kFree = 0xFFFFFFFFu;
    static std::size_t hash(Point3 p) {
        std::uint64_t h = std::bit_cast<std::uint64_t>(p.x) * 0x9E3779B97F4A7C15ull;
        h = (std::rotl(h, 29) ^ std::bit_cast<std::uint64_t>(p.y)) * 0xBF58476D1CE4E5B9ull;
        h = (std::rotl(h, 31) ^ std::bit_cast<std::uint64_t>(p.z)) * 0x94D049BB133111EBull;
        return static_cast<std::size_t>(h ^ (h >> 32));
    }
    void grow() {
        table_.assign(table_.size() * 2, kFree);
        for (std::size_t i = first_; i < points_.size(); ++i) {
            std::size_t slot = hash(points_[i]) & (table_.size() - 1);
            while (table_[slot] != kFree) slot = (slot + 1) & (table_.size() - 1);
            table_[slot] = static_cast<std::uint32_t>(i);
        }
    }
    std::vector<Point3>& points_;
    std::size_t first_;
    std::vector<std::uint32_t> table_;
};

}  // namespace geom::scan::internal
