// Distance to a loop: segments in runs of sixteen, each with a circle round it, so that most runs are passed over.
// Inside: crossings of a ray (half-open rule, so that a vertex counts once). Greatest value: a branch-and-bound over
// squares, sound for functions that change by at most 1 a millimetre (the "pole of inaccessibility" search).
// Level loops: marching squares with linear cuts; the ambiguous saddle is cut so that inside stays apart.
#include "geom/parts/internal/contour.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <array>
#include <map>
#include <numbers>
#include <queue>

namespace geom::parts {

double signed_area(const Loop& loop) {
    double twice = 0.0;
    for (std::size_t i = 0; i < loop.size(); ++i) twice += cross(loop[i], loop[(i + 1) % loop.size()]);
    return twice / 2.0;
}

double length(const Loop& loop) {
    double sum = 0.0;
    for (std::size_t i = 0; i < loop.size(); ++i) sum += distance(loop[i], loop[(i + 1) % loop.size()]);
    return sum;
}

Outline::Outline(Loop loop) : loop_(std::move(loop)) {
    EXPECTS(loop_.size() >= 3);
    if (signed_area(loop_) < 0.0) std::reverse(loop_.begin(), loop_.end());
    lo_ = hi_ = loop_.front();
    for (const Point2 p : loop_) {
        lo_ = {std::min(lo_.x, p.x), std::min(lo_.y, p.y)};
        hi_ = {std::max(hi_.x, p.x), std::max(hi_.y, p.y)};
    }
    constexpr std::size_t kRun = 16;
    for (std::size_t begin = 0; begin < loop_.size(); begin += kRun) {
        Run run{.begin = begin, .end = std::min(begin + kRun, loop_.size()), .centre = {}, .radius = 0.0};
        Point2 sum;
        for (std::size_t i = run.begin; i <= run.end; ++i) sum = sum + loop_[i % loop_.size()];
        run.centre = sum * (1.0 / static_cast<double>(run.end - run.begin + 1));
        for (std::size_t i = run.begin; i <= run.end; ++i)
            run.radius = std::max(run.radius, distance(run.centre, loop_[i % loop_.size()]));
        runs_.push_back(run);
    }
}

bool Outline::contains(Point2 p) const {
    bool inside = false;
    for (std::size_t i = 0, j = loop_.size() - 1; i < loop_.size(); j = i++) {
        const Point2 a = loop_[i], b = loop_[j];
        if ((a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x) inside = !inside;
    }
    return inside;
}

Nearest Outline::nearest(Point2 p) const {
    Nearest best{.distance_mm = 1e300, .at = {}};
    for (const Run& run : runs_) {
        if (distance(p, run.centre) - run.radius >= best.distance_mm) continue;
        for (std::size_t i = run.begin; i < run.end; ++i) {
            const Point2 a = loop_[i], d = loop_[(i + 1) % loop_.size()] - a;
            const double dd = dot(d, d);
            const double t = dd > 0.0 ? std::clamp(dot(p - a, d) / dd, 0.0, 1.0) : 0.0;
            const Point2 q = a + d * t;
            if (const double r = distance(p, q); r < best.distance_mm) best = {r, q};
        }
    }
    return best;
}

double Outline::depth(Point2 p) const {
    const double d = nearest(p).distance_mm;
    return contains(p) ? d : -d;
}

Best greatest(const std::function<double(Point2)>& value, Point2 lo, Point2 hi) {
    struct Square {
        Point2 centre;
        double half = 0.0, value = 0.0;
        double most() const { return value + half * std::numbers::sqrt2; }
        bool operator<(const Square& other) const { return most() < other.most(); }
    };
    std::priority_queue<Square> open;
    Best best{.at = (lo + hi) * 0.5, .value = value((lo + hi) * 0.5)};
    const double size = std::max(1e-6, std::min(hi.x - lo.x, hi.y - lo.y) / 4.0);
    const auto push = [&](Point2 centre, double half) {
        const Square square{centre, half, value(centre)};
        if (square.value > best.value) best = {centre, square.value};
        open.push(square);
    };
    for (double x = lo.x + size / 2.0; x < hi.x + size / 2.0; x += size)
        for (double y = lo.y + size / 2.0; y < hi.y + size / 2.0; y += size) push({x, y}, size / 2.0);
    while (!open.empty() && open.top().most() > best.value + 0.05) {
        const Square square = open.top();
        open.pop();
        const double h = square.half / 2.0;
        for (const double sx : {-h, h})
            for (const double sy : {-h, h}) push({square.centre.x + sx, square.centre.y + sy}, h);
    }
    return best;
}

std::optional<Loop> level_loop(const std::function<double(Point2)>& value, double level, Point2 lo, Point2 hi,
                               double cell) {
    const int nx = static_cast<int>(std::ceil((hi.x - lo.x) / cell)) + 3;
    const int ny = static_cast<int>(std::ceil((hi.y - lo.y) / cell)) + 3;
    const Point2 origin{lo.x - cell, lo.y - cell};
    std::vector<double> v(static_cast<std::size_t>(nx) * static_cast<std::size_t>(ny));
    const auto index = [&](int i, int j) {
        return static_cast<std::size_t>(j) * static_cast<std::size_t>(nx) + static_cast<std::size_t>(i);
    };
    for (int j = 0; j < ny; ++j)
        for (int i = 0; i < nx; ++i) {
            const bool border = i == 0 || j == 0 || i == nx - 1 || j == ny - 1;
            double f = value({origin.x + i * cell, origin.y + j * cell}) - level;
            if (f == 0.0) f = -1e-9;
            v[index(i, j)] = border ? std::min(f, -1e-9) : f;
        }
    // Cuts are named by their grid edge: 2 * node for the edge to the right of it, 2 * node + 1 for the one above.
    const auto cut = [&](std::size_t name) -> Point2 {
        const std::size_t node = name / 2;
        const int i = static_cast<int>(node % static_cast<std::size_t>(nx)),
                  j = static_cast<int>(node / static_cast<std::size_t>(nx));
        const std::size_t other = name % 2 == 0 ? index(i + 1, j) : index(i, j + 1);
        const double t = v[node] / (v[node] - v[other]);
        return name % 2 == 0 ? Point2{origin.x + (i + t) * cell, origin.y + j * cell}
                             : Point2{origin.x + i * cell, origin.y + (j + t) * cell};
    };
    std::map<std::size_t, std::size_t> next;  // the inside lies to the left
    for (int j = 0; j + 1 < ny; ++j)
        for (int i = 0; i + 1 < nx; ++i) {
            const std::array<bool, 4> in{v[index(i, j)] > 0, v[index(i + 1, j)] > 0, v[index(i + 1, j + 1)] > 0,
                                         v[index(i, j + 1)] > 0};
            const std::array<std::size_t, 4> edge{2 * index(i, j), 2 * index(i + 1, j) + 1, 2 * index(i, j + 1),
                                                  2 * index(i, j) + 1};
            // Walking round the cell counter-clockwise: where it leaves the inside a piece of the loop enters.
            for (std::size_t k = 0; k < 4; ++k) {
                if (!in[k] || in[(k + 1) % 4]) continue;  // edge k goes from inside to outside
                std::size_t back = k;                     // back along the inside corners to where the inside began
                while (in[(back + 3) % 4]) back = (back + 3) % 4;
                next[edge[k]] = edge[(back + 3) % 4];
            }
        }
    std::optional<Loop> best;
    while (!next.empty()) {
        Loop loop;
        const std::size_t start = next.begin()->first;
        for (std::size_t at = start; next.count(at) != 0;) {
            loop.push_back(cut(at));
            const std::size_t to = next[at];
            next.erase(at);
            at = to;
        }
        if (loop.size() < 3) continue;
        if (signed_area(loop) > 0.0 && (!best || signed_area(loop) > signed_area(*best))) best = std::move(loop);
    }
    return best;
}

Loop resampled(const Loop& loop, double step, int rounds) {
    const double total = length(loop);
    const std::size_t n = std::max<std::size_t>(12, static_cast<std::size_t>(std::lround(total / step)));
    Loop out;
    out.reserve(n);
    double behind = 0.0;
    std::size_t i = 0;
    for (std::size_t k = 0; k < n; ++k) {
        const double want = total * static_cast<double>(k) / static_cast<double>(n);
        while (behind + distance(loop[i], loop[(i + 1) % loop.size()]) < want && i + 1 < loop.size()) {
            behind += distance(loop[i], loop[(i + 1) % loop.size()]);
            ++i;
        }
        const Point2 a = loop[i], b = loop[(i + 1) % loop.size()];
        const double d = distance(a, b);
        out.push_back(d > 0.0 ? a + (b - a) * std::clamp((want - behind) / d, 0.0, 1.0) : a);
    }
    for (int round = 0; round < rounds; ++round) {
        Loop smooth(n);
        for (std::size_t k = 0; k < n; ++k) smooth[k] = out[k] * 0.5 + (out[(k + 1) % n] + out[(k + n - 1) % n]) * 0.25;
        out = std::move(smooth);
    }
    return out;
}

std::string direction_words(Point2 d) {
    const double angle = std::atan2(d.y, d.x) * 180.0 / std::numbers::pi;  // 0: right, 90: up
    static const std::array<const char*, 8> words{
        "to the right", "up and to the right",  "up",   "up and to the left",
        "to the left",  "down and to the left", "down", "down and to the right"};
    const int sector = static_cast<int>(std::lround(angle / 45.0)) & 7;
    return words[static_cast<std::size_t>(sector)];
}

}  // namespace geom::parts
