// The simple surface that runs through the places of a face: plane, sphere, cylinder or cone, else a quadric over a
// plane; so that the face can be continued over a hole in it.
//
// Method  linear least squares for each; the axis of a cylinder or cone from the normals (they lie on a plane through
//         or beside the origin), then Gauss-Newton on its two angles. The simplest that fits as well as any is taken.
#pragma once

#include "geom/core/vec.h"

#include <functional>
#include <string>
#include <vector>

namespace geom::measure::internal {

struct FaceFit {
    std::string kind;                         ///< "plane", "sphere", "cylinder", "cone", "quadric"
    double off_mm = 0.0;                      ///< farthest place from it
    std::function<double(Point3)> height_mm;  ///< over the surface, near it as good as the distance; sign of no meaning
};

/// `normals`: unit, of the triangles between the places, `weights` their areas; `middle` and `up`: the plane that a
/// quadric is over. EXPECTS: at least three places.
FaceFit fit_face(const std::vector<Point3>& places, const std::vector<Vec3>& normals,
                 const std::vector<double>& weights, Point3 middle, Vec3 up);

/// Where the straight line from `p` along `up` meets the surface; `p` itself where it does not within `reach`.
Point3 laid_on(const FaceFit& face, Point3 p, Vec3 up, double reach_mm);

}  // namespace geom::measure::internal
