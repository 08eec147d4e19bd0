#include "geom/measure/internal/surrounded.h"

#include "geom/core/parallel.h"
#include "geom/core/random.h"
#include "geom/measure/winding_tree.h"

#include <algorithm>
#include <cmath>

namespace geom::measure::internal {

namespace {

struct Moments {
    double sum = 0.0, squares = 0.0;
    void add(double v) { sum += v, squares += v * v; }
    void add(const Moments& m) { sum += m.sum, squares += m.squares; }
};

/// Mean and three standard deviations of so many samples of a value that is mostly zero, times the volume sampled.
struct Spread {
    double mean = 0.0, three_sigma = 0.0;
};
Spread spread_of(const Moments& m, double n, double volume) {
    const double mean = m.sum / n;
    const double variance = std::max(0.0, m.squares / n - mean * mean);
    return {mean * volume, (m.squares > 0.0 ? 3.0 * std::sqrt(variance / n) : 3.0 / n) * volume};
}

/// sample(p, row) at one jittered point of each cell of a lattice of n^3; rows run in parallel.
template <class Sample>
void sample_box(const Aabb& box, int n, Sample&& sample) {
    const Vec3 step = box.size() / n;
    parallel_for(static_cast<std::size_t>(n) * static_cast<std::size_t>(n), 16,
                 [&](std::size_t begin, std::size_t end) {
                     for (std::size_t row = begin; row < end; ++row) {
                         Random random(row + 1);
                         const auto j = static_cast<double>(row % static_cast<std::size_t>(n));
                         const auto k = static_cast<double>(row / static_cast<std::size_t>(n));
                         for (int i = 0; i < n; ++i) {
                             const double x = i + random.uniform(), y = j + random.uniform(), z = k + random.uniform();
                             sample(Point3{box.lo.x + step.x * x, box.lo.y + step.y * y, box.lo.z + step.z * z}, row);
                         }
                     }
                 });
}

bool overlap(const Aabb& a, const Aabb& b) {
    for (std::size_t k = 0; k < 3; ++k)
        if (a.hi[k] < b.lo[k] || b.hi[k] < a.lo[k]) return false;
    return true;
}

/// Boxes round the loops, wide enough for all that a lid puts in doubt; those that overlap are one.
std::vector<Aabb> boxes_of(const std::vector<BorderLoop>& loops) {
    std::vector<Aabb> boxes;
    for (const BorderLoop& loop : loops) {
        if (loop.width_mm <= 0.0) continue;
        Aabb box;
        const Vec3 reach = Vec3{1, 1, 1} * loop.width_mm;
        box.grow(loop.middle - reach);
        box.grow(loop.middle + reach);
        boxes.push_back(box);
    }
    for (bool again = true; again;) {
        again = false;
        for (std::size_t i = 0; i < boxes.size() && !again; ++i)
            for (std::size_t j = i + 1; j < boxes.size() && !again; ++j)
                if (overlap(boxes[i], boxes[j])) {
                    boxes[i].grow(boxes[j].lo);
                    boxes[i].grow(boxes[j].hi);
                    boxes.erase(boxes.begin() + static_cast<std::ptrdiff_t>(j));
                    again = true;
                }
    }
    return boxes;
}

double box_volume(const Aabb& box) {
    const Vec3 s = box.size();
    return s.x * s.y * s.z;
}

}  // namespace

Estimate surrounded_by_open(const TriMesh& shell, const TriMesh& lids, const std::vector<BorderLoop>& loops,
                            double capped_mm3) {
    constexpr std::size_t kMostLoops = 500;
    Estimate out{capped_mm3, capped_mm3, capped_mm3, 0, true};
    std::vector<BorderLoop> few = loops;
    if (few.size() > kMostLoops) {
        // The small ones are bounded by a half ball over each, either way.
        std::sort(few.begin(), few.end(),
                  [](const BorderLoop& a, const BorderLoop& b) { return a.width_mm > b.width_mm; });
        for (std::size_t i = kMostLoops; i < few.size(); ++i) {
            out.low_mm3 -= few[i].lid_mm2 * few[i].width_mm / 3.0;
            out.high_mm3 += few[i].lid_mm2 * few[i].width_mm / 3.0;
        }
        few.resize(kMostLoops);
    }
    const std::vector<Aabb> boxes = boxes_of(few);
    if (boxes.empty()) return out;
    const WindingTree of_shell(shell), of_lids(lids);
    const int n = std::clamp(static_cast<int>(std::cbrt(200000.0 / static_cast<double>(boxes.size()))), 8, 40);
    for (const Aabb& box : boxes) {
        std::vector<Moments> low(static_cast<std::size_t>(n) * static_cast<std::size_t>(n)), high(low.size());
        sample_box(box, n, [&](Point3 p, std::size_t row) {
            const double w = of_shell.at(p), whole = std::round(w + of_lids.at(p));
            low[row].add((w > 0.75 ? 1.0 : 0.0) - whole);
            high[row].add((w > 0.25 ? 1.0 : 0.0) - whole);
        });
        Moments all_low, all_high;
        for (const Moments& m : low) all_low.add(m);
        for (const Moments& m : high) all_high.add(m);
        const double count = std::pow(n, 3), volume = box_volume(box);
        const Spread below = spread_of(all_low, count, volume), above = spread_of(all_high, count, volume);
        out.low_mm3 += below.mean - below.three_sigma;
        out.high_mm3 += above.mean + above.three_sigma;
        out.samples += static_cast<std::size_t>(n) * static_cast<std::size_t>(n) * static_cast<std::size_t>(n);
    }
    out.low_mm3 = std::clamp(out.low_mm3, 0.0, capped_mm3);
    out.high_mm3 = std::max(out.high_mm3, capped_mm3);
    return out;
}

Estimate surrounded_by_crossing(const TriMesh& closed, double signed_mm3) {
    constexpr int kEdge = 64;
    const Aabb box = bounds(closed);
    const WindingTree tree(closed);
    std::vector<Moments> rows(static_cast<std::size_t>(kEdge) * kEdge);
    sample_box(box, kEdge, [&](Point3 p, std::size_t row) {
        const double w = std::round(tree.at(p));
        rows[row].add((w >= 1.0 ? 1.0 : 0.0) - w);
    });
    Moments all;
    for (const Moments& m : rows) all.add(m);
    const Spread spread = spread_of(all, std::pow(kEdge, 3), box_volume(box));
    const double best = signed_mm3 + spread.mean;
    return {std::max(0.0, best - spread.three_sigma), best, best + spread.three_sigma,
            static_cast<std::size_t>(kEdge) * kEdge * kEdge, all.squares > 0.0};
}

}  // namespace geom::measure::internal
