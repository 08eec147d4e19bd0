// A face is taken as outlines in the plane's own coordinates, a spline span by span; a line crosses them where it lies
// inside (even-odd). The spans' borders are a hair's breadth wrong as polygons, so gaps of that size are closed.
#include "geom/parts/internal/flat_zone.h"

#include "geom/parts/internal/boolean.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <BRep_Tool.hxx>
#include <GCPnts_TangentialDeflection.hxx>
#include <Geom_BSplineSurface.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kOnPlane_mm = 1e-6;
constexpr double kGap_mm = 0.02;
constexpr int kSideSamples = 4;

}  // namespace

FlatZone::FlatZone(const TopoDS_Shape& body, const Corner& corner, const Plane& face, Vec3 into) {
    const auto place = [&](const gp_Pnt& p) {
        const Vec3 d = from_occt(p) - corner.at;
        return Place{dot(d, corner.along), dot(d, into)};
    };
    for (const TopoDS_Face& f : faces_of(body)) {
        const BRepAdaptor_Surface surface(f, false);
        if (surface.GetType() == GeomAbs_Plane) {
            const gp_Pln plane = surface.Plane();
            if (std::abs(dot(from_occt(plane.Axis().Direction()), face.outward)) < 1.0 - 1e-12) continue;
            if (std::abs(face.height(from_occt(plane.Location()))) > kOnPlane_mm) continue;
            Piece piece{.loops = {}, .is_plane_face = true};
            for (TopExp_Explorer w(f, TopAbs_WIRE); w.More(); w.Next()) {
                std::vector<Place> loop;
                for (BRepTools_WireExplorer e(TopoDS::Wire(w.Current())); e.More(); e.Next()) {
                    const BRepAdaptor_Curve curve(e.Current());
                    GCPnts_TangentialDeflection points(curve, 0.1, 0.01, 2);
                    const int n = points.NbPoints();
                    const bool is_forward = e.Current().Orientation() == TopAbs_FORWARD;
                    for (int i = 1; i < n; ++i) loop.push_back(place(points.Value(is_forward ? i : n + 1 - i)));
                }
                piece.loops.push_back(std::move(loop));
            }
            pieces_.push_back(std::move(piece));
            continue;
        }
        const Handle(Geom_BSplineSurface) spline = Handle(Geom_BSplineSurface)::DownCast(BRep_Tool::Surface(f));
        if (spline.IsNull()) continue;
        const auto on_plane = [&](int i, int j) {
            return std::abs(face.height(from_occt(spline->Pole(i, j)))) < kOnPlane_mm;
        };
        // The poles of the span between two knots: `degree` and one more, ending with that of the later knots.
        int last_u = 0;
        for (int ku = 1; ku < spline->NbUKnots(); ++ku) {
            last_u += spline->UMultiplicity(ku);
            int last_v = 0;
            for (int kv = 1; kv < spline->NbVKnots(); ++kv) {
                last_v += spline->VMultiplicity(kv);
                bool is_flat = true;
                for (int i = last_u - spline->UDegree(); i <= last_u && is_flat; ++i)
                    for (int j = last_v - spline->VDegree(); j <= last_v && is_flat; ++j) is_flat = on_plane(i, j);
                if (!is_flat) continue;
                const double u0 = spline->UKnot(ku), u1 = spline->UKnot(ku + 1), v0 = spline->VKnot(kv),
                             v1 = spline->VKnot(kv + 1);
                std::vector<Place> loop;
                const auto side = [&](double ua, double va, double ub, double vb) {
                    for (int q = 0; q < kSideSamples; ++q) {
                        const double t = static_cast<double>(q) / kSideSamples;
                        loop.push_back(place(spline->Value(ua + (ub - ua) * t, va + (vb - va) * t)));
                    }
                };
                side(u0, v0, u1, v0);
                side(u1, v0, u1, v1);
                side(u1, v1, u0, v1);
                side(u0, v1, u0, v0);
                pieces_.push_back({.loops = {std::move(loop)}, .is_plane_face = false});
            }
        }
    }
}

std::vector<space::Stretch> FlatZone::crossed(double u, bool plane_faces_alone) const {
    std::vector<space::Stretch> inside;
    for (const Piece& piece : pieces_) {
        if (plane_faces_alone && !piece.is_plane_face) continue;
        std::vector<double> crossings;
        for (const auto& loop : piece.loops)
            for (std::size_t i = 0; i < loop.size(); ++i) {
                const Place &p = loop[i], &q = loop[(i + 1) % loop.size()];
                if ((p.u > u) != (q.u > u)) crossings.push_back(p.s + (q.s - p.s) * (u - p.u) / (q.u - p.u));
            }
        std::sort(crossings.begin(), crossings.end());
        for (std::size_t i = 0; i + 1 < crossings.size(); i += 2) inside.push_back({crossings[i], crossings[i + 1]});
    }
    std::sort(inside.begin(), inside.end(),
              [](const space::Stretch& a, const space::Stretch& b) { return a.from_mm < b.from_mm; });
    std::vector<space::Stretch> joined;
    for (const space::Stretch& s : inside) {
        if (!joined.empty() && s.from_mm < joined.back().to_mm + kGap_mm)
            joined.back().to_mm = std::max(joined.back().to_mm, s.to_mm);
        else
            joined.push_back(s);
    }
    return joined;
}

}  // namespace geom::parts
