#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Surface.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepGProp.hxx>
#include <BRepOffsetAPI_ThruSections.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <GProp_GProps.hxx>
#include <GeomAPI_Interpolate.hxx>
#include <Geom_BSplineCurve.hxx>
#include <TColgp_HArray1OfPnt.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>

#include <gp_Cylinder.hxx>
#include <gp_Trsf.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts::test {
namespace {

/// All edges rounded except those in the plane y = `sharp_y`; the ones in y = 0 by `rim`.
TopoDS_Shape rounded(const TopoDS_Shape& solid, double radius, double rim, double sharp_y) {
    BRepFilletAPI_MakeFillet fillet(solid);
    TopTools_IndexedMapOfShape edges;
    TopExp::MapShapes(solid, TopAbs_EDGE, edges);
    for (int i = 1; i <= edges.Extent(); ++i) {
        const TopoDS_Edge edge = TopoDS::Edge(edges(i));
        gp_Pnt a = BRep_Tool::Pnt(TopExp::FirstVertex(edge)), b = BRep_Tool::Pnt(TopExp::LastVertex(edge));
        const bool in_front = std::abs(a.Y() - sharp_y) < 1e-6 && std::abs(b.Y() - sharp_y) < 1e-6;
        if (in_front && rim <= 0.0) continue;
        fillet.Add(in_front ? rim : radius, edge);
    }
    fillet.Build();
    return fillet.Shape();
}

TopoDS_Shape solid_in(const TopoDS_Shape& shape) {
    TopExp_Explorer e(shape, TopAbs_SOLID);
    return e.Current();
}

/// The field of a function of the vehicle's point, on a grid round the box.
space::Room room_of(const std::function<double(Point3)>& distance, const Plane& baffle, const Sizes& sizes) {
    space::Room room;
    space::GridSpec& g = room.outer.grid;
    g.vehicle_from_box = space::box_frame(baffle, {0, 0, 1});
    g.h_mm = 3.0;
    const double margin = 60.0;
    g.lo = {-sizes.half_width - margin, -margin, -sizes.half_height - margin};
    g.nx = static_cast<int>(2.0 * (sizes.half_width + margin) / g.h_mm) + 2;
    g.ny = static_cast<int>((sizes.depth + 2.0 * margin) / g.h_mm) + 2;
    g.nz = static_cast<int>(2.0 * (sizes.half_height + margin) / g.h_mm) + 2;
    room.outer.mm.resize(g.count());
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i)
                room.outer.mm[g.index(i, j, k)] =
                    static_cast<float>(distance(g.vehicle_from_box.to_parent(g.node(i, j, k))));
    return room;
}

EnclosureRequest request_of(const Sizes& sizes) {
    EnclosureRequest request;
    request.name = "test";
    request.wall = Length::mm(sizes.wall);
    request.baffle.plane = {{0, 0, 0}, {0, -1, 0}};
    request.baffle.thickness = Length::mm(sizes.thickness);
    request.room.baffle = request.baffle.plane;
    request.room.air = {0, sizes.depth / 2.0, 0};
    request.room.clearance = Length::mm(4);
    request.room.wall = request.wall;
    return request;
}

double rounded_box_distance(Point3 p, Point3 half, double r) {
    const Vec3 q{std::abs(p.x) - half.x + r, std::abs(p.y) - half.y + r, std::abs(p.z) - half.z + r};
    const Vec3 out{std::max(q.x, 0.0), std::max(q.y, 0.0), std::max(q.z, 0.0)};
    return norm(out) + std::min(std::max({q.x, q.y, q.z}), 0.0) - r;
}

/// A frustum of a rectangular pyramid with its front in y = front.
TopoDS_Shape frustum(double front, double back, double x0, double z0, double x1, double z1) {
    BRepOffsetAPI_ThruSections loft(true, true);
    for (const auto& [y, x, z] : {std::array{front, x0, z0}, std::array{back, x1, z1}}) {
        BRepBuilderAPI_MakePolygon wire(gp_Pnt(-x, y, -z), gp_Pnt(x, y, -z), gp_Pnt(x, y, z), gp_Pnt(-x, y, z), true);
        loft.AddWire(wire.Wire());
    }
    loft.Build();
    return loft.Shape();
}

/// Radius of the bulging body's section at an angle and depth.
double radius_at(const Sizes& sizes, double angle, double y) {
    // A superellipse of exponent 5 that waves with depth.
    const double c = std::abs(std::cos(angle)), s = std::abs(std::sin(angle));
    const double rx = sizes.half_width * (1.0 + 0.05 * std::sin(y / 40.0)),
                 rz = sizes.half_height * (1.0 - 0.04 * std::cos(y / 55.0));
    return std::pow(std::pow(c / rx, 5.0) + std::pow(s / rz, 5.0), -0.2);
}

/// Sections of the body every few millimetres, drawn through by splines.
TopoDS_Shape loft_of(const Sizes& sizes, double inset, double front, double back) {
    BRepOffsetAPI_ThruSections loft(true, false);
    constexpr int kSections = 9, kPoints = 48;
    for (int k = 0; k < kSections; ++k) {
        const double y = front + (back - front) * k / (kSections - 1);
        Handle(TColgp_HArray1OfPnt) points = new TColgp_HArray1OfPnt(1, kPoints);
        for (int i = 0; i < kPoints; ++i) {
            const double a = 2.0 * std::numbers::pi * i / kPoints, r = radius_at(sizes, a, y) - inset;
            points->SetValue(i + 1, gp_Pnt(r * std::cos(a), y, r * std::sin(a)));
        }
        GeomAPI_Interpolate through(points, true, 1e-7);
        through.Perform();
        loft.AddWire(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(through.Curve()).Edge()).Wire());
    }
    loft.Build();
    return loft.Shape();
}

}  // namespace

Case rounded_box(const Sizes& s) {
    Case made{.name = "rounded box", .request = request_of(s), .bodies = {}, .room = {}};
    const TopoDS_Shape outer =
        BRepPrimAPI_MakeBox(gp_Pnt(-s.half_width, 0, -s.half_height), gp_Pnt(s.half_width, s.depth, s.half_height))
            .Shape();
    const double x = s.half_width - s.wall, z = s.half_height - s.wall;
    const TopoDS_Shape air = BRepPrimAPI_MakeBox(gp_Pnt(-x, s.thickness, -z), gp_Pnt(x, s.depth - s.wall, z)).Shape();
    made.bodies = {to_brep(solid_in(rounded(outer, 8.0, made.request.baffle.rim_radius.mm(), 0.0))),
                   to_brep(solid_in(rounded(air, 4.0, 0.0, s.thickness))), made.request.baffle.plane};
    // Reaches past the baffle, as a room does.
    made.room = room_of(
        [&](Point3 p) {
            return rounded_box_distance(p - Point3{0, (s.depth - 50.0) / 2.0, 0},
                                        {s.half_width, (s.depth + 50.0) / 2.0, s.half_height}, 8.0);
        },
        made.request.baffle.plane, s);
    return made;
}

Case tapered_box(const Sizes& s) {
    Case made{.name = "tapered box", .request = request_of(s), .bodies = {}, .room = {}};
    const double slope = std::tan(4.0 * std::numbers::pi / 180.0);
    const double in = s.wall / std::cos(std::atan(slope));  // the wall square to a side, seen in a section
    const auto x = [&](double y) { return s.half_width - slope * y; };
    const auto z = [&](double y) { return s.half_height - slope * y; };
    const double back = s.depth - s.wall;
    made.bodies = {to_brep(solid_in(rounded(frustum(0, s.depth, x(0), z(0), x(s.depth), z(s.depth)), 8.0,
                                            made.request.baffle.rim_radius.mm(), 0.0))),
                   to_brep(solid_in(rounded(
                       frustum(s.thickness, back, x(s.thickness) - in, z(s.thickness) - in, x(back) - in, z(back) - in),
                       4.0, 0.0, s.thickness))),
                   made.request.baffle.plane};
    const double n = 1.0 / std::sqrt(1.0 + slope * slope);
    made.room = room_of(
        [&](Point3 p) {
            const double qx = (std::abs(p.x) - x(p.y)) * n, qz = (std::abs(p.z) - z(p.y)) * n, qy = p.y - s.depth,
                         r = 8.0;
            const Vec3 out{std::max(qx + r, 0.0), std::max(qy + r, 0.0), std::max(qz + r, 0.0)};
            return norm(out) + std::min(std::max({qx, qy, qz}) + r, 0.0) - r;
        },
        made.request.baffle.plane, s);
    return made;
}

Case bulging_loft(const Sizes& s) {
    Case made{.name = "bulging loft", .request = request_of(s), .bodies = {}, .room = {}};
    made.request.baffle.rim_radius = Length::mm(0);
    made.bodies = {to_brep(solid_in(loft_of(s, 0.0, 0.0, s.depth))),
                   to_brep(solid_in(loft_of(s, s.wall, s.thickness, s.depth - s.wall))), made.request.baffle.plane};
    made.room = room_of(
        [&](Point3 p) {
            const double angle = std::atan2(p.z, p.x);
            return std::max(std::hypot(p.x, p.z) - radius_at(s, angle, p.y), p.y - s.depth);
        },
        made.request.baffle.plane, s);
    return made;
}

Case moved(const Case& box, const Frame& to) {
    Case made = box;
    gp_Trsf transform;
    transform.SetValues(to.x.x, to.y.x, to.z.x, to.origin.x, to.x.y, to.y.y, to.z.y, to.origin.y, to.x.z, to.y.z,
                        to.z.z, to.origin.z);
    const auto point = [&](Point3 p) { return to.to_parent(p); };
    const auto dir = [&](Vec3 v) { return to.dir_to_parent(v); };
    const auto plane = [&](Plane p) { return Plane{point(p.point), dir(p.outward)}; };
    const auto brep = [&](const Brep& b) {
        return to_brep(BRepBuilderAPI_Transform(to_occt(b), transform, true).Shape());
    };
    made.bodies = {brep(box.bodies.outer), brep(box.bodies.air), plane(box.bodies.baffle_plane)};
    EnclosureRequest& r = made.request;
    r.up = dir(r.up);
    r.baffle.plane = plane(r.baffle.plane);
    r.room.baffle = plane(r.room.baffle);
    r.room.air = point(r.room.air);
    if (r.driver) r.driver->centre = point(r.driver->centre);
    if (r.terminal) r.terminal->at = point(r.terminal->at);
    for (Foot& foot : r.feet) {
        foot.point = point(foot.point);
        foot.axis = dir(foot.axis);
    }
    for (Sleeve& sleeve : r.sleeves) {
        sleeve.point = point(sleeve.point);
        sleeve.axis = dir(sleeve.axis);
    }
    for (Brace& brace : r.braces) {
        brace.at = point(brace.at);
        brace.axis = dir(brace.axis);
    }
    Frame& grid = made.room.outer.grid.vehicle_from_box;
    grid = {point(grid.origin), dir(grid.x), dir(grid.y), dir(grid.z)};
    return made;
}

std::vector<Cylinder> cylinders(const Brep& shape) {
    std::vector<Cylinder> found;
    for (TopExp_Explorer e(to_occt(shape), TopAbs_FACE); e.More(); e.Next()) {
        const BRepAdaptor_Surface surface(TopoDS::Face(e.Current()), false);
        if (surface.GetType() != GeomAbs_Cylinder) continue;
        GProp_GProps props;
        BRepGProp::SurfaceProperties(e.Current(), props);
        const gp_Ax1 axis = surface.Cylinder().Axis();
        Cylinder c{surface.Cylinder().Radius(), from_occt(axis.Location()), from_occt(axis.Direction()), props.Mass()};
        c.at = c.at - c.axis * dot(c.at, c.axis);
        bool is_new = true;
        for (Cylinder& other : found)
            if (std::abs(other.radius_mm - c.radius_mm) < 1e-6 && distance(other.at, c.at) < 1e-5 &&
                norm(cross(other.axis, c.axis)) < 1e-9) {
                other.area_mm2 += c.area_mm2;
                is_new = false;
            }
        if (is_new) found.push_back(c);
    }
    return found;
}

std::vector<Cylinder> cylinders(const Brep& shape, double radius_mm) {
    std::vector<Cylinder> all = cylinders(shape);
    std::erase_if(all, [&](const Cylinder& c) { return std::abs(c.radius_mm - radius_mm) > 1e-6; });
    return all;
}

sound::Driver woofer() {
    sound::Driver driver;
    driver.name = "165 mm woofer";
    driver.cutout_diameter = Length::mm(145);
    driver.flange_diameter = Length::mm(168);
    driver.bolt_circle = Length::mm(156.5);
    driver.bolt_count = 4;
    driver.bolt_thread = "M4";
    driver.mounting_depth = Length::mm(70);
    driver.magnet_diameter = Length::mm(90);
    driver.magnet_depth = Length::mm(25);
    driver.displacement = Volume::litres(0.55);
    return driver;
}

DriverMount mounted(const sound::Driver& driver, Point3 centre) {
    return {.driver = driver, .centre = centre, .turn = Angle::deg(45)};
}

DriverMount small_woofer() {
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(94), driver.flange_diameter = Length::mm(116);
    driver.bolt_circle = Length::mm(106.5), driver.basket_diameter = Length::mm(92);
    driver.bolt_thread = "M3";
    driver.magnet_diameter = Length::mm(72), driver.mounting_depth = Length::mm(58),
    driver.magnet_depth = Length::mm(20);
    driver.displacement = Volume::litres(0.2);
    return mounted(driver, {-42, 0, 0});
}

double ledger(const Enclosure& made, const std::string& name) {
    double sum = 0.0;
    for (const LedgerLine& line : made.ledger)
        if (line.name == name) sum += line.litres;
    return sum;
}

Enclosure made(const Case& box, const scan::Surface* surface) {
    return require(add_features(box.bodies, box.room, box.request, {}, surface));
}
Fault refused(const Case& box, const scan::Surface* surface) {
    const auto result = add_features(box.bodies, box.room, box.request, {}, surface);
    if (result) throw std::runtime_error("made although it cannot be");
    return result.error();
}
double volume_mm3(const Brep& solid) {
    return require(measure::measure_solid(solid, {})).volume.mm3();
}

}  // namespace geom::parts::test
