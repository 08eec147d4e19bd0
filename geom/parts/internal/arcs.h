// A curve as arcs through three of its points, halved until they are near enough everywhere it is looked at.
#pragma once

#include "geom/parts/flat_drawing.h"

#include <array>
#include <cmath>

namespace geom::parts {

/// Arcs through points of a curve of the drawing, each within `tolerance_mm` of it; the last point is left out.
template <class Curve>
void add_arcs(std::vector<FlatPoint>& points, const Curve& at, double from, double to, double tolerance_mm) {
    constexpr int kMostHalvings = 14;
    const auto halve = [&](const auto& self, double a, double b, int depth) -> void {
        const FlatPoint p = at(a), m = at((a + b) / 2.0), q = at(b);
        const double ux = m.x - p.x, uy = m.y - p.y, vx = q.x - m.x, vy = q.y - m.y;
        const double turn = std::atan2(ux * vy - uy * vx, ux * vx + uy * vy), bulge = std::tan(turn / 2.0);
        const double cx = q.x - p.x, cy = q.y - p.y, chord = std::hypot(cx, cy);
        bool is_near = std::abs(bulge) < 0.5 && chord > 0.0;
        if (is_near) {
            // The arc's centre lies beside the chord; of a straight one there is none.
            const double h = std::abs(bulge) > 1e-9 ? chord * (1.0 - bulge * bulge) / (4.0 * bulge) : 0.0;
            const double ox = (p.x + q.x) / 2.0 - cy / chord * h, oy = (p.y + q.y) / 2.0 + cx / chord * h;
            const double radius = std::hypot(p.x - ox, p.y - oy);
            for (const double s : std::array{0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9}) {
                const FlatPoint c = at(a + s * (b - a));
                const double off = std::abs(bulge) > 1e-9 ? std::hypot(c.x - ox, c.y - oy) - radius
                                                          : ((c.x - p.x) * cy - (c.y - p.y) * cx) / chord;
                is_near = is_near && std::abs(off) <= 0.8 * tolerance_mm;  // between the places that are looked at
            }
        }
        if (!is_near && depth < kMostHalvings) {
            self(self, a, (a + b) / 2.0, depth + 1);
            self(self, (a + b) / 2.0, b, depth + 1);
            return;
        }
        points.push_back({p.x, p.y, std::abs(bulge) > 1e-9 ? bulge : 0.0});
    };
    halve(halve, from, to, 0);
}

}  // namespace geom::parts
