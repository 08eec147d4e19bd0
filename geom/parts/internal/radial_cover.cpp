#include "geom/parts/internal/radial_cover.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr int kUniform = 1440;
constexpr double kBeside_rad = 1e-7;

/// Where a ray crosses a loop.
void add_crossings(const Loop& loop, double angle, std::vector<double>& at) {
    const Point2 way{std::cos(angle), std::sin(angle)};
    for (std::size_t i = 0; i < loop.size(); ++i) {
        const Point2 a = loop[i], b = loop[(i + 1) % loop.size()];
        const double sa = cross(way, a), sb = cross(way, b);
        if ((sa > 0.0) == (sb > 0.0)) continue;
        const double r = dot(way, a + (b - a) * (sa / (sa - sb)));
        if (r > 0.0) at.push_back(r);
    }
}

Point2 on_ray(double angle, double r) {
    return Point2{std::cos(angle), std::sin(angle)} * r;
}

}  // namespace

std::optional<RaySpan> RadialCover::at(double angle) const {
    std::optional<RaySpan> span;
    std::vector<double> crossings;
    for (const auto& borders : faces_) {
        crossings.clear();
        for (const Loop& border : borders) add_crossings(border, angle, crossings);
        if (crossings.empty()) continue;
        const auto [first, last] = std::minmax_element(crossings.begin(), crossings.end());
        // The origin itself is covered where their number is odd.
        const double from = crossings.size() % 2 == 1 ? 0.0 : *first;
        span = span ? RaySpan{std::min(span->from_mm, from), std::max(span->to_mm, *last)} : RaySpan{from, *last};
    }
    return span;
}

double reach(const Loop& loop, double angle) {
    std::vector<double> crossings;
    add_crossings(loop, angle, crossings);
    return crossings.empty() ? 0.0 : *std::max_element(crossings.begin(), crossings.end());
}

std::vector<double> angles_round(const std::vector<Point2>& corners) {
    std::vector<double> angles;
    for (int i = 0; i < kUniform; ++i) angles.push_back(kTurn * (i + 0.5) / kUniform);
    for (const Point2 p : corners)
        for (const double beside : {-kBeside_rad, kBeside_rad}) {
            const double angle = std::atan2(p.y, p.x) + beside;
            angles.push_back(angle - kTurn * std::floor(angle / kTurn));
        }
    std::sort(angles.begin(), angles.end());
    angles.erase(
        std::unique(angles.begin(), angles.end(), [](double a, double b) { return b - a < 0.1 * kBeside_rad; }),
        angles.end());
    return angles;
}

RadialBorders borders_of(const std::vector<double>& angles, const std::vector<std::optional<RaySpan>>& spans) {
    EXPECTS(angles.size() == spans.size());
    const std::size_t n = angles.size();
    RadialBorders borders;
    const auto gap = std::find(spans.begin(), spans.end(), std::nullopt);
    if (gap == spans.end()) {
        Loop outline, opening;
        for (std::size_t i = 0; i < n; ++i) {
            outline.push_back(on_ray(angles[i], spans[i]->to_mm));
            opening.push_back(on_ray(angles[i], spans[i]->from_mm));
        }
        borders.outlines.push_back(std::move(outline));
        if (std::all_of(spans.begin(), spans.end(), [](const auto& s) { return s->from_mm > 0.0; }))
            borders.opening = std::move(opening);
        return borders;
    }
    const std::size_t start = static_cast<std::size_t>(gap - spans.begin());
    Loop outer, inner;
    for (std::size_t k = 1; k <= n; ++k) {
        const std::size_t i = (start + k) % n;
        if (spans[i]) {
            outer.push_back(on_ray(angles[i], spans[i]->to_mm));
            inner.push_back(on_ray(angles[i], spans[i]->from_mm));
            continue;
        }
        if (outer.size() > 1) {
            outer.insert(outer.end(), inner.rbegin(), inner.rend());
            borders.outlines.push_back(outer);
        }
        outer.clear();
        inner.clear();
    }
    return borders;
}

}  // namespace geom::parts
