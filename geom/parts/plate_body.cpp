// The plate is its outline drawn out by its thickness, its holes one boolean of analytic bodies. On the shell nothing
// is a boolean: pads and holes run square between two plane faces, so that circles and walls join them.
#include "geom/fixings/bolt.h"
#include "geom/parts/internal/plate_plan.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <GC_MakeArcOfCircle.hxx>
#include <Geom_TrimmedCurve.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Pln.hxx>

#include <cmath>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;  // of a tool past the faces it goes through

TopoDS_Wire wire_of(const PlatePlan& plan, const FlatPath& path, double height) {
    const auto at = [&](double x, double y) { return to_occt(plan.place.at(x, y, height)); };
    BRepBuilderAPI_MakeWire wire;
    for (std::size_t i = 0; i < path.points.size(); ++i) {
        const FlatPoint &a = path.points[i], &b = path.points[(i + 1) % path.points.size()];
        if (std::hypot(b.x - a.x, b.y - a.y) < 1e-7) continue;
        if (a.bulge == 0.0) {
            wire.Add(BRepBuilderAPI_MakeEdge(at(a.x, a.y), at(b.x, b.y)).Edge());
            continue;
        }
        // The arc's middle: beside the chord by half of it times the bulge, to the right of the way.
        const double mx = (a.x + b.x + a.bulge * (b.y - a.y)) / 2.0, my = (a.y + b.y - a.bulge * (b.x - a.x)) / 2.0;
        wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(at(a.x, a.y), at(mx, my), at(b.x, b.y)).Value()).Edge());
    }
    return wire.Wire();
}

}  // namespace

Result<TopoDS_Solid> plate_solid(const PlatePlan& plan) {
    const std::string name = "plate \"" + plan.asked->name + "\"";
    return guard_occt(name.c_str(), [&]() -> Result<TopoDS_Solid> {
        const double t = plan.place.thickness_mm;
        const gp_Pln lower(to_occt(plan.place.frame.origin), to_occt_dir(plan.place.frame.z));
        const FlatPath outline = hull_of(plan.discs);
        const TopoDS_Shape blank =
            BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(lower, wire_of(plan, outline, 0.0), true).Face(),
                                  to_occt_vec(plan.place.frame.z * t))
                .Shape();
        TopTools_ListOfShape tools;
        for (const Point2 bolt : plan.bolts) {
            const BoltLine line = plan.bolt_line_at(bolt);
            const double r = plan.bolt_hole.hole_mm / 2.0;
            tools.Append(plan.bolt_hole.sink_mm > 0.0 && line.half_mm <= 0.0
                             ? sunk_tool(line, r, plan.bolt_hole.sink_mm / 2.0, t)
                             : prism(line, r, -kPast_mm, t + kPast_mm));
        }
        for (const Point2 screw : plan.screws)
            tools.Append(prism(bolt_line(plan.at(screw, 0.0), -plan.place.frame.z, std::nullopt),
                               plan.grip.hole_mm / 2.0, -kPast_mm, t + kPast_mm));
        GAPWRIGHT_TRY(made,
                      cut(name, TopExp_Explorer(blank, TopAbs_SOLID).Current(), tools, 1.0, area_mm2(outline) * t));
        return made.solid;
    });
}

FlatDrawing plate_drawing(const PlatePlan& plan) {
    FlatDrawing drawing{.name = plan.asked->name,
                        .thickness_mm = plan.place.thickness_mm,
                        .paths = {hull_of(plan.discs)},
                        .circles = {},
                        .texts = {}};
    const double r = plan.bolt_hole.hole_mm / 2.0;
    for (const Point2 bolt : plan.bolts) {
        const BoltLine line = plan.bolt_line_at(bolt);
        if (line.half_mm > 0.0) {
            const Vec3 along = plan.place.frame.dir_to_local(line.along);
            const Point2 a{along.x, along.y}, side{-a.y, a.x};
            const Point2 from = bolt - a * line.half_mm, to = bolt + a * line.half_mm;
            const auto corner = [&](Point2 p, double bulge) { return FlatPoint{p.x, p.y, bulge}; };
            drawing.paths.push_back({Operation::ThroughHole,
                                     {corner(from - side * r, 0.0), corner(to - side * r, 1.0),
                                      corner(to + side * r, 0.0), corner(from + side * r, 1.0)},
                                     true});
            continue;
        }
        drawing.circles.push_back({Operation::ThroughHole, bolt.x, bolt.y, r});
        if (plan.bolt_hole.sink_mm > 0.0)
            drawing.circles.push_back({Operation::Countersink, bolt.x, bolt.y, plan.bolt_hole.sink_mm / 2.0});
    }
    for (const Point2 screw : plan.screws)
        drawing.circles.push_back({Operation::ThroughHole, screw.x, screw.y, plan.grip.hole_mm / 2.0});
    double left = 1e300, low = 1e300;
    for (const Disc& d : plan.discs) {
        left = std::min(left, d.centre.x - d.radius_mm);
        low = std::min(low, d.centre.y - d.radius_mm);
    }
    const double height = 5.0;
    const auto text = [&](int row, const std::string& words) {
        drawing.texts.push_back({left, low - 2.0 * height * row, height, words});
    };
    text(1, fmt::format("{}: {} mm {}", plan.asked->name, plain_number(plan.place.thickness_mm), plan.material.name));
    text(2, fmt::format("{} x {} {}: {} mm through{}", plan.screws.size(), plan.asked->screw_thread,
                        plan.grip.has_insert ? "insert" : "tapped", plain_number(plan.grip.hole_mm),
                        plan.bolt_hole.sink_mm > 0.0 ? "; countersinks 90 deg, on this side" : ""));
    return drawing;
}

Result<TopoDS_Solid> with_back_screws(const PlatePlan& plan, const TopoDS_Solid& shell, const TopoDS_Face& outer,
                                      const TopoDS_Face& inner, double wall_mm) {
    const std::string name = "screws of plate \"" + plan.asked->name + "\"";
    return guard_occt(name.c_str(), [&]() -> Result<TopoDS_Solid> {
        const double t = plan.place.thickness_mm, face = plan.place.face_mm(), stand = plan.place.stand_mm;
        const Vec3 down = -plan.place.frame.z;
        std::vector<TopoDS_Wire> in_outer, in_inner;
        std::vector<TopoDS_Face> more;
        const auto add = [&](const std::vector<TopoDS_Face>& faces) {
            more.insert(more.end(), faces.begin(), faces.end());
        };
        for (const Point2 screw : plan.screws) {
            const Wall hole =
                wall(circle({plan.at(screw, t), down}, plan.screw_hole.hole_mm / 2.0), -down * (face + wall_mm - t));
            add(hole.faces);
            in_inner.push_back(hole.to);
            if (stand <= 0.0) {
                in_outer.push_back(hole.from);
                continue;
            }
            const Wall pad = wall(circle({plan.at(screw, face), down}, plan.pad_radius_mm), down * stand);
            add(pad.faces);
            in_outer.push_back(pad.from);
            more.push_back(with_holes(disc({plan.at(screw, t), down}, pad.to), {hole.from}));
        }
        std::vector<TopoDS_Face> faces =
            replaced(replaced(faces_of(shell), outer, with_holes(outer, in_outer)), inner, with_holes(inner, in_inner));
        faces.insert(faces.end(), more.begin(), more.end());
        return solid_of_faces(name, faces);
    });
}

Result<std::vector<FixingMade>> measure_plate(const PlatePlan& plan, const TopoDS_Solid& solid) {
    std::vector<FixingMade> made;
    const MountPlate& asked = *plan.asked;
    for (std::size_t i = 0; i < plan.bolts.size(); ++i) {
        const BoltLine line = plan.bolt_line_at(plan.bolts[i]);
        const double t = plan.place.thickness_mm, sink = plan.bolt_hole.sink_mm;
        GAPWRIGHT_TRY(hole,
                      measure_hole("plate \"" + asked.name + "\"", solid, line, plan.bolt_hole.hole_mm / 2.0, 0.0, t));
        double edge = 1e300;
        for (const double end : {-1.0, 1.0}) {
            const Point3 q = plan.place.frame.to_local(line.point + line.along * (end * line.half_mm));
            edge = std::min(edge, depth_in_hull(plan.discs, {q.x, q.y}));
        }
        FixingMade fixing{.name = plan.bolts.size() > 1 ? fmt::format("{}, bolt {}", asked.name, i + 1) : asked.name,
                          .thread = asked.thread,
                          .point = line.point,
                          .axis = -line.up,
                          .hole_mm = plan.bolt_hole.hole_mm,
                          .edge_distance_mm = edge,
                          .edge_wanted_mm = plan.bolt_edge_mm};
        fixing.kind = FixingKind::Plate;
        fixing.bolt = {.name = fmt::format("bolt {} of plate \"{}\"", i + 1, asked.name),
                       .thread = asked.thread,
                       .head_seat = line.at(t),
                       .axis = -line.up,
                       .hole = plan.bolt_hole,
                       .tool = fixings::tool_room(plan.bolt_thread, asked.use),
                       .step = Step::PlateOnVehicle,
                       .product = asked.name,
                       .reach_mm = t};
        fixing.use = asked.use;
        fixing.grip_mm = t;
        fixing.bears_mm = sink > 0.0 ? t - (sink - plan.bolt_hole.hole_mm) / 2.0 : t;
        fixing.seat_radius_mm = plan.bolt_edge_mm;
        fixing.belongs_to = asked.belongs_to;
        fixing.measured_hole_mm = hole.diameter_mm;
        fixing.measured_off_axis_mm = hole.off_axis_mm;
        made.push_back(fixing);
    }
    return made;
}

}  // namespace geom::parts
