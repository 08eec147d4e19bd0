// What of the body lies over a plane that meets both faces past the rounding is cut off, all of it crossed at good
// angles, and faces are put over the wound that share its edges: in the two planes up to the sharp edge, joined with
// the body's own plane faces there, and a ruled face for each edge of the cross section at the far end of a run-out.
// Its rules run along the corner's bisector and the edge, so that no face can fold whatever the section is.
//
//   seen from above:   |----|--------------------|----|   line on face b
//                      |    |                    |    |
//      across, rounded |----|====== edge ========|----|   crease of the run-out
//                      |    |                    |    |
//                      |----|--------------------|----|   line on face a
#include "geom/parts/internal/corner_bar.h"

#include "geom/parts/internal/flat_zone.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepLib.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRep_Builder.hxx>
#include <BRep_Tool.hxx>
#include <Bnd_Box.hxx>
#include <Geom2d_BSplineCurve.hxx>
#include <Geom2d_Line.hxx>
#include <GeomConvert.hxx>
#include <Geom_BSplineCurve.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Geom_TrimmedCurve.hxx>
#include <ShapeFix_Edge.hxx>
#include <TColStd_Array1OfInteger.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TColStd_Array2OfReal.hxx>
#include <TColgp_Array1OfPnt2d.hxx>
#include <TColgp_Array2OfPnt.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Vertex.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::parts {
namespace {

using space::Stretch;

constexpr double kFirstPast_mm = 1.0, kPastStep_mm = 1.0;  // past the rounding, of the lines that are looked at
constexpr int kLines = 30;
constexpr double kEnds_mm = 0.5;        // kept from the ends of a flat zone
constexpr double kLeastSharp_mm = 5.0;  // shorter, an edge is not worth its run-outs
constexpr double kOver_mm = 3.0;        // of the tool over the faces
constexpr double kHere_mm = 1e-4;       // of a vertex on a line of the tool
constexpr double kFlat_mm = 1e-6;
constexpr double kEdge_mm = 1e-6;                      // tolerance of new vertices and edges
constexpr double kLeastShare = 0.6, kMostShare = 1.6;  // of what is added, against the closed form

/// The corner's own coordinates: s along the edge, w across from face a (negative) to face b, z out along the bisector.
struct Section {
    Corner corner;
    Vec3 across, out;
    double slope;  ///< of the faces: z = -slope |w|

    explicit Section(const Corner& c)
        : corner(c),
          across(unit(c.b.outward - c.a.outward)),
          out(unit(c.a.outward + c.b.outward)),
          slope(1.0 / std::tan(c.angle_rad() / 2.0)) {}

    double s(Point3 p) const { return dot(p - corner.at, corner.along); }
    double w(Point3 p) const { return dot(p - corner.at, across); }
    const Plane& face(int side) const { return side == 0 ? corner.a : corner.b; }
    /// On a face, over or under `p` along the bisector, at another place along the edge.
    Point3 on_face(int side, Point3 p, double at_s) const {
        const double at_w = w(p);
        return corner.at + corner.along * at_s + across * at_w + out * (side == 0 ? slope * at_w : -slope * at_w);
    }
};

Fault failed(const std::string& feature, const std::string& what) {
    return {FaultCode::Internal, feature + ": " + what, {}, {}, "part"};
}

TopoDS_Shape prism(const std::array<Point3, 3>& triangle, Vec3 by) {
    BRepBuilderAPI_MakePolygon outline(to_occt(triangle[0]), to_occt(triangle[1]), to_occt(triangle[2]), true);
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire(), true).Face(), to_occt_vec(by)).Shape();
}

Point3 point_of(const TopoDS_Vertex& v) {
    return from_occt(BRep_Tool::Pnt(v));
}
Point3 middle_of(const TopoDS_Edge& e) {
    const BRepAdaptor_Curve curve(e);
    return from_occt(curve.Value(0.5 * (curve.FirstParameter() + curve.LastParameter())));
}
TopoDS_Vertex vertex_at(Point3 p) {
    TopoDS_Vertex v;
    BRep_Builder().MakeVertex(v, to_occt(p), kEdge_mm);
    return v;
}

/// Closed wires of edges that meet two at a vertex.
Result<std::vector<TopoDS_Wire>> wires_of(const std::string& feature, const std::vector<TopoDS_Edge>& edges) {
    std::vector<char> used(edges.size(), 0);
    std::vector<TopoDS_Wire> wires;
    BRep_Builder builder;
    for (std::size_t first = 0; first < edges.size(); ++first) {
        if (used[first] != 0) continue;
        TopoDS_Wire wire;
        builder.MakeWire(wire);
        const TopoDS_Edge start = TopoDS::Edge(edges[first].Oriented(TopAbs_FORWARD));
        builder.Add(wire, start);
        used[first] = 1;
        TopoDS_Vertex at = TopExp::LastVertex(start);
        const TopoDS_Vertex end = TopExp::FirstVertex(start);
        while (!at.IsSame(end)) {
            std::size_t next = 0;
            for (; next < edges.size(); ++next)
                if (used[next] == 0 &&
                    (TopExp::FirstVertex(edges[next]).IsSame(at) || TopExp::LastVertex(edges[next]).IsSame(at)))
                    break;
            if (next == edges.size()) return failed(feature, "an outline of its faces does not close");
            used[next] = 1;
            const bool is_forward = TopExp::FirstVertex(edges[next]).IsSame(at);
            builder.Add(wire, edges[next].Oriented(is_forward ? TopAbs_FORWARD : TopAbs_REVERSED));
            at = is_forward ? TopExp::LastVertex(edges[next]) : TopExp::FirstVertex(edges[next]);
        }
        wire.Closed(true);
        wires.push_back(wire);
    }
    return wires;
}

/// The faces in place of what a bar's tool cut off.
class Cover {
public:
    Cover(std::string feature, const Section& section, const BarPlan& plan)
        : feature_(std::move(feature)),
          section_(section),
          end_s_{plan.whole.from_mm, plan.whole.to_mm},
          sharp_s_{plan.whole.from_mm + section.corner.run_out_mm(), plan.whole.to_mm - section.corner.run_out_mm()},
          line_w_{section.w(section.corner.at + section.corner.into_a() * plan.from_a_mm),
                  section.w(section.corner.at + section.corner.into_b() * plan.from_b_mm)} {}

    /// `rest`: what is left of the body's own faces. Comes back with the faces of the whole body.
    Result<std::vector<TopoDS_Face>> over(const std::vector<TopoDS_Face>& rest) {
        GAPWRIGHT_CHECK(sort_wound(rest));
        for (std::size_t k = 0; k < 2; ++k) sharp_end_[k] = vertex_at(section_.corner.edge_at(sharp_s_[k]));
        const TopoDS_Edge edge = BRepBuilderAPI_MakeEdge(sharp_end_[0], sharp_end_[1]).Edge();
        for (auto& plane : in_plane_) plane.push_back(edge);
        for (std::size_t k = 0; k < 2; ++k)
            for (std::size_t side = 0; side < 2; ++side) GAPWRIGHT_CHECK(run_out(side, k));
        std::vector<TopoDS_Face> faces = rest;
        for (std::size_t side = 0; side < 2; ++side) GAPWRIGHT_CHECK(close_plane(side, faces));
        faces.insert(faces.end(), ruled_.begin(), ruled_.end());
        return faces;
    }

private:
    struct Span {
        TopoDS_Edge edge;
        TopoDS_Vertex outer, inner;  ///< away from the edge, and nearer to it
        bool is_inwards = true;      ///< whether it runs from the outer to the inner
    };

    /// Edges that only one of the faces uses, by where on the tool they lie.
    Status sort_wound(const std::vector<TopoDS_Face>& rest) {
        TopTools_IndexedMapOfShape edges;
        std::vector<int> uses;
        for (const TopoDS_Face& face : rest)
            for (TopExp_Explorer e(face, TopAbs_EDGE); e.More(); e.Next()) {
                if (BRep_Tool::Degenerated(TopoDS::Edge(e.Current()))) continue;
                const auto i = static_cast<std::size_t>(edges.Add(e.Current())) - 1;
                if (i >= uses.size()) uses.resize(i + 1, 0);
                ++uses[i];
            }
        for (std::size_t i = 0; i < uses.size(); ++i) {
            if (uses[i] != 1) continue;
            const TopoDS_Edge e = TopoDS::Edge(edges(static_cast<int>(i) + 1).Oriented(TopAbs_FORWARD));
            const TopoDS_Vertex v0 = TopExp::FirstVertex(e), v1 = TopExp::LastVertex(e);
            const Point3 a = point_of(v0), b = point_of(v1), m = middle_of(e);
            const auto all = [&](const auto& is_there) { return is_there(a) && is_there(b) && is_there(m); };
            const std::size_t side = section_.w(m) < 0.0 ? 0 : 1;
            bool is_sorted = false;
            for (std::size_t k = 0; k < 2 && !is_sorted; ++k)
                if (all([&](Point3 p) { return std::abs(section_.s(p) - end_s_[k]) < kHere_mm; })) {
                    const bool in = std::abs(section_.w(b)) < std::abs(section_.w(a));
                    across_[side][k].push_back({e, in ? v0 : v1, in ? v1 : v0, in});
                    is_sorted = true;
                }
            if (is_sorted) continue;
            if (!all([&](Point3 p) { return std::abs(section_.w(p) - line_w_[side]) < kHere_mm; }) ||
                !all([&](Point3 p) { return std::abs(section_.face(static_cast<int>(side)).height(p)) < kHere_mm; }))
                return failed(feature_, "the faces beside it are not flat there");
            const double s = section_.s(m);
            if (s > sharp_s_[0] && s < sharp_s_[1])
                in_plane_[side].push_back(e);
            else
                beside_[side][s < sharp_s_[0] ? 0 : 1].push_back(e);
            for (std::size_t k = 0; k < 2; ++k)
                for (const TopoDS_Vertex& v : {v0, v1})
                    if (std::abs(section_.s(point_of(v)) - sharp_s_[k]) < kHere_mm) line_end_[side][k] = v;
        }
        for (std::size_t side = 0; side < 2; ++side)
            for (std::size_t k = 0; k < 2; ++k) {
                auto& spans = across_[side][k];
                std::sort(spans.begin(), spans.end(), [&](const Span& a, const Span& b) {
                    return std::abs(section_.w(point_of(a.outer))) > std::abs(section_.w(point_of(b.outer)));
                });
                const bool hangs_together = std::adjacent_find(spans.begin(), spans.end(), [](auto& a, auto& b) {
                                                return !a.inner.IsSame(b.outer);
                                            }) == spans.end();
                if (spans.empty() || !hangs_together || line_end_[side][k].IsNull() || in_plane_[side].empty())
                    return failed(feature_, "the body's section at its end is not in one piece");
            }
        for (std::size_t k = 0; k < 2; ++k)
            if (!across_[0][k].back().inner.IsSame(across_[1][k].back().inner))
                return failed(feature_, "the body's section at its end has no middle");
        return Done{};
    }

    bool is_flat(const Handle(Geom_BSplineCurve) & curve, std::size_t side) const {
        for (int i = 1; i <= curve->NbPoles(); ++i)
            if (std::abs(section_.face(static_cast<int>(side)).height(from_occt(curve->Pole(i)))) > kFlat_mm)
                return false;
        return true;
    }

    /// One side of a run-out: what is flat goes to the plane face, the rest becomes ruled faces.
    Status run_out(std::size_t side, std::size_t k) {
        const std::vector<Span>& spans = across_[side][k];
        const std::vector<TopoDS_Edge>& beside = beside_[side][k];
        std::vector<TopoDS_Edge> rungs{beside.front()};  // the first one may be of several edges
        TopoDS_Vertex top = line_end_[side][k];
        bool is_plane = true, was_plane = false;
        for (std::size_t i = 0; i < spans.size(); ++i) {
            const Span& span = spans[i];
            double t0 = 0.0, t1 = 0.0;
            const Handle(Geom_Curve) own = BRep_Tool::Curve(span.edge, t0, t1);
            const Handle(Geom_BSplineCurve) bottom =
                GeomConvert::CurveToBSplineCurve(new Geom_TrimmedCurve(own, t0, t1));
            const bool is_last = i + 1 == spans.size();
            const TopoDS_Vertex next_top =
                is_last ? sharp_end_[k]
                        : vertex_at(section_.on_face(static_cast<int>(side), point_of(span.inner), sharp_s_[k]));
            TopoDS_Edge rung;
            if (!is_last)
                rung = BRepBuilderAPI_MakeEdge(span.inner, next_top).Edge();
            else if (crease_[k].IsNull())
                rung = crease_[k] = BRepBuilderAPI_MakeEdge(span.inner, next_top).Edge();
            else
                rung = crease_[k];
            is_plane = is_plane && is_flat(bottom, side);
            if (is_plane) {
                in_plane_[side].push_back(span.edge);
                if (i == 0) in_plane_[side].insert(in_plane_[side].end(), beside.begin(), beside.end());
            } else {
                if (was_plane) in_plane_[side].push_back(rungs.back());
                const std::vector<TopoDS_Edge> outer_side = i == 0 ? beside : std::vector{rungs.back()};
                GAPWRIGHT_CHECK(add_ruled(side, k, span, bottom, outer_side, rung, top, next_top));
            }
            was_plane = is_plane;
            rungs.push_back(rung);
            top = next_top;
        }
        return Done{};
    }

    /// A face between an edge of the section at the end and its image on the plane.
    Status add_ruled(std::size_t side, std::size_t k, const Span& span, const Handle(Geom_BSplineCurve) & bottom,
                     const std::vector<TopoDS_Edge>& outer_side, const TopoDS_Edge& inner_side,
                     const TopoDS_Vertex& outer_top, const TopoDS_Vertex& inner_top) {
        const int n = bottom->NbPoles();
        TColgp_Array2OfPnt poles(1, n, 1, 2);
        TColStd_Array2OfReal weights(1, n, 1, 2);
        Handle(Geom_BSplineCurve) image = Handle(Geom_BSplineCurve)::DownCast(bottom->Copy());
        for (int i = 1; i <= n; ++i) {
            const gp_Pnt p = bottom->Pole(i);
            image->SetPole(i, to_occt(section_.on_face(static_cast<int>(side), from_occt(p), sharp_s_[k])));
            poles.SetValue(i, 1, p);
            poles.SetValue(i, 2, image->Pole(i));
            for (int row = 1; row <= 2; ++row) weights.SetValue(i, row, bottom->Weight(i));
        }
        TColStd_Array1OfReal u_knots(1, bottom->NbKnots()), v_knots(1, 2);
        TColStd_Array1OfInteger u_times(1, bottom->NbKnots()), v_times(1, 2);
        bottom->Knots(u_knots);
        bottom->Multiplicities(u_times);
        v_knots(1) = 0.0, v_knots(2) = 1.0;
        v_times.Init(2);
        const Handle(Geom_BSplineSurface) surface =
            bottom->IsRational()
                ? new Geom_BSplineSurface(poles, weights, u_knots, v_knots, u_times, v_times, bottom->Degree(), 1)
                : new Geom_BSplineSurface(poles, u_knots, v_knots, u_times, v_times, bottom->Degree(), 1);
        const double t0 = bottom->FirstParameter(), t1 = bottom->LastParameter();

        BRep_Builder builder;
        TopoDS_Edge image_edge;
        builder.MakeEdge(image_edge, image, kEdge_mm);
        const TopoDS_Vertex &first = span.is_inwards ? outer_top : inner_top,
                            &last = span.is_inwards ? inner_top : outer_top;
        builder.Add(image_edge, first.Oriented(TopAbs_FORWARD));
        builder.Add(image_edge, last.Oriented(TopAbs_REVERSED));
        builder.Range(image_edge, t0, t1);
        in_plane_[side].push_back(image_edge);

        TopoDS_Face face;
        builder.MakeFace(face, surface, kEdge_mm);
        TopoDS_Wire wire;
        builder.MakeWire(wire);
        const auto add = [&](const TopoDS_Edge& edge, bool is_forward) {
            builder.Add(wire, edge.Oriented(is_forward ? TopAbs_FORWARD : TopAbs_REVERSED));
        };
        const auto along = [&](const TopoDS_Edge& edge, double v) {
            builder.UpdateEdge(edge, new Geom2d_Line(gp_Pnt2d(0.0, v), gp_Dir2d(1.0, 0.0)), face, kEdge_mm);
            builder.Range(edge, face, t0, t1);
        };
        // The section's own edge is a spline, or a curve of a simple body whose parameter is another.
        double own0 = 0.0, own1 = 0.0;
        const Handle(Geom_Curve) own = BRep_Tool::Curve(span.edge, own0, own1);
        if (own->IsKind(STANDARD_TYPE(Geom_BSplineCurve)) && std::abs(own0 - t0) + std::abs(own1 - t1) < 1e-12)
            along(span.edge, 0.0);
        else
            project(span.edge, face);
        along(image_edge, 1.0);
        // Both sides run up: as they are made, or, edges of the body, as they lie.
        const auto upright = [&](const TopoDS_Edge& edge, double u) {
            double from = 0.0, to = 0.0;
            BRep_Tool::Range(edge, from, to);
            TColgp_Array1OfPnt2d line(1, 2);
            line(1) = gp_Pnt2d(u, 0.0), line(2) = gp_Pnt2d(u, 1.0);
            TColStd_Array1OfReal knots(1, 2);
            TColStd_Array1OfInteger times(1, 2);
            knots(1) = from, knots(2) = to;
            times.Init(2);
            builder.UpdateEdge(edge, new Geom2d_BSplineCurve(line, knots, times, 1), face, kEdge_mm);
            builder.Range(edge, face, from, to);
        };
        const double u_outer = span.is_inwards ? t0 : t1, u_inner = span.is_inwards ? t1 : t0;
        const bool is_of_body = std::any_of(beside_[side][k].begin(), beside_[side][k].end(),
                                            [&](const TopoDS_Edge& e) { return e.IsSame(outer_side.front()); });
        upright(inner_side, u_inner);
        if (is_of_body)
            for (const TopoDS_Edge& edge : outer_side) project(edge, face);
        else
            upright(outer_side.front(), u_outer);
        const auto runs_up = [&](const TopoDS_Edge& edge) {
            const double from = section_.s(point_of(TopExp::FirstVertex(edge))),
                         to = section_.s(point_of(TopExp::LastVertex(edge)));
            return std::abs(to - sharp_s_[k]) < std::abs(from - sharp_s_[k]);
        };
        add(span.edge, true);
        const auto add_side = [&](std::vector<TopoDS_Edge> edges, bool up) {
            std::sort(edges.begin(), edges.end(), [&](const TopoDS_Edge& a, const TopoDS_Edge& b) {
                const double da = std::abs(section_.s(middle_of(a)) - end_s_[k]),
                             db = std::abs(section_.s(middle_of(b)) - end_s_[k]);
                return up ? da < db : da > db;
            });
            for (const TopoDS_Edge& edge : edges) add(edge, runs_up(edge) == up);
        };
        add_side(span.is_inwards ? std::vector{inner_side} : outer_side, true);
        add(image_edge, false);
        add_side(span.is_inwards ? outer_side : std::vector{inner_side}, false);
        wire.Closed(true);
        builder.Add(face, wire);
        BRepLib::SameParameter(face, kEdge_mm);
        BRepLib::UpdateTolerances(face);
        ruled_.push_back(face);
        return Done{};
    }

    static void project(const TopoDS_Edge& edge, const TopoDS_Face& face) {
        ShapeFix_Edge fix;
        const TopoDS_Edge forward = TopoDS::Edge(edge.Oriented(TopAbs_FORWARD));
        fix.FixAddPCurve(forward, face, false, kEdge_mm);
        fix.FixSameParameter(forward, kEdge_mm);
    }

    /// The face in one of the planes, together with the body's own that it meets.
    Status close_plane(std::size_t side, std::vector<TopoDS_Face>& faces) {
        const Plane& plane = section_.face(static_cast<int>(side));
        std::vector<TopoDS_Edge> edges = in_plane_[side];
        std::vector<TopoDS_Face> others;
        for (const TopoDS_Face& face : faces) {
            const BRepAdaptor_Surface surface(face, false);
            std::vector<TopoDS_Edge> own;
            for (TopExp_Explorer e(face, TopAbs_EDGE); e.More(); e.Next()) own.push_back(TopoDS::Edge(e.Current()));
            const auto is_ours = [&](const TopoDS_Edge& edge) {
                return std::any_of(edges.begin(), edges.end(), [&](const auto& e) { return e.IsSame(edge); });
            };
            const bool joins =
                surface.GetType() == GeomAbs_Plane &&
                std::abs(dot(from_occt(surface.Plane().Axis().Direction()), plane.outward)) > 1.0 - 1e-9 &&
                std::abs(plane.height(from_occt(surface.Plane().Location()))) < kHere_mm &&
                std::any_of(own.begin(), own.end(), is_ours);
            if (!joins) {
                others.push_back(face);
                continue;
            }
            for (const TopoDS_Edge& edge : own) {
                const auto it = std::find_if(edges.begin(), edges.end(), [&](const auto& e) { return e.IsSame(edge); });
                if (it == edges.end())
                    edges.push_back(edge);
                else
                    edges.erase(it);
            }
        }
        GAPWRIGHT_TRY(wires, wires_of(feature_, edges));
        const auto size = [](const TopoDS_Wire& wire) {
            Bnd_Box box;
            BRepBndLib::Add(wire, box);
            return box.SquareExtent();
        };
        const auto largest = std::max_element(wires.begin(), wires.end(),
                                              [&](const auto& a, const auto& b) { return size(a) < size(b); });
        const TopoDS_Wire outline = *largest;
        wires.erase(largest);
        TopoDS_Face face = disc(plane, outline);
        if (!wires.empty()) face = with_holes(face, wires);
        others.push_back(face);
        faces = std::move(others);
        return Done{};
    }

    std::string feature_;
    const Section& section_;
    std::array<double, 2> end_s_, sharp_s_, line_w_;
    std::array<std::array<std::vector<Span>, 2>, 2> across_;         // [side][end], from the line inwards
    std::array<std::array<std::vector<TopoDS_Edge>, 2>, 2> beside_;  // on the lines, along the run-outs
    std::array<std::array<TopoDS_Vertex, 2>, 2> line_end_;           // on the lines, where the edge begins to be sharp
    std::array<TopoDS_Vertex, 2> sharp_end_;
    std::array<TopoDS_Edge, 2> crease_;
    std::array<std::vector<TopoDS_Edge>, 2> in_plane_;
    std::vector<TopoDS_Face> ruled_;
};

/// The tool's prisms: three lengths of two halves, so that the wound has vertices where the cover wants them.
TopTools_ListOfShape tools_of(const Section& section, const BarPlan& plan) {
    const Corner& c = section.corner;
    const Point3 a = c.at + c.into_a() * plan.from_a_mm, b = c.at + c.into_b() * plan.from_b_mm;
    const Vec3 way = unit(b - a);
    const Point3 past_a = a + way * (kOver_mm / dot(way, c.a.outward)),
                 past_b = b + way * (kOver_mm / dot(way, c.b.outward));
    const Point3 middle = a + way * (-section.w(a) / dot(way, section.across));
    const Point3 over = c.at + (c.a.outward + c.b.outward) * (kOver_mm / (1.0 + dot(c.a.outward, c.b.outward)));
    const double run_out = c.run_out_mm();
    const double ends[] = {plan.whole.from_mm, plan.whole.from_mm + run_out, plan.whole.to_mm - run_out,
                           plan.whole.to_mm};
    TopTools_ListOfShape tools;
    for (int i = 0; i < 3; ++i) {
        const Vec3 from = c.along * ends[i], by = c.along * (ends[i + 1] - ends[i]);
        tools.Append(prism({past_a + from, middle + from, over + from}, by));
        tools.Append(prism({middle + from, past_b + from, over + from}, by));
    }
    return tools;
}

}  // namespace

std::optional<BarPlan> plan_bar(const TopoDS_Solid& body, const Corner& corner, const std::vector<Stretch>& allowed) {
    const FlatZone zone_a(body, corner, corner.a, corner.into_a()), zone_b(body, corner, corner.b, corner.into_b());
    struct Line {
        double from_mm;
        std::vector<Stretch> flat, in_plane_face;
    };
    const auto lines = [&](const FlatZone& zone) {
        std::vector<Line> found;
        for (int i = 0; i < kLines; ++i) {
            const double from = corner.tangent_mm() + kFirstPast_mm + i * kPastStep_mm;
            found.push_back({from, common(allowed, zone.at(from)), zone.in_plane_faces(from)});
        }
        return found;
    };
    const std::vector<Line> of_a = lines(zone_a), of_b = lines(zone_b);
    // As long as can be; of those that are as long, plane faces beside it rather than splines, and little cut away.
    std::optional<BarPlan> best;
    double best_mm = 0.0;
    for (const Line& a : of_a)
        for (const Line& b : of_b) {
            auto whole = longest(common(a.flat, b.flat));
            if (!whole) continue;
            whole->from_mm += kEnds_mm, whole->to_mm -= kEnds_mm;
            if (sharp_part(corner, *whole).length_mm() < kLeastSharp_mm) continue;
            const auto plane_mm = [&](const Line& line) {
                double sum = 0.0;
                for (const Stretch& s : common({*whole}, line.in_plane_face)) sum += s.length_mm();
                return sum;
            };
            const double score =
                whole->length_mm() + 0.25 * (plane_mm(a) + plane_mm(b)) - 0.02 * (a.from_mm + b.from_mm);
            if (best && score <= best_mm) continue;
            best = BarPlan{*whole, a.from_mm, b.from_mm};
            best_mm = score;
        }
    return best;
}

Result<Barred> add_bar(const std::string& feature, const TopoDS_Solid& body, const Corner& corner,
                       const BarPlan& plan) {
    return guard_occt(feature.c_str(), [&]() -> Result<Barred> {
        const Section section(corner);
        TopTools_ListOfShape bodies;
        bodies.Append(body);
        BRepAlgoAPI_Cut op;
        op.SetArguments(bodies);
        op.SetTools(tools_of(section, plan));
        op.SetRunParallel(false);
        op.SetNonDestructive(true);
        op.Build();
        if (op.HasErrors()) return failed(feature, "its place could not be cut free");

        // Faces of the wound: in the tool's lower plane, and across at its ends.
        const Point3 a = corner.at + corner.into_a() * plan.from_a_mm, b = corner.at + corner.into_b() * plan.from_b_mm;
        Plane lower{a, unit(cross(corner.along, b - a))};
        if (lower.height(corner.at) < 0.0) lower.outward = -lower.outward;
        const auto is_wound = [&](const TopoDS_Face& face) {
            if (BRepAdaptor_Surface(face, false).GetType() != GeomAbs_Plane) return false;
            bool is_lower = true, is_from = true, is_to = true;
            for (TopExp_Explorer v(face, TopAbs_VERTEX); v.More(); v.Next()) {
                const Point3 p = point_of(TopoDS::Vertex(v.Current()));
                const double s = section.s(p), h = lower.height(p);
                is_lower = is_lower && std::abs(h) < kHere_mm && s > plan.whole.from_mm - kHere_mm &&
                           s < plan.whole.to_mm + kHere_mm;
                is_from = is_from && std::abs(s - plan.whole.from_mm) < kHere_mm && h > -kHere_mm;
                is_to = is_to && std::abs(s - plan.whole.to_mm) < kHere_mm && h > -kHere_mm;
            }
            return is_lower || is_from || is_to;
        };
        std::vector<TopoDS_Face> rest;
        for (const TopoDS_Face& face : faces_of(op.Shape()))
            if (!is_wound(face)) rest.push_back(face);
        GAPWRIGHT_TRY(faces, Cover(feature, section, plan).over(rest));
        GAPWRIGHT_TRY(solid, solid_of_faces(feature, faces));
        GAPWRIGHT_CHECK(check_solid(feature, solid));
        Barred made{.solid = solid, .whole = plan.whole, .added_mm3 = volume_mm3(solid) - volume_mm3(body)};
        const double wanted = bar_mm3(corner, plan.whole);
        if (!(made.added_mm3 > kLeastShare * wanted && made.added_mm3 < kMostShare * wanted))
            return failed(feature, fmt::format("adds {:.1f} mm3, wanted {:.1f}", made.added_mm3, wanted));
        return made;
    });
}

}  // namespace geom::parts
