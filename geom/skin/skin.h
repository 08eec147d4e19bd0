// From a field to a closed shell of few smooth B-spline faces and true planes.
//
// Method    the part of the body's surface behind the baffle plane is a topological disk; it gets a fold-free planar
//           map (Tutte 1963; Floater 1997), a five-sided box layout drawn in that map, and one bicubic B-spline a
//           quad, G1 across edges by construction against the field's own normal. Where the body is bounded by a
//           limit plane the spline is exactly flat and that region becomes a plane face of its own.
// Frame     the field in its box frame; the shell in the vehicle frame, mm, oriented outward from the body.
#pragma once

#include "geom/core/context.h"
#include "geom/core/units.h"
#include "geom/skin/brep.h"
#include "geom/space/field.h"

#include <string>
#include <vector>

namespace geom::skin {

struct SkinOptions {
    std::string name = "outer";         ///< for faults and dumps: "outer" or "inner"
    double baffle_y_mm = 0.0;           ///< box y of the plane face that closes the shell
    Length rim_radius = Length::mm(0);  ///< rounding of the edge round that plane; 0 leaves it sharp
    std::vector<Plane> flats;           ///< planes of limits that may bound the body, already at the body's own face
    double deviation_max_mm = 0.12;     ///< asked of the fit against the working field
    double break_max_deg = 2.0;         ///< tangent break at which a span is halved
};

struct SkinQuality {
    int faces = 0, plane_faces = 0, bspline_faces = 0;
    std::size_t control_points = 0;
    /// Against the zero set of the field as given (by cubic convolution between its nodes; a trilinear value is itself
    /// h^2 / 8R off on an edge of radius R); on the rounded rim against the rolled ball.
    double deviation_p99_mm = 0.0, deviation_max_mm = 0.0;
    Point3 deviation_at;        ///< place of the worst deviation
    double proud_max_mm = 0.0;  ///< of the deviation, what stands out of the body
    double break_median_deg = 0.0, break_p99_deg = 0.0, break_max_deg = 0.0;
    Point3 break_at;  ///< place of the worst break
    double least_jacobian = 0.0;
    std::string attempt;  ///< which of the fallbacks made it
};

struct Skin {
    Brep shell;  ///< closed shell, outward normals
    SkinQuality quality;
    Volume volume;  ///< enclosed, exact per knot span
};

/// Faults: MethodRefused  the skin is no disk with one rim (a post, a tunnel, a baffle plane through an island), or no
///                        fair layout was found: `where` says where, the hint what to change
Result<Skin> make_skin(const space::Field& body, const SkinOptions& options, const Context& context);

/// A solid bounded by `outer` with the void `inner` (its shell reversed): no boolean. Give a null inner for a plain
/// solid.
Result<Brep> solid_from_shells(const Brep& outer, const Brep& inner);

}  // namespace geom::skin
