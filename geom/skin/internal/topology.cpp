// Vertices, edges and faces are put together directly, each edge once and used by both its faces, so nothing is sewn
// and every tolerance stays at 1e-6 mm. On spline faces the pcurves are the straight sides of the parameter square (or
// lines inside it), in step with the edge; on planes they are the edge's own control points in the plane's coordinates.
#include "geom/skin/internal/topology.h"

#include "geom/skin/internal/occt.h"

#include <BRepCheck_Analyzer.hxx>
#include <BRep_Builder.hxx>
#include <Geom2d_BSplineCurve.hxx>
#include <Geom2d_Line.hxx>
#include <Geom_BSplineCurve.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Geom_Plane.hxx>
#include <TColStd_Array1OfInteger.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TColgp_Array1OfPnt.hxx>
#include <TColgp_Array1OfPnt2d.hxx>
#include <TColgp_Array2OfPnt.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Shell.hxx>
#include <TopoDS_Vertex.hxx>
#include <TopoDS_Wire.hxx>
#include <gp_Pln.hxx>

namespace geom::skin {

namespace {

constexpr double kTolerance = 1e-6;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

struct KnotArrays {
    TColStd_Array1OfReal knots;
    TColStd_Array1OfInteger multiplicities;
    explicit KnotArrays(const CubicBasis& basis) : knots(1, basis.spans() + 1), multiplicities(1, basis.spans() + 1) {
        for (int i = 0; i <= basis.spans(); ++i) {
            knots.SetValue(i + 1, basis.breaks()[at(i)]);
            multiplicities.SetValue(i + 1, i == 0 || i == basis.spans() ? 4 : 1);
        }
    }
};

class ShellBuilder {
public:
    ShellBuilder(const FaceNet& net, double baffle_y, const std::vector<Plane>& flats, const Frame& frame)
        : net_(net), baffle_y_(baffle_y), flats_(flats), frame_(frame) {
        builder_.MakeShell(shell_);
    }

    ShellParts build() {
        std::array<TopoDS_Vertex, 4> ring, back, rim;
        for (int k = 0; k < 4; ++k) {
            ring[at(k)] = vertex(net_.arcs[at(ring_arc(k))].control(0));
            back[at(k)] = vertex(net_.arcs[at(back_arc(k))].control(0));
            if (net_.has_collar) rim[at(k)] = vertex(net_.rim_arcs[at(k)].control(0));
        }
        std::array<TopoDS_Edge, kArcs> arcs;
        for (int k = 0; k < 4; ++k) {
            const auto next = at((k + 1) % 4);
            arcs[at(ring_arc(k))] = edge(net_.arcs[at(ring_arc(k))], ring[at(k)], ring[next]);
            arcs[at(slit_arc(k))] = edge(net_.arcs[at(slit_arc(k))], ring[at(k)], back[at(k)]);
            arcs[at(back_arc(k))] = edge(net_.arcs[at(back_arc(k))], back[at(k)], back[next]);
        }
        for (int p = 0; p < kPieces; ++p) {
            const auto sides = piece_sides(p);
            std::array<SideEdge, 4> around;
            for (std::size_t s = 0; s < 4; ++s) around[s] = {arcs[at(sides[s].arc)], sides[s].reversed};
            spline_face(net_.faces[at(p)], around, p);
        }
        std::array<TopoDS_Edge, 4> rim_edges;
        if (net_.has_collar) {
            std::array<TopoDS_Edge, 4> corners;
            for (int k = 0; k < 4; ++k) {
                corners[at(k)] = edge(net_.corner_arcs[at(k)], rim[at(k)], ring[at(k)]);
                rim_edges[at(k)] = edge(net_.rim_arcs[at(k)], rim[at(k)], rim[at((k + 1) % 4)]);
            }
            for (int k = 0; k < 4; ++k)
                spline_face(net_.collars[at(k)],
                            {{{rim_edges[at(k)], false},
                              {corners[at((k + 1) % 4)], false},
                              {arcs[at(ring_arc(k))], false},
                              {corners[at(k)], false}}},
                            -1);
        } else {
            for (int k = 0; k < 4; ++k) rim_edges[at(k)] = arcs[at(ring_arc(k))];
        }
        baffle_face(rim_edges);
        shell_.Closed(true);
        parts_.shell = to_brep(shell_);
        return parts_;
    }

private:
    struct SideEdge {
        TopoDS_Edge edge;
        bool reversed;
    };

    gp_Pnt out(Point3 box) const { return to_occt(frame_.to_parent(box)); }

    TopoDS_Vertex vertex(Point3 box) {
        TopoDS_Vertex v;
        builder_.MakeVertex(v, out(box), kTolerance);
        return v;
    }

    TopoDS_Edge edge(const SplineCurve& curve, const TopoDS_Vertex& from, const TopoDS_Vertex& to) {
        const int n = curve.basis.size();
        TColgp_Array1OfPnt control(1, n);
        for (int i = 0; i < n; ++i) control.SetValue(i + 1, out(curve.control(i)));
        const KnotArrays k(curve.basis);
        return edge(new Geom_BSplineCurve(control, k.knots, k.multiplicities, 3), 0.0, 1.0, from, to);
    }

    TopoDS_Edge edge(const Handle(Geom_Curve) & curve, double t0, double t1, const TopoDS_Vertex& from,
                     const TopoDS_Vertex& to) {
        TopoDS_Edge e;
        builder_.MakeEdge(e, curve, kTolerance);
        builder_.Add(e, from.Oriented(TopAbs_FORWARD));
        builder_.Add(e, to.Oriented(TopAbs_REVERSED));
        builder_.Range(e, t0, t1);
        return e;
    }

    // A straight pcurve: `t` on the edge is start + t * direction on the face.
    void add_line(const TopoDS_Face& face, TopoDS_Wire& wire, const TopoDS_Edge& e, gp_Pnt2d start, gp_Dir2d direction,
                  bool forward, double t0, double t1) {
        builder_.UpdateEdge(e, new Geom2d_Line(start, direction), face, kTolerance);
        builder_.Range(e, face, t0, t1);
        builder_.Add(wire, e.Oriented(forward ? TopAbs_FORWARD : TopAbs_REVERSED));
    }

    void spline_face(const SplinePatch& patch, const std::array<SideEdge, 4>& sides, int piece) {
        const int nu = patch.u.size(), nv = patch.v.size();
        TColgp_Array2OfPnt control(1, nu, 1, nv);
        for (int i = 0; i < nu; ++i)
            for (int j = 0; j < nv; ++j) control.SetValue(i + 1, j + 1, out(patch.control(i, j)));
        const KnotArrays ku(patch.u), kv(patch.v);
        const Handle(Geom_BSplineSurface) surface =
            new Geom_BSplineSurface(control, ku.knots, kv.knots, ku.multiplicities, kv.multiplicities, 3, 3);
        TopoDS_Face face;
        builder_.MakeFace(face, surface, kTolerance);
        TopoDS_Wire wire;
        builder_.MakeWire(wire);
        for (std::size_t s = 0; s < 4; ++s) {
            const bool across = s == 0 || s == 2, r = sides[s].reversed;
            const gp_Pnt2d start(s == 1 ? 1.0 : across && r ? 1.0 : 0.0, s == 2 ? 1.0 : !across && r ? 1.0 : 0.0);
            const gp_Dir2d direction(across ? (r ? -1.0 : 1.0) : 0.0, across ? 0.0 : (r ? -1.0 : 1.0));
            add_line(face, wire, sides[s].edge, start, direction, (s < 2) != r, 0.0, 1.0);
        }
        wire.Closed(true);
        builder_.Add(face, wire);
        for (const auto& cut : net_.cuts)
            if (cut.face == piece) carve(face, surface, cut);
        builder_.Add(shell_, face);
        ++parts_.bspline_faces;
    }

    // A hole along parameter lines, and the plane face that fills it.
    void carve(TopoDS_Face& face, const Handle(Geom_BSplineSurface) & surface, const PlaneCut& cut) {
        const gp_Pnt2d corner[4] = {{cut.u0, cut.v0}, {cut.u1, cut.v0}, {cut.u1, cut.v1}, {cut.u0, cut.v1}};
        TopoDS_Vertex v[4];
        for (int k = 0; k < 4; ++k) builder_.MakeVertex(v[k], surface->Value(corner[k].X(), corner[k].Y()), kTolerance);
        const auto along_u = [&](double at_v, const TopoDS_Vertex& a, const TopoDS_Vertex& b) {
            Handle(Geom_BSplineCurve) c = Handle(Geom_BSplineCurve)::DownCast(surface->VIso(at_v));
            c->Segment(cut.u0, cut.u1);
            return edge(c, cut.u0, cut.u1, a, b);
        };
        const auto along_v = [&](double at_u, const TopoDS_Vertex& a, const TopoDS_Vertex& b) {
            Handle(Geom_BSplineCurve) c = Handle(Geom_BSplineCurve)::DownCast(surface->UIso(at_u));
            c->Segment(cut.v0, cut.v1);
            return edge(c, cut.v0, cut.v1, a, b);
        };
        const TopoDS_Edge e[4] = {along_u(cut.v0, v[0], v[1]), along_v(cut.u1, v[1], v[2]), along_u(cut.v1, v[3], v[2]),
                                  along_v(cut.u0, v[0], v[3])};
        TopoDS_Wire hole;
        builder_.MakeWire(hole);
        add_line(face, hole, e[0], {0.0, cut.v0}, {1.0, 0.0}, false, cut.u0, cut.u1);
        add_line(face, hole, e[3], {cut.u0, 0.0}, {0.0, 1.0}, true, cut.v0, cut.v1);
        add_line(face, hole, e[2], {0.0, cut.v1}, {1.0, 0.0}, true, cut.u0, cut.u1);
        add_line(face, hole, e[1], {cut.u1, 0.0}, {0.0, 1.0}, false, cut.v0, cut.v1);
        hole.Closed(true);
        builder_.Add(face, hole);
        const auto& plane = flats_[at(cut.flat)];
        const Vec3 x = any_perpendicular(plane.outward);
        plane_face({plane.point, plane.outward}, x, {{{e[0], false}, {e[1], false}, {e[2], true}, {e[3], true}}});
    }

    void baffle_face(const std::array<TopoDS_Edge, 4>& rim) {
        plane_face({{0.0, baffle_y_, 0.0}, {0, -1, 0}}, {1, 0, 0},
                   {{{rim[3], true}, {rim[2], true}, {rim[1], true}, {rim[0], true}}});
    }

    void plane_face(const Plane& box_plane, Vec3 box_x, const std::array<SideEdge, 4>& around) {
        const gp_Pnt origin = out(box_plane.point);
        const Vec3 nz = frame_.dir_to_parent(box_plane.outward), nx = frame_.dir_to_parent(box_x);
        const gp_Ax3 axes(origin, to_occt_dir(nz), to_occt_dir(nx));
        TopoDS_Face face;
        builder_.MakeFace(face, new Geom_Plane(axes), kTolerance);
        TopoDS_Wire wire;
        builder_.MakeWire(wire);
        for (const auto& side : around) {
            double t0 = 0.0, t1 = 0.0;
            const Handle(Geom_BSplineCurve) c =
                Handle(Geom_BSplineCurve)::DownCast(BRep_Tool::Curve(side.edge, t0, t1));
            TColgp_Array1OfPnt2d flat(1, c->NbPoles());
            for (int i = 1; i <= c->NbPoles(); ++i) {
                const gp_Vec d(origin, c->Pole(i));
                flat.SetValue(i, gp_Pnt2d(d.Dot(gp_Vec(axes.XDirection())), d.Dot(gp_Vec(axes.YDirection()))));
            }
            TColStd_Array1OfReal knots(1, c->NbKnots());
            TColStd_Array1OfInteger multiplicities(1, c->NbKnots());
            c->Knots(knots);
            c->Multiplicities(multiplicities);
            builder_.UpdateEdge(side.edge, new Geom2d_BSplineCurve(flat, knots, multiplicities, c->Degree()), face,
                                kTolerance);
            builder_.Range(side.edge, face, t0, t1);
            builder_.Add(wire, side.edge.Oriented(side.reversed ? TopAbs_REVERSED : TopAbs_FORWARD));
        }
        wire.Closed(true);
        builder_.Add(face, wire);
        builder_.Add(shell_, face);
        ++parts_.plane_faces;
    }

    const FaceNet& net_;
    double baffle_y_;
    const std::vector<Plane>& flats_;
    Frame frame_;
    BRep_Builder builder_;
    TopoDS_Shell shell_;
    ShellParts parts_;
};

}  // namespace

Result<ShellParts> build_shell(const FaceNet& net, double baffle_y_mm, const std::vector<Plane>& flats_box,
                               const Frame& vehicle_from_box) {
    return guard_occt("skin", [&]() -> Result<ShellParts> {
        ShellParts parts = ShellBuilder(net, baffle_y_mm, flats_box, vehicle_from_box).build();
        if (!BRepCheck_Analyzer(to_occt(parts.shell)).IsValid())
            return Fault{FaultCode::Internal, "skin: the shell did not pass the kernel's check", {}, {}, "skin"};
        return parts;
    });
}

}  // namespace geom::skin
