#include "geom/job/places.h"

#include <fmt/format.h>

#include <variant>

namespace geom::job {
namespace {

struct BoxOf {
    Aabb operator()(const space::BoxShape& box) const { return around({box.min, box.max}, 0.0); }
    Aabb operator()(const space::CylinderShape& c) const { return around({c.from, c.to}, c.radius_mm); }
    Aabb operator()(const space::SphereShape& s) const { return around({s.centre}, s.radius_mm); }
    Aabb operator()(const TriMesh& mesh) const { return bounds(mesh); }

private:
    static Aabb around(const std::vector<Point3>& points, double by_mm) {
        Aabb box;
        for (const Point3& p : points) {
            box.grow(p - Vec3{by_mm, by_mm, by_mm});
            box.grow(p + Vec3{by_mm, by_mm, by_mm});
        }
        return box;
    }
};

}  // namespace

std::vector<scan::NamedPlace> places_of(const Job& job) {
    std::vector<scan::NamedPlace> places;
    const Point3 air = job.enclosure.room.air;
    places.push_back({"air", {air, air}, false});
    for (const parts::Foot& foot : job.enclosure.feet)
        places.push_back({fmt::format("fixing \"{}\"", foot.name), {foot.point, foot.point}, true});
    for (const space::KeepOut& keep_out : job.enclosure.room.keep_outs)
        places.push_back({fmt::format("keep-out \"{}\"", keep_out.name), std::visit(BoxOf{}, keep_out.shape), false});
    return places;
}

}  // namespace geom::job
