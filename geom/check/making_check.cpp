// Size, bed, method, mass. A part fits a bed when some turn of it does: turns about the three axes of the baffle's
// frame in steps of five degrees are tried, with the margin kept on each side.
#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kBedMargin_mm = 5.0;  ///< each side in the plane of the bed [common practice]

/// Least ratio of size to bed over the turns tried, 1 and less fits; with the size at the best turn.
double bed_ratio(const TriMesh& mesh, const Frame& axes, Vec3 bed, Vec3& best_size) {
    const Vec3 room{bed.x - 2 * kBedMargin_mm, bed.y - 2 * kBedMargin_mm, bed.z};
    std::array<double, 3> wanted{room.x, room.y, room.z};
    std::sort(wanted.begin(), wanted.end());
    double best = 1e300;
    for (int axis = 0; axis < 3; ++axis)
        for (int step = 0; step < 18; ++step) {
            if (axis > 0 && step == 0) continue;
            const double angle = step * 5.0 * std::numbers::pi / 180.0, co = std::cos(angle), si = std::sin(angle);
            const Vec3 u = axis == 0   ? axes.y
                           : axis == 1 ? axes.z
                                       : axes.x,
                       v = axis == 0   ? axes.z
                           : axis == 1 ? axes.x
                                       : axes.y;
            const Vec3 w = axis == 0 ? axes.x : axis == 1 ? axes.y : axes.z;
            const Vec3 a = u * co + v * si, b = v * co - u * si;
            Aabb box;
            for (const Point3& p : mesh.vertices) box.grow({dot(p, a), dot(p, b), dot(p, w)});
            std::array<double, 3> size{box.size().x, box.size().y, box.size().z};
            std::sort(size.begin(), size.end());
            const double ratio = std::max({size[0] / wanted[0], size[1] / wanted[1], size[2] / wanted[2]});
            if (ratio < best) {
                best = ratio;
                best_size = {size[0], size[1], size[2]};
            }
        }
    return best;
}

void check_bed(const Case& c, Verdict& verdict) {
    if (c.request.make.method != parts::Method::Print || !c.request.make.bed) return;
    const Vec3 bed = *c.request.make.bed;
    Frame axes;
    axes.y = unit(c.enclosure().baffle_plane.outward);
    axes.x = any_perpendicular(axes.y);
    axes.z = cross(axes.x, axes.y);
    for (const ReadBack& r : c.products) {
        if (r.product->is_tool || r.product->on_vehicle || r.mesh.triangles.empty()) continue;
        Vec3 size;
        const double ratio = bed_ratio(r.mesh, axes, bed, size);
        verdict.lines.push_back(at_most(
            "print bed, " + r.product->name, Kind::Fit, 100.0 * ratio, 100.0, "%",
            fmt::format(
                "needs {:.0f} x {:.0f} x {:.0f} mm in the best of the turns tried; bed {:.0f} x {:.0f} x {:.0f} mm "
                "with {:.0f} mm margin each side (common practice)",
                size.x, size.y, size.z, bed.x, bed.y, bed.z, kBedMargin_mm)));
    }
}

void check_method(const Case& c, Verdict& verdict) {
    if (c.request.make.method == parts::Method::Cnc)
        verdict.lines.push_back(
            {"method, cnc", Kind::Fit, c.request.baffle.separate, c.request.baffle.separate ? 1.0 : 0.0, 1.0, "",
             "at least; a closed hollow shell is cut from the mouth, which wants a separate baffle"});
    if (c.request.make.method == parts::Method::Layup) {
        const auto tools =
            std::count_if(c.products.begin(), c.products.end(), [](const ReadBack& r) { return r.product->is_tool; });
        verdict.lines.push_back(
            at_least("method, layup", Kind::Fit, static_cast<double>(tools), 1.0, "", "plugs among the products"));
    }
}

}  // namespace

std::optional<PointMass> driver_mass(const Case& c) {
    const std::vector<parts::DriverMount> mounts = c.request.drivers();
    if (mounts.empty()) return std::nullopt;
    double kg = 0.0;
    Vec3 moment;
    for (std::size_t i = 0; i < mounts.size(); ++i) {
        if (!mounts[i].driver.mass_kg) return std::nullopt;
        kg += *mounts[i].driver.mass_kg;
        moment += parts::mass_centre(mounts[i], c.enclosure().driver_seats[i]) * *mounts[i].driver.mass_kg;
    }
    return PointMass{kg, moment / kg};
}

void check_making(const Case& c, Verdict& verdict) {
    double mass = 0.0;
    Vec3 moment;
    for (const ReadBack& r : c.products) {
        if (r.product->is_tool) continue;
        const double kg = r.solid.volume.mm3() * 1e-9 * r.product->material.density_kg_m3;
        mass += kg;
        moment += r.solid.centre * kg;
        verdict.faces += r.solid.faces;
        verdict.bspline_faces += r.solid.bspline_faces;
        verdict.plane_faces += r.solid.plane_faces;
        for (const Point3& p : r.mesh.vertices) verdict.box.grow(p);
    }
    if (const auto driver = driver_mass(c)) {
        mass += driver->kg;
        moment += driver->at * driver->kg;
    }
    verdict.mass_kg = mass;
    if (mass > 0.0) verdict.centre_of_mass = moment / mass;
    check_bed(c, verdict);
    check_method(c, verdict);
}

}  // namespace geom::check
