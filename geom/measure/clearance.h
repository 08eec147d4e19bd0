// How near points come to a part: standing, and while the part goes in along a straight line.
//
// Method    standing: the nearest triangle to each point. Going in: seen from the part, a fixed point travels backward
//           along the way in and ends at its own place, so that what it comes near is a half-line from its place along
//           the direction of insertion; the least distance of that half-line to the triangles is exact.
// Sign      distances are unsigned; a point inside the part is found by the half-line, which then meets the surface.
#pragma once

#include "geom/measure/triangle_tree.h"

#include <functional>
#include <vector>

namespace geom::measure {

struct Clearance {
    double least_mm = std::numeric_limits<double>::infinity();
    Point3 point;           ///< of the points given
    Point3 part_at;         ///< nearest place on the part (as it stands, also for the way in)
    std::size_t index = 0;  ///< of the point
};

/// Least distance from the points to the triangles; `counts(i)` leaves points out when it says false.
Clearance least_clearance(const TriangleTree& part, const std::vector<Point3>& points,
                          const std::function<bool(std::size_t)>& counts = {});

/// The same on the way in; distances of `bound_mm` and more are of no interest and not found.
Clearance least_clearance_going_in(const RayTree& part, const std::vector<Point3>& points, double bound_mm,
                                   const std::function<bool(std::size_t)>& counts = {});

/// Points that lie nearer than `limit_mm` to the part's triangles or inside the closed mesh `filled` (the part without
/// its hollows, or the part itself), nearest first.
struct NearPoint {
    std::size_t index = 0;
    double distance_mm = 0.0;  ///< to the part's triangles; negative inside `filled`
};
std::vector<NearPoint> points_nearer(const TriangleTree& part, const TriangleTree& filled,
                                     const std::vector<Point3>& points, double limit_mm,
                                     const std::function<bool(std::size_t)>& counts = {});

/// Least value over the mesh of a function that changes by no more than the way gone (a distance), within `slack` of
/// the true least. Triangles are halved where they could still hold a lesser value; what is returned is the value at a
/// place of the mesh, so the true least is that or less. A small slack costs time where the value hardly changes over
/// large faces, unless the function is known to be convex (the signed distance to a convex body, also to one that has
/// been swept along a line): its corners and its middle then bound it from below much closer. Of values that are
/// `enough` or more the least is not sought: what is returned is then some value of at least that, less the slack.
struct LeastOnMesh {
    double value = std::numeric_limits<double>::infinity();
    Point3 at;
};
enum class DistanceKind { Any, Convex };
LeastOnMesh least_on_mesh(const TriMesh& mesh, const std::function<double(Point3)>& distance, double slack_mm = 0.1,
                          DistanceKind kind = DistanceKind::Any,
                          double enough_mm = std::numeric_limits<double>::infinity());

/// A convex function at a place, and a slope there: at q it is at least value + slope . (q - p).
struct Sloped {
    double value = 0.0;
    Vec3 slope;
};
/// The same of a convex function that gives its slopes: they bound it so well that a small slack costs little, also
/// where the function does not change over large faces.
LeastOnMesh least_convex_on_mesh(const TriMesh& mesh, const std::function<Sloped(Point3)>& distance, double slack_mm);

}  // namespace geom::measure
