#include "tests/exports/test_parts.h"

#include "geom/skin/internal/occt.h"

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeSolid.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepBuilderAPI_Sewing.hxx>
#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepMesh_IncrementalMesh.hxx>
#include <BRepOffsetAPI_ThruSections.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRep_Tool.hxx>
#include <GeomAPI_Interpolate.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Poly_Triangulation.hxx>
#include <TColStd_Array1OfInteger.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TColgp_Array2OfPnt.hxx>
#include <TColgp_HArray1OfPnt.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Shell.hxx>
#include <TopoDS_Solid.hxx>
#include <gp_Ax2.hxx>

#include <array>
#include <cmath>
#include <map>
#include <numbers>

namespace test_parts {
namespace {

using namespace geom;

TopoDS_Shape box(double x, double y, double z, double w, double d, double h) {
    return BRepPrimAPI_MakeBox(gp_Pnt(x, y, z), w, d, h).Shape();
}

TopoDS_Shape rounded(const TopoDS_Shape& shape, double radius) {
    BRepFilletAPI_MakeFillet fillet(shape);
    for (TopExp_Explorer e(shape, TopAbs_EDGE); e.More(); e.Next()) fillet.Add(radius, TopoDS::Edge(e.Current()));
    return fillet.Shape();
}

TopoDS_Shape drilled(const TopoDS_Shape& shape, gp_Pnt from, gp_Dir along, double radius, double length) {
    return BRepAlgoAPI_Cut(shape, BRepPrimAPI_MakeCylinder(gp_Ax2(from, along), radius, length).Shape()).Shape();
}

TopoDS_Shape driver_holes(TopoDS_Shape shape, double x, double y, double z, double wall) {
    shape = drilled(shape, {x, y - 1, z}, {0, 1, 0}, 72, wall + 2);
    for (int k = 0; k < 8; ++k) {
        const double a = (k + 0.5) * std::numbers::pi / 4;
        shape = drilled(shape, {x + 82 * std::cos(a), y - 1, z + 82 * std::sin(a)}, {0, 1, 0}, 2.75, wall + 2);
    }
    return shape;
}

}  // namespace

Brep hollow_box(double w, double d, double h, double wall, double radius) {
    TopoDS_Shape outer = rounded(box(-w / 2, 0, 0, w, d, h), radius);
    const TopoDS_Shape inner =
        rounded(box(-w / 2 + wall, wall, wall, w - 2 * wall, d - 2 * wall, h - 2 * wall), radius - wall);
    TopoDS_Shape shape = BRepAlgoAPI_Cut(outer, inner).Shape();
    shape = driver_holes(shape, 0, 0, h / 2, wall);
    return to_brep(drilled(shape, {w / 2 - 2 * wall, d / 2, h * 0.75}, {1, 0, 0}, 10, 3 * wall));
}

Brep plain_box(double w, double d, double h) {
    return to_brep(box(-w / 2, 0, 0, w, d, h));
}

Brep box_with_void(double w, double d, double h, double wall) {
    return to_brep(BRepAlgoAPI_Cut(box(-w / 2, 0, 0, w, d, h),
                                   box(-w / 2 + wall, wall, wall, w - 2 * wall, d - 2 * wall, h - 2 * wall))
                       .Shape());
}

Brep loft() {
    BRepOffsetAPI_ThruSections sections(Standard_True, Standard_False);
    sections.CheckCompatibility(Standard_False);
    for (int k = 0; k < 5; ++k) {
        constexpr int kPoints = 24;
        const Handle(TColgp_HArray1OfPnt) points = new TColgp_HArray1OfPnt(1, kPoints);
        const double swell = 1.0 - 0.09 * (k - 1.4) * (k - 1.4);
        for (int i = 0; i < kPoints; ++i) {
            const double a = 2 * std::numbers::pi * i / kPoints;
            const double squareness =
                std::pow(std::pow(std::abs(std::cos(a)), 5.0) + std::pow(std::abs(std::sin(a)), 5.0), -0.2);
            points->SetValue(i + 1, gp_Pnt(8.0 * k + 118 * swell * squareness * std::cos(a), 60.0 * k,
                                           150 + 6.0 * k * k / 4 + 140 * swell * squareness * std::sin(a)));
        }
        GeomAPI_Interpolate curve(points, Standard_True, 1e-6);
        curve.Perform();
        sections.AddWire(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(curve.Curve()).Edge()).Wire());
    }
    sections.Build();
    return to_brep(driver_holes(sections.Shape(), 0, 0, 150, 12));
}

Brep bumpy_solid(int n) {
    constexpr int kDegree = 3;
    TColgp_Array2OfPnt poles(1, n, 1, n);
    for (int i = 1; i <= n; ++i)
        for (int j = 1; j <= n; ++j) {
            const bool is_rim = i == 1 || j == 1 || i == n || j == n;
            const double x = 300.0 * (i - 1) / (n - 1), y = 300.0 * (j - 1) / (n - 1);
            poles.SetValue(
                i, j,
                gp_Pnt(x, y,
                       is_rim ? 0.0
                              : 60.0 * std::sin(x / 95.49) * std::sin(y / 95.49) + 0.3 * std::sin(i * 7.1 + j * 3.3)));
        }
    const int spans = n - kDegree;
    TColStd_Array1OfReal knots(1, spans + 1);
    TColStd_Array1OfInteger multiplicities(1, spans + 1);
    for (int i = 1; i <= spans + 1; ++i) {
        knots.SetValue(i, static_cast<double>(i - 1) / spans);
        multiplicities.SetValue(i, i == 1 || i == spans + 1 ? kDegree + 1 : 1);
    }
    const Handle(Geom_BSplineSurface) surface =
        new Geom_BSplineSurface(poles, knots, knots, multiplicities, multiplicities, kDegree, kDegree);
    BRepBuilderAPI_Sewing sewing(1e-6);
    sewing.Add(BRepBuilderAPI_MakeFace(surface, 1e-7).Face());
    for (TopExp_Explorer e(box(0, 0, -50, 300, 300, 50), TopAbs_FACE); e.More(); e.Next()) {
        const TopoDS_Face face = TopoDS::Face(e.Current());
        Bnd_Box bounds;
        TopExp_Explorer v(face, TopAbs_VERTEX);
        bool is_top = true;
        for (; v.More(); v.Next()) is_top = is_top && BRep_Tool::Pnt(TopoDS::Vertex(v.Current())).Z() > -1e-9;
        if (!is_top) sewing.Add(face);
    }
    sewing.Perform();
    return to_brep(BRepBuilderAPI_MakeSolid(TopoDS::Shell(sewing.SewedShape())).Solid());
}

TriMesh mesh_of(const Brep& shape, double chord_mm) {
    BRepMesh_IncrementalMesh(to_occt(shape), chord_mm, Standard_False, 0.4, Standard_False);
    TriMesh mesh;
    std::map<std::array<double, 3>, std::uint32_t> known;
    for (TopExp_Explorer e(to_occt(shape), TopAbs_FACE); e.More(); e.Next()) {
        const TopoDS_Face face = TopoDS::Face(e.Current());
        TopLoc_Location location;
        const Handle(Poly_Triangulation) triangles = BRep_Tool::Triangulation(face, location);
        if (triangles.IsNull()) continue;
        const auto vertex = [&](int i) {
            const gp_Pnt p = triangles->Node(i).Transformed(location);
            const auto [it, is_new] =
                known.try_emplace({p.X(), p.Y(), p.Z()}, static_cast<std::uint32_t>(mesh.vertices.size()));
            if (is_new) mesh.vertices.push_back(from_occt(p));
            return it->second;
        };
        for (int i = 1; i <= triangles->NbTriangles(); ++i) {
            int a = 0, b = 0, c = 0;
            triangles->Triangle(i).Get(a, b, c);
            if (face.Orientation() == TopAbs_REVERSED) std::swap(b, c);
            mesh.triangles.push_back({vertex(a), vertex(b), vertex(c)});
        }
    }
    return mesh;
}

scan::Surface gap_round(const Aabb& box, double clearance, std::size_t points) {
    // The sides bulge towards the part in their middle, the floor has a hump, the back is flat.
    scan::Surface surface;
    Random random(4711);
    const Vec3 size = box.size();
    const Aabb gap{{box.lo.x - clearance - 25, box.lo.y - 70, box.lo.z - clearance - 12},
                   {box.hi.x + clearance + 25, box.hi.y + clearance, box.hi.z + 120}};
    for (std::size_t i = 0; i < points; ++i) {
        const double u = random.uniform(), v = random.uniform(), which = random.uniform();
        Point3 p;
        Vec3 n;
        const double y = gap.lo.y + u * (gap.hi.y - gap.lo.y);
        if (which < 0.66) {
            const double side = which < 0.33 ? -1.0 : 1.0, z = gap.lo.z + v * (gap.hi.z - gap.lo.z);
            const double bulge = 25.0 * std::sin(std::numbers::pi * u) * std::sin(std::numbers::pi * v);
            p = {side * (0.5 * size.x + clearance + 25 - bulge), y, z};
            n = unit({-side, -0.3 * std::cos(std::numbers::pi * u), -0.3 * std::cos(std::numbers::pi * v)});
        } else if (which < 0.82) {
            const double x = gap.lo.x + v * (gap.hi.x - gap.lo.x);
            p = {x, y, gap.lo.z + 12.0 * std::exp(-0.002 * x * x)};
            n = {0, 0, 1};
        } else {
            p = {gap.lo.x + u * (gap.hi.x - gap.lo.x), gap.hi.y, gap.lo.z + v * (gap.hi.z - gap.lo.z)};
            n = {0, -1, 0};
        }
        surface.points.push_back(p + n * (0.3 * random.normal()));
        surface.normals.push_back(n);
        surface.radius_mm.push_back(1.0f);
        surface.box.grow(p);
    }
    surface.raw = surface.points;
    surface.raw_points = points;
    surface.spacing_mm = 1.2;
    surface.noise_mm = 0.3;
    surface.bound_mm = 0.4;
    return surface;
}

parts::Made made_of(const Brep& solid, const Aabb& box) {
    parts::Made made;
    parts::Product product;
    product.name = "shell";
    product.solid = solid;
    made.enclosure.products = {product};
    made.enclosure.outer_body = made.enclosure.air_body = solid;
    made.enclosure.baffle_plane = {{0, box.lo.y, 0.5 * (box.lo.z + box.hi.z)}, {0, -1, 0}};
    made.enclosure.seat_plane = made.enclosure.baffle_plane;
    made.enclosure.net_by_field = Volume::litres(9.4987);
    made.enclosure.net_by_brep = Volume::litres(9.5002);
    made.enclosure.uncertainty_rel = 0.0008;
    made.enclosure.ledger = {{"air behind the baffle", 9.9}, {"driver", -0.3998}};
    made.enclosure.fixings = {{"rail, left front", "M8", {-60, 70, 24}, {0, 0, -1}, 9.0, 25.0, 24.0, 310.0, 288.0}};
    return made;
}

parts::EnclosureRequest request() {
    parts::EnclosureRequest asked;
    asked.name = "seat-gap";
    asked.net_volume = Volume::litres(9.5);
    parts::DriverMount driver;
    driver.driver.name = "woofer 165";
    driver.driver.fs_hz = 42.0;
    driver.driver.qts = 0.41;
    driver.driver.vas = Volume::litres(14.0);
    asked.driver = driver;
    return asked;
}

}  // namespace test_parts
