// Corners are rounded by arcs that touch both sides: of a corner that turns by t they begin r tan(t/2) before it.
#include "geom/parts/ring_outline.h"

#include "geom/core/text.h"
#include "geom/parts/internal/outline_pieces.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kSame_mm = 1e-6;
constexpr double kCrossChord_mm = 0.02;  // how well an outline is followed when it is held against itself

Fault bad(std::string what, std::string hint) {
    return {FaultCode::BadJob, "outline: " + std::move(what), std::move(hint), {}, "part"};
}

Point2 flat(const FlatPoint& p) {
    return {p.x, p.y};
}

bool cross_each_other(Point2 a, Point2 b, Point2 c, Point2 d) {
    const auto side = [](Point2 p, Point2 q, Point2 r) { return cross(q - p, r - p); };
    return side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0;
}

Status check_simple(const RingOutline& outline) {
    const Loop loop = loop_of(outline, kCrossChord_mm);
    const std::size_t n = loop.size();
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = i + 2; j < n; ++j) {
            if (i == 0 && j + 1 == n) continue;
            const Point2 a = loop[i], b = loop[i + 1], c = loop[j], d = loop[(j + 1) % n];
            if (std::max(a.x, b.x) < std::min(c.x, d.x) || std::max(c.x, d.x) < std::min(a.x, b.x)) continue;
            if (cross_each_other(a, b, c, d))
                return bad(fmt::format("crosses itself near ({:.1f}, {:.1f})", c.x, c.y),
                           "give its corners in order, one way round");
        }
    return Done{};
}

}  // namespace

RingOutline round_outline(Length diameter) {
    return {.kind = RingOutline::Kind::Round, .width = diameter, .height = diameter};
}

RingOutline ellipse_outline(Length width, Length height, Angle turn) {
    return {.kind = RingOutline::Kind::Ellipse, .width = width, .height = height, .turn = turn};
}

Result<RingOutline> path_outline(std::vector<FlatPoint> path) {
    if (path.size() < 2) return bad(fmt::format("has {} corners, wanted at least 2", path.size()), "add corners");
    for (std::size_t i = 0; i < path.size(); ++i) {
        const FlatPoint &p = path[i], &q = path[(i + 1) % path.size()];
        if (!std::isfinite(p.x) || !std::isfinite(p.y) || !std::isfinite(p.bulge))
            return bad(fmt::format("corner {} is no number", i + 1), "give lengths");
        if (distance(flat(p), flat(q)) < kSame_mm)
            return bad(fmt::format("corners {} and {} are one", i + 1, (i + 1) % path.size() + 1),
                       "take one of them out");
    }
    RingOutline outline{.kind = RingOutline::Kind::Path, .path = std::move(path)};
    if (area_mm2(outline) < 0.0) outline.path = reversed(outline.path);
    if (area_mm2(outline) < 1.0) return bad("holds no area", "give its corners in order round it");
    GAPWRIGHT_CHECK(check_simple(outline));
    return outline;
}

Result<RingOutline> rounded_polygon(const std::vector<FlatPoint>& corners, Length radius) {
    const std::size_t n = corners.size();
    if (n < 3) return bad(fmt::format("has {} corners, wanted at least 3", n), "add corners");
    std::vector<FlatPoint> sharp = corners;
    for (FlatPoint& p : sharp) p.bulge = 0.0;
    GAPWRIGHT_TRY(polygon, path_outline(sharp));
    if (radius.mm() <= 0.0) return polygon;
    const auto& p = polygon.path;
    std::vector<double> back(n), turn(n);
    for (std::size_t i = 0; i < n; ++i) {
        const Point2 in = flat(p[i]) - flat(p[(i + n - 1) % n]), out = flat(p[(i + 1) % n]) - flat(p[i]);
        turn[i] = std::atan2(cross(in, out), dot(in, out));
        back[i] = radius.mm() * std::tan(std::abs(turn[i]) / 2.0);
    }
    std::vector<FlatPoint> path;
    for (std::size_t i = 0; i < n; ++i) {
        const std::size_t next = (i + 1) % n;
        const double side = distance(flat(p[i]), flat(p[next]));
        if (back[i] + back[next] > side + kSame_mm)
            return bad(
                fmt::format("the side between ({}, {}) and ({}, {}) is {:.2f} mm long, and its corners' radius of "
                            "{} mm takes {:.2f} mm of it",
                            plain_number(p[i].x), plain_number(p[i].y), plain_number(p[next].x),
                            plain_number(p[next].y), side, plain_number(radius.mm()), back[i] + back[next]),
                "a smaller corner_radius");
        const Point2 before = flat(p[(i + n - 1) % n]), at = flat(p[i]), after = flat(p[next]);
        const Point2 in = (at - before) * (1.0 / distance(at, before)), out = (after - at) * (1.0 / side);
        const Point2 a = at - in * back[i], b = at + out * back[i];
        if (back[i] < kSame_mm) {
            path.push_back({at.x, at.y, 0.0});
            continue;
        }
        if (path.empty() || distance(flat(path.back()), a) > kSame_mm) path.push_back({a.x, a.y, 0.0});
        path.back().bulge = bulge_of(turn[i]);
        path.push_back({b.x, b.y, 0.0});
    }
    if (distance(flat(path.front()), flat(path.back())) < kSame_mm) path.pop_back();
    return path_outline(std::move(path));
}

double area_mm2(const RingOutline& outline) {
    if (outline.kind != RingOutline::Kind::Path)
        return std::numbers::pi / 4.0 * outline.width.mm() * outline.height.mm();
    return area_mm2(FlatPath{.operation = Operation::Outline, .points = outline.path, .is_closed = true});
}

}  // namespace geom::parts
