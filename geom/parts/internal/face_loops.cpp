// Lines stay lines and circles that lie in the plane stay arcs; a border of one circle is that circle.
#include "geom/parts/internal/face_loops.h"

#include "geom/parts/internal/arcs.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/outline_pieces.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepTools.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Iterator.hxx>
#include <gp_Circ.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kInPlane_mm = 1e-6, kParallel = 1e-9, kSame_mm = 1e-6;
constexpr double kHolds_mm = 0.01;  // of chords that tell inside from outside
constexpr double kPi = std::numbers::pi;

bool lies_in(const TopoDS_Face& face, const Frame& frame) {
    const BRepAdaptor_Surface surface(face, false);
    if (surface.GetType() != GeomAbs_Plane) return false;
    const gp_Pln plane = surface.Plane();
    if (norm(cross(from_occt(plane.Axis().Direction()), frame.z)) > kParallel) return false;
    const BRepAdaptor_Curve edge(TopoDS::Edge(TopExp_Explorer(face, TopAbs_EDGE).Current()));
    return std::abs(frame.to_local(from_occt(edge.Value(edge.FirstParameter()))).z) < kInPlane_mm;
}

Vec3 outward_of(const TopoDS_Face& face) {
    const gp_Pln plane = BRepAdaptor_Surface(face, false).Plane();
    const Vec3 normal = from_occt(plane.Axis().Direction());
    return plane.Direct() == (face.Orientation() == TopAbs_REVERSED) ? -normal : normal;
}

/// Adds an edge as it runs in its wire; gives the centre and radius of its circle.
std::optional<FlatCircle> add_edge(FlatPath& path, const TopoDS_Edge& edge, const Frame& frame,
                                   const LoopTolerance& tolerance) {
    const BRepAdaptor_Curve curve(edge);
    double from = curve.FirstParameter(), to = curve.LastParameter();
    if (edge.Orientation() == TopAbs_REVERSED) std::swap(from, to);
    const auto at = [&](double t) {
        const Point3 p = frame.to_local(from_occt(curve.Value(t)));
        return FlatPoint{p.x, p.y, 0.0};
    };
    if (curve.GetType() == GeomAbs_Line) {
        path.points.push_back(at(from));
        return std::nullopt;
    }
    if (curve.GetType() == GeomAbs_Circle &&
        norm(cross(from_occt(curve.Circle().Axis().Direction()), frame.z)) < kParallel) {
        const double way = dot(from_occt(curve.Circle().Axis().Direction()), frame.z) > 0.0 ? 1.0 : -1.0;
        const int pieces = std::max(1, static_cast<int>(std::ceil(std::abs(to - from) / kPi - 1e-9)));
        for (int i = 0; i < pieces; ++i) {
            FlatPoint p = at(from + (to - from) * i / pieces);
            p.bulge = way * bulge_of((to - from) / pieces);
            path.points.push_back(p);
        }
        const Point3 centre = frame.to_local(from_occt(curve.Circle().Location()));
        return FlatCircle{path.operation, centre.x, centre.y, curve.Circle().Radius()};
    }
    add_arcs(path.points, at, from, to,
             curve.GetType() == GeomAbs_Ellipse ? tolerance.ellipse_mm : tolerance.spline_mm);
    return std::nullopt;
}

FlatLoop border_of(const TopoDS_Wire& wire, const TopoDS_Face& face, const Frame& frame,
                   const LoopTolerance& tolerance) {
    FlatLoop loop;
    bool is_one = true;
    for (BRepTools_WireExplorer e(wire, face); e.More(); e.Next()) {
        const auto circle = add_edge(loop.path, e.Current(), frame, tolerance);
        is_one = is_one && circle &&
                 (!loop.circle || (std::hypot(circle->x - loop.circle->x, circle->y - loop.circle->y) < kSame_mm &&
                                   std::abs(circle->radius_mm - loop.circle->radius_mm) < kSame_mm));
        if (circle && !loop.circle) loop.circle = circle;
    }
    if (!is_one) loop.circle.reset();
    if (area_mm2(loop.path) < 0.0) loop.path.points = reversed(loop.path.points);
    return loop;
}

}  // namespace

double FlatLoop::area_mm2() const {
    return circle ? kPi * circle->radius_mm * circle->radius_mm : parts::area_mm2(path);
}

Loop FlatLoop::chords(double within_mm) const {
    return loop_of({.kind = RingOutline::Kind::Path, .path = path.points}, within_mm);
}

bool FlatLoop::holds(Point2 p) const {
    if (circle) return distance(p, {circle->x, circle->y}) < circle->radius_mm;
    return Outline(chords(kHolds_mm)).contains(p);
}

void add(FlatDrawing& drawing, FlatLoop loop, Operation operation) {
    if (loop.circle) {
        loop.circle->operation = operation;
        drawing.circles.push_back(*loop.circle);
    } else {
        loop.path.operation = operation;
        drawing.paths.push_back(std::move(loop.path));
    }
}

Frame drawing_frame(const Plane& plane, Vec3 up) {
    Frame frame{.origin = plane.point, .z = unit(plane.outward)};
    const Vec3 laid = up - frame.z * dot(up, frame.z);
    frame.y = norm(laid) > 1e-6 * norm(up) ? unit(laid) : any_perpendicular(frame.z);
    frame.x = cross(frame.y, frame.z);
    return frame;
}

FlatFace flat_face(const TopoDS_Face& face, const Frame& frame, const LoopTolerance& tolerance) {
    const TopoDS_Wire outer = BRepTools::OuterWire(face);
    FlatFace flat{.outer = border_of(outer, face, frame, tolerance),
                  .holes = {},
                  .looks_along = dot(outward_of(face), frame.z) > 0.0};
    for (TopoDS_Iterator w(face); w.More(); w.Next())
        if (w.Value().ShapeType() == TopAbs_WIRE && !w.Value().IsSame(outer))
            flat.holes.push_back(border_of(TopoDS::Wire(w.Value()), face, frame, tolerance));
    return flat;
}

std::vector<FlatFace> faces_in(const TopoDS_Shape& shape, const Frame& frame, const LoopTolerance& tolerance) {
    std::vector<FlatFace> found;
    for (const TopoDS_Face& face : faces_of(shape)) {
        if (!lies_in(face, frame)) continue;
        found.push_back(flat_face(face, frame, tolerance));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const FlatFace& a, const FlatFace& b) { return a.outer.area_mm2() > b.outer.area_mm2(); });
    return found;
}

}  // namespace geom::parts
