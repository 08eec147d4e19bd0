#include "geom/space/internal/keep_out.h"
#include "tests/space/scene.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::space;

namespace {

TriMesh box_mesh(Point3 lo, Point3 hi) {
    TriMesh m;
    for (int c = 0; c < 8; ++c)
        m.vertices.push_back({(c & 1) ? hi.x : lo.x, (c & 2) ? hi.y : lo.y, (c & 4) ? hi.z : lo.z});
    m.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                   {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    return m;
}

double distance_to(const KeepOutShape& shape, Point3 p) {
    auto d = internal::shape_distance({"it", shape, Length::mm(0), true});
    REQUIRE(d);
    return (*d)->at(p);
}

}  // namespace

TEST_CASE("keep-out shapes have their closed-form distances, negative inside", "[space][keep-out][oracle]") {
    const BoxShape box{{-10, 0, 5}, {10, 20, 45}};
    CHECK(distance_to(box, {13, 24, 30}) == Approx(5.0));
    CHECK(distance_to(box, {0, 10, 7}) == Approx(-2.0));
    const SphereShape sphere{{1, 2, 3}, 10};
    CHECK(distance_to(sphere, {1, 2, 18}) == Approx(5.0));
    CHECK(distance_to(sphere, {1, 2, 3}) == Approx(-10.0));
    const CylinderShape rod{{0, 0, 0}, {0, 0, 100}, 10};
    CHECK(distance_to(rod, {13, 0, 104}) == Approx(5.0));  // round the rim
    CHECK(distance_to(rod, {0, 0, 97}) == Approx(-3.0));   // flat end
    CHECK(distance_to(rod, {0, 12, 50}) == Approx(2.0));
}

TEST_CASE("a closed mesh keeps the same distance as the shape it draws", "[space][keep-out][oracle]") {
    const Point3 lo{-10, 0, 5}, hi{10, 20, 45};
    auto mesh = internal::shape_distance({"it", box_mesh(lo, hi), Length::mm(0), true});
    auto box = internal::shape_distance({"it", BoxShape{lo, hi}, Length::mm(0), true});
    REQUIRE(mesh);
    REQUIRE(box);
    Random random(3);
    for (int q = 0; q < 500; ++q) {
        const Point3 p{random.uniform(-30, 30), random.uniform(-20, 40), random.uniform(-15, 65)};
        CHECK((*mesh)->at(p) == Approx((*box)->at(p)).margin(1e-9));
    }
    auto inverted = internal::shape_distance({"it", reversed(box_mesh(lo, hi)), Length::mm(0), true});
    REQUIRE(inverted);
    CHECK((*inverted)->at({0, 10, 25}) == Approx(-10.0));
}

TEST_CASE("the least distance on a half-line is what steps along it find", "[space][keep-out][oracle]") {
    Random random(11);
    for (const KeepOutShape& shape :
         {KeepOutShape(BoxShape{{-10, 0, 5}, {10, 20, 45}}), KeepOutShape(SphereShape{{1, 2, 3}, 10}),
          KeepOutShape(CylinderShape{{0, 0, 0}, {20, 10, 100}, 10})}) {
        auto d = internal::shape_distance({"it", shape, Length::mm(0), true});
        REQUIRE(d);
        for (int q = 0; q < 100; ++q) {
            const Point3 p{random.uniform(-60, 60), random.uniform(-60, 60), random.uniform(-60, 130)};
            const Vec3 way = unit({random.uniform(-1, 1), random.uniform(-1, 1), random.uniform(-1, 1)});
            double least = 1e300;
            for (double s = 0.0; s < 400.0; s += 0.02) least = std::min(least, (*d)->at(p + way * s));
            const double found = internal::least_on_half_line(**d, p, way);
            CHECK(found == Approx(least).margin(0.02));
        }
    }
}

TEST_CASE("keep-outs without sense are refused by name", "[space][keep-out][fault]") {
    const auto fault_of = [](KeepOutShape shape) {
        auto d = internal::shape_distance({"belt", std::move(shape), Length::mm(0), true});
        REQUIRE_FALSE(d);
        CHECK(d.error().code == FaultCode::BadJob);
        return d.error().what;
    };
    CHECK(fault_of(BoxShape{{0, 0, 0}, {10, -5, 10}}) ==
          "keep-out 'belt': a box of 10.0 x -5.0 x 10.0 mm, wanted min below max on every axis");
    CHECK(fault_of(SphereShape{{0, 0, 0}, -1}) ==
          "keep-out 'belt': a sphere of radius -1.0 mm, wanted a radius above zero");
    CHECK(fault_of(CylinderShape{{0, 0, 0}, {0, 0, 0}, 4}) ==
          "keep-out 'belt': a cylinder of radius 4.0 and length 0.0 mm, wanted both above zero");
    CHECK(fault_of(TriMesh{}) == "keep-out 'belt': a mesh without triangles, wanted a closed mesh");
    TriMesh open = box_mesh({0, 0, 0}, {1, 1, 1});
    open.triangles.pop_back();
    CHECK(fault_of(open) == "keep-out 'belt': a mesh with 3 open edges, wanted a closed mesh");
}
