// The plane's face is intersected with the solid by the kernel; the pieces are measured by the exact face integrals.
// The width is the least distance between two parallel lines that hold the piece (rotating calipers on its hull).
#include "geom/measure/brep_measure.h"

#include "geom/measure/internal/surface_integral.h"
#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <Bnd_Box.hxx>
#include <GCPnts_QuasiUniformDeflection.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Vertex.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <array>

namespace geom::measure {

namespace {

using Flat = std::array<double, 2>;

double turn(const Flat& o, const Flat& a, const Flat& b) {
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
}

/// Andrew's monotone chain; counter-clockwise.
std::vector<Flat> hull_of(std::vector<Flat> points) {
    std::sort(points.begin(), points.end());
    points.erase(std::unique(points.begin(), points.end()), points.end());
    if (points.size() < 3) return points;
    std::vector<Flat> hull;
    for (int side = 0; side < 2; ++side) {
        const std::size_t kept = hull.size();
        for (const Flat& p : points) {
            while (hull.size() >= kept + 2 && turn(hull[hull.size() - 2], hull.back(), p) <= 0.0) hull.pop_back();
            hull.push_back(p);
        }
        hull.pop_back();
        std::reverse(points.begin(), points.end());
    }
    return hull;
}

double least_width(const std::vector<Flat>& hull) {
    if (hull.size() < 3) return 0.0;
    double least = 1e300;
    for (std::size_t i = 0; i < hull.size(); ++i) {
        const Flat &a = hull[i], &b = hull[(i + 1) % hull.size()];
        const double length = std::hypot(b[0] - a[0], b[1] - a[1]);
        double most = 0.0;
        for (const Flat& p : hull) most = std::max(most, turn(a, b, p) / length);
        least = std::min(least, most);
    }
    return least;
}

std::vector<Flat> outline(const TopoDS_Face& face, const Frame& plane_axes) {
    std::vector<Flat> points;
    for (TopExp_Explorer it(face, TopAbs_EDGE); it.More(); it.Next()) {
        BRepAdaptor_Curve curve(TopoDS::Edge(it.Current()));
        GCPnts_QuasiUniformDeflection split(curve, 0.01);
        if (!split.IsDone()) continue;
        for (int i = 1; i <= split.NbPoints(); ++i) {
            const Point3 p = plane_axes.to_local(from_occt(split.Value(i)));
            points.push_back({p.x, p.y});
        }
    }
    return points;
}

}  // namespace

Result<Section> section(const Brep& solid, const Plane& plane) {
    EXPECTS(!solid.is_null());
    return guard_occt("section", [&]() -> Result<Section> {
        const TopoDS_Shape& shape = to_occt(solid);
        Bnd_Box box;
        BRepBndLib::Add(shape, box, false);
        Section out;
        if (box.IsVoid()) return out;
        double x0, y0, z0, x1, y1, z1;
        box.Get(x0, y0, z0, x1, y1, z1);
        const Point3 middle{0.5 * (x0 + x1), 0.5 * (y0 + y1), 0.5 * (z0 + z1)};
        const double reach = distance(middle, {x1, y1, z1}) + 1.0;
        if (std::abs(plane.height(middle)) > reach) return out;
        Frame axes;
        axes.z = unit(plane.outward);
        axes.x = any_perpendicular(axes.z);
        axes.y = cross(axes.z, axes.x);
        axes.origin = middle - axes.z * plane.height(middle);
        const gp_Pln cut(gp_Ax3(to_occt(axes.origin), to_occt_dir(axes.z), to_occt_dir(axes.x)));
        const TopoDS_Face sheet = BRepBuilderAPI_MakeFace(cut, -reach, reach, -reach, reach).Face();
        BRepAlgoAPI_Common common(sheet, shape);
        if (!common.IsDone())
            return Fault{FaultCode::Internal, "section: the kernel could not cut the solid", "move the plane a little",
                         plane.point, "measure"};
        double area = 0.0, largest = 0.0;
        for (TopExp_Explorer it(common.Shape(), TopAbs_FACE); it.More(); it.Next()) {
            const TopoDS_Face face = TopoDS::Face(it.Current());
            const double piece = internal::integrate_face(face, axes.origin).area_mm2;
            area += piece;
            if (piece > largest) {
                largest = piece;
                out.least_thickness_mm = least_width(hull_of(outline(face, axes)));
            }
        }
        out.area = Area::mm2(area);
        return out;
    });
}

}  // namespace geom::measure
