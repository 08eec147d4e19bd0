// A round hole is one cylinder face, a slot two halves between plane sides; both are measured by their cylinders, each
// against the line it should lie on.
#include "geom/parts/internal/bolt_line.h"

#include <fmt/format.h>
#include <BRepAdaptor_Surface.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <gp_Circ.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Lin.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts {

double BoltLine::beside(Point3 p) const {
    Vec3 d = p - point;
    d = d - up * dot(d, up);
    if (half_mm > 0.0) d = d - along * std::clamp(dot(d, along), -half_mm, half_mm);
    return norm(d);
}

BoltLine bolt_line(Point3 point, Vec3 axis, const std::optional<fixings::Slot>& slot) {
    BoltLine line{.point = point, .up = -unit(axis), .along = {}};
    line.along = any_perpendicular(line.up);
    if (slot) {
        const Vec3 square = slot->along - line.up * dot(slot->along, line.up);
        EXPECTS(norm(square) > 0.0);
        line.along = unit(square);
        line.half_mm = slot->length.mm() / 2.0;
    }
    return line;
}

std::vector<RimPlace> rim_of(const BoltLine& line, double radius_mm, int places) {
    std::vector<RimPlace> rim;
    const Vec3 across = cross(line.up, line.along);
    for (int i = 0; i < places; ++i) {
        const double a = 2.0 * std::numbers::pi * (i + 0.5) / places;
        const Vec3 out = line.along * std::cos(a) + across * std::sin(a);
        rim.push_back({out * radius_mm + line.along * (std::cos(a) > 0.0 ? line.half_mm : -line.half_mm), out});
    }
    if (line.half_mm > 0.0)
        for (const double side : {-1.0, 1.0}) rim.push_back({across * (side * radius_mm), across * side});
    return rim;
}

TopoDS_Shape prism(const BoltLine& line, double radius_mm, double from_mm, double to_mm) {
    EXPECTS(radius_mm > 0.0 && to_mm > from_mm);
    const gp_Dir up = to_occt_dir(line.up), along = to_occt_dir(line.along);
    if (line.half_mm <= 0.0)
        return BRepPrimAPI_MakeCylinder(gp_Ax2(to_occt(line.at(from_mm)), up, along), radius_mm, to_mm - from_mm)
            .Solid();
    const Vec3 across = cross(line.up, line.along);
    const auto place = [&](double end, double side) {
        return to_occt(line.at(from_mm) + line.along * (end * line.half_mm) + across * (side * radius_mm));
    };
    const auto half = [&](double end) {
        const gp_Circ circle(
            gp_Ax2(to_occt(line.at(from_mm) + line.along * (end * line.half_mm)), up, to_occt_dir(line.along * end)),
            radius_mm);
        return BRepBuilderAPI_MakeEdge(circle, -std::numbers::pi / 2.0, std::numbers::pi / 2.0).Edge();
    };
    BRepBuilderAPI_MakeWire wire(half(1.0), BRepBuilderAPI_MakeEdge(place(1.0, 1.0), place(-1.0, 1.0)).Edge(),
                                 half(-1.0), BRepBuilderAPI_MakeEdge(place(-1.0, -1.0), place(1.0, -1.0)).Edge());
    const gp_Pln plane(to_occt(line.at(from_mm)), up);
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(plane, wire.Wire(), true).Face(),
                                 to_occt_vec(line.up * (to_mm - from_mm)))
        .Shape();
}

Result<HoleMeasured> measure_hole(const std::string& feature, const TopoDS_Shape& solid, const BoltLine& line,
                                  double radius_mm, double from_mm, double to_mm) {
    constexpr double kNear_mm = 0.5;
    HoleMeasured measured{.diameter_mm = 2.0 * radius_mm};
    double worst_radius = -1.0;
    for (const TopoDS_Face& face : faces_of(solid)) {
        const BRepAdaptor_Surface surface(face, false);
        if (surface.GetType() != GeomAbs_Cylinder) continue;
        const gp_Cylinder cylinder = surface.Cylinder();
        const double off_radius = std::abs(cylinder.Radius() - radius_mm);
        if (off_radius > kNear_mm) continue;
        const gp_Lin axis(cylinder.Axis());
        // Of a slot's two lines, that which the face belongs to.
        double off = 1e300;
        for (const double end : {-1.0, 1.0}) {
            const Vec3 shift = line.along * (end * line.half_mm);
            off = std::min(off, std::max(axis.Distance(to_occt(line.at(from_mm) + shift)),
                                         axis.Distance(to_occt(line.at(to_mm) + shift))));
        }
        if (off > kNear_mm) continue;
        measured.off_axis_mm = std::max(measured.off_axis_mm, off);
        if (off_radius > worst_radius) {
            worst_radius = off_radius;
            measured.diameter_mm = 2.0 * cylinder.Radius();
        }
    }
    if (worst_radius < 0.0)
        return Fault{
            FaultCode::Internal, feature + ": its hole was not found on the finished solid", {}, line.point, "part"};
    return measured;
}

}  // namespace geom::parts
