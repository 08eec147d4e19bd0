// An orthographic view: where a place of the vehicle frame lies on the picture.
#pragma once

#include "geom/core/vec.h"

namespace exports {

/// A place on a picture: x to the right and y down in pixels, z in mm towards the viewer.
struct Seen {
    double x = 0.0, y = 0.0, z = 0.0;
};

struct View {
    geom::Vec3 right{1, 0, 0}, up{0, 0, 1}, toward{0, -1, 0};  ///< orthonormal; toward points at the viewer
    geom::Point3 centre;                                       ///< seen in the middle of the picture
    double px_per_mm = 1.0;
    int width = 0, height = 0;

    Seen project(geom::Point3 p) const {
        const geom::Vec3 d = p - centre;
        return {0.5 * width + dot(d, right) * px_per_mm, 0.5 * height - dot(d, up) * px_per_mm, dot(d, toward)};
    }
    /// The same view with every pixel split into n x n.
    View refined(int n) const {
        View v = *this;
        v.px_per_mm *= n;
        v.width *= n;
        v.height *= n;
        return v;
    }
};

/// Looks against `toward`; `up` is made square to it (some perpendicular when they are parallel).
inline View look(geom::Vec3 toward, geom::Vec3 up) {
    View v;
    v.toward = geom::unit(toward);
    const geom::Vec3 square = up - v.toward * dot(up, v.toward);
    v.up = norm(square) > 1e-6 ? geom::unit(square) : geom::any_perpendicular(v.toward);
    v.right = cross(v.up, v.toward);
    return v;
}

}  // namespace exports
