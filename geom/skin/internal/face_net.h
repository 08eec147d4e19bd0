// The fitted skin before it becomes a B-rep: twelve arcs and five faces that share them, and, round a rounded rim, four
// collar faces between the ring and the baffle plane.
//
// Frame  box, mm; patches have Su x Sv outward.
#pragma once

#include "geom/skin/internal/layout.h"
#include "geom/skin/internal/spline.h"

#include <array>
#include <vector>

namespace geom::skin {

/// A rectangle of parameters inside a face where the spline lies exactly in a plane.
struct PlaneCut {
    int face = 0, flat = 0;
    double u0 = 0.0, u1 = 1.0, v0 = 0.0, v1 = 1.0;
};

struct FaceNet {
    std::array<std::vector<double>, 3> family_breaks;
    std::array<SplineCurve, kArcs> arcs;
    std::array<SplinePatch, kPieces> faces;

    bool has_collar = false;
    std::array<SplineCurve, 4>
        rim_arcs;  ///< in the baffle plane, as the ring arcs; without a collar the ring itself is the rim
    std::array<SplineCurve, 4> corner_arcs;  ///< from the rim to ring corner k, one span
    std::array<SplinePatch, 4> collars;      ///< u along the ring, v from the rim to the ring

    std::vector<PlaneCut> cuts;

    std::vector<double> breaks_of(int arc) const {
        const auto f = arc_family(arc);
        const auto& b = family_breaks[static_cast<std::size_t>(f.family)];
        return f.reversed ? reversed_breaks(b) : b;
    }
    std::size_t control_points() const {
        std::size_t n = 0;
        for (const auto& f : faces) n += f.control_points();
        if (has_collar)
            for (const auto& c : collars) n += c.control_points();
        return n;
    }
};

}  // namespace geom::skin
