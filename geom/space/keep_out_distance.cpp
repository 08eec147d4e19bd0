#include "geom/space/keep_out_distance.h"

#include "geom/space/internal/keep_out.h"
#include "geom/space/internal/swept.h"

namespace geom::space {
namespace {

Aabb around(std::initializer_list<Point3> points, double by_mm) {
    Aabb box;
    for (const Point3& p : points) {
        box.grow(p - Vec3{by_mm, by_mm, by_mm});
        box.grow(p + Vec3{by_mm, by_mm, by_mm});
    }
    return box;
}

struct BoxOf {
    Aabb operator()(const BoxShape& box) const { return around({box.min, box.max}, 0.0); }
    Aabb operator()(const CylinderShape& c) const { return around({c.from, c.to}, c.radius_mm); }
    Aabb operator()(const SphereShape& s) const { return around({s.centre}, s.radius_mm); }
    Aabb operator()(const TriMesh& mesh) const { return bounds(mesh); }
};

}  // namespace

Aabb reach_of(const KeepOut& keep_out) {
    return swept_box(keep_out.motion, std::visit(BoxOf{}, keep_out.shape));
}

Result<KeepOutDistance> KeepOutDistance::of(const KeepOut& keep_out) {
    GAPWRIGHT_TRY(shape, internal::shape_distance(keep_out));
    KeepOutDistance distance;
    if (is_moving(keep_out.motion)) {
        GAPWRIGHT_CHECK(check_motion(keep_out.name, keep_out.motion));
        distance.shape_ = std::make_shared<const internal::SweptDistance>(std::move(shape), keep_out.motion);
    } else {
        distance.shape_ = std::move(shape);
    }
    return distance;
}

double KeepOutDistance::at_most(Point3 vehicle, double limit_mm) const {
    return shape_->at_most(vehicle, limit_mm);
}

}  // namespace geom::space
