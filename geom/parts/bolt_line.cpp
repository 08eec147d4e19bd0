// A round hole is one cylinder face, a slot two halves between plane sides; both are measured by their cylinders, each
// against the line it should lie on.
#include "geom/parts/internal/bolt_line.h"

#include "geom/fixings/restraint.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>
#include <BRepAdaptor_Surface.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <TopExp_Explorer.hxx>
#include <gp_Circ.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Lin.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts {

namespace {

constexpr double kCone_mm = 0.3;   // of a countersink past its two ends
constexpr double kBelow_mm = 1.0;  // of a bore below the vehicle's face

}  // namespace

Bore bore_of(const fixings::Thread& thread, const fixings::BoltUse& use, const fixings::HoleShape& hole,
             const Material& material) {
    Bore bore{.radius_mm = hole.hole_mm / 2.0};
    const double most_MPa = material.is_metal ? 0.0 : fixings::most_seat_pressure_MPa(true, material.is_board);
    const bool is_crushed =
        fixings::preload(thread, use.grade, {hole.hole_mm, hole.seat_mm, most_MPa}, false).wants_sleeve;
    bore.has_metal_sleeve = !use.slot && hole.sink_mm <= 0.0 && use.metal_sleeve.value_or(is_crushed);
    if (bore.has_metal_sleeve) bore.radius_mm = fixings::metal_sleeve(thread, use).outside_mm / 2.0;
    bore.sink_mm = std::max(0.0, hole.sink_mm / 2.0 - bore.radius_mm);
    return bore;
}

Status check_slot(const std::string& name, const fixings::BoltUse& use, Vec3 axis, Point3 point) {
    if (!use.slot) return Done{};
    if (norm(cross(unit(use.slot->along), unit(axis))) < 0.05)
        return Fault{FaultCode::BadJob, name + ": its slot runs along the bolt, wanted across it",
                     "give slot.along a direction square to the axis", point, "part"};
    if (use.head == fixings::HeadKind::Countersunk)
        return impossible(name + ": a countersunk head has no seat on a slot, wanted a head with washer",
                          "take another head, or a round hole with play", point);
    return Done{};
}

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

Result<TopoDS_Shape> bore_tool(const std::string& feature, const BoltLine& line, const Bore& bore, double seat_mm,
                               double to_mm) {
    const TopoDS_Shape hole = prism(line, bore.radius_mm, -kBelow_mm, to_mm);
    if (bore.sink_mm <= 0.0) return hole;
    const gp_Ax2 axes(to_occt(line.at(seat_mm - bore.sink_mm - kCone_mm)), to_occt_dir(line.up),
                      to_occt_dir(line.along));
    return joined(feature,
                  {hole, BRepPrimAPI_MakeCone(axes, bore.radius_mm - kCone_mm, bore.radius_mm + bore.sink_mm + kCone_mm,
                                              bore.sink_mm + 2.0 * kCone_mm)
                             .Solid()});
}

Result<TopoDS_Shape> joined(const std::string& feature, const std::vector<TopoDS_Shape>& pieces) {
    TopoDS_Shape all = pieces.front();
    for (std::size_t i = 1; i < pieces.size(); ++i) {
        BRepAlgoAPI_Fuse both(all, pieces[i]);
        if (both.HasErrors())
            return Fault{FaultCode::Internal, feature + ": its tools could not be joined", {}, {}, "part"};
        all = both.Shape();
    }
    TopExp_Explorer solid(all, TopAbs_SOLID);
    if (!solid.More()) return Fault{FaultCode::Internal, feature + ": its tools left no solid", {}, {}, "part"};
    const TopoDS_Shape made = solid.Current();
    GAPWRIGHT_CHECK(check_solid(feature, made));
    return made;
}

TopoDS_Shape sunk_tool(const BoltLine& line, double hole_radius, double sink_radius, double top) {
    constexpr double kPast = 1.0;  // the faces it goes through
    BRepBuilderAPI_MakePolygon side;
    const auto corner = [&](double r, double h) { side.Add(to_occt(line.at(h) + line.along * r)); };
    corner(0.0, -kPast);
    corner(hole_radius, -kPast);
    corner(hole_radius, top - (sink_radius - hole_radius));
    corner(sink_radius, top);
    corner(sink_radius, top + kPast);
    corner(0.0, top + kPast);
    side.Close();
    return BRepPrimAPI_MakeRevol(BRepBuilderAPI_MakeFace(side.Wire(), true).Face(),
                                 gp_Ax1(to_occt(line.point), to_occt_dir(line.up)))
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
