// A body of plane sides, and the wall inside it: two layers of planes with one net of edges.
//
// Frame   of the box, mm. Corners of a side run counter-clockwise seen from outside.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/box.h"

#include <array>
#include <string>
#include <vector>

namespace geom::parts {

struct PlaneSide {
    std::string name;
    Plane outer;
    std::vector<double> layers_mm;  ///< outermost first
    int rank = 0;
    std::vector<int> next;  ///< the sides it meets, in the order of its outline

    double thickness_mm() const {
        double sum = 0.0;
        for (const double t : layers_mm) sum += t;
        return sum;
    }
    Plane plane(double depth_mm) const { return {outer.point - outer.outward * depth_mm, outer.outward}; }
    Plane inner() const { return plane(thickness_mm()); }
};

struct PlaneBody {
    std::vector<PlaneSide> sides;

    /// Corners of side `i` in its outer or its inner plane: that between next[k] and next[k + 1] is the k-th.
    std::vector<Point3> corners(int i, bool is_inner) const;
};

/// A body between two caps, `sides[0]` and `sides[1]`, with the others in the order of a walk round it,
/// counter-clockwise seen from outside cap 1.
PlaneBody between_caps(std::vector<PlaneSide> sides);

/// Where three planes meet. EXPECTS: they do
Point3 meeting(const Plane& a, const Plane& b, const Plane& c);

double volume_mm3(const PlaneBody& body, bool is_inner);

/// That every edge, outside and inside, has length and runs the same way, and that no side's outline crosses itself.
/// Faults: Impossible  which side, and by how much its walls are too thick
Status check_net(const PlaneBody& body);

/// Faults: Internal  the kernel failed
Result<Brep> solid_of(const PlaneBody& body, bool is_inner);

/// The boards of all sides, layer by layer.
Result<std::vector<Board>> boards_of(const PlaneBody& body);

}  // namespace geom::parts
