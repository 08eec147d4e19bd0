// The air in shapes that others made, and the inside of outsides, in closed form.
#include "geom/measure/shape_air.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/shape_volume.h"
#include "tests/measure/shapes.h"

#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>

using namespace geom;
using namespace geom::measure;
using shapes::kPi;
using shapes::require;

namespace {

TriMesh mesh_of(const TopoDS_Shape& shape, double chord = 0.02) {
    return require(tessellate(to_brep(shape), Length::mm(chord), Context{}));
}

}  // namespace

TEST_CASE("the air of a box with openings, each closed flush with the inner face", "[shape_air]") {
    TopoDS_Shape box = shapes::cut(shapes::box({0, 0, 0}, {320, 220, 120}), shapes::box({12, 12, 12}, {308, 208, 108}));
    box = shapes::cut(box, shapes::cylinder({100, 100, -1}, {0, 0, 1}, 40, 20));
    box = shapes::cut(box, shapes::cylinder({305, 150, 60}, {1, 0, 0}, 15, 20));
    const gp_Trsf motion = shapes::skew_motion();
    const TriMesh mesh = mesh_of(shapes::moved(box, motion));
    const auto at = [&](double x, double y, double z) { return shapes::moved(Point3{x, y, z}, motion); };
    const Point3 inside = at(200, 100, 60);
    // The points lie a little off the holes' middles, one at the outer end.
    const auto air = require(air_of_shape(mesh, inside, {{at(98, 103, 0), 85}, {at(312, 151, 61), 34}}, Context{}));
    CHECK(air.volume.mm3() == Approx(5569536.0).epsilon(2e-6));
    CHECK(std::abs((air.by_lids - air.volume).mm3()) <= air.bound.mm3());
    REQUIRE(air.closed.size() == 2);
    CHECK(air.closed[0].area_mm2 == Approx(kPi * 1600).epsilon(2e-3));
    CHECK(air.closed[1].area_mm2 == Approx(kPi * 225).epsilon(5e-3));
    CHECK(distance(air.closed[0].plane.point, at(100, 100, 12)) < 0.05);
    const auto exact =
        require(air_of_breps({{"box", to_brep(shapes::moved(box, motion))}}, inside,
                             {{at(98, 103, 0), 85}, {at(312, 151, 61), 34}}, Length::mm(0.05), Context{}));
    REQUIRE(exact);
    CHECK(exact->volume.mm3() == Approx(5569536.0).epsilon(1e-9));
    CHECK(exact->closed[0].area_mm2 + exact->closed[1].area_mm2 == Approx(kPi * (1600 + 225)).epsilon(1e-9));
    // One opening unnamed, a point in the material, an opening where none is.
    CHECK_FALSE(air_of_shape(mesh, inside, {{at(100, 100, 6), 85}}, Context{}));
    CHECK_FALSE(air_of_shape(mesh, at(6, 100, 60), {{at(100, 100, 6), 85}}, Context{}));
    const auto none = air_of_shape(mesh, inside, {{at(100, 100, 6), 85}, {at(200, 214, 60), 30}}, Context{});
    REQUIRE_FALSE(none);
    CHECK_THAT(none.error().what, Catch::Contains("no face that looks at the air"));
}

TEST_CASE("openings in the wall of a tube, a cone and a ball are closed by the wall continued", "[shape_air]") {
    const gp_Trsf motion = shapes::skew_motion();
    const auto at = [&](double x, double y, double z) { return shapes::moved(Point3{x, y, z}, motion); };
    const gp_Ax2 up(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), on_floor(gp_Pnt(0, 0, 10), gp_Dir(0, 0, 1));
    struct Case {
        const char* name;
        const char* kind;
        TopoDS_Shape outer, inner;
        double mm3;
        double lip;  // about where the hole ends, along x
    };
    for (const Case& c : {Case{"tube", "cylinder", shapes::cylinder({0, 0, 0}, {0, 0, 1}, 100, 200),
                               shapes::cylinder({0, 0, 10}, {0, 0, 1}, 90, 180), kPi * 8100 * 180, 90},
                          Case{"cone", "cone", BRepPrimAPI_MakeCone(up, 120, 80, 200).Shape(),
                               BRepPrimAPI_MakeCone(on_floor, 106, 70, 180).Shape(),
                               kPi * 180 * (106 * 106 + 106 * 70 + 70 * 70) / 3.0, 88},
                          Case{"ball", "sphere", BRepPrimAPI_MakeSphere(gp_Pnt(0, 0, 100), 100).Shape(),
                               BRepPrimAPI_MakeSphere(gp_Pnt(0, 0, 100), 90).Shape(), 4.0 / 3.0 * kPi * 729000, 90}}) {
        for (const double radius : {12.0, 40.0}) {
            INFO(c.name << " with a hole of " << radius);
            const TopoDS_Shape hollow = shapes::cut(c.outer, c.inner);
            // Off the seam, which lies at x > 0.
            const TopoDS_Shape box = shapes::cut(hollow, shapes::cylinder({0, 0, 100}, {-1, 0.3, 0}, radius, 150));
            const double far = c.lip / std::hypot(1.0, 0.3);
            const std::vector<AskedOpening> openings{{at(-far, 0.3 * far, 100), 2.2 * radius}};
            const TriMesh mesh = mesh_of(shapes::moved(box, motion), 0.02);
            const ShapeAir air = require(air_of_shape(mesh, at(0, 0, 90), openings, Context{}));
            const double chord_mm3 = 0.02 * air.wall.mm2();
            CAPTURE(air.volume.mm3() / c.mm3 - 1.0, air.by_lids.mm3() / c.mm3 - 1.0, air.bound.mm3() / c.mm3);
            CHECK(std::abs(air.volume.mm3() - c.mm3) <= chord_mm3);
            CHECK(std::abs(air.volume.mm3() - c.mm3) <= 4e-4 * c.mm3);
            CHECK(std::abs((air.by_lids - air.volume).mm3()) <= air.bound.mm3());
            REQUIRE(air.closed.size() == 1);
            CHECK_THAT(air.closed[0].how, Catch::Contains(c.kind));
            CHECK(air.closed[0].area_mm2 >= 0.999 * kPi * radius * radius);
            CHECK_FALSE(air_of_shape(mesh, at(0, 0, 90), {}, Context{}));
            // By the faces themselves it is exact.
            const std::vector<NamedBrep> brep{{c.name, to_brep(shapes::moved(box, motion))}};
            const auto exact = require(air_of_breps(brep, at(0, 0, 90), openings, Length::mm(0.05), Context{}));
            REQUIRE(exact);
            CHECK(exact->volume.mm3() == Approx(c.mm3).epsilon(1e-9));
            REQUIRE(exact->closed.size() == 1);
            CHECK_THAT(exact->closed[0].how, Catch::Contains(c.kind));
            CHECK(exact->closed[0].area_mm2 == Approx(air.closed[0].area_mm2).epsilon(2e-3));
            CHECK(dot(exact->closed[0].plane.outward, air.closed[0].plane.outward) > 0.999);
            // Nothing asked for, the hole is found.
            const auto found = require(air_of_breps(brep, at(0, 0, 90), {}, Length::mm(0.05), Context{}));
            REQUIRE(found);
            CHECK(found->volume.mm3() == Approx(c.mm3).epsilon(1e-9));
            CHECK(found->closed.size() == 1);
        }
    }
}

TEST_CASE("openings of a STEP solid are found: holes that lead outside, not those that end in the wall",
          "[shape_air]") {
    TopoDS_Shape box = shapes::cut(shapes::box({0, 0, 0}, {320, 220, 120}), shapes::box({12, 12, 12}, {308, 208, 108}));
    box = shapes::cut(box, shapes::cylinder({100, 100, -1}, {0, 0, 1}, 40, 20));
    box = shapes::cut(box, shapes::cylinder({305, 150, 60}, {1, 0, 0}, 15, 20));
    // Blind from inside: air. Blind from outside, one with a step: none of it.
    box = shapes::cut(box, shapes::cylinder({200, 60, 5}, {0, 0, 1}, 4, 10));
    box = shapes::cut(box, shapes::cylinder({200, 160, -1}, {0, 0, 1}, 4, 6));
    box = shapes::cut(box, shapes::cylinder({200, 160, -1}, {0, 0, 1}, 2, 9));
    const std::vector<NamedBrep> brep{{"box", to_brep(shapes::moved(box, shapes::skew_motion()))}};
    const auto at = [&](double x, double y, double z) { return shapes::moved(Point3{x, y, z}, shapes::skew_motion()); };
    const auto air = require(air_of_breps(brep, at(200, 100, 60), {}, Length::mm(0.05), Context{}));
    REQUIRE(air);
    CHECK(air->volume.mm3() == Approx(5569536.0 + kPi * 16 * 7).epsilon(1e-9));
    REQUIRE(air->closed.size() == 2);
    CHECK(air->closed[0].area_mm2 + air->closed[1].area_mm2 == Approx(kPi * (1600 + 225)).epsilon(1e-9));
    // A closed void has no opening; a point in no hollow has no air.
    const std::vector<NamedBrep> sealed{{"sealed", to_brep(shapes::cut(shapes::box({0, 0, 0}, {100, 100, 100}),
                                                                       shapes::box({10, 10, 10}, {90, 90, 90})))}};
    const auto tight = require(air_of_breps(sealed, {50, 50, 50}, {}, Length::mm(0.05), Context{}));
    REQUIRE(tight);
    CHECK(tight->volume.mm3() == Approx(512000.0).epsilon(1e-12));
    CHECK(tight->closed.empty());
    CHECK_FALSE(require(air_of_breps(sealed, {150, 50, 50}, {}, Length::mm(0.05), Context{})));
}

TEST_CASE("an opening over the seam of a tube is closed like any other", "[shape_air]") {
    TopoDS_Shape tube =
        shapes::cut(shapes::cylinder({0, 0, 0}, {0, 0, 1}, 100, 200), shapes::cylinder({0, 0, 10}, {0, 0, 1}, 90, 180));
    tube = shapes::cut(tube, shapes::cylinder({0, 0, 100}, {1, 0, 0}, 30, 150));
    const std::vector<AskedOpening> openings{{{90, 0, 100}, 66}};
    const double mm3 = kPi * 8100 * 180;
    const auto by_faces = require(air_of_breps({{"tube", to_brep(tube)}}, {0, 0, 90}, openings, Length::mm(0.02), {}));
    if (by_faces) CHECK(by_faces->volume.mm3() == Approx(mm3).epsilon(1e-9));
    const ShapeAir air = require(air_of_shape(mesh_of(tube), {0, 0, 90}, openings, Context{}));
    CHECK(std::abs(air.volume.mm3() - mm3) <= 0.02 * air.wall.mm2());
    CHECK_THAT(air.closed.at(0).how, Catch::Contains("cylinder"));
}

TEST_CASE("the air of a surface without thickness is closed by lids over its borders", "[shape_air]") {
    TriMesh mesh = mesh_of(shapes::box({0, 0, 0}, {300, 200, 100}), 1.0);
    std::erase_if(mesh.triangles, [&](const auto& t) {
        return mesh.vertices[t[0]].z > 99 && mesh.vertices[t[1]].z > 99 && mesh.vertices[t[2]].z > 99;
    });
    const auto air = require(air_of_shape(mesh, {10, 10, 10}, {{{140, 110, 100}, 400}}, Context{}));
    CHECK(air.volume.mm3() == Approx(6e6).epsilon(1e-6));
    REQUIRE(air.closed.size() == 1);
    CHECK(air.closed[0].area_mm2 == Approx(60000).epsilon(1e-6));
    CHECK(air.closed[0].plane.outward.z == Approx(1.0));
    CHECK_FALSE(air_of_shape(mesh, {10, 10, 10}, {{{140, 110, 900}, 400}}, Context{}));
    CHECK_FALSE(air_of_shape(mesh, {-10, 10, 10}, {}, Context{}));
}

TEST_CASE("a border within a bent sheet is closed by the sheet continued, one at its end by a lid", "[shape_air]") {
    // A closed tube of no thickness, with a hole of 30 in its side and its upper end open.
    const TriMesh whole = mesh_of(shapes::cut(shapes::cylinder({0, 0, 0}, {0, 0, 1}, 90, 180),
                                              shapes::cylinder({-50, 0, 100}, {-1, 0, 0}, 30, 100)));
    TriMesh sheet = whole;
    std::erase_if(sheet.triangles, [&](const auto& t) {
        bool top = true, pocket = true;
        for (const std::uint32_t v : t) {
            const Point3 p = whole.vertices[v];
            top = top && p.z > 179.999;
            pocket = pocket && p.x < 0 && std::hypot(p.y, p.z - 100) < 30.001;
        }
        return top || pocket;
    });
    const std::vector<AskedOpening> openings{{{-88, 0, 100}, 66}, {{0, 0, 180}, 185}};
    const ShapeAir air = require(air_of_shape(sheet, {0, 0, 50}, openings, Context{}));
    const double mm3 = kPi * 8100 * 180;
    CAPTURE(air.volume.mm3() / mm3 - 1, air.by_lids.mm3() / mm3 - 1);
    CHECK(std::abs(air.volume.mm3() - mm3) <= 0.02 * air.wall.mm2());
    // Flat lids would lack a cap: about pi r^4/(8 R) of its depth over the hole.
    CHECK((air.volume - air.by_lids).mm3() == Approx(kPi * 810000 / (8 * 90)).epsilon(0.1));
    CHECK((air.volume - air.by_lids) <= air.bound);
    REQUIRE(air.closed.size() == 2);
    for (const ClosedOpening& c : air.closed)
        CHECK_THAT(c.how, Catch::Contains(c.plane.point.z > 150 ? "lid over a border" : "cylinder"));
}

TEST_CASE("the inside of an outside of a given wall", "[shape_air]") {
    struct Case {
        const char* name;
        TopoDS_Shape shape;
        double wall, inside_mm3;
    };
    for (const Case& c : {
             Case{"box", shapes::box({0, 0, 0}, {300, 200, 100}), 12, 3691776.0},
             Case{"ball", BRepPrimAPI_MakeSphere(50.0).Shape(), 7, 4.0 / 3.0 * kPi * 43 * 43 * 43},
             Case{"cylinder", shapes::cylinder({0, 0, 0}, {0, 0, 1}, 50, 120), 5, kPi * 45 * 45 * 110},
         }) {
        INFO(c.name);
        const TriMesh mesh = mesh_of(shapes::moved(c.shape, shapes::skew_motion()), 0.03);
        const InsideOfWall in = require(inside_of_wall(mesh, Length::mm(c.wall), Context{}));
        const double chord_mm3 = 0.03 * 6 * in.inside.mm3() / 50;
        CAPTURE(in.inside.mm3() / c.inside_mm3 - 1, in.uncertainty.mm3() / c.inside_mm3);
        CHECK(std::abs(in.inside.mm3() - c.inside_mm3) <= in.uncertainty.mm3() + chord_mm3);
        CHECK(in.uncertainty.mm3() < 2e-3 * c.inside_mm3);
        CHECK((in.inside + in.wall).mm3() == Approx(signed_volume_mm3(mesh)).epsilon(1e-12));
    }
    // A wall thicker than the shape leaves nothing.
    CHECK(require(inside_of_wall(mesh_of(shapes::box({0, 0, 0}, {30, 20, 10})), Length::mm(5.1), Context{}))
              .inside.mm3() == 0.0);
}
