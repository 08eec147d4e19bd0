// Lone points: the eighth neighbour is more than 2.2 times as far as is usual next door, or 5 times as far as is usual
// at all. In a thinned cloud so is one that stands for an eighth of what is usual next door. "Next door" is the lower
// middle of the same distance at four of the neighbours, so that a thin region of a scan is held against itself; it
// never counts as less than the cloud's median.
//
// Floating clusters: the graph of the eight nearest, with a link kept when it is no longer than twice the local spacing
// at its denser end. Links through the graph, and not through occupied cells, keep a cluster apart that floats near a
// wall. A component's area is the sum of what its points stand for; small ones go, and are told by place.
#include "geom/scan/internal/clean.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>

namespace geom::scan::internal {
namespace {

/// Of thinned clouds: points a cell from which on a nearly empty cell is suspect, and how empty.
constexpr float kWeighed = 5.0f, kLoneWeight = 0.125f;
constexpr double kLoneNear = 2.2, kLoneAll = 5.0, kLink = 2.0;
constexpr std::size_t kMostListed = 200;

double median(std::vector<float> v) {
    if (v.empty()) return 0.0;
    const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), middle, v.end());
    return *middle;
}

class Components {
public:
    explicit Components(std::size_t n) : parent_(n) { std::iota(parent_.begin(), parent_.end(), 0u); }
    std::uint32_t root(std::uint32_t i) {
        while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
        return i;
    }
    /// The lower place becomes the root, so that roots do not depend on the order of joining.
    void join(std::uint32_t a, std::uint32_t b) {
        a = root(a), b = root(b);
        if (a < b)
            parent_[b] = a;
        else
            parent_[a] = b;
    }

private:
    std::vector<std::uint32_t> parent_;
};

}  // namespace

void add_dropped(std::vector<Dropped>& list, Dropped entry) {
    const auto at = std::upper_bound(list.begin(), list.end(), entry,
                                     [](const Dropped& a, const Dropped& b) { return a.points > b.points; });
    list.insert(at, std::move(entry));
}

Cleaned clean(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
              const std::vector<float>& weight, Area least_cluster) {
    const std::vector<Point3>& points = index.points();
    const std::size_t n = points.size();
    const auto row = static_cast<std::size_t>(k);
    Cleaned out;
    out.kept.assign(n, 1);
    out.d8_mm.resize(n);
    const std::size_t eighth = std::min<std::size_t>(8, n > 1 ? n - 1 : 1) - 1;
    parallel_for(n, 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            const std::uint32_t j = neighbours[i * row + eighth];
            out.d8_mm[i] = j == PointIndex::kNone ? 0.0f : static_cast<float>(distance(points[i], points[j]));
        }
    });
    const double usual = median(out.d8_mm);
    out.spacing_mm = usual * std::sqrt(std::numbers::pi / 8.0);

    parallel_for(n, 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            if (index.repeats()[i]) {
                out.kept[i] = 0;
                continue;
            }
            // Kept sorted as they come: at most four.
            std::array<float, 8> next_door{};
            std::size_t found = 0;
            for (std::size_t m = 1; m < 8 && m <= eighth; m += 2) {
                const std::uint32_t j = neighbours[i * row + m];
                if (j == PointIndex::kNone) continue;
                std::size_t at = found++;
                for (; at > 0 && next_door[at - 1] > out.d8_mm[j]; --at) next_door[at] = next_door[at - 1];
                next_door[at] = out.d8_mm[j];
            }
            const double reference = found > 0 ? std::max<double>(usual, next_door[(found - 1) / 2]) : usual;
            if (out.d8_mm[i] > kLoneNear * reference || out.d8_mm[i] > kLoneAll * usual) out.kept[i] = 0;
            if (!weight.empty() && found > 0) {
                float next[4] = {};
                std::size_t n_next = 0;
                for (std::size_t m = 0; m < 8 && m <= eighth && n_next < 4; m += 2)
                    if (const std::uint32_t j = neighbours[i * row + m]; j != PointIndex::kNone)
                        next[n_next++] = weight[j];
                const float usual_weight =
                    (next[0] + next[1] + next[2] + next[3]) / static_cast<float>(std::max<std::size_t>(n_next, 1));
                if (usual_weight >= kWeighed && weight[i] < kLoneWeight * usual_weight) out.kept[i] = 0;
            }
        }
    });

    Dropped lone{{}, 0, {}, "outliers"};
    Aabb lone_box;
    for (std::size_t i = 0; i < n; ++i) {
        if (out.kept[i] || index.repeats()[i]) continue;
        ++lone.points;
        lone_box.grow(points[i]);
    }

    // One way of each link is enough, and places of a link are near one another in memory.
    Components components(n);
    for (std::size_t i = 0; i < n; ++i) {
        if (!out.kept[i]) continue;
        for (std::size_t m = 0; m <= eighth; ++m) {
            const std::uint32_t j = neighbours[i * row + m];
            if (j == PointIndex::kNone || !out.kept[j]) continue;
            const double spacing = std::min(out.d8_mm[i], out.d8_mm[j]) / 1.6;
            if (norm2(points[i] - points[j]) <= kLink * kLink * spacing * spacing)
                components.join(static_cast<std::uint32_t>(i), j);
        }
    }
    std::vector<double> area(n, 0.0);
    std::vector<std::uint32_t> root(n);
    for (std::size_t i = 0; i < n; ++i) {
        if (!out.kept[i]) continue;
        root[i] = components.root(static_cast<std::uint32_t>(i));
        area[root[i]] += std::numbers::pi * out.d8_mm[i] * out.d8_mm[i] / 9.0;
    }
    struct Cluster {
        std::size_t points = 0;
        Vec3 sum;
        Aabb box;
    };
    std::vector<std::uint32_t> slot(n, PointIndex::kNone);
    std::vector<Cluster> clusters;
    for (std::size_t i = 0; i < n; ++i) {
        if (!out.kept[i] || area[root[i]] >= least_cluster.mm2()) continue;
        out.kept[i] = 0;
        if (slot[root[i]] == PointIndex::kNone) {
            slot[root[i]] = static_cast<std::uint32_t>(clusters.size());
            clusters.emplace_back();
        }
        Cluster& c = clusters[slot[root[i]]];
        ++c.points;
        c.sum += points[i];
        c.box.grow(points[i]);
    }
    std::stable_sort(clusters.begin(), clusters.end(),
                     [](const Cluster& a, const Cluster& b) { return a.points > b.points; });
    Dropped rest{{}, 0, {}, "small clusters"};
    Aabb rest_box;
    for (std::size_t c = 0; c < clusters.size(); ++c) {
        const Cluster& cluster = clusters[c];
        // Handfuls are lone points that happened to meet.
        if (cluster.points < 9) {
            lone.points += cluster.points;
            lone_box.grow(cluster.box.lo), lone_box.grow(cluster.box.hi);
        } else if (c < kMostListed) {
            add_dropped(out.dropped, {cluster.sum / static_cast<double>(cluster.points), cluster.points,
                                      Length::mm(norm(cluster.box.size())), "floating cluster"});
        } else {
            rest.points += cluster.points;
            rest_box.grow(cluster.box.lo), rest_box.grow(cluster.box.hi);
        }
    }
    auto pool = [&](Dropped& entry, const Aabb& box) {
        if (entry.points == 0) return;
        entry.place = (box.lo + box.hi) / 2.0;
        entry.size = Length::mm(norm(box.size()));
        add_dropped(out.dropped, entry);
    };
    pool(rest, rest_box);
    pool(lone, lone_box);
    return out;
}

}  // namespace geom::scan::internal
