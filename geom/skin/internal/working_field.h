// The field the skin is fitted to: the body's grid of distances as a twice differentiable function.
//
// Frame   box, mm.   Sign  negative inside the body.
// Method  uniform tricubic B-spline over the grid, cropped to what lies near the body and behind the baffle plane. The
//         coefficients are c = (2 - B) f with B the separable [1 4 1]/6 filter, so that the value at a node is
//         (2B - B^2) f: exact on linear and cubic fields, smooth where the trilinear field has kinks, no recursive
//         prefilter (Unser 1999 for B-spline fields).
#pragma once

#include "geom/core/result.h"
#include "geom/space/field.h"

#include <array>
#include <vector>

namespace geom::skin {

/// Where the skin ends: the baffle plane and the rounding of the edge round it. With radius r the skin proper stops
/// where a ball of that radius, rolling along the edge inside the body, touches the side: at depth r (1 - c) behind the
/// plane, c the cosine between the side's normal and the plane's. Radius 0 gives the plane itself.
struct RimPlace {
    double baffle_y_mm = 0.0;
    double radius_mm = 0.0;
};

class WorkingField {
public:
    /// Keeps a reference to `body`.
    /// Faults: MethodRefused  no body behind the plane, or it reaches the border of the grid
    static Result<WorkingField> make(const space::Field& body, double baffle_y_mm);

    double value(Point3 p) const;
    double value(Point3 p, Vec3& gradient) const;
    Vec3 normal(Point3 p) const;

    /// The field as given, between its nodes by cubic convolution (Catmull-Rom): it takes the nodes' own values. The
    /// trilinear value would be h^2 / 8R too high on an edge of radius R, 0.12 mm at R = 4.
    double raw(Point3 p) const;

    /// The nearest point of the zero set along the gradient, by at most `rounds` Newton steps of at most 2 mm.
    Point3 project(Point3 p, int rounds) const;
    /// The same for a point of the skin's border.
    Point3 project_to_ring(Point3 p, const RimPlace& rim, int rounds) const;

    /// Box that holds the body behind the plane, with a margin of four voxels.
    Aabb extent() const;
    double voxel_mm() const { return h_; }
    const space::Field& body() const { return *body_; }
    Point3 to_vehicle(Point3 box) const { return body_->grid.vehicle_from_box.to_parent(box); }

private:
    WorkingField() = default;

    const space::Field* body_ = nullptr;
    Point3 lo_;
    double h_ = 1.0;
    std::array<int, 3> n_{};
    std::vector<float> coefficients_;
};

}  // namespace geom::skin
