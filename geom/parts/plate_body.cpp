// The plate is its outline drawn out by its thickness, its holes one boolean of analytic bodies. On the shell nothing
// is a boolean: pads and holes run square between two plane faces, so that circles and walls join them.
#include "geom/fixings/bolt.h"
#include "geom/parts/internal/plate_plan.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <GC_MakeArcOfCircle.hxx>
#include <Geom_TrimmedCurve.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax1.hxx>
#include <gp_Pln.hxx>

#include <cmath>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;     // of a tool past the faces it goes through
constexpr double kTouch_mm3 = 1e-3;  // in common of bodies that touch in a face

TopoDS_Wire wire_of(const Frame& frame, const FlatPath& path) {
    const auto at = [&](double x, double y) { return to_occt(frame.to_parent({x, y, 0.0})); };
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

TopoDS_Shape drawn_out(const Frame& frame, const FlatPath& outline, double thickness_mm) {
    const gp_Pln lower(to_occt(frame.origin), to_occt_dir(frame.z));
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(lower, wire_of(frame, outline), true).Face(),
                                 to_occt_vec(frame.z * thickness_mm))
        .Shape();
}

/// The bend itself: its section turned about its axis, from the turned part back.
TopoDS_Shape bend_body(const PlatePlan& plan) {
    const TurnedPlace& bend = *plan.place.turned;
    const double t = plan.place.thickness_mm;
    BRepBuilderAPI_MakePolygon section;
    for (const auto& [x, z] : {std::pair{plan.bend_from_mm, 0.0}, std::pair{plan.bend_to_mm, 0.0},
                               std::pair{plan.bend_to_mm, t}, std::pair{plan.bend_from_mm, t}})
        section.Add(to_occt(bend.frame.to_parent({x, 0.0, z})));
    section.Close();
    // Turning from out towards z is about x = out cross z.
    const gp_Ax1 axis(to_occt(bend.centre), to_occt_dir(bend.frame.x));
    return BRepPrimAPI_MakeRevol(BRepBuilderAPI_MakeFace(section.Wire(), true).Face(), axis, -bend.radians).Shape();
}

double bend_volume_mm3(const PlatePlan& plan) {
    const TurnedPlace& bend = *plan.place.turned;
    const double t = plan.place.thickness_mm;
    return (plan.bend_to_mm - plan.bend_from_mm) * std::abs(bend.radians) * t * (bend.inner_mm + t / 2.0);
}

/// Holes of the vehicle's bolts in one flat.
void add_bolt_holes(const PlatePlan& plan, const PlateFlat& flat, TopTools_ListOfShape& tools) {
    const double t = plan.place.thickness_mm, r = plan.bolt_hole.hole_mm / 2.0;
    for (const Point2 bolt : flat.bolts) {
        const BoltLine line = flat.bolt_line_at(bolt, plan.asked->use.slot);
        tools.Append(plan.bolt_hole.sink_mm > 0.0 && line.half_mm <= 0.0
                         ? sunk_tool(line, r, plan.bolt_hole.sink_mm / 2.0, t)
                         : prism(line, r, -kPast_mm, t + kPast_mm));
    }
}

/// The corners of a path from one place of it to another, both included.
std::vector<FlatPoint> between(const FlatPath& path, Point2 from, Point2 to) {
    const std::size_t n = path.points.size();
    const auto nearest = [&](Point2 p) {
        std::size_t best = 0;
        for (std::size_t i = 1; i < n; ++i)
            if (distance({path.points[i].x, path.points[i].y}, p) <
                distance({path.points[best].x, path.points[best].y}, p))
                best = i;
        return best;
    };
    std::vector<FlatPoint> points;
    const std::size_t last = nearest(to);
    for (std::size_t i = nearest(from);; i = (i + 1) % n) {
        points.push_back(path.points[i]);
        if (i == last) break;
    }
    points.back().bulge = 0.0;
    return points;
}

/// The outline of the flat piece: where it is bent, both flats' outlines with the bend's allowance between them.
FlatPath blank_outline(const PlatePlan& plan) {
    const FlatPath flat = hull_of(plan.flat.discs);
    if (!plan.turned) return flat;
    const auto end_of_flat = [&](double x) { return plan.in_blank({x, -plan.place.turned->allowance_mm}); };
    FlatPath blank{Operation::Outline, {}, true};
    blank.points = between(flat, end_of_flat(plan.bend_from_mm), end_of_flat(plan.bend_to_mm));
    for (const FlatPoint& p : between(hull_of(plan.turned->discs), {plan.bend_to_mm, 0.0}, {plan.bend_from_mm, 0.0})) {
        const Point2 q = plan.in_blank({p.x, p.y});
        blank.points.push_back({q.x, q.y, p.bulge});
    }
    return blank;
}

}  // namespace

Result<TopoDS_Solid> plate_solid(const PlatePlan& plan) {
    const std::string name = "plate \"" + plan.asked->name + "\"";
    return guard_occt(name.c_str(), [&]() -> Result<TopoDS_Solid> {
        const double t = plan.place.thickness_mm;
        TopTools_ListOfShape tools;
        double blank_mm3 = 0.0;
        std::vector<TopoDS_Shape> blanks;
        for (const PlateFlat* flat : plan.flats()) {
            const FlatPath outline = hull_of(flat->discs);
            blank_mm3 += area_mm2(outline) * t;
            blanks.push_back(drawn_out(flat->frame, outline, t));
            add_bolt_holes(plan, *flat, tools);
        }
        TopoDS_Shape blank = TopExp_Explorer(blanks.front(), TopAbs_SOLID).Current();
        if (plan.turned) {
            TopTools_ListOfShape beyond;
            beyond.Append(bend_body(plan));
            GAPWRIGHT_TRY(with_bend, fuse(name + " bend", blank, beyond, 0.0, kTouch_mm3));
            TopTools_ListOfShape last;
            last.Append(blanks.back());
            GAPWRIGHT_TRY(whole, fuse(name + " bend", with_bend.solid, last, 0.0, kTouch_mm3));
            blank = whole.solid;
            blank_mm3 += bend_volume_mm3(plan);
        }
        for (const Point2 screw : plan.screws)
            tools.Append(prism(bolt_line(plan.at(screw, 0.0), -plan.place.frame.z, std::nullopt),
                               plan.grip.hole_mm / 2.0, -kPast_mm, t + kPast_mm));
        GAPWRIGHT_TRY(made, cut(name, blank, tools, 1.0, blank_mm3));
        return made.solid;
    });
}

FlatDrawing plate_drawing(const PlatePlan& plan) {
    FlatDrawing drawing{.name = plan.asked->name,
                        .thickness_mm = plan.place.thickness_mm,
                        .paths = {blank_outline(plan)},
                        .circles = {},
                        .texts = {}};
    const double r = plan.bolt_hole.hole_mm / 2.0;
    for (const PlateFlat* flat : plan.flats()) {
        const bool is_turned = flat != &plan.flat;
        const auto there = [&](Point2 p) { return is_turned ? plan.in_blank(p) : p; };
        for (const Point2 bolt : flat->bolts) {
            const Point2 middle = there(bolt);
            const BoltLine line = flat->bolt_line_at(bolt, plan.asked->use.slot);
            if (line.half_mm > 0.0) {
                const Vec3 along = flat->frame.dir_to_local(line.along);
                const Point2 a = there(bolt + Point2{along.x, along.y}) - middle, side{-a.y, a.x};
                const Point2 from = middle - a * line.half_mm, to = middle + a * line.half_mm;
                const auto corner = [&](Point2 p, double bulge) { return FlatPoint{p.x, p.y, bulge}; };
                drawing.paths.push_back({Operation::ThroughHole,
                                         {corner(from - side * r, 0.0), corner(to - side * r, 1.0),
                                          corner(to + side * r, 0.0), corner(from + side * r, 1.0)},
                                         true});
                continue;
            }
            drawing.circles.push_back({Operation::ThroughHole, middle.x, middle.y, r});
            if (plan.bolt_hole.sink_mm > 0.0)
                drawing.circles.push_back({Operation::Countersink, middle.x, middle.y, plan.bolt_hole.sink_mm / 2.0});
        }
    }
    if (plan.turned) {
        const double middle = -plan.place.turned->allowance_mm / 2.0;
        const Point2 from = plan.in_blank({plan.bend_from_mm, middle}), to = plan.in_blank({plan.bend_to_mm, middle});
        drawing.paths.push_back({Operation::BendLine, {{from.x, from.y, 0.0}, {to.x, to.y, 0.0}}, false});
    }
    for (const Point2 screw : plan.screws)
        drawing.circles.push_back({Operation::ThroughHole, screw.x, screw.y, plan.grip.hole_mm / 2.0});
    double left = 1e300, low = 1e300;
    for (const PlateFlat* flat : plan.flats())
        for (const Disc& d : flat->discs) {
            const Point2 c = flat == &plan.flat ? d.centre : plan.in_blank(d.centre);
            left = std::min(left, c.x - d.radius_mm);
            low = std::min(low, c.y - d.radius_mm);
        }
    const double height = 5.0;
    const auto text = [&](int row, const std::string& words) {
        drawing.texts.push_back({left, low - 2.0 * height * row, height, words});
    };
    text(1, fmt::format("{}: {} mm {}", plan.asked->name, plain_number(plan.place.thickness_mm), plan.material.name));
    text(2, fmt::format("{} x {} {}: {} mm through{}", plan.screws.size(), plan.asked->screw_thread,
                        plan.grip.has_insert ? "insert" : "tapped", plain_number(plan.grip.hole_mm),
                        plan.bolt_hole.sink_mm > 0.0 ? "; countersinks 90 deg, on this side" : ""));
    if (plan.turned) {
        const TurnedPlace& bend = *plan.place.turned;
        text(3, fmt::format("bend {} by {} deg, inside radius {} mm; allowance {:.2f} mm (k = {})",
                            bend.radians > 0.0 ? "up, towards the viewer," : "down, away from the viewer,",
                            plain_number(std::abs(plan.asked->bend->by.deg())), plain_number(bend.inner_mm),
                            bend.allowance_mm, plain_number(plan.asked->bend->k_factor)));
    }
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
    const std::size_t count = plan.flat.bolts.size() + (plan.turned ? plan.turned->bolts.size() : 0);
    for (const PlateFlat* flat : plan.flats())
        for (const Point2 bolt : flat->bolts) {
            const std::size_t i = made.size();
            const BoltLine line = flat->bolt_line_at(bolt, asked.use.slot);
            const double t = plan.place.thickness_mm, sink = plan.bolt_hole.sink_mm;
            GAPWRIGHT_TRY(
                hole, measure_hole("plate \"" + asked.name + "\"", solid, line, plan.bolt_hole.hole_mm / 2.0, 0.0, t));
            double edge = 1e300;
            for (const double end : {-1.0, 1.0}) {
                const Point3 q = flat->frame.to_local(line.point + line.along * (end * line.half_mm));
                edge = std::min(edge, depth_in_hull(flat->discs, {q.x, q.y}));
            }
            FixingMade fixing{.name = count > 1 ? fmt::format("{}, bolt {}", asked.name, i + 1) : asked.name,
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
