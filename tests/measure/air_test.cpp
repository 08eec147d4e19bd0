// Boxes of planes and cylinders whose air is known in closed form; meshes of fine chords, or of planes alone.
#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"

#include <BRepPrimAPI_MakeSphere.hxx>

using namespace shapes;
using geom::FaultCode;
using geom::Plane;
using geom::measure::air_inside;
using geom::measure::air_of_mesh;
using geom::measure::merged;
using geom::measure::Opening;

namespace {

TriMesh mesh_of(const TopoDS_Shape& shape, double chord = 0.01) {
    return require(geom::measure::tessellate(geom::to_brep(shape), geom::Length::mm(chord), {}));
}

/// 200 x 160 x 120 outside, wall 6, baffle (y = 0, outward -y) 12 thick.
TopoDS_Shape hollow() {
    return cut(box({0, 0, 0}, {200, 160, 120}), box({6, 12, 6}, {194, 154, 114}));
}
constexpr double kHollow = 188.0 * 142 * 108;
constexpr Point3 kAir{100, 80, 60};
Plane baffle_at(double depth, double x = 100, double z = 60) {
    return {{x, depth, z}, {0, -1, 0}};
}
TopoDS_Shape drill(double x, double z, double radius, double depth) {
    return cylinder({x, -1, z}, {0, 1, 0}, radius, depth + 1);
}

}  // namespace

TEST_CASE("a closed void is air without any opening", "[measure][air][oracle]") {
    CHECK(require(air_inside(mesh_of(hollow()), {}, kAir)).mm3() == Approx(kHollow).epsilon(1e-9));
}

TEST_CASE("the driver's hole counts as air up to its seat", "[measure][air][oracle]") {
    const double r = 50;
    const TopoDS_Shape drilled = cut(hollow(), drill(100, 60, r, 20));
    SECTION("seat on the face") {
        const auto air = require(air_inside(mesh_of(drilled), {{"driver", baffle_at(0), r}}, kAir));
        CHECK(air.mm3() == Approx(kHollow + kPi * r * r * 12).epsilon(1e-5));
    }
    SECTION("seat in a recess") {
        const TopoDS_Shape recessed = cut(drilled, drill(100, 60, 58, 4));
        const auto air = require(air_inside(mesh_of(recessed), {{"driver", baffle_at(4), r}}, kAir));
        CHECK(air.mm3() == Approx(kHollow + kPi * r * r * 8).epsilon(1e-5));
    }
    SECTION("blind bolt holes round it change nothing, through ones are openings of their own") {
        TopoDS_Shape with_bolts = drilled;
        std::vector<Opening> openings{{"driver", baffle_at(0), r}};
        for (int i = 0; i < 4; ++i) {
            const double x = i < 2 ? 42 : 158, z = i % 3 == 0 ? 30 : 90;
            const bool through = i % 2 == 0;
            with_bolts = cut(with_bolts, drill(x, z, 2.8, through ? 20 : 8));
            // Closed flush with the inner face: the hole lies wholly before the plane.
            if (through) openings.push_back({"bolt", baffle_at(12, x, z), 2.8});
        }
        CHECK(require(air_inside(mesh_of(with_bolts), openings, kAir)).mm3() ==
              Approx(kHollow + kPi * r * r * 12).epsilon(1e-5));
        // Closed at the outer face their holes are air as well.
        for (std::size_t i = 1; i < openings.size(); ++i) openings[i].plane.point.y = 0;
        CHECK(require(air_inside(mesh_of(with_bolts), openings, kAir)).mm3() ==
              Approx(kHollow + kPi * r * r * 12 + 2 * kPi * 2.8 * 2.8 * 12).epsilon(1e-5));
        // One opening wide enough for all of them does the same.
        CHECK(require(air_inside(mesh_of(with_bolts), {{"all", baffle_at(0), 75}}, kAir)).mm3() ==
              Approx(kHollow + kPi * r * r * 12 + 2 * kPi * 2.8 * 2.8 * 12).epsilon(1e-5));
        // Left out, they let the air out.
        const auto leaky = air_inside(mesh_of(with_bolts), {{"driver", baffle_at(0), r}}, kAir);
        REQUIRE_FALSE(leaky.has_value());
        CHECK(leaky.error().code == FaultCode::NotSound);
        CHECK(leaky.error().what == "air: no hollow of the mesh encloses the air's point once its openings are capped");
    }
    SECTION("moved and turned") {
        const gp_Trsf motion = skew_motion();
        const Plane plane{moved(baffle_at(0).point, motion), turned(baffle_at(0).outward, motion)};
        CHECK(require(air_inside(mesh_of(moved(drilled, motion)), {{"driver", plane, r}}, moved(kAir, motion))).mm3() ==
              Approx(kHollow + kPi * r * r * 12).epsilon(1e-5));
    }
}

TEST_CASE("a terminal hole is closed at its plane within the wall", "[measure][air][oracle]") {
    // Through the side wall x = 200, capped 2 mm under its outer face.
    const TopoDS_Shape part = cut(cut(hollow(), drill(100, 60, 50, 20)), cylinder({180, 90, 50}, {1, 0, 0}, 10, 40));
    const std::vector<Opening> openings{{"driver", baffle_at(0), 50}, {"terminal", {{198, 90, 50}, {1, 0, 0}}, 10}};
    const auto air = require(air_of_mesh(mesh_of(part), openings, kAir));
    CHECK(air.volume.mm3() == Approx(kHollow + kPi * 2500 * 12 + kPi * 100 * 4).epsilon(1e-5));
    CHECK(air.loops == 2);
    // What faces the air: walls of box and holes, no caps.
    const double inside = 2 * (188.0 * 142 + 188.0 * 108 + 142.0 * 108), holes = kPi * 2500 + kPi * 100;
    CHECK(geom::measure::measure_mesh(air.wall_side).area.mm2() ==
          Approx(inside - holes + 2 * kPi * 50 * 12 + 2 * kPi * 10 * 4).epsilon(1e-4));
}

TEST_CASE("shell and separate baffle hold their air together", "[measure][air][oracle]") {
    // Shell open at y = 12 with a flange 5 thick that leaves a mouth of 150 x 80; plate 12 thick with the cut-out.
    const TopoDS_Shape shell =
        cut(cut(box({0, 12, 0}, {200, 160, 120}), box({6, 17, 6}, {194, 154, 114})), box({25, 0, 20}, {175, 50, 100}));
    TopoDS_Shape plate = cut(box({0, 0, 0}, {200, 12, 120}), drill(100, 60, 35, 20));
    TopoDS_Shape holed = shell;
    // Screw holes: through the plate, blind or through in the flange.
    std::vector<Opening> screws;
    for (const double x : {12.0, 188.0}) {
        plate = cut(plate, drill(x, 60, 2.25, 20));
        holed = cut(holed, cylinder({x, 5, 60}, {0, 1, 0}, 2.0, x < 100 ? 9.0 : 20.0));
    }
    screws.push_back({"screw", {{188, 17, 60}, {0, -1, 0}}, 2.0});
    const double air_mm3 = 188.0 * 137 * 108 + 150.0 * 80 * 5 + kPi * 35 * 35 * 12;
    SECTION("given as one mesh with the plane where they touch") {
        std::vector<Opening> openings{{"mouth", {{100, 12, 60}, {0, -1, 0}}, 90, true}, {"driver", baffle_at(0), 35}};
        openings.insert(openings.end(), screws.begin(), screws.end());
        const TriMesh both = merged({mesh_of(holed), mesh_of(plate)});
        CHECK(require(air_inside(both, openings, kAir)).mm3() == Approx(air_mm3).epsilon(1e-5));
        // The order of products and openings does not matter.
        std::reverse(openings.begin(), openings.end());
        CHECK(require(air_inside(merged({mesh_of(plate), mesh_of(holed)}), openings, kAir)).mm3() ==
              Approx(air_mm3).epsilon(1e-5));
    }
    SECTION("given piece by piece") {
        std::vector<Opening> mouth{{"mouth", {{100, 12, 60}, {0, -1, 0}}, 90}};
        mouth.insert(mouth.end(), screws.begin(), screws.end());
        const double behind = require(air_inside(mesh_of(holed), mouth, kAir)).mm3();
        const double hole =
            require(air_inside(mesh_of(plate), {{"seat", baffle_at(0), 35}, {"back", {{100, 12, 60}, {0, 1, 0}}, 35}},
                               {100, 6, 60}))
                .mm3();
        CHECK(behind + hole == Approx(air_mm3).epsilon(1e-5));
    }
}

TEST_CASE("a solid that stands free in the air is taken off", "[measure][air][oracle]") {
    const TopoDS_Shape drilled = cut(hollow(), drill(100, 60, 50, 20));
    const TriMesh both = merged({mesh_of(drilled), mesh_of(box({60, 60, 40}, {90, 100, 55}))});
    CHECK(require(air_inside(both, {{"driver", baffle_at(0), 50}}, kAir)).mm3() ==
          Approx(kHollow + kPi * 2500 * 12 - 30.0 * 40 * 15).epsilon(1e-5));
}

TEST_CASE("of two hollows the one that holds the point is taken", "[measure][air]") {
    const TopoDS_Shape part = cut(cut(box({0, 0, 0}, {200, 100, 100}), box({10, 10, 10}, {90, 90, 90})),
                                  BRepPrimAPI_MakeSphere(gp_Pnt(150, 50, 50), 30).Shape());
    const TriMesh mesh = mesh_of(part);
    CHECK(require(air_inside(mesh, {}, {50, 50, 50})).mm3() == Approx(512000.0).epsilon(1e-9));
    CHECK(require(air_inside(mesh, {}, {150, 50, 50})).mm3() == Approx(4.0 / 3 * kPi * 27000).epsilon(1e-3));
    CHECK_FALSE(air_inside(mesh, {}, {5, 50, 50}).has_value());   // in the wall
    CHECK_FALSE(air_inside(mesh, {}, {-5, 50, 50}).has_value());  // outside
}

TEST_CASE("an opening that is not there is named", "[measure][air][fault]") {
    const TriMesh mesh = mesh_of(cut(hollow(), drill(100, 60, 50, 20)), 0.1);
    const auto result =
        air_inside(mesh, {{"driver", baffle_at(0), 50}, {"terminal", {{198, 90, 50}, {1, 0, 0}}, 10}}, kAir);
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().code == FaultCode::NotSound);
    CHECK(result.error().what == "opening \"terminal\": the mesh has no closed loop at its plane within 10.0 mm");
    CHECK(result.error().where == Point3{198, 90, 50});
}

TEST_CASE("the air of an open mesh is not measured", "[measure][air][fault]") {
    TriMesh mesh = mesh_of(cut(hollow(), drill(100, 60, 50, 20)), 0.1);
    // A facet of the inner wall is missing.
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        if (mesh.corner(t, 0).x == 6 && mesh.corner(t, 1).x == 6 && mesh.corner(t, 2).x == 6) {
            mesh.triangles.erase(mesh.triangles.begin() + static_cast<std::ptrdiff_t>(t));
            break;
        }
    const auto result = air_inside(mesh, {{"driver", baffle_at(0), 50}}, kAir);
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().code == FaultCode::NotSound);
    CHECK(result.error().what == "air: the mesh round it is not closed");
}
