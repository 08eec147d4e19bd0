// Small solids and helpers that the tests of measuring and judging share.
#pragma once

#include "geom/core/random.h"
#include "geom/core/result.h"
#include "geom/core/tri_mesh.h"
#include "geom/skin/internal/occt.h"

#include <unistd.h>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <GeomConvert.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Geom_BezierSurface.hxx>
#include <TColgp_Array2OfPnt.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Solid.hxx>
#include <gp_Ax1.hxx>
#include <gp_Ax2.hxx>
#include <gp_Trsf.hxx>

#include <catch2/catch.hpp>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <numbers>

namespace shapes {

using geom::Point3;
using geom::TriMesh;
using geom::Vec3;
constexpr double kPi = std::numbers::pi;

/// The value, or the test fails with the fault's text.
template <class T>
T require(geom::Result<T> result) {
    if (!result) FAIL(result.error().what);
    return std::move(*result);
}

inline TopoDS_Shape box(Point3 lo, Point3 hi) {
    return BRepPrimAPI_MakeBox(geom::to_occt(lo), geom::to_occt(hi)).Shape();
}

inline TopoDS_Shape cylinder(Point3 from, Vec3 axis, double radius, double length) {
    return BRepPrimAPI_MakeCylinder(gp_Ax2(geom::to_occt(from), geom::to_occt_dir(axis)), radius, length).Shape();
}

inline TopoDS_Shape cut(const TopoDS_Shape& a, const TopoDS_Shape& b) {
    return BRepAlgoAPI_Cut(a, b).Shape();
}
inline TopoDS_Shape fuse(const TopoDS_Shape& a, const TopoDS_Shape& b) {
    return BRepAlgoAPI_Fuse(a, b).Shape();
}

/// A turn about a skew axis and a shift: no coordinate stays round.
inline gp_Trsf skew_motion() {
    gp_Trsf turn, shift;
    turn.SetRotation(gp_Ax1(gp_Pnt(10, -20, 5), gp_Dir(1, 2, 0.5)), 0.7);
    shift.SetTranslation(gp_Vec(311.7, -87.3, 40.1));
    return shift * turn;
}
inline TopoDS_Shape moved(const TopoDS_Shape& shape, const gp_Trsf& motion) {
    return BRepBuilderAPI_Transform(shape, motion, true).Shape();
}
inline Point3 moved(Point3 p, const gp_Trsf& motion) {
    return geom::from_occt(geom::to_occt(p).Transformed(motion));
}
inline Vec3 turned(Vec3 v, const gp_Trsf& motion) {
    return geom::from_occt(geom::to_occt_vec(v).Transformed(motion));
}

/// z = 40 + 0.002 X^2 - 0.003 Y^2 + 0.0001 X^2 Y with X = x - 50, Y = y - 40, as a bicubic spline of several spans over
/// [-20, 120] x [-20, 100]. Control values are the polynomial's polar form.
inline double hill(double x, double y) {
    const double X = x - 50, Y = y - 40;
    return 40 + 0.002 * X * X - 0.003 * Y * Y + 0.0001 * X * X * Y;
}
inline Handle(Geom_BSplineSurface) hill_surface() {
    const double x[2] = {-20, 120}, y[2] = {-20, 100};
    TColgp_Array2OfPnt poles(1, 3, 1, 3);
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) {
            const double xa = x[i == 2], xb = x[i >= 1], ya = y[j == 2], yb = y[j >= 1];
            const double x2 = (xa - 50) * (xb - 50), y2 = (ya - 40) * (yb - 40), y1 = 0.5 * (ya + yb) - 40;
            poles(i + 1, j + 1) =
                gp_Pnt(0.5 * (xa + xb), 0.5 * (ya + yb), 40 + 0.002 * x2 - 0.003 * y2 + 0.0001 * x2 * y1);
        }
    Handle(Geom_BezierSurface) bezier = new Geom_BezierSurface(poles);
    bezier->Increase(3, 3);
    Handle(Geom_BSplineSurface) spline = GeomConvert::SurfaceToBSplineSurface(bezier);
    for (const double t : {0.13, 0.31, 0.52, 0.77}) {
        spline->InsertUKnot(t, 1, 1e-9);
        spline->InsertVKnot(t, 1, 1e-9);
    }
    return spline;
}
/// The block [0, 100] x [0, 80] x [0, hill], its top a trimmed spline face.
inline TopoDS_Shape hill_block() {
    const TopoDS_Face sheet = BRepBuilderAPI_MakeFace(hill_surface(), 1e-7).Face();
    const TopoDS_Shape above = BRepPrimAPI_MakePrism(sheet, gp_Vec(0, 0, 300)).Shape();
    return cut(box({0, 0, 0}, {100, 80, 100}), above);
}
/// Integral of hill over the block's rectangle: 40 A + 0.002 b sum... in closed form.
inline double hill_block_mm3() {
    const double a = 100, b = 80;
    const double x2 = 2 * 50.0 * 50.0 * 50.0 / 3, y2 = 2 * 40.0 * 40.0 * 40.0 / 3;
    return 40 * a * b + 0.002 * x2 * b - 0.003 * y2 * a;  // the odd term vanishes about the middle
}

inline void write_stl(const TriMesh& mesh, const std::filesystem::path& file) {
    std::ofstream out(file, std::ios::binary);
    const std::string header(80, ' ');
    out.write(header.data(), 80);
    const auto count = static_cast<std::uint32_t>(mesh.triangles.size());
    out.write(reinterpret_cast<const char*>(&count), 4);
    for (std::size_t t = 0; t < count; ++t) {
        float record[12] = {};
        for (int k = 0; k < 3; ++k)
            for (std::size_t a = 0; a < 3; ++a)
                record[3 + 3 * k + static_cast<int>(a)] = static_cast<float>(mesh.corner(t, k)[a]);
        out.write(reinterpret_cast<const char*>(record), sizeof record);
        const std::uint16_t none = 0;
        out.write(reinterpret_cast<const char*>(&none), 2);
    }
}

/// Triangles of about `size` strewn over a cube of half edge `reach`; they share no vertex.
inline TriMesh scattered(geom::Random& random, int triangles, double reach, double size) {
    TriMesh mesh;
    for (int t = 0; t < triangles; ++t) {
        const Point3 at{random.uniform(-reach, reach), random.uniform(-reach, reach), random.uniform(-reach, reach)};
        for (std::uint32_t k = 0; k < 3; ++k)
            mesh.vertices.push_back(
                at + Vec3{random.uniform(-size, size), random.uniform(-size, size), random.uniform(-size, size)});
        const auto n = static_cast<std::uint32_t>(mesh.vertices.size());
        mesh.triangles.push_back({n - 3, n - 2, n - 1});
    }
    return mesh;
}

/// A folder of this test's own under the system's temporary one, gone afterwards.
class Folder {
public:
    explicit Folder(const std::string& name)
        : path_(std::filesystem::temp_directory_path() /
                ("gapwright-test-" + name + "-" + std::to_string(::getpid()))) {
        std::filesystem::remove_all(path_);
        std::filesystem::create_directories(path_);
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

private:
    std::filesystem::path path_;
};

}  // namespace shapes
