#include "geom/parts/internal/port_plan.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/clearance.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/port.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Copy.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <GC_MakeArcOfCircle.hxx>
#include <Geom_TrimmedCurve.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kEdge_mm = 0.3;      // between a hole and the edge of the face it comes out of
constexpr double kLigament_mm = 1.0;  // between two holes
constexpr double kBeside_mm = 2.0;    // air beside the tube: to see and to clean it
constexpr double kOnFront_mm = 0.05;  // what lies no deeper is the inner face itself
constexpr double kLeastWall_mm = 0.8;
constexpr double kLeastDiameter_mm = 15.0;

/// Signed distance to a cylinder about the axis in the half-plane of radius and depth.
double to_cylinder(double r, double depth, double radius, double from, double to) {
    const double out = r - radius, along = std::max(from - depth, depth - to);
    if (out > 0.0 && along > 0.0) return std::hypot(out, along);
    return std::max(out, along);
}

/// The air's bounds without the baffle's inner face.
Result<TriMesh> inner_walls(const Site& site, double front_mm, const TopoDS_Solid& air) {
    // A copy: meshing writes to the shape.
    const TopoDS_Shape copy = BRepBuilderAPI_Copy(air).Shape();
    GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(copy), Length::mm(0.1), site.context));
    std::erase_if(mesh.triangles, [&](const auto& t) {
        return std::all_of(t.begin(), t.end(),
                           [&](std::uint32_t v) { return site.depth(mesh.vertices[v]) < front_mm + kOnFront_mm; });
    });
    return std::move(mesh);
}

/// The widest tube whose length with a diameter's way behind it comes no deeper than `depth_mm`, in words.
std::string shorter_port(const Site& site, double depth_mm) {
    EnclosureRequest request = site.request;
    if (request.port->tuning_hz <= 0.0) return "make it shorter, or move [enclosure] port.at";
    const auto reach = [&](double diameter_mm) -> double {
        request.port->diameter = Length::mm(diameter_mm);
        request.port->length.reset();
        const auto length = port_length(request, request.net_volume);
        return (length ? length->mm() : request.baffle.thickness.mm()) + diameter_mm;
    };
    double lo = kLeastDiameter_mm, hi = site.request.port->diameter.mm();
    if (reach(lo) > depth_mm) return "move [enclosure] port.at to where the box is deeper, or tune it higher";
    for (int i = 0; i < 40; ++i) {
        const double mid = (lo + hi) / 2.0;
        (reach(mid) <= depth_mm ? lo : hi) = mid;
    }
    const double d = std::floor(lo * 2.0) / 2.0, l = reach(d) - d;
    return fmt::format("a port of {} mm, {:.0f} mm long, would fit there; its air is faster by {:.2g} times",
                       plain_number(d), l, std::pow(site.request.port->diameter.mm() / d, 2.0));
}

}  // namespace

double PortPlan::tube_volume_mm3() const {
    return std::numbers::pi * tube_mm * tube_mm * (length_mm - back_mm);
}

double PortPlan::solid_mm(const Site& site, Point3 p) const {
    return to_cylinder(distance(site.flat(p), centre), site.depth(p), tube_mm, back_mm, length_mm);
}

double PortPlan::keeps_free_mm(const Site& site, Point3 p) const {
    const double way =
        to_cylinder(distance(site.flat(p), centre), site.depth(p), bore_mm, length_mm, length_mm + free_way_mm);
    return std::min(solid_mm(site, p), way);
}

Result<PortPlan> port_plan(const Site& site) {
    const Port& port = *site.request.port;
    GAPWRIGHT_TRY(length,
                  port.length ? Result<Length>(*port.length) : port_length(site.request, site.request.net_volume));
    PortPlan plan;
    plan.centre = site.flat(port.at);
    plan.bore_mm = port.diameter.mm() / 2.0;
    plan.tube_mm = plan.bore_mm + port.wall.mm();
    plan.mouth_mm = port.mouth.mm();
    plan.length_mm = length.mm();
    plan.back_mm = site.thickness_mm();
    plan.free_way_mm = port.free_way.value_or(port.diameter).mm();
    const Point3 at = site.at(plan.centre, 0.0);
    const Method method = site.request.make.method;
    if (method == Method::Layup && !site.request.baffle.separate)
        return Fault{FaultCode::MethodRefused,
                     "port: a tube that stands on the inner face of a laid-up baffle, wanted a printed or a sawn one",
                     "give [enclosure] baffle.made = \"separate\"", at, "part"};
    plan.is_glued_in = method == Method::Cnc || site.baffle_material().is_board;
    if (plan.is_glued_in && plan.mouth_mm > 0.0)
        return impossible(fmt::format("port: a mouth rounded by {} mm on a tube that is glued in flush, wanted none",
                                      plain_number(plan.mouth_mm)),
                          "leave [enclosure] port.mouth out, and round the edge by hand", at);
    if (port.wall.mm() < kLeastWall_mm)
        return impossible(fmt::format("port: a wall of {} mm, wanted at least {} mm", plain_number(port.wall.mm()),
                                      plain_number(kLeastWall_mm)),
                          "give [enclosure] port.wall 2 to 4 mm", at);
    if (plan.mouth_mm > plan.back_mm - kLigament_mm)
        return impossible(fmt::format("port: a mouth rounded by {} mm in a baffle of {} mm, wanted at most {} mm",
                                      plain_number(plan.mouth_mm), plain_number(plan.back_mm),
                                      plain_number(plan.back_mm - kLigament_mm)),
                          "make the baffle thicker or the mouth's rounding smaller", at);
    return plan;
}

Status check_port(const Site& site, const PortPlan& plan, const Outline& flat, const Outline& back,
                  const std::string& back_name, const Outline& inner, const DriverPlans& drivers,
                  const std::vector<Hole>& screws, const TopoDS_Solid& air) {
    const Point3 at = site.at(plan.centre, 0.0);
    const std::string move = "move [enclosure] port.at, or take a smaller diameter";
    const auto inside = [&](const Outline& outline, double radius, double wanted, const std::string& what,
                            const std::string& of) -> Status {
        const double left = outline.depth(plan.centre) - radius;
        if (left >= wanted) return Done{};
        return impossible(fmt::format("port: {} of {} mm leaves {:.1f} mm to the edge of {}, wanted {}", what,
                                      tenths(2.0 * radius), left, of, plain_number(wanted)),
                          move, at);
    };
    GAPWRIGHT_CHECK(inside(flat, plan.front_radius_mm(), kEdge_mm, "its mouth", "the flat of the baffle"));
    GAPWRIGHT_CHECK(inside(back, plan.tube_mm, kEdge_mm, "its tube", "the " + back_name));
    GAPWRIGHT_CHECK(inside(inner, plan.tube_mm, kBeside_mm, "its tube", "what it goes in through"));
    const auto beside = [&](Point2 other, double radius, double own, double wanted, const std::string& what) -> Status {
        const double left = distance(plan.centre, other) - radius - own;
        if (left >= wanted) return Done{};
        return impossible(fmt::format("port: it leaves {:.1f} mm to {}, wanted {}", left, what, plain_number(wanted)),
                          move, at);
    };
    const std::vector<DriverMount> mounts = site.request.drivers();
    for (std::size_t i = 0; i < drivers.size(); ++i) {
        const DriverPlan* driver = drivers[i];
        GAPWRIGHT_CHECK(beside(driver->centre, driver->front_radius_mm(), plan.front_radius_mm(), kLigament_mm,
                               "the driver's flange"));
        GAPWRIGHT_CHECK(
            beside(driver->centre, driver->back_radius_mm(), plan.tube_mm, kLigament_mm, "the driver's cut-out"));
        for (const Hole& bolt : driver->bolts)
            GAPWRIGHT_CHECK(beside(bolt.centre, bolt.radius_mm, plan.tube_mm, kLigament_mm, "a driver's screw"));
        const double seat_mm = driver->seat_depth_mm;
        if (const auto body = driver_body(mounts[i], site.plane(seat_mm), driver->form.back_mm - seat_mm)) {
            const double from_mm = site.depth(body->seat);  // where its depths begin
            double widest = 0.0;
            for (const auto& [radius, depth] : body->profile)
                if (from_mm + depth <= plan.length_mm || depth <= body->from_mm) widest = std::max(widest, radius);
            GAPWRIGHT_CHECK(beside(driver->centre, widest, plan.tube_mm, kBesideDriver_mm, "the driver's body"));
            if (from_mm + body->depth_mm() > plan.length_mm)
                GAPWRIGHT_CHECK(beside(driver->centre, body->magnet_radius_mm(), plan.bore_mm, 0.0,
                                       "the driver's magnet, before its inner end"));
        }
    }
    // Heads stand on the outer face.
    for (const Hole& screw : screws)
        GAPWRIGHT_CHECK(
            beside(screw.centre, 2.0 * screw.radius_mm, plan.front_radius_mm(), kLigament_mm, "a screw of the baffle"));
    GAPWRIGHT_TRY(walls, inner_walls(site, plan.back_mm, air));
    if (const auto least = measure::least_on_mesh(walls, [&](Point3 p) { return plan.solid_mm(site, p); });
        least.value < kBeside_mm)
        return impossible(fmt::format("port: its tube leaves {:.1f} mm to the inner wall or what stands in the box, "
                                      "wanted {}",
                                      least.value, plain_number(kBeside_mm)),
                          least.value < -plan.bore_mm / 2.0 ? shorter_port(site, site.depth(least.at)) : move,
                          least.at);
    const auto left_with = [&](double way) {
        return measure::least_on_mesh(walls, [&](Point3 p) {
            return to_cylinder(distance(site.flat(p), plan.centre), site.depth(p), plan.bore_mm, plan.length_mm,
                               plan.length_mm + way);
        });
    };
    if (const auto least = left_with(plan.free_way_mm); least.value < 0.0) {
        double lo = 0.0, hi = plan.free_way_mm;
        while (hi - lo > 0.1) {
            const double mid = (lo + hi) / 2.0;
            (left_with(mid).value >= 0.0 ? lo : hi) = mid;
        }
        return impossible(fmt::format("port: before its inner end {:.1f} mm are free, wanted {}{}", lo,
                                      plain_number(plan.free_way_mm),
                                      site.request.port->free_way ? "" : " (its diameter, common practice)"),
                          shorter_port(site, plan.length_mm + lo) + "; [enclosure] port.free_way asks for less",
                          least.at);
    }
    return Done{};
}

PortFaces port_faces(const Site& site, const PortPlan& plan) {
    // Outer end to inner end: a quarter of a circle that begins square to the axis, and the bore.
    const auto point = [&](double radius, double depth) {
        return to_occt(site.at(plan.centre + Point2{radius, 0.0}, depth));
    };
    BRepBuilderAPI_MakeWire line;
    if (plan.mouth_mm > 0.0) {
        const double r = plan.mouth_mm, middle = r * (1.0 - std::sqrt(0.5));
        const GC_MakeArcOfCircle arc(point(plan.front_radius_mm(), 0.0), point(plan.bore_mm + middle, middle),
                                     point(plan.bore_mm, r));
        line.Add(BRepBuilderAPI_MakeEdge(arc.Value()).Edge());
    }
    line.Add(BRepBuilderAPI_MakeEdge(point(plan.bore_mm, plan.mouth_mm), point(plan.bore_mm, plan.length_mm)).Edge());
    const Turned bore = turned(site, plan.centre, line.Wire(), 0.0, plan.length_mm);
    const Turned tube = turned(site, plan.centre, {{plan.tube_mm, plan.back_mm}, {plan.tube_mm, plan.length_mm}});
    const Plane end = site.plane(plan.length_mm, plan.centre);
    const TopoDS_Face rim = with_holes(disc(end, tube.to), {bore.to});
    PortFaces made{.mouth = bore.from, .foot = tube.from, .solid = bore.faces, .air = tube.faces};
    made.solid.insert(made.solid.end(), tube.faces.begin(), tube.faces.end());
    made.solid.push_back(rim);
    made.air.push_back(rim);
    made.air.push_back(disc(end, bore.to));
    return made;
}

}  // namespace geom::parts
