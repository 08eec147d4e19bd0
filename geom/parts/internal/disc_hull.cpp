// A line of the hull touches two discs with all others behind it. For each ordered pair the outer tangent on the right
// of the way from one to the other is known in closed form; those that no disc reaches over are the hull's, and in the
// order of their normals they run round it, an arc of a disc between each two.
#include "geom/parts/internal/disc_hull.h"

#include "geom/core/result.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace geom::parts {
namespace {

constexpr double kTouch_mm = 1e-9;

/// A line that touches two discs, with both behind it.
struct Tangent {
    std::size_t from = 0, to = 0;
    Point2 normal;  ///< outward
    double angle = 0.0, length_mm = 0.0;
};

std::optional<Tangent> tangent_of(const std::vector<Disc>& discs, std::size_t i, std::size_t j) {
    const Point2 way = discs[j].centre - discs[i].centre;
    const double apart = norm(way), rise = discs[i].radius_mm - discs[j].radius_mm;
    if (apart <= std::abs(rise) + kTouch_mm) return std::nullopt;  // one within the other
    const Point2 along = way * (1.0 / apart), right{along.y, -along.x};
    // n . c + r is the same for both: n leans towards the smaller one.
    const double s = rise / apart, c = std::sqrt(1.0 - s * s);
    const Point2 n = along * s + right * c;
    return Tangent{i, j, n, std::atan2(n.y, n.x), apart * c};
}

std::vector<Tangent> tangents_of(const std::vector<Disc>& discs) {
    std::vector<Tangent> found;
    for (std::size_t i = 0; i < discs.size(); ++i)
        for (std::size_t j = 0; j < discs.size(); ++j) {
            if (i == j) continue;
            const auto t = tangent_of(discs, i, j);
            if (!t) continue;
            const double level = dot(t->normal, discs[i].centre) + discs[i].radius_mm;
            const bool is_border = std::all_of(discs.begin(), discs.end(), [&](const Disc& d) {
                return dot(t->normal, d.centre) + d.radius_mm <= level + kTouch_mm;
            });
            if (is_border) found.push_back(*t);
        }
    std::sort(found.begin(), found.end(), [](const Tangent& a, const Tangent& b) { return a.angle < b.angle; });
    // Discs in a row share a line: the longest piece of it counts.
    std::vector<Tangent> lines;
    for (const Tangent& t : found) {
        const bool is_same = !lines.empty() && norm(lines.back().normal - t.normal) < 1e-7;
        if (!is_same)
            lines.push_back(t);
        else if (t.length_mm > lines.back().length_mm)
            lines.back() = t;
    }
    if (lines.size() > 1 && norm(lines.front().normal - lines.back().normal) < 1e-7) {
        if (lines.back().length_mm > lines.front().length_mm) lines.front() = lines.back();
        lines.pop_back();
    }
    return lines;
}

}  // namespace

FlatPath hull_of(const std::vector<Disc>& discs) {
    EXPECTS(!discs.empty());
    EXPECTS(std::any_of(discs.begin(), discs.end(), [](const Disc& d) { return d.radius_mm > 0.0; }));
    for (const Disc& d : discs) EXPECTS(d.radius_mm >= 0.0);
    FlatPath path{Operation::Outline, {}, true};
    const std::vector<Tangent> lines = tangents_of(discs);
    if (lines.empty()) {
        const Disc& d = *std::max_element(discs.begin(), discs.end(),
                                          [](const Disc& a, const Disc& b) { return a.radius_mm < b.radius_mm; });
        path.points = {{d.centre.x + d.radius_mm, d.centre.y, 1.0}, {d.centre.x - d.radius_mm, d.centre.y, 1.0}};
        return path;
    }
    for (std::size_t k = 0; k < lines.size(); ++k) {
        const Tangent &line = lines[k], &next = lines[(k + 1) % lines.size()];
        const Point2 a = discs[line.from].centre + line.normal * discs[line.from].radius_mm;
        const Point2 b = discs[line.to].centre + line.normal * discs[line.to].radius_mm;
        double turn = next.angle - line.angle;
        while (turn <= 0.0) turn += 2.0 * std::numbers::pi;
        path.points.push_back({a.x, a.y, 0.0});
        if (discs[line.to].radius_mm > 0.0) path.points.push_back({b.x, b.y, bulge_of(turn)});
    }
    return path;
}

double depth_in_hull(const std::vector<Disc>& discs, Point2 p) {
    // The hull is the meet of its supporting half-planes: its lines', and beside each disc those square to the way out.
    const std::vector<Tangent> lines = tangents_of(discs);
    double depth = 1e300;
    for (const Tangent& t : lines)
        depth = std::min(depth, dot(t.normal, discs[t.from].centre) + discs[t.from].radius_mm - dot(t.normal, p));
    constexpr int kNormals = 360;
    for (int i = 0; i < kNormals; ++i) {
        const double a = 2.0 * std::numbers::pi * i / kNormals;
        const Point2 n{std::cos(a), std::sin(a)};
        double level = -1e300;
        for (const Disc& d : discs) level = std::max(level, dot(n, d.centre) + d.radius_mm);
        depth = std::min(depth, level - dot(n, p));
    }
    return depth;
}

}  // namespace geom::parts
