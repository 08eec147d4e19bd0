#include "geom/space/field.h"
#include "geom/core/checks.h"
#include "tests/space/fields.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::space;

TEST_CASE("the box frame looks into the box and is right-handed for every baffle", "[space][frame][property]") {
    const Vec3 outward =
        GENERATE(Vec3{0, -1, 0}, Vec3{0.2, -0.9, 0.3}, Vec3{0, 0, 1}, Vec3{1, 0, 0}, Vec3{0.1, 0.05, -1});
    const Frame f = box_frame({{10, 20, 30}, unit(outward)}, {0, 0, 1});
    CHECK(f.origin == Point3{10, 20, 30});
    CHECK(norm(f.y + unit(outward)) < 1e-12);
    CHECK(norm(f.x - cross(f.y, f.z)) < 1e-12);
    CHECK(std::abs(dot(f.y, f.z)) < 1e-12);
    CHECK(std::abs(norm(f.z) - 1.0) < 1e-12);
    if (std::abs(outward.z) < 0.5) CHECK(f.z.z > 0.0);
}

TEST_CASE("a field that is linear is sampled and differentiated exactly", "[space][field][oracle]") {
    GridSpec g = test::grid_about_origin({20, 30, 25}, 2.0);
    g.vehicle_from_box = {{5, -7, 9}, {0, 1, 0}, {-1, 0, 0}, {0, 0, 1}};
    const Field f = test::sampled(g, [](Point3 p) { return 0.5 * p.x - 0.25 * p.y + 0.125 * p.z + 3.0; });
    const Point3 p{3.3, -4.7, 8.1};
    CHECK(f.at_box(p) == Approx(0.5 * p.x - 0.25 * p.y + 0.125 * p.z + 3.0).margin(1e-5));
    CHECK(f.at(g.vehicle_from_box.to_parent(p)) == Approx(f.at_box(p)).margin(1e-5));
    CHECK(norm(f.gradient_box(p) - Vec3{0.5, -0.25, 0.125}) < 1e-5);
}

TEST_CASE("outside its grid a field keeps the value at its border", "[space][field]") {
    const GridSpec g = test::grid_about_origin({10, 10, 10}, 2.0);
    const Field f = test::sampled(g, [](Point3 p) { return p.x; });
    CHECK(f.at_box({1000, 0, 0}) == Approx(g.node(g.nx - 1, 0, 0).x));
    CHECK(f.at_box({-1000, 0, 0}) == Approx(g.lo.x));
}
