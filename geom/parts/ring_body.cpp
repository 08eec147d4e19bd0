// Outlines of circles and lines pushed along the seat's axis are cylinders and planes; two level circles about one axis
// are joined by a cone; all else is ruled between pieces matched by the angle they are seen at (outline_pieces.h),
// which a sample of its normals holds to be free of folds.
#include "geom/parts/internal/ring_body.h"

#include "geom/core/checks.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/site.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepOffsetAPI_MakeOffset.hxx>
#include <BRepOffsetAPI_ThruSections.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <GC_MakeArcOfCircle.hxx>
#include <GeomConvert_ApproxCurve.hxx>
#include <Geom_BSplineCurve.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax2.hxx>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;
constexpr double kSame_mm = 1e-9;

Frame raised(Frame view, Vec3 by) {
    view.origin += by;
    return view;
}

/// The outline in a plane, pushed along `by`.
TopoDS_Shape pushed(const RingOutline& outline, const Frame& view, Vec3 by) {
    if (outline.kind == RingOutline::Kind::Round &&
        std::abs(dot(unit(by), view.x)) + std::abs(dot(unit(by), view.z)) < 1e-12) {
        const gp_Ax2 ax(to_occt(view.origin), to_occt_dir(unit(by)), to_occt_dir(view.x));
        return BRepPrimAPI_MakeCylinder(ax, outline.width.mm() / 2.0, norm(by)).Shape();
    }
    const TopoDS_Face face = BRepBuilderAPI_MakeFace(wire_of(pieces_of(outline), view), true).Face();
    return BRepPrimAPI_MakePrism(face, to_occt_vec(by)).Shape();
}

/// Least part of the surface's normal, of unit length, that points away from the line through both origins.
double least_outward(const MatchedPieces& pieces, const Frame& low, const Frame& high, Point3& at) {
    constexpr int kAlong = 12, kUp = 4;
    const auto in = [](const Frame& f, Point2 p) { return f.to_parent({p.x, 0.0, p.y}); };
    const auto way = [](const Frame& f, Point2 p) { return f.dir_to_parent({p.x, 0.0, p.y}); };
    double least = 1.0;
    for (std::size_t k = 0; k < pieces.one.size(); ++k)
        for (int i = 0; i <= kAlong; ++i) {
            const double s = static_cast<double>(i) / kAlong;
            const Point3 a = in(low, pieces.one[k].at(s)), b = in(high, pieces.other[k].at(s));
            const Vec3 da = way(low, pieces.one[k].along(s)), db = way(high, pieces.other[k].along(s));
            for (int j = 0; j <= kUp; ++j) {
                const double v = static_cast<double>(j) / kUp;
                const Vec3 n = cross(da * (1.0 - v) + db * v, b - a);
                const Point3 p = a + (b - a) * v, middle = low.origin + (high.origin - low.origin) * v;
                if (norm(n) <= 0.0) continue;
                if (const double out = dot(unit(n), unit(p - middle)); out < least) least = out, at = p;
            }
        }
    return least;
}

/// The solid ruled between two outlines.
Result<TopoDS_Shape> ruled(const RingOutline& low, const Frame& low_view, const RingOutline& high,
                           const Frame& high_view) {
    constexpr double kLeast = 0.05;
    const bool is_level = std::abs(dot(low_view.y, high_view.y)) > 1.0 - 1e-14;
    const Vec3 between = high_view.origin - low_view.origin;
    if (low.kind == RingOutline::Kind::Round && high.kind == RingOutline::Kind::Round && is_level &&
        norm(cross(between, low_view.y)) < 1e-9) {
        const gp_Ax2 ax(to_occt(low_view.origin), to_occt_dir(unit(between)), to_occt_dir(low_view.x));
        const double r0 = low.width.mm() / 2.0, r1 = high.width.mm() / 2.0;
        if (std::abs(r0 - r1) < kSame_mm) return TopoDS_Shape(BRepPrimAPI_MakeCylinder(ax, r0, norm(between)).Shape());
        return TopoDS_Shape(BRepPrimAPI_MakeCone(ax, r0, r1, norm(between)).Shape());
    }
    const MatchedPieces pieces = matched(low, high);
    Point3 at;
    if (const double least = least_outward(pieces, low_view, high_view, at); least < kLeast)
        return Fault{
            FaultCode::BadJob,
            fmt::format("ring: no surface without a fold joins the two outlines: near ({:.1f}, {:.1f}, {:.1f}) "
                        "it turns back",
                        at.x, at.y, at.z),
            "outlines more alike, more height, or less shift and tilt", at, "part"};
    BRepOffsetAPI_ThruSections sections(true, true, 1e-6);
    sections.CheckCompatibility(false);
    sections.AddWire(wire_of(pieces.one, low_view));
    sections.AddWire(wire_of(pieces.other, high_view));
    sections.Build();
    if (!sections.IsDone()) return Fault{FaultCode::Internal, "ring: its ruled sides were not made", {}, at, "part"};
    return sections.Shape();
}

Result<TopoDS_Shape> lofted_ring(const RingRequest& request, const RingShape& shape) {
    GAPWRIGHT_TRY(body, ruled(request.seat.outside, shape.view, *request.front, shape.front_view));
    if (shape.below_mm <= 0.0 || !request.foot) return body;
    const Vec3 down = shape.seat.z * -shape.below_mm;
    return joined("ring: its foot", {body, pushed(request.seat.outside, raised(shape.view, down), -down)});
}

Result<TopoDS_Shape> straight_ring(const RingRequest& request, const RingShape& shape) {
    const double down = request.foot ? shape.below_mm : 0.0;
    const double past = shape.slope > 0.0 ? kPast_mm : 0.0;
    const Vec3 z = shape.seat.z;
    const Frame low = raised(shape.view, z * -down);
    const RingOutline& upper = request.step ? request.step->outside : request.seat.outside;
    const double from = request.step ? request.step->height.mm() : 0.0;
    TopoDS_Shape body;
    if (request.step) {
        // The upper part goes down through the wide one: the two share no face but what lies in the step.
        GAPWRIGHT_TRY(both, joined("ring: its step", {pushed(request.seat.outside, low, z * (from + down)),
                                                      pushed(upper, raised(shape.view, z * (from / 2.0)),
                                                             z * (shape.most_mm + past - from / 2.0))}));
        body = both;
    } else {
        body = pushed(request.seat.outside, low, z * (shape.most_mm + past + down));
    }
    if (shape.slope <= 0.0) return body;
    GAPWRIGHT_TRY(halves, split("ring: front face", body, shape.front));
    return TopoDS_Shape(halves.behind);
}

}  // namespace

Result<TopoDS_Shape> raw_ring(const RingRequest& request, const RingShape& shape) {
    return request.front ? lofted_ring(request, shape) : straight_ring(request, shape);
}

Result<TopoDS_Shape> stood_on_foot(const RingRequest& request, const RingShape& shape, const TopoDS_Shape& body) {
    if (!request.foot) return body;
    BRepAlgoAPI_Common common(body, to_occt(*request.foot));
    if (!common.IsDone())
        return Fault{FaultCode::Internal, "ring: its foot on the scan was not cut", {}, shape.seat.origin, "part"};
    TopoDS_Shape made;
    int solids = 0;
    for (TopExp_Explorer it(common.Shape(), TopAbs_SOLID); it.More(); it.Next(), ++solids) made = it.Current();
    if (solids != 1)
        return impossible(fmt::format("ring: the scanned skin leaves it in {} pieces, wanted one", solids),
                          "more height, or the seat where the skin is flatter", shape.seat.origin);
    return made;
}

Result<TopoDS_Shape> bore_tool(const RingRequest& request, const RingShape& shape) {
    if (shape.has_round_bore) return tool_of(shape.bore);
    const Vec3 way = shape.bore.line.up;
    const Plane start{shape.bore.line.at(shape.bore.tool_from_mm), -way};
    if (request.bore_outline) {
        const Frame view = space::box_frame(start, request.up);
        return pushed(*request.bore_outline, view, way * (shape.bore.tool_to_mm - shape.bore.tool_from_mm));
    }
    const Frame rest = space::box_frame(shape.rest, request.up);
    const RingOutline cutout = round_outline(request.bore_diameter.value_or(request.driver.cutout_diameter));
    GAPWRIGHT_TRY(loft, ruled(*request.seat.opening, shape.view, cutout, rest));
    std::vector<TopoDS_Shape> pieces{loft};
    pieces.push_back(pushed(cutout, rest, shape.rest.outward * (shape.recess_mm + kPast_mm)));
    const double down = kPast_mm + shape.below_mm;
    pieces.push_back(pushed(*request.seat.opening, raised(shape.view, shape.seat.z * -down), shape.seat.z * down));
    return joined("ring: bore", pieces);
}

std::optional<TopoDS_Shape> flare_tool(const RingShape& shape) {
    if (shape.flare) return tool_of(*shape.flare);
    const double f = shape.flare_round_mm;
    if (f <= 0.0) return std::nullopt;
    // In the half-plane of radius and height over the seat: from the bore's wall out along a quarter of a circle.
    const Vec3 z = shape.seat.z, x = shape.view.x;
    const double r = shape.bore.radius_mm;
    const auto at = [&](double radius, double height) { return to_occt(shape.mouth + x * radius + z * height); };
    const double q = f * (1.0 - std::sqrt(0.5));
    BRepBuilderAPI_MakeWire wire;
    wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(at(r, f), at(r + q, q), at(r + f, 0.0)).Value()).Edge());
    wire.Add(BRepBuilderAPI_MakeEdge(at(r + f, 0.0), at(r + f, -kPast_mm)).Edge());
    wire.Add(BRepBuilderAPI_MakeEdge(at(r + f, -kPast_mm), at(0.5 * r, -kPast_mm)).Edge());
    wire.Add(BRepBuilderAPI_MakeEdge(at(0.5 * r, -kPast_mm), at(0.5 * r, f)).Edge());
    wire.Add(BRepBuilderAPI_MakeEdge(at(0.5 * r, f), at(r, f)).Edge());
    return BRepPrimAPI_MakeRevol(BRepBuilderAPI_MakeFace(wire.Wire(), true).Face(),
                                 gp_Ax1(to_occt(shape.mouth), to_occt_dir(z)))
        .Shape();
}

namespace {

/// The wire with the offset curves in it as B-splines within 1e-5 mm: a file's reader makes other curves of an
/// offset of an ellipse than were written.
TopoDS_Wire plain_wire(const TopoDS_Wire& wire) {
    BRepBuilderAPI_MakeWire plain;
    for (BRepTools_WireExplorer it(wire); it.More(); it.Next()) {
        const BRepAdaptor_Curve curve(it.Current());
        if (curve.GetType() != GeomAbs_OffsetCurve) {
            plain.Add(it.Current());
            continue;
        }
        const auto place = Handle(BRepAdaptor_Curve)(new BRepAdaptor_Curve(curve));
        const GeomConvert_ApproxCurve approx(place, 1e-5, GeomAbs_C2, 200, 7);
        plain.Add(BRepBuilderAPI_MakeEdge(approx.Curve()).Edge());
    }
    return plain.Wire();
}

}  // namespace

Result<std::optional<TopoDS_Shape>> lip_of(const RingRequest& request, const RingShape& shape) {
    if (!request.lip) return std::optional<TopoDS_Shape>();
    const double play = request.lip->play.mm(), height = request.lip->height.mm();
    const double in_ring = std::min(request.height.mm() / 2.0, 4.0);
    const Frame low = raised(shape.view, shape.seat.z * -height);
    RingOutline outline = *request.seat.opening;
    if (outline.kind == RingOutline::Kind::Round) {
        outline = round_outline(outline.width - Length::mm(2.0 * play));
        return std::optional(pushed(outline, low, shape.seat.z * (height + in_ring)));
    }
    const TopoDS_Face face = BRepBuilderAPI_MakeFace(wire_of(pieces_of(outline), low), true).Face();
    TopoDS_Wire wire = wire_of(pieces_of(outline), low);
    if (play > 0.0) {
        BRepOffsetAPI_MakeOffset offset(face, GeomAbs_Arc);
        offset.Perform(-play);
        TopExp_Explorer it(offset.Shape(), TopAbs_WIRE);
        if (!offset.IsDone() || !it.More())
            return Fault{
                FaultCode::Internal, "ring: the lip's outline was not set in by its play", {}, low.origin, "part"};
        wire = plain_wire(TopoDS::Wire(it.Current()));
    }
    return std::optional(TopoDS_Shape(BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire, true).Face(),
                                                            to_occt_vec(shape.seat.z * (height + in_ring)))
                                          .Shape()));
}

std::optional<TopoDS_Shape> rain_lip_of(const RingRequest& request, const RingShape& shape) {
    if (!request.rain_lip || !shape.has_round_bore) return std::nullopt;
    const RainLip& lip = *request.rain_lip;
    const double r = shape.mouth_mm + lip.wall.mm(), in_ring = std::min(request.height.mm() / 2.0, 4.0);
    const Vec3 z = shape.seat.z, up = shape.view.z;
    // The arc begins half the spread before up.
    const double a = -lip.spread.rad() / 2.0;
    const Vec3 begin = up * std::cos(a) + cross(z, up) * std::sin(a);
    const gp_Ax2 ax(to_occt(shape.mouth - z * lip.length.mm()), to_occt_dir(z), to_occt_dir(begin));
    return BRepPrimAPI_MakeCylinder(ax, r, lip.length.mm() + in_ring, lip.spread.rad()).Shape();
}

TopoDS_Shape groove_tool(const RingGrooveCut& groove) {
    const BoltLine line = bolt_line(groove.face.point, groove.face.outward, {});
    // Heights run into the ring.
    TopTools_ListOfShape core;
    core.Append(prism(line, groove.inner_mm, -2.0 * kPast_mm, groove.depth_mm + kPast_mm));
    const double common = std::numbers::pi * groove.inner_mm * groove.inner_mm * (groove.depth_mm + kPast_mm);
    auto tool =
        cut("ring: groove", prism(line, groove.outer_mm, -kPast_mm, groove.depth_mm), core, 0.9 * common, 1.1 * common);
    ENSURES(tool);
    return tool->solid;
}

}  // namespace geom::parts
