// Vertices first, then edges, then faces: each is sampled between its knots, and where a sample comes near to enlarging
// the box the place is improved by steps that halve. Places on a face count only inside its wires.
#include "geom/measure/internal/tight_box.h"

#include "geom/measure/internal/surface_rows.h"
#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepClass_FaceClassifier.hxx>
#include <BRepTools.hxx>
#include <BRepTopAdaptor_FClass2d.hxx>
#include <BRep_Tool.hxx>
#include <Precision.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Vertex.hxx>

#include <algorithm>
#include <array>
#include <optional>

namespace geom::measure::internal {

namespace {

constexpr int kPerInterval = 4;
constexpr double kEnough_mm = 1e-6;

/// How far `p` lies beyond the box along +-axis; negative inside.
double beyond(const Aabb& box, Point3 p, std::size_t axis, bool high) {
    return high ? p[axis] - box.hi[axis] : box.lo[axis] - p[axis];
}

void grow_by_edge(const TopoDS_Edge& edge, Aabb& box) {
    const BRepAdaptor_Curve curve(edge);
    if (curve.GetType() == GeomAbs_Line || Precision::IsInfinite(curve.FirstParameter()) ||
        Precision::IsInfinite(curve.LastParameter()))
        return;
    TColStd_Array1OfReal knots(1, curve.NbIntervals(GeomAbs_C2) + 1);
    curve.Intervals(knots, GeomAbs_C2);
    std::vector<double> t;
    const int per = curve.GetType() == GeomAbs_BSplineCurve ? kPerInterval : 4 * kPerInterval;
    for (int k = knots.Lower(); k < knots.Upper(); ++k)
        for (int i = 0; i < per; ++i) t.push_back(knots(k) + (knots(k + 1) - knots(k)) * i / per);
    t.push_back(knots(knots.Upper()));
    std::vector<Point3> at;
    for (const double x : t) at.push_back(from_occt(curve.Value(x)));
    for (std::size_t axis = 0; axis < 3; ++axis)
        for (const bool high : {false, true}) {
            std::size_t best = 0;
            for (std::size_t i = 1; i < at.size(); ++i)
                if (beyond(box, at[i], axis, high) > beyond(box, at[best], axis, high)) best = i;
            const double reach = distance(at[best], at[best > 0 ? best - 1 : best]) +
                                 distance(at[best], at[std::min(best + 1, at.size() - 1)]);
            if (beyond(box, at[best], axis, high) < -0.5 * reach) continue;
            double x = t[best], step = 0.5 * (t.back() - t.front()) / static_cast<double>(t.size());
            Point3 p = at[best];
            for (int round = 0; round < 60 && step > 1e-12 * (1 + std::abs(x)); ++round) {
                bool gained = false;
                for (const double y : {x - step, x + step}) {
                    const double clamped = std::clamp(y, t.front(), t.back());
                    const Point3 q = from_occt(curve.Value(clamped));
                    if (beyond(box, q, axis, high) <= beyond(box, p, axis, high)) continue;
                    p = q;
                    x = clamped;
                    gained = true;
                    break;
                }
                if (!gained) step *= 0.5;
            }
            box.grow(p);
        }
}

struct Uv {
    double u = 0.0, v = 0.0;
};

/// From a place to one that no step to its eight neighbours gains on; steps halve until what is left goes with their
/// square.
template <class Value, class Clamp, class Gain, class IsIn>
Uv climbed(Uv q, Uv step, const Value& value, const Clamp& clamped, const Gain& gains, const IsIn& is_in) {
    Point3 p = value(q);
    for (int round = 0; round < 400; ++round) {
        bool gained = false;
        double widest = 0.0;
        for (int a = -1; a <= 1; ++a)
            for (int b = -1; b <= 1; ++b) {
                if (a == 0 && b == 0) continue;
                const Uv r = clamped({q.u + a * step.u, q.v + b * step.v});
                const Point3 x = value(r);
                widest = std::max(widest, distance(x, p));
                if (!gains(x, p) || !is_in(r)) continue;
                p = x;
                q = r;
                gained = true;
            }
        if (gained) continue;
        if (widest * widest < kEnough_mm) break;
        step.u *= 0.5;
        step.v *= 0.5;
    }
    return q;
}

void grow_by_face(const TopoDS_Face& face, Aabb& box) {
    double u0, u1, v0, v1;
    BRepTools::UVBounds(face, u0, u1, v0, v1);
    const std::unique_ptr<SurfaceRows> rows = surface_rows(BRep_Tool::Surface(face), u0, u1, v0, v1);
    if (rows->is_plane) return;  // its edges have said it
    const auto parameters = [](const std::vector<double>& breaks, double lo, double hi) {
        std::vector<double> t;
        for (std::size_t i = 0; i + 1 < breaks.size(); ++i)
            for (int k = 0; k < kPerInterval; ++k) {
                const double x = breaks[i] + (breaks[i + 1] - breaks[i]) * k / kPerInterval;
                if (x > lo && x < hi) t.push_back(x);
            }
        return t;
    };
    std::vector<double> u = parameters(rows->u_breaks, u0, u1), v = parameters(rows->v_breaks, v0, v1);
    if (u.empty()) u.push_back(0.5 * (u0 + u1));
    if (v.empty()) v.push_back(0.5 * (v0 + v1));
    std::vector<PatchPoint> points;
    std::vector<Point3> at(u.size() * v.size());
    for (std::size_t j = 0; j < v.size(); ++j) {
        rows->row(v[j], u, points);
        for (std::size_t i = 0; i < u.size(); ++i) at[j * u.size() + i] = points[i].at;
    }
    // The quick classifier knows the wires as polygons and may err close beside one: the place that is found is asked
    // of the slow one, and where that says no it is found again by the slow one alone.
    BRepTopAdaptor_FClass2d quick(face, 1e-9);
    const auto is_about_inside = [&](Uv q) { return quick.Perform(gp_Pnt2d(q.u, q.v), false) != TopAbs_OUT; };
    BRepClass_FaceClassifier classifier;
    const auto is_inside = [&](Uv q) {
        classifier.Perform(face, gp_Pnt2d(q.u, q.v), 1e-9);
        return classifier.State() == TopAbs_IN || classifier.State() == TopAbs_ON;
    };
    const auto value = [&](Uv q) {
        std::vector<PatchPoint> one;
        rows->row(q.v, {q.u}, one);
        return one[0].at;
    };
    for (std::size_t axis = 0; axis < 3; ++axis)
        for (const bool high : {false, true}) {
            std::vector<std::size_t> order;
            const double size = std::max(box.size()[axis], 1e-3);
            for (std::size_t i = 0; i < at.size(); ++i)
                if (beyond(box, at[i], axis, high) > -0.02 * size) order.push_back(i);
            // A few hundred far-out samples are enough: if none of them is inside the wires, the edges bound the face.
            const std::size_t most = std::min<std::size_t>(order.size(), 200);
            std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(most), order.end(),
                              [&](std::size_t a, std::size_t b) {
                                  const double x = beyond(box, at[a], axis, high), y = beyond(box, at[b], axis, high);
                                  return x > y || (x == y && a < b);
                              });
            const auto farthest = [&](const auto& is_in) -> std::optional<Uv> {
                for (std::size_t k = 0; k < most; ++k) {
                    const Uv q{u[order[k] % u.size()], v[order[k] / u.size()]};
                    if (!is_in(q)) continue;
                    const auto gain = [&](Point3 to, Point3 from) {
                        return beyond(box, to, axis, high) > beyond(box, from, axis, high);
                    };
                    return climbed(
                        q, {(u1 - u0) / static_cast<double>(u.size()), (v1 - v0) / static_cast<double>(v.size())},
                        value,
                        [&](Uv r) {
                            return Uv{std::clamp(r.u, u0, u1), std::clamp(r.v, v0, v1)};
                        },
                        gain, is_in);
                }
                return std::nullopt;
            };
            auto place = farthest(is_about_inside);
            if (place && !is_inside(*place)) place = farthest(is_inside);
            if (place) box.grow(value(*place));
        }
}

}  // namespace

Aabb tight_box(const TopoDS_Shape& shape) {
    Aabb box;
    for (TopExp_Explorer it(shape, TopAbs_VERTEX); it.More(); it.Next())
        box.grow(from_occt(BRep_Tool::Pnt(TopoDS::Vertex(it.Current()))));
    if (box.is_empty()) return box;
    for (TopExp_Explorer it(shape, TopAbs_EDGE); it.More(); it.Next())
        if (!BRep_Tool::Degenerated(TopoDS::Edge(it.Current()))) grow_by_edge(TopoDS::Edge(it.Current()), box);
    for (TopExp_Explorer it(shape, TopAbs_FACE); it.More(); it.Next()) grow_by_face(TopoDS::Face(it.Current()), box);
    return box;
}

}  // namespace geom::measure::internal
