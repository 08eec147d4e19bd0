// The bar that makes an edge sharp again, on analytic bodies: volumes against closed forms, faces counted, and the same
// under rigid motions and mirrors.
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/parts/internal/corner_bar.h"
#include "geom/parts/internal/flat_strip.h"
#include "geom/parts/internal/flat_zone.h"
#include "tests/parts/features_bodies.h"
#include "tests/support/random_frames.h"

#include <catch2/catch.hpp>

#include <BRepAdaptor_Surface.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepFilletAPI_MakeFillet.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRep_Builder.hxx>
#include <BRep_Tool.hxx>
#include <Geom_BSplineSurface.hxx>
#include <TColStd_Array1OfInteger.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TColgp_Array2OfPnt.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedDataMapOfShapeListOfShape.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <gp_Pln.hxx>
#include <gp_Trsf.hxx>

#include <numbers>

using namespace geom;
using namespace geom::parts;

namespace {

constexpr double kLength = 200.0;

/// A prism along y over a convex outline in x, z, all its edges rounded.
TopoDS_Solid rounded_prism(const std::vector<std::array<double, 2>>& outline, double radius) {
    BRepBuilderAPI_MakePolygon wire;
    for (const auto& [x, z] : outline) wire.Add(gp_Pnt(x, 0, z));
    wire.Close();
    const TopoDS_Shape solid =
        BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire.Wire(), true).Face(), gp_Vec(0, kLength, 0)).Shape();
    BRepFilletAPI_MakeFillet fillet(solid);
    TopTools_IndexedMapOfShape edges;
    TopExp::MapShapes(solid, TopAbs_EDGE, edges);
    for (int i = 1; i <= edges.Extent(); ++i) fillet.Add(radius, TopoDS::Edge(edges(i)));
    fillet.Build();
    TopExp_Explorer e(fillet.Shape(), TopAbs_SOLID);
    return TopoDS::Solid(e.Current());
}

/// The corner at a place of the outline; both planes look away from the origin.
Corner corner_at(std::array<double, 2> at, std::array<double, 2> before, std::array<double, 2> after, double radius) {
    const auto plane = [&](std::array<double, 2> to) {
        Vec3 n = unit(Vec3{-(to[1] - at[1]), 0, to[0] - at[0]});
        const Point3 p{at[0], 0, at[1]};
        if (dot(n, p) < 0.0) n = -n;
        return Plane{p, n};
    };
    Corner corner{plane(before), plane(after), {at[0], 0, at[1]}, {}, radius};
    corner.along = unit(cross(corner.a.outward, corner.b.outward));
    return corner;
}

struct Shape {
    const char* name;
    TopoDS_Solid body;
    Corner corner;
};
/// Corners of 90, 60 and 130 degrees.
Shape shape_of(double angle_deg, double radius) {
    const double v = angle_deg * std::numbers::pi / 180.0, side = 160.0;
    // From the corner along -x, and along the other side.
    const std::array<double, 2> at{80.0, 90.0}, before{at[0] - side, at[1]},
        after{at[0] - side * std::cos(v), at[1] - side * std::sin(v)};
    std::vector<std::array<double, 2>> outline{before, at, after};
    if (angle_deg > 75.0) outline.push_back({before[0] - 10.0, after[1] - 15.0});
    return {"prism", rounded_prism(outline, radius), corner_at(at, before, after, radius)};
}

double least_closed_form(const Corner& corner, const space::Stretch& whole) {
    // The kite between edge and centre less the sector, a millimetre of length; by hand and not by the code's own form.
    const double v = corner.angle_rad(), r = corner.radius_mm;
    const double kite = r * r / std::tan(v / 2.0), sector = 0.5 * (std::numbers::pi - v) * r * r;
    const double sharp = whole.length_mm() - 2.0 * 3.0 * r;
    return (kite - sector) * (sharp + 2.0 * 0.5 * 3.0 * r);
}

int planes_in(const TopoDS_Shape& body, const Plane& plane) {
    int count = 0;
    for (const TopoDS_Face& face : faces_of(body)) {
        const BRepAdaptor_Surface surface(face, false);
        if (surface.GetType() != GeomAbs_Plane) continue;
        count += std::abs(dot(from_occt(surface.Plane().Axis().Direction()), plane.outward)) > 1.0 - 1e-9 &&
                 std::abs(plane.height(from_occt(surface.Plane().Location()))) < 1e-6;
    }
    return count;
}

/// Length along the corner's edge of the edges that a face in a and one in b share.
double sharp_mm(const TopoDS_Shape& body, const Corner& corner) {
    TopTools_IndexedDataMapOfShapeListOfShape faces;
    TopExp::MapShapesAndAncestors(body, TopAbs_EDGE, TopAbs_FACE, faces);
    double sum = 0.0;
    for (int i = 1; i <= faces.Extent(); ++i) {
        const TopoDS_Edge edge = TopoDS::Edge(faces.FindKey(i));
        const Point3 p = from_occt(BRep_Tool::Pnt(TopExp::FirstVertex(edge))),
                     q = from_occt(BRep_Tool::Pnt(TopExp::LastVertex(edge)));
        const auto is_on = [&](Point3 x) { return std::abs(corner.a.height(x)) + std::abs(corner.b.height(x)) < 1e-6; };
        if (!is_on(p) || !is_on(q) || distance(p, q) < 1e-9) continue;
        bool planes = faces(i).Extent() == 2;
        for (const TopoDS_Shape& f : faces(i))
            planes = planes && BRepAdaptor_Surface(TopoDS::Face(f), false).GetType() == GeomAbs_Plane;
        if (planes) sum += distance(p, q);
    }
    return sum;
}

Barred barred(const TopoDS_Solid& body, const Corner& corner) {
    const auto plan = plan_bar(body, corner, {{-1e3, 1e3}});
    if (!plan) throw std::runtime_error("no bar");
    return test::require(add_bar("edge", body, corner, *plan));
}

Corner moved(const Corner& c, const Frame& to) {
    const auto plane = [&](const Plane& p) { return Plane{to.to_parent(p.point), to.dir_to_parent(p.outward)}; };
    return {plane(c.a), plane(c.b), to.to_parent(c.at), to.dir_to_parent(c.along), c.radius_mm};
}

}  // namespace

TEST_CASE("a bar adds what the rounding took, along its length and by half along its run-outs",
          "[parts][sharp][oracle]") {
    for (const double angle : {90.0, 60.0, 130.0})
        for (const double radius : {4.0, 9.0}) {
            CAPTURE(angle, radius);
            const Shape shape = shape_of(angle, radius);
            CHECK(shape.corner.angle_rad() * 180.0 / std::numbers::pi == Approx(angle));
            const Barred made = barred(shape.body, shape.corner);
            // All of the straight part of the edge but half a millimetre at both ends.
            CHECK(made.whole.length_mm() > kLength - 2.0 * radius - 12.0);
            CHECK(made.whole.length_mm() < kLength - 2.0 * radius);
            CHECK(made.added_mm3 == Approx(least_closed_form(shape.corner, made.whole)).epsilon(1e-6));
            CHECK(bar_mm3(shape.corner, made.whole) ==
                  Approx(least_closed_form(shape.corner, made.whole)).epsilon(1e-12));
        }
}

TEST_CASE("a body with a bar is sound, and both planes stay one face each", "[parts][sharp]") {
    for (const double angle : {90.0, 60.0, 130.0}) {
        CAPTURE(angle);
        const Shape shape = shape_of(angle, 8.0);
        const Barred made = barred(shape.body, shape.corner);
        CHECK(planes_in(shape.body, shape.corner.a) == 1);
        CHECK(planes_in(made.solid, shape.corner.a) == 1);
        CHECK(planes_in(made.solid, shape.corner.b) == 1);
        // The rounding is in two pieces now; two ruled faces at each end.
        CHECK(faces_of(made.solid).size() == faces_of(shape.body).size() + 5);
        CHECK(sharp_mm(shape.body, shape.corner) == 0.0);
        CHECK(sharp_mm(made.solid, shape.corner) ==
              Approx(sharp_part(shape.corner, made.whole).length_mm()).epsilon(1e-9));
        const auto solid = test::require(measure::measure_solid(to_brep(made.solid), {}));
        CHECK(solid.valid);
        CHECK(solid.closed);
        CHECK(solid.solids == 1);
        CHECK(solid.max_tolerance_mm < 1e-3);
        const TriMesh mesh = test::require(measure::tessellate(to_brep(made.solid), Length::mm(0.05), {}));
        const auto measured = measure::measure_mesh(mesh);
        CHECK(measured.closed);
        CHECK(measured.oriented);
        CHECK(measured.volume.mm3() == Approx(solid.volume.mm3()).epsilon(1e-3));
        CHECK(test::require(measure::self_crossings(mesh)).empty());
        // Nothing of it lies before either plane.
        double highest = -1e300;
        for (const Point3& p : mesh.vertices)
            highest = std::max({highest, shape.corner.a.height(p), shape.corner.b.height(p)});
        CHECK(highest < 1e-5);
    }
}

TEST_CASE("a bar is the same in another frame, and in a mirror", "[parts][sharp][laws]") {
    const Shape shape = shape_of(130.0, 7.0);
    const Barred still = barred(shape.body, shape.corner);
    std::vector<Frame> frames = {{{0, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};  // a mirror
    Random random(7);
    for (int i = 0; i < 3; ++i) frames.push_back(support::random_frame(random));
    for (const Frame& to : frames) {
        gp_Trsf t;
        if (dot(cross(to.x, to.y), to.z) < 0.0)
            t.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)));
        else
            t.SetValues(to.x.x, to.y.x, to.z.x, to.origin.x, to.x.y, to.y.y, to.z.y, to.origin.y, to.x.z, to.y.z,
                        to.z.z, to.origin.z);
        const TopoDS_Solid body = TopoDS::Solid(BRepBuilderAPI_Transform(shape.body, t, true).Shape());
        const Barred made = barred(body, moved(shape.corner, to));
        CHECK(made.added_mm3 == Approx(still.added_mm3).epsilon(1e-7));
        CHECK(made.whole.from_mm == Approx(still.whole.from_mm).margin(1e-6));
        CHECK(made.whole.to_mm == Approx(still.whole.to_mm).margin(1e-6));
        CHECK(faces_of(made.solid).size() == faces_of(still.solid).size());
    }
}

TEST_CASE("no bar where its run-outs would not fit, nor beyond where it is allowed", "[parts][sharp]") {
    const Shape shape = shape_of(90.0, 8.0);
    CHECK(!plan_bar(shape.body, shape.corner, {}));
    CHECK(!plan_bar(shape.body, shape.corner, {{60.0, 110.0}}));
    CHECK(!plan_bar(shape.body, shape.corner, {{-90.0, -10.0}}));
    const auto plan = plan_bar(shape.body, shape.corner, {{60.0, 65.0}, {70.0, 170.0}});
    REQUIRE(plan);
    const bool is_along_y = shape.corner.along.y > 0.0;
    CHECK(is_along_y == (plan->whole.from_mm > 0.0));
}

namespace {

using Spline = Handle(Geom_BSplineSurface);

constexpr double kPatch_mm = 200.0;

/// A cubic patch over -200 <= x <= 0, 0 <= y <= 200 that is z = 0 but for waves, and its spans 20 mm wide.
Spline wavy_patch(double wave_mm) {
    const int spans = 10, n = spans + 3;
    TColgp_Array2OfPnt poles(1, n, 1, n);
    TColStd_Array1OfReal knots(1, spans + 1);
    TColStd_Array1OfInteger times(1, spans + 1);
    times.Init(1);
    times(1) = times(spans + 1) = 4;
    for (int k = 0; k <= spans; ++k) knots(k + 1) = k;
    const auto place = [&](int i) {  // of a control point: the mean of three knots
        double sum = 0.0;
        for (int q = i; q < i + 3; ++q) sum += std::clamp(q - 3, 0, spans);
        return sum / 3.0 * kPatch_mm / spans;
    };
    for (int i = 1; i <= n; ++i)
        for (int j = 1; j <= n; ++j)
            poles(i, j) = gp_Pnt(place(i) - kPatch_mm, place(j), wave_mm * std::sin(1.1 * i + 0.6 * j));
    return new Geom_BSplineSurface(poles, knots, knots, times, times, 3, 3);
}

TopoDS_Solid of_one_face(const Spline& surface) {
    BRep_Builder builder;
    TopoDS_Shell shell;
    builder.MakeShell(shell);
    builder.Add(shell, BRepBuilderAPI_MakeFace(surface, 1e-7).Face());
    TopoDS_Solid solid;
    builder.MakeSolid(solid);
    builder.Add(solid, shell);
    return solid;
}

}  // namespace

TEST_CASE("ground beside an edge is made flat: exactly in the strip, nowhere else, and smoothly", "[parts][sharp]") {
    const double wave = 0.1;
    const Spline before = wavy_patch(wave);
    const TopoDS_Solid body = of_one_face(before);
    const Corner corner{{{0, 0, 0}, {0, 0, 1}}, {{0, 0, 0}, {1, 0, 0}}, {0, 0, 0}, {0, 1, 0}, 8.0};
    const std::vector<space::Stretch> allowed{{20.0, 180.0}};
    CHECK(FlatZone(body, corner, corner.a, corner.into_a()).at(20.0).empty());
    const TopoDS_Solid flat = with_flat_strips(body, corner, allowed);
    const auto found = longest(FlatZone(flat, corner, corner.a, corner.into_a()).at(20.0));
    REQUIRE(found);
    CHECK(found->from_mm >= 20.0);
    CHECK(found->to_mm <= 180.0);
    CHECK(found->length_mm() > 120.0);
    const Spline after = Spline::DownCast(BRep_Tool::Surface(faces_of(flat).front()));
    double most = 0.0, elsewhere = 0.0, past_ends = 0.0, steepest = 0.0;
    for (int i = 0; i <= 400; ++i)
        for (int j = 0; j <= 400; ++j) {
            const double u = i / 40.0, v = j / 40.0;
            gp_Pnt p;
            gp_Vec du, dv;
            after->D1(u, v, p, du, dv);
            const double moved = p.Distance(before->Value(u, v));
            most = std::max(most, moved);
            steepest = std::max(steepest, std::abs(dv.Z()) / dv.Magnitude());
            // Of cubic spans: a moved control point is felt two spans away, outside two of the old ones.
            if (p.X() < -9.0 - 24.0 - 20.0 - 2.0 * 20.0 || i == 400 || j == 0 || j == 400)
                elsewhere = std::max(elsewhere, moved);
            if (p.Y() < 10.0 || p.Y() > 190.0) past_ends = std::max(past_ends, moved);
        }
    CHECK(elsewhere < 1e-9);
    CHECK(past_ends < 0.05 * wave);
    CHECK(most > 0.5 * wave);
    CHECK(most < 1.01 * wave);
    CHECK(steepest < 0.04);
    for (int k = 2; k < after->NbVKnots(); ++k) CHECK(after->VMultiplicity(k) == 1);  // as smooth as it was
    // What is no fit of the plane is left alone.
    const Spline rough = wavy_patch(2.0);
    const TopoDS_Solid untouched = with_flat_strips(of_one_face(rough), corner, allowed);
    CHECK(!longest(FlatZone(untouched, corner, corner.a, corner.into_a()).at(20.0)));
}

TEST_CASE("limits whose edge cannot stay sharp are told before anything is made", "[parts][sharp][faults]") {
    const auto fault = [](space::Limit first, space::Limit second) {
        EnclosureRequest request;
        request.room.limits = {std::move(first), std::move(second)};
        const Status status = check_sharp_edges(request);
        return status ? std::string() : status.error().what;
    };
    const space::Limit top{.name = "top", .plane = {{0, 0, 200}, {0, 0, 1}}};
    space::Limit side{.name = "side", .plane = {{80, 0, 0}, {1, 0, 0}}};
    CHECK(fault(top, side).empty());
    side.sharp_with = {"top"};
    CHECK(fault(top, side).empty());
    space::Limit other = side;
    other.plane.outward = unit(Vec3{0.1, 0, 1});
    CHECK_THAT(fault(top, other), Catch::Contains("meet at 174.3 deg"));
    other.plane.outward = unit(Vec3{0.1, 0, -1});
    CHECK_THAT(fault(top, other), Catch::Contains("meet at 5.7 deg"));
    other = side;
    other.sharp_with = {"tip"};
    CHECK_THAT(fault(top, other), Catch::Contains("'tip', which is no other limit"));
    space::Limit sharp = top;
    sharp.edges = space::LimitEdges::SharpOutside;
    CHECK_THAT(fault(sharp, side), Catch::Contains("all edges of 'top' are sharp already"));
}
