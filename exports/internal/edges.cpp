// Sharp or smooth is judged at three places along the edge, by the normals of its two faces there.
#include "exports/internal/edges.h"

#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRep_Tool.hxx>
#include <GCPnts_TangentialDeflection.hxx>
#include <Geom2d_Curve.hxx>
#include <TopExp.hxx>
#include <TopTools_IndexedDataMapOfShapeListOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <gp_Circ.hxx>

#include <array>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

constexpr double kDeflection_mm = 0.02;
constexpr double kTurn_rad = 0.12;
constexpr double kSharp_deg = 12.0;

/// Normal of the face at a parameter of its edge, outward from the solid; none where the surface has no normal.
std::optional<gp_Vec> normal_at(const TopoDS_Edge& edge, const TopoDS_Face& face, double fraction) {
    double first = 0.0, last = 0.0;
    const Handle(Geom2d_Curve) curve = BRep_Tool::CurveOnSurface(edge, face, first, last);
    if (curve.IsNull()) return std::nullopt;
    const gp_Pnt2d uv = curve->Value(first + fraction * (last - first));
    gp_Pnt p;
    gp_Vec du, dv;
    BRepAdaptor_Surface(face, Standard_False).D1(uv.X(), uv.Y(), p, du, dv);
    gp_Vec n = du.Crossed(dv);
    if (n.Magnitude() < 1e-12) return std::nullopt;
    n.Normalize();
    return face.Orientation() == TopAbs_REVERSED ? n.Reversed() : n;
}

bool is_sharp(const TopoDS_Edge& edge, const TopoDS_Face& a, const TopoDS_Face& b) {
    double sharpest = 0.0;
    for (const double fraction : {0.2, 0.5, 0.8}) {
        const auto na = normal_at(edge, a, fraction), nb = normal_at(edge, b, fraction);
        if (na && nb) sharpest = std::max(sharpest, na->Angle(*nb));
    }
    return sharpest > kSharp_deg * std::numbers::pi / 180.0;
}

std::optional<CircleEdge> circle_of(const BRepAdaptor_Curve& curve) {
    if (curve.GetType() != GeomAbs_Circle) return std::nullopt;
    const gp_Circ circle = curve.Circle();
    return CircleEdge{geom::from_occt(circle.Location()), geom::from_occt(circle.Axis().Direction()), circle.Radius(),
                      std::abs(curve.LastParameter() - curve.FirstParameter()) > 2.0 * std::numbers::pi - 1e-6};
}

}  // namespace

geom::Result<std::vector<EdgeLine>> edge_lines(const geom::Brep& solid) {
    return geom::guard_occt("files", [&]() -> geom::Result<std::vector<EdgeLine>> {
        TopTools_IndexedDataMapOfShapeListOfShape faces_of;
        TopExp::MapShapesAndAncestors(to_occt(solid), TopAbs_EDGE, TopAbs_FACE, faces_of);
        std::vector<EdgeLine> lines;
        for (int i = 1; i <= faces_of.Extent(); ++i) {
            const TopoDS_Edge edge = TopoDS::Edge(faces_of.FindKey(i));
            if (BRep_Tool::Degenerated(edge)) continue;
            EdgeLine line;
            const auto& faces = faces_of(i);
            if (faces.Extent() >= 2) {
                const TopoDS_Face a = TopoDS::Face(faces.First()), b = TopoDS::Face(faces.Last());
                if (a.IsSame(b)) continue;  // a seam
                line.is_sharp = is_sharp(edge, a, b);
            } else if (faces.Extent() == 1 && BRep_Tool::IsClosed(edge, TopoDS::Face(faces.First()))) {
                continue;
            }
            const BRepAdaptor_Curve curve(edge);
            const GCPnts_TangentialDeflection points(curve, kTurn_rad, kDeflection_mm, 2, 1e-9);
            for (int k = 1; k <= points.NbPoints(); ++k) line.points.push_back(geom::from_occt(points.Value(k)));
            line.circle = circle_of(curve);
            if (line.points.size() >= 2) lines.push_back(std::move(line));
        }
        return lines;
    });
}

}  // namespace exports
