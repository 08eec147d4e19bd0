// Method. With S(u, v) the surface, N = Su x Sv and P = S - origin, a face adds
//     volume  1/3 int P.N du dv      moment_x  1/2 int Px^2 Nx du dv (and so on)      area  int |N| du dv.
// Over a parameter rectangle these are sums of Gauss-Legendre rules, one a knot span; for splines without weights the
// rule is exact. The outer wire of most faces is such a rectangle. Any other wire is taken by Green's theorem:
//     int f du dv = oint F dv,  F(u, v) = int from u0 to u of f(s, v) ds,
// with F again by exact rules a knot span, u0 in the wire's middle, and the curve integral by eight points a piece,
// halved until five of them agree. Holes are such
// wires too, run the other way round, and so subtract. On a cylinder, a cone or a sphere a line or conic in space is
// laid into the parameters by closed form: the parameter curves that a STEP reader fits to ellipses are up to 1e-5 off.
// The kernel's own calls are used for nothing but a face whose wires do not close in the parameter plane; then its
// Gauss-Kronrod form, since its default one can be 0.3 % off.
#include "geom/measure/internal/surface_integral.h"

#include "geom/measure/internal/gauss.h"
#include "geom/measure/internal/surface_rows.h"

#include <BRepGProp.hxx>
#include <BRepTools.hxx>
#include <BRep_Tool.hxx>
#include <ElSLib.hxx>
#include <GProp_GProps.hxx>
#include <Geom2dAdaptor_Curve.hxx>
#include <Geom2d_Curve.hxx>
#include <GeomAdaptor_Curve.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Geom_ConicalSurface.hxx>
#include <Geom_Curve.hxx>
#include <Geom_CylindricalSurface.hxx>
#include <Geom_SphericalSurface.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Iterator.hxx>
#include <TopoDS_Vertex.hxx>
#include <TopoDS_Wire.hxx>
#include <gp_Pnt2d.hxx>
#include <gp_Vec2d.hxx>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::measure::internal {

namespace {

/// volume, area, three moments
using Five = std::array<double, 5>;

Five& operator+=(Five& a, const Five& b) {
    for (std::size_t i = 0; i < 5; ++i) a[i] += b[i];
    return a;
}
Five times(Five a, double s) {
    for (double& x : a) x *= s;
    return a;
}

Five density(const PatchPoint& x, Point3 origin) {
    const Vec3 p = x.at - origin, n = cross(x.du, x.dv);
    return {dot(p, n) / 3.0, norm(n), 0.5 * p.x * p.x * n.x, 0.5 * p.y * p.y * n.y, 0.5 * p.z * p.z * n.z};
}

/// A curve in the parameter plane; where `exact` is there, what it says of the place only picks the turn of u.
struct UvEdge {
    Handle(Geom2d_Curve) curve;
    double t0 = 0.0, t1 = 0.0;
    double sign = 1.0;  ///< +1: run from t0 to t1
    Handle(Geom_Curve) exact{};
    Handle(Geom_ElementarySurface) on{};

    gp_Pnt2d value(double t) const { return exact.IsNull() ? curve->Value(t) : laid(exact->Value(t), t); }
    void d1(double t, gp_Pnt2d& p, gp_Vec2d& d) const {
        if (exact.IsNull()) return curve->D1(t, p, d);
        gp_Pnt at, on_surface;
        gp_Vec along, su, sv;
        exact->D1(t, at, along);
        p = laid(at, t);
        if (is_at_pole(at)) return curve->D1(t, p, d);
        on->D1(p.X(), p.Y(), on_surface, su, sv);  // su and sv are square to one another on these surfaces
        d = {along.Dot(su) / su.SquareMagnitude(), along.Dot(sv) / sv.SquareMagnitude()};
    }

private:
    /// At a pole or an apex a place has no u of its own: the given curve has to say it.
    bool is_at_pole(const gp_Pnt& at) const {
        const gp_Ax3& frame = on->Position();
        const gp_Vec from(frame.Location(), at);
        const double off = from.Crossed(gp_Vec(frame.Direction())).Magnitude();
        return off <= 1e-7 * (off + std::abs(from.Dot(gp_Vec(frame.Direction())))) || off <= 1e-9;
    }
    gp_Pnt2d laid(const gp_Pnt& at, double t) const {
        double u = 0.0, v = 0.0;
        const gp_Ax3& frame = on->Position();
        if (const auto cylinder = Handle(Geom_CylindricalSurface)::DownCast(on); !cylinder.IsNull())
            ElSLib::CylinderParameters(frame, cylinder->Radius(), at, u, v);
        else if (const auto cone = Handle(Geom_ConicalSurface)::DownCast(on); !cone.IsNull())
            ElSLib::ConeParameters(frame, cone->RefRadius(), cone->SemiAngle(), at, u, v);
        else
            ElSLib::SphereParameters(frame, Handle(Geom_SphericalSurface)::DownCast(on)->Radius(), at, u, v);
        const double turn = 2.0 * std::numbers::pi, near = curve->Value(t).X();
        return {is_at_pole(at) ? near : u + turn * std::round((near - u) / turn), v};
    }
};
using UvWire = std::vector<UvEdge>;

struct UvBox {
    double u0 = 1e300, u1 = -1e300, v0 = 1e300, v1 = -1e300;
    void grow(const gp_Pnt2d& p) {
        u0 = std::min(u0, p.X());
        u1 = std::max(u1, p.X());
        v0 = std::min(v0, p.Y());
        v1 = std::max(v1, p.Y());
    }
    double du() const { return u1 - u0; }
    double dv() const { return v1 - v0; }
};

constexpr int kSamples = 8;  // a curve, for boxes and the test for iso lines

/// Straight in the parameter plane, or on another surface: the given curve is as good as can be.
void lay_by_closed_form(const TopoDS_Edge& edge, const TopoDS_Face& face, UvEdge& e) {
    const Handle(Geom_Surface) surface = untrimmed(BRep_Tool::Surface(face));
    const bool is_round = surface->IsKind(STANDARD_TYPE(Geom_CylindricalSurface)) ||
                          surface->IsKind(STANDARD_TYPE(Geom_ConicalSurface)) ||
                          surface->IsKind(STANDARD_TYPE(Geom_SphericalSurface));
    if (!is_round || Geom2dAdaptor_Curve(e.curve, e.t0, e.t1).GetType() == GeomAbs_Line) return;
    double t0 = 0.0, t1 = 0.0;
    const Handle(Geom_Curve) curve = BRep_Tool::Curve(edge, t0, t1);
    if (curve.IsNull() || std::abs(t0 - e.t0) > 1e-9 || std::abs(t1 - e.t1) > 1e-9) return;
    if (const GeomAbs_CurveType type = GeomAdaptor_Curve(curve, t0, t1).GetType(); type > GeomAbs_Parabola) return;
    e.on = Handle(Geom_ElementarySurface)::DownCast(surface);
    e.exact = curve;
}

bool collect_wire(const TopoDS_Wire& wire, const TopoDS_Face& face, UvWire& out) {
    for (TopoDS_Iterator it(wire); it.More(); it.Next()) {
        const TopoDS_Edge edge = TopoDS::Edge(it.Value());
        if (edge.Orientation() != TopAbs_FORWARD && edge.Orientation() != TopAbs_REVERSED) continue;
        UvEdge e;
        e.curve = BRep_Tool::CurveOnSurface(edge, face, e.t0, e.t1);
        if (e.curve.IsNull()) return false;
        e.sign = edge.Orientation() == TopAbs_FORWARD ? 1.0 : -1.0;
        lay_by_closed_form(edge, face, e);
        out.push_back(e);
    }
    return !out.empty();
}

UvBox box_of(const UvWire& wire) {
    UvBox box;
    for (const UvEdge& e : wire)
        for (int i = 0; i <= kSamples; ++i) box.grow(e.value(e.t0 + (e.t1 - e.t0) * i / kSamples));
    return box;
}

/// To a ten-thousandth of its size, or, as a sliver between two edges that all but lie on one another seldom does, to
/// `kGap_mm` in space.
bool closes(const UvWire& wire, const UvBox& box, const Handle(Geom_Surface) & surface) {
    constexpr double kGap_mm = 0.005;
    double u = 0.0, v = 0.0;
    for (const UvEdge& e : wire) {
        const gp_Pnt2d a = e.value(e.t0), b = e.value(e.t1);
        u += e.sign * (b.X() - a.X());
        v += e.sign * (b.Y() - a.Y());
    }
    if (std::abs(u) < 1e-4 * box.du() && std::abs(v) < 1e-4 * box.dv()) return true;
    gp_Pnt at;
    gp_Vec du, dv;
    surface->D1(0.5 * (box.u0 + box.u1), 0.5 * (box.v0 + box.v1), at, du, dv);
    return std::abs(u) * du.Magnitude() + std::abs(v) * dv.Magnitude() < kGap_mm;
}

/// +1 or -1 when the wire is the border of its box, run counter-clockwise or clockwise; 0 when it is not.
int rectangle_sense(const UvWire& wire, const UvBox& box) {
    const double tu = 1e-10 * box.du(), tv = 1e-10 * box.dv();
    std::array<double, 4> covered{};  // v0, u1, v1, u0: signed lengths
    for (const UvEdge& e : wire) {
        std::array<bool, 4> on{true, true, true, true};
        for (int i = 0; i <= kSamples; ++i) {
            const gp_Pnt2d p = e.value(e.t0 + (e.t1 - e.t0) * i / kSamples);
            on[0] = on[0] && std::abs(p.Y() - box.v0) <= tv;
            on[1] = on[1] && std::abs(p.X() - box.u1) <= tu;
            on[2] = on[2] && std::abs(p.Y() - box.v1) <= tv;
            on[3] = on[3] && std::abs(p.X() - box.u0) <= tu;
        }
        const gp_Pnt2d a = e.value(e.t0), b = e.value(e.t1);
        const double du = e.sign * (b.X() - a.X()), dv = e.sign * (b.Y() - a.Y());
        if (on[0])
            covered[0] += du;
        else if (on[1])
            covered[1] += dv;
        else if (on[2])
            covered[2] -= du;
        else if (on[3])
            covered[3] -= dv;
        else
            return 0;
    }
    for (const double sense : {1.0, -1.0}) {
        if (std::abs(covered[0] - sense * box.du()) <= 4 * tu && std::abs(covered[2] - sense * box.du()) <= 4 * tu &&
            std::abs(covered[1] - sense * box.dv()) <= 4 * tv && std::abs(covered[3] - sense * box.dv()) <= 4 * tv)
            return sense > 0 ? 1 : -1;
    }
    return 0;
}

/// lo, the breaks strictly between, hi.
std::vector<double> clip_breaks(const std::vector<double>& breaks, double lo, double hi) {
    std::vector<double> out{lo};
    const double slack = 1e-12 * (1.0 + std::abs(hi - lo));
    for (const double b : breaks)
        if (b > lo + slack && b < hi - slack) out.push_back(b);
    out.push_back(hi);
    return out;
}

void gauss_points(const std::vector<double>& breaks, int points, std::vector<double>& at, std::vector<double>& weight) {
    const GaussRule& rule = gauss_rule(points);
    at.clear();
    weight.clear();
    for (std::size_t i = 0; i + 1 < breaks.size(); ++i) {
        const double mid = 0.5 * (breaks[i] + breaks[i + 1]), half = 0.5 * (breaks[i + 1] - breaks[i]);
        for (std::size_t k = 0; k < rule.node.size(); ++k) {
            at.push_back(mid + half * rule.node[k]);
            weight.push_back(half * rule.weight[k]);
        }
    }
}

Five over_rectangle(const SurfaceRows& rows, const UvBox& box, Point3 origin) {
    std::vector<double> u, wu, v, wv;
    gauss_points(clip_breaks(rows.u_breaks, box.u0, box.u1), rows.u_points, u, wu);
    gauss_points(clip_breaks(rows.v_breaks, box.v0, box.v1), rows.v_points, v, wv);
    Five sum{};
    std::vector<PatchPoint> points;
    for (std::size_t j = 0; j < v.size(); ++j) {
        rows.row(v[j], u, points);
        Five line{};
        for (std::size_t i = 0; i < u.size(); ++i) line += times(density(points[i], origin), wu[i]);
        sum += times(line, wv[j]);
    }
    return sum;
}

/// The boundary form over one closed wire.
class GreenSum {
public:
    /// `exchanged`: rows are of the surface with its parameters exchanged, for wires as they are.
    GreenSum(const SurfaceRows& rows, bool exchanged, Point3 origin, double u_ref, double tolerance)
        : rows_(rows), exchanged_(exchanged), origin_(origin), u_ref_(u_ref), tolerance_(tolerance) {}

    Five over(const UvWire& wire) {
        Five sum{};
        for (const UvEdge& e : wire) sum += times(over(e), e.sign);
        // Exchanged, the wire runs the other way round and the normal is turned: only the area feels one of the two.
        if (exchanged_) sum[1] = -sum[1];
        return sum;
    }

private:
    gp_Pnt2d value(const UvEdge& e, double t) const {
        const gp_Pnt2d p = e.value(t);
        return exchanged_ ? gp_Pnt2d(p.Y(), p.X()) : p;
    }

    Five over(const UvEdge& e) {
        const gp_Pnt2d a = value(e, e.t0), b = value(e, e.t1), m = value(e, 0.5 * (e.t0 + e.t1));
        const Geom2dAdaptor_Curve adaptor(e.curve, e.t0, e.t1);
        if (adaptor.GetType() == GeomAbs_Line && a.Y() == b.Y() && a.Y() == m.Y()) return {};
        Five sum{};
        const std::vector<double> t = pieces(e, adaptor);
        for (std::size_t i = 0; i + 1 < t.size(); ++i) {
            sum += halved(e, t[i], t[i + 1], 0);
        }
        return sum;
    }

    /// Ends, the curve's own knots and where it crosses the surface's knot lines.
    std::vector<double> pieces(const UvEdge& e, const Geom2dAdaptor_Curve& adaptor) const {
        TColStd_Array1OfReal knots(1, adaptor.NbIntervals(GeomAbs_CN) + 1);
        adaptor.Intervals(knots, GeomAbs_CN);
        const GeomAbs_CurveType type = adaptor.GetType();
        const int parts = type == GeomAbs_Line || knots.Length() > 8 ? 1 : 4;
        std::vector<double> t;
        for (int k = knots.Lower(); k < knots.Upper(); ++k)
            for (int i = 0; i < parts; ++i) t.push_back(knots(k) + (knots(k + 1) - knots(k)) * i / parts);
        t.push_back(knots(knots.Upper()));
        std::vector<double> cuts = t;
        for (std::size_t i = 0; i + 1 < t.size(); ++i) {
            add_crossings(e, t[i], t[i + 1], true, cuts);
            add_crossings(e, t[i], t[i + 1], false, cuts);
        }
        std::sort(cuts.begin(), cuts.end());
        const double least = 1e-12 * (e.t1 - e.t0);
        cuts.erase(std::unique(cuts.begin(), cuts.end(), [&](double a, double b) { return b - a <= least; }),
                   cuts.end());
        return cuts;
    }

    void add_crossings(const UvEdge& e, double t0, double t1, bool in_u, std::vector<double>& cuts) const {
        const auto along = [&](double t) { return in_u ? value(e, t).X() : value(e, t).Y(); };
        const double a = along(t0), b = along(t1);
        const std::vector<double>& breaks = in_u ? rows_.u_breaks : rows_.v_breaks;
        for (const double level : breaks) {
            if ((a - level) * (b - level) >= 0.0) continue;
            double lo = t0, hi = t1;
            const bool rises = b > a;
            for (int round = 0; round < 60 && hi - lo > 1e-15 * (std::abs(lo) + std::abs(hi)); ++round) {
                const double mid = 0.5 * (lo + hi);
                ((along(mid) > level) == rises ? hi : lo) = mid;
            }
            cuts.push_back(0.5 * (lo + hi));
        }
    }

    Five rule(const UvEdge& e, double t0, double t1, int points) {
        const GaussRule& gauss = gauss_rule(points);
        const double mid = 0.5 * (t0 + t1), half = 0.5 * (t1 - t0);
        Five sum{};
        for (std::size_t k = 0; k < gauss.node.size(); ++k) {
            gp_Pnt2d p;
            gp_Vec2d d;
            e.d1(mid + half * gauss.node[k], p, d);
            sum += exchanged_ ? times(inner(p.Y(), p.X()), d.X() * half * gauss.weight[k])
                              : times(inner(p.X(), p.Y()), d.Y() * half * gauss.weight[k]);
        }
        return sum;
    }

    Five halved(const UvEdge& e, double t0, double t1, int depth) {
        const Five fine = rule(e, t0, t1, 8), rough = rule(e, t0, t1, 5);
        if (depth >= 10 || std::abs(fine[0] - rough[0]) <= tolerance_) return fine;
        const double mid = 0.5 * (t0 + t1);
        Five sum = halved(e, t0, mid, depth + 1);
        sum += halved(e, mid, t1, depth + 1);
        return sum;
    }

    /// F(u, v)
    Five inner(double u, double v) {
        Five sum{};
        if (u == u_ref_) return sum;
        gauss_points(clip_breaks(rows_.u_breaks, std::min(u, u_ref_), std::max(u, u_ref_)), rows_.u_points, at_,
                     weight_);
        rows_.row(v, at_, points_);
        for (std::size_t i = 0; i < at_.size(); ++i) sum += times(density(points_[i], origin_), weight_[i]);
        return u < u_ref_ ? times(sum, -1.0) : sum;
    }

    const SurfaceRows& rows_;
    bool exchanged_;
    Point3 origin_;
    double u_ref_, tolerance_;
    std::vector<double> at_, weight_;
    std::vector<PatchPoint> points_;
};

struct GreenRows {
    const SurfaceRows& rows;
    bool exchanged = false;
    double u_ref = 0.0;
};

FaceIntegral by_kernel(const TopoDS_Face& face, Point3 origin) {
    GProp_GProps volume(gp_Pnt(origin.x, origin.y, origin.z)), area;
    BRepGProp::VolumePropertiesGK(face, volume, 1e-9, false, false, true);
    BRepGProp::SurfaceProperties(face, area, 1e-9);
    const gp_Pnt c = volume.CentreOfMass();
    FaceIntegral out;
    out.volume_mm3 = volume.Mass();
    out.area_mm2 = area.Mass();
    out.moment_mm4 = (Vec3{c.X(), c.Y(), c.Z()} - origin) * volume.Mass();
    out.by_kernel = true;
    return out;
}

}  // namespace

FaceIntegral integrate_face(const TopoDS_Face& given, Point3 origin) {
    const TopoDS_Face face = TopoDS::Face(given.Oriented(TopAbs_FORWARD));
    const Handle(Geom_Surface) surface = BRep_Tool::Surface(face);
    if (surface.IsNull()) return {};
    std::vector<UvWire> wires;
    std::size_t outer = 0;
    const TopoDS_Wire outer_wire = BRepTools::OuterWire(face);
    for (TopoDS_Iterator it(face); it.More(); it.Next()) {
        if (it.Value().ShapeType() != TopAbs_WIRE) continue;
        UvWire wire;
        if (!collect_wire(TopoDS::Wire(it.Value()), face, wire)) return by_kernel(given, origin);
        if (it.Value().IsSame(outer_wire)) outer = wires.size();
        wires.push_back(std::move(wire));
    }
    UvBox box;
    if (wires.empty()) {
        surface->Bounds(box.u0, box.u1, box.v0, box.v1);
        if (std::abs(box.du()) > 1e99 || std::abs(box.dv()) > 1e99) return by_kernel(given, origin);
    }
    for (const UvWire& wire : wires) {
        const UvBox b = box_of(wire);
        if (!closes(wire, b, surface)) return by_kernel(given, origin);
        box.grow({b.u0, b.v0});
        box.grow({b.u1, b.v1});
    }
    const std::unique_ptr<SurfaceRows> rows = surface_rows(surface, box.u0, box.u1, box.v0, box.v1);

    // The inner integral of Green's form crosses the spans of one parameter: take the one with fewer.
    std::unique_ptr<SurfaceRows> exchanged;
    const auto for_green = [&](const UvBox& own) -> GreenRows {
        const std::size_t in_u = clip_breaks(rows->u_breaks, own.u0, own.u1).size(),
                          in_v = clip_breaks(rows->v_breaks, own.v0, own.v1).size();
        if (!rows->is_bspline || in_u <= in_v + 2) return {*rows, false, 0.5 * (own.u0 + own.u1)};
        if (!exchanged) {
            const Handle(Geom_BSplineSurface) turned =
                Handle(Geom_BSplineSurface)::DownCast(untrimmed(surface)->Copy());
            turned->ExchangeUV();
            exchanged = surface_rows(turned, box.v0, box.v1, box.u0, box.u1);
        }
        return {*exchanged, true, 0.5 * (own.v0 + own.v1)};
    };

    Five sum{};
    double reach = 0.0;  // of the face from the origin: scales the tolerance of the halving
    {
        std::vector<PatchPoint> corners;
        for (const double v : {box.v0, 0.5 * (box.v0 + box.v1), box.v1}) {
            rows->row(v, {box.u0, 0.5 * (box.u0 + box.u1), box.u1}, corners);
            for (const PatchPoint& c : corners) reach = std::max(reach, norm(c.at - origin));
        }
    }
    const double tolerance = std::max(1e-11 * reach * reach * reach, 1e-12);
    for (std::size_t i = 0; i < std::max<std::size_t>(wires.size(), 1); ++i) {
        if (wires.empty()) {
            sum += over_rectangle(*rows, box, origin);
            break;
        }
        const UvBox own = box_of(wires[i]);
        if (const int sense = i == outer ? rectangle_sense(wires[i], own) : 0; sense != 0)
            sum += times(over_rectangle(*rows, own, origin), sense);
        else {
            const GreenRows green = for_green(own);
            sum += GreenSum(green.rows, green.exchanged, origin, green.u_ref, tolerance).over(wires[i]);
        }
    }
    const double side = given.Orientation() == TopAbs_REVERSED ? -1.0 : 1.0;
    FaceIntegral out;
    out.volume_mm3 = side * sum[0];
    out.area_mm2 = sum[1];
    out.moment_mm4 = Vec3{sum[2], sum[3], sum[4]} * side;
    return out;
}

}  // namespace geom::measure::internal
