// An arc adds to its chord's polygon the segment between the two: r^2 (a - sin a) / 2, signed as the arc turns.
#include "geom/parts/flat_drawing.h"

#include <cmath>
#include <cstddef>
#include <numbers>

namespace geom::parts {
namespace {

struct Arc {
    double angle = 0.0, radius_mm = 0.0;  ///< signed angle; radius of the chord's arc
};
Arc arc_of(const FlatPoint& a, const FlatPoint& b) {
    const double angle = 4.0 * std::atan(a.bulge), chord = std::hypot(b.x - a.x, b.y - a.y);
    return {angle, chord / (2.0 * std::abs(std::sin(angle / 2.0)))};
}

}  // namespace

double area_mm2(const FlatPath& path) {
    double area = 0.0;
    for (std::size_t i = 0; i < path.points.size(); ++i) {
        const FlatPoint &a = path.points[i], &b = path.points[(i + 1) % path.points.size()];
        area += (a.x * b.y - a.y * b.x) / 2.0;
        if (a.bulge == 0.0) continue;
        const Arc arc = arc_of(a, b);
        area += arc.radius_mm * arc.radius_mm * (arc.angle - std::sin(arc.angle)) / 2.0;
    }
    return area;
}

double length_mm(const FlatPath& path) {
    double length = 0.0;
    const std::size_t last = path.is_closed ? path.points.size() : path.points.size() - 1;
    for (std::size_t i = 0; i < last; ++i) {
        const FlatPoint &a = path.points[i], &b = path.points[(i + 1) % path.points.size()];
        if (a.bulge == 0.0) {
            length += std::hypot(b.x - a.x, b.y - a.y);
        } else {
            const Arc arc = arc_of(a, b);
            length += arc.radius_mm * std::abs(arc.angle);
        }
    }
    return length;
}

double area_mm2(const FlatDrawing& drawing) {
    double area = 0.0;
    for (const FlatPath& path : drawing.paths) {
        if (path.operation == Operation::Outline) area += std::abs(area_mm2(path));
        if (path.operation == Operation::ThroughHole) area -= std::abs(area_mm2(path));
    }
    for (const FlatCircle& circle : drawing.circles) {
        const double disc = std::numbers::pi * circle.radius_mm * circle.radius_mm;
        if (circle.operation == Operation::Outline) area += disc;
        if (circle.operation == Operation::ThroughHole) area -= disc;
    }
    return area;
}

std::vector<FlatPoint> reversed(const std::vector<FlatPoint>& closed) {
    // Each piece's bulge belongs to the corner at its other end.
    const std::size_t n = closed.size();
    std::vector<FlatPoint> back(n);
    for (std::size_t i = 0; i < n; ++i) {
        back[i] = closed[n - 1 - i];
        back[i].bulge = -closed[(2 * n - 2 - i) % n].bulge;
    }
    return back;
}

double bulge_of(double radians) {
    return std::tan(radians / 4.0);
}

}  // namespace geom::parts
