#include "tests/measure/reference_solids.h"

#include "tests/measure/shapes.h"

#include <BRepAlgoAPI_Common.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepOffsetAPI_ThruSections.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <BRepPrimAPI_MakeTorus.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>

#include <cmath>

namespace reference {

using geom::Point3;
using geom::TriMesh;
using geom::Vec3;
using shapes::kPi;

namespace {

const gp_Ax2 kUp(gp_Pnt(10, 20, 30), gp_Dir(0, 0, 1));

TopoDS_Shape prismatoid() {
    BRepOffsetAPI_ThruSections through(true, true);
    const auto rectangle = [](double a, double b, double z) {
        return BRepBuilderAPI_MakePolygon(gp_Pnt(-a / 2, -b / 2, z), gp_Pnt(a / 2, -b / 2, z), gp_Pnt(a / 2, b / 2, z),
                                          gp_Pnt(-a / 2, b / 2, z), true)
            .Wire();
    };
    through.AddWire(rectangle(300, 200, 0));
    through.AddWire(rectangle(240, 150, 120));
    through.Build();
    return through.Shape();
}

/// All edges of the shape rounded.
TopoDS_Shape rounded(const TopoDS_Shape& shape, double radius) {
    BRepFilletAPI_MakeFillet fillet(shape);
    for (TopExp_Explorer it(shape, TopAbs_EDGE); it.More(); it.Next()) fillet.Add(radius, TopoDS::Edge(it.Current()));
    return fillet.Shape();
}

/// What lies over the plane through (0, 0, z) that rises by `slope` along x.
TopoDS_Shape above(double z, double slope) {
    gp_Trsf turn, shift;
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)), -std::atan(slope));
    shift.SetTranslation(gp_Vec(0, 0, z));
    return shapes::moved(shapes::box({-600, -600, 0}, {600, 600, 600}), shift * turn);
}

/// Outside 100, bore 80 that is moved up the slope.
TopoDS_Shape tilted_ring(double on_axis, double slope, double bore_at) {
    const TopoDS_Shape body = shapes::cut(shapes::cylinder({0, 0, 0}, {0, 0, 1}, 100, 80), above(on_axis, slope));
    return shapes::cut(body, shapes::cylinder({bore_at, 0, -10}, {0, 0, 1}, 80, 120));
}

/// Of a cylinder of radius 100 what lies under a plane through its base, 30 high at the rim, `b` from there to nothing.
TopoDS_Shape ungula(double b) {
    return shapes::cut(shapes::cylinder({0, 0, 0}, {0, 0, 1}, 100, 60), above(-30.0 * (100.0 - b) / b, 30.0 / b));
}
double ungula_mm3(double b) {
    const double R = 100, h = 30, p = std::acos((R - b) / R), s = std::sin(p);
    return h * R * R * (3 * s - 3 * p * std::cos(p) - s * s * s) / (3 * (1 - std::cos(p)));
}

TopoDS_Shape driver() {
    const gp_Ax2 seat(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1));
    const TopoDS_Shape basket = BRepPrimAPI_MakeCone(seat, 92, 45, 55).Shape();
    const TopoDS_Shape whole = shapes::fuse(basket, shapes::cylinder({0, 0, 55}, {0, 0, 1}, 60, 30));
    return shapes::cut(whole, BRepPrimAPI_MakeCone(seat, 80, 25, 40).Shape());
}
double frustum_mm3(double R, double r, double h) {
    return kPi * h * (R * R + R * r + r * r) / 3.0;
}

/// A cylinder's offset: rounded where its rims were.
double cylinder_offset_mm3(double R, double H, double r) {
    const double S = 2 * kPi * R * (R + H), M = kPi * H + kPi * kPi * R;
    return kPi * R * R * H + S * r + M * r * r + 4.0 / 3.0 * kPi * r * r * r;
}
double box_offset_mm3(double a, double b, double c, double r) {
    const double S = 2 * (a * b + b * c + c * a), M = kPi * (a + b + c);
    return a * b * c + S * r + M * r * r + 4.0 / 3.0 * kPi * r * r * r;
}
double box_offset_mm2(double a, double b, double c, double r) {
    return 2 * (a * b + b * c + c * a) + 2 * kPi * (a + b + c) * r + 4 * kPi * r * r;
}

std::vector<Solid> made() {
    const double tan10 = std::tan(10.0 * kPi / 180.0);
    const double ring = kPi * (10000 - 6400);
    constexpr auto C = Marker::Computed, F = Marker::VerifiedFormula;
    const auto sphere = [](double r) { return BRepPrimAPI_MakeSphere(kUp, r).Shape(); };
    const auto torus = [](double r) { return BRepPrimAPI_MakeTorus(kUp, 100, r).Shape(); };
    const auto box = [](double a, double b, double c) { return shapes::box({5, 6, 7}, {5 + a, 6 + b, 7 + c}); };
    return {
        {"basket", "4", C, {842570, 1}, frustum_mm3(92, 45, 55), BRepPrimAPI_MakeCone(kUp, 92, 45, 55).Shape(), {}},
        {"magnet", "4", C, {339292, 1}, kPi * 3600 * 30, shapes::cylinder({1, 2, 3}, {1, 1, 1}, 60, 30), {}},
        {"driver",
         "4",
         C,
         {803824, 1},
         frustum_mm3(92, 45, 55) + kPi * 3600 * 30 - frustum_mm3(80, 25, 40),
         driver(),
         {}},
        {"port tube", "4", C, {753982, 1}, kPi * 1600 * 150, shapes::cylinder({0, 0, 0}, {0, 1, 0}, 40, 150), {}},
        {"sphere", "5", C, {523598.776, 1e-3}, 4.0 / 3.0 * kPi * 125000, sphere(50), {31415.9265, 1e-4}},
        {"cap",
         "5",
         C,
         {54454.2727, 1e-4},
         kPi * 400 * (150 - 20) / 3,
         BRepPrimAPI_MakeSphere(kUp, 50, std::asin(0.6), kPi / 2).Shape(),
         {6283.18531 + kPi * 1600, 1e-5}},
        {"frustum",
         "5",
         C,
         {805818.516, 1e-3},
         frustum_mm3(90, 60, 45),
         BRepPrimAPI_MakeCone(kUp, 90, 60, 45).Shape(),
         {25486.1401 + kPi * (8100 + 3600), 1e-4}},
        {"prismatoid", "5", C, {5700000, 1e-9}, 120.0 * (60000 + 4 * 47250 + 36000) / 6, prismatoid(), {}},
        {"torus", "5", C, {1776528.79, 1e-2}, 2 * kPi * kPi * 100 * 900, torus(30), {118435.253, 1e-3}},
        {"hollow box",
         "5",
         C,
         {2878464, 1e-9},
         320.0 * 220 * 120 - 5569536,
         shapes::cut(shapes::box({0, 0, 0}, {320, 220, 120}), shapes::box({12, 12, 12}, {308, 208, 108})),
         {}},
        {"box, 10 outwards",
         "5.1",
         F,
         {8392684.35, 1e-2},
         box_offset_mm3(300, 200, 100, 10),
         rounded(box(320, 220, 120), 10),
         {258955.749, 1e-3}},
        {"box, 10 outwards, mitred", "5.1", F, {8448000, 1e-9}, 320.0 * 220 * 120, box(320, 220, 120), {}},
        {"box, 12 inwards", "5.1", F, {3691776, 1e-9}, 276.0 * 176 * 76, box(276, 176, 76), {}},
        {"box, wall of 12",
         "5.1",
         F,
         {2308224, 1e-9},
         6e6 - 3691776,
         shapes::cut(box(300, 200, 100), shapes::box({17, 18, 19}, {293, 194, 95})),
         {}},
        {"box, shell of 18",
         "5.1",
         F,
         {4595154.64, 1e-2},
         box_offset_mm3(300, 200, 100, 18) - 6e6,
         shapes::cut(rounded(box(336, 236, 136), 18), shapes::box({23, 24, 25}, {323, 224, 125})),
         {box_offset_mm2(300, 200, 100, 18) + 220000, 1e-3}},
        {"cylinder, 5 outwards",
         "5.1",
         F,
         {1231798.55, 1e-2},
         cylinder_offset_mm3(50, 120, 5),
         rounded(shapes::cylinder({1, 2, 3}, {1, 2, 0.5}, 55, 130), 5),
         {}},
        {"sphere, 3 outwards", "5.1", F, {623614.519, 1e-3}, 4.0 / 3.0 * kPi * 53 * 53 * 53, sphere(53), {}},
        {"torus, 3 outwards", "5.1", F, {2149599.84, 1e-2}, 2 * kPi * kPi * 100 * 33 * 33, torus(33), {}},
        {"tilted ring", "5.2", C, {226194.671, 1e-3}, ring * 20, tilted_ring(20, tan10, 0), {45413.4051, 1e-4}},
        {"tilted ring, thin to nothing",
         "5.2",
         C,
         {199421.117, 1e-3},
         ring * 100 * tan10,
         tilted_ring(100 * tan10, tan10, 0),
         {}},
        {"tilted ring, bore 5 up the slope",
         "5.2",
         C,
         {208468.350, 1e-3},
         kPi * 10000 * 20 - kPi * 6400 * (20 + 5 * tan10),
         tilted_ring(20, tan10, 5),
         {}},
        {"ungula 50", "5.2", F, {75552.1663, 1e-4}, ungula_mm3(50), ungula(50), {}},
        {"ungula 100", "5.2", F, {200000, 1e-9}, 2.0 * 10000 * 30 / 3, ungula(100), {}},
        {"ungula 150", "5.2", F, {339343.321, 1e-3}, ungula_mm3(150), ungula(150), {}},
    };
}

/// Towards v with |c|^e, sign kept.
double power(double c, double e) {
    return std::copysign(std::pow(std::abs(c), e), c);
}

}  // namespace

const std::vector<Solid>& solids() {
    static const std::vector<Solid> all = made();
    return all;
}

double Superellipsoid::formula_mm3() const {
    const auto [a, b, c] = kHalfAxes;
    return 2 * a * b * c * e1 * e2 * std::beta(e1 / 2 + 1, e1) * std::beta(e2 / 2, e2 / 2);
}

double Superellipsoid::support(Vec3 n) const {
    const auto dual = [](double x, double y, double e) {
        const double p = 2.0 / e;
        if (p <= 1.0 + 1e-12) return std::max(x, y);
        const double q = p / (p - 1.0);
        return std::pow(std::pow(x, q) + std::pow(y, q), 1.0 / q);
    };
    return dual(dual(std::abs(kHalfAxes[0] * n.x), std::abs(kHalfAxes[1] * n.y), e2), std::abs(kHalfAxes[2] * n.z), e1);
}

TriMesh Superellipsoid::mesh(int n) const {
    TriMesh mesh;
    const auto at = [&](int i, int j) {
        const double u = kPi * (static_cast<double>(i) / n - 0.5), v = kPi * j / n;
        const double cu = i == 0 || i == n ? 0.0 : std::cos(u);
        return Point3{kHalfAxes[0] * power(cu, e1) * power(std::cos(v), e2),
                      kHalfAxes[1] * power(cu, e1) * power(std::sin(v), e2), kHalfAxes[2] * power(std::sin(u), e1)};
    };
    const auto round = static_cast<std::uint32_t>(2 * n);
    mesh.vertices.push_back(at(0, 0));
    for (int i = 1; i < n; ++i)
        for (int j = 0; j < 2 * n; ++j) mesh.vertices.push_back(at(i, j));
    mesh.vertices.push_back(at(n, 0));
    const auto top = static_cast<std::uint32_t>(mesh.vertices.size() - 1);
    const auto row = [&](int i, std::uint32_t j) { return 1 + static_cast<std::uint32_t>(i - 1) * round + j % round; };
    for (std::uint32_t j = 0; j < round; ++j) {
        mesh.triangles.push_back({0, row(1, j + 1), row(1, j)});
        for (int i = 1; i + 1 < n; ++i) {
            mesh.triangles.push_back({row(i, j), row(i, j + 1), row(i + 1, j + 1)});
            mesh.triangles.push_back({row(i, j), row(i + 1, j + 1), row(i + 1, j)});
        }
        mesh.triangles.push_back({row(n - 1, j), row(n - 1, j + 1), top});
    }
    return mesh;
}

double Superellipsoid::upper_mm3(const TriMesh& mesh) const {
    double sum = 0.0;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        const Vec3 n = cross(b - a, c - a);
        const double height = dot(n, a);  // times |n|
        if (height <= 0.0) continue;      // without area
        sum += height / 6.0 * std::pow(support(n) / height, 3);
    }
    return sum;
}

const std::vector<Superellipsoid>& superellipsoids() {
    static const std::vector<Superellipsoid> all{
        {"ellipsoid", 1.0, 1.0, Marker::Computed, {3769911.18, 1e-2}},
        {"Lame 2.5", 0.8, 0.8, Marker::Computed, {4564435.36, 1e-2}},
        {"Lame 4", 0.5, 0.5, Marker::Computed, {5833788.62, 1e-2}},
        {"Lame 8", 0.25, 0.25, Marker::Computed, {6765030.33, 1e-2}},
        {"superellipsoid 0.3, 0.5", 0.3, 0.5, Marker::Computed, {6310779.25, 1e-2}},
        {"superellipsoid 1, 0.25", 1.0, 0.25, Marker::Computed, {4696611.95, 1e-2}},
    };
    return all;
}

TriMesh lantern(int n, int m) {
    TriMesh mesh;
    const auto un = static_cast<std::uint32_t>(n);
    for (int i = 0; i <= m; ++i)
        for (int j = 0; j < n; ++j) {
            const double v = 2 * kPi * (j + 0.5 * (i % 2)) / n;
            mesh.vertices.push_back({50 * std::cos(v), 50 * std::sin(v), 100.0 * i / m});
        }
    const auto at = [&](int i, std::uint32_t j) { return static_cast<std::uint32_t>(i) * un + j % un; };
    for (int i = 0; i < m; ++i)
        for (std::uint32_t j = 0; j < un; ++j) {
            // The upper ring is half a side on in even bands, half a side back in odd ones.
            const std::uint32_t s = i % 2 == 0 ? 0 : 1;
            mesh.triangles.push_back({at(i, j), at(i, j + 1), at(i + 1, j + s)});
            mesh.triangles.push_back({at(i, j + 1 - s), at(i + 1, j + 1), at(i + 1, j)});
        }
    for (const int end : {0, m}) {
        mesh.vertices.push_back({0, 0, 100.0 * end / m});
        const auto middle = static_cast<std::uint32_t>(mesh.vertices.size() - 1);
        for (std::uint32_t j = 0; j < un; ++j)
            if (end == 0)
                mesh.triangles.push_back({middle, at(end, j + 1), at(end, j)});
            else
                mesh.triangles.push_back({middle, at(end, j), at(end, j + 1)});
    }
    return mesh;
}

TriMesh prism(const std::vector<std::array<double, 2>>& outline, double height) {
    TriMesh mesh;
    const auto n = static_cast<std::uint32_t>(outline.size());
    for (const double z : {0.0, height})
        for (const auto& p : outline) mesh.vertices.push_back({p[0], p[1], z});
    mesh.vertices.push_back({0, 0, 0});
    mesh.vertices.push_back({0, 0, height});
    for (std::uint32_t i = 0; i < n; ++i) {
        const std::uint32_t k = (i + 1) % n;
        mesh.triangles.push_back({i, k, n + k});
        mesh.triangles.push_back({i, n + k, n + i});
        mesh.triangles.push_back({2 * n, k, i});
        mesh.triangles.push_back({2 * n + 1, n + i, n + k});
    }
    return mesh;
}

}  // namespace reference
