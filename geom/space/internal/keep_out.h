// Exact signed distances to the shapes that the part must stay out of, and to closed meshes.
#pragma once

#include "geom/core/context.h"
#include "geom/space/room.h"

#include <memory>

namespace geom::space::internal {

/// Answers signed distance (mm, negative inside the shape) at vehicle places; thread-safe.
class ShapeDistance {
public:
    virtual ~ShapeDistance() = default;
    virtual double at(Point3 vehicle) const = 0;
    /// The same up to `limit_mm`; what is farther may come out as `limit_mm`.
    virtual double at_most(Point3 vehicle, double /*limit_mm*/) const { return at(vehicle); }
    virtual Aabb box() const = 0;  ///< of the shape, vehicle frame
    virtual bool is_convex() const { return true; }
    virtual bool is_sheet() const { return false; }  ///< without inside: its distance is unsigned
    /// In what pose a moving shape comes nearest; "" when it stands still.
    virtual std::string pose_at(Point3 /*vehicle*/) const { return {}; }
};

/// Least distance to a convex shape on the half-line from `from` along the unit `direction`, within 0.01 mm; mm,
/// vehicle frame.
double least_on_half_line(const ShapeDistance& shape, Point3 from, Vec3 direction);

/// The same on the first `length_mm` of it.
double least_on_line(const ShapeDistance& shape, Point3 from, Vec3 direction, double length_mm);

/// The shape as it is drawn, whether it moves or not. A mesh that is not closed is taken as a sheet when it moves.
///
/// Faults: BadJob  a shape without extent, a mesh that is not closed and stands still
Result<std::unique_ptr<ShapeDistance>> shape_distance(const KeepOut& keep_out);

}  // namespace geom::space::internal
