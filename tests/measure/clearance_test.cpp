// Oracles: closed forms against balls and boxes; brute force over all triangles, and over steps of the way in.
#include "tests/measure/shapes.h"

#include "geom/core/parallel.h"
#include "geom/core/random.h"
#include "geom/core/triangle.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/clearance.h"
#include "geom/measure/mesh_measure.h"

#include <BRepPrimAPI_MakeSphere.hxx>

using namespace shapes;
using namespace geom::measure;

namespace {

TriMesh mesh_of(const TopoDS_Shape& shape, double chord = 0.05) {
    return require(tessellate(geom::to_brep(shape), geom::Length::mm(chord), {}));
}

std::vector<Point3> points_about(geom::Random& random, std::size_t count, double reach) {
    std::vector<Point3> points;
    for (std::size_t i = 0; i < count; ++i)
        points.push_back({random.uniform(-reach, reach), random.uniform(-reach, reach), random.uniform(-reach, reach)});
    return points;
}

double brute(const TriMesh& mesh, Point3 p) {
    double least = 1e300;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        least = std::min(
            least, geom::distance(p, closest_on_triangle(p, mesh.corner(t, 0), mesh.corner(t, 1), mesh.corner(t, 2))));
    return least;
}

}  // namespace

TEST_CASE("the closest point of a triangle is no farther than any point sampled on it", "[measure][tree][property]") {
    geom::Random random(7);
    for (int round = 0; round < 300; ++round) {
        const TriMesh one = scattered(random, 1, 10, round % 3 == 0 ? 0.3 : 12);
        const Point3 a = one.vertices[0], b = one.vertices[1], c = one.vertices[2];
        const Point3 p = points_about(random, 1, 20)[0];
        const Point3 foot = closest_on_triangle(p, a, b, c);
        const double d = geom::distance(p, foot);
        double sampled = 1e300;
        for (int i = 0; i <= 60; ++i)
            for (int j = 0; i + j <= 60; ++j)
                sampled = std::min(sampled, geom::distance(p, a + (b - a) * (i / 60.0) + (c - a) * (j / 60.0)));
        REQUIRE(d <= sampled + 1e-12);
        REQUIRE(sampled <= d + 0.6);
    }
}

TEST_CASE("the tree finds what brute force finds", "[measure][tree][oracle]") {
    geom::Random random(11);
    for (const int count : {0, 1, 2, 4, 5, 9, 33, 500, 20000}) {
        const TriMesh mesh = scattered(random, count, 100, 8);
        const TriangleTree tree(mesh);
        REQUIRE(tree.size() == static_cast<std::size_t>(count));
        for (const Point3& p : points_about(random, count > 1000 ? 10 : 60, 130)) {
            const Nearest found = tree.nearest(p);
            if (count == 0) {
                CHECK_FALSE(found.is_found());
                continue;
            }
            const double expected = brute(mesh, p);
            REQUIRE(found.distance_mm == Approx(expected).epsilon(1e-12));
            REQUIRE(geom::distance(p, found.at) == Approx(expected).epsilon(1e-9));
            REQUIRE_FALSE(tree.nearest(p, 0.99 * expected).is_found());
            REQUIRE(tree.nearest(p, 1.01 * expected).is_found());
        }
    }
}

TEST_CASE("the half-line's distance is the least along finely stepped ways", "[measure][tree][oracle]") {
    geom::Random random(23);
    for (int round = 0; round < 20; ++round) {
        const TriMesh mesh = scattered(random, 40, 60, 10);
        const Vec3 way = geom::unit(points_about(random, 1, 1)[0]);
        const RayTree tree(mesh, way);
        for (const Point3& p : points_about(random, 25, 80)) {
            const Nearest found = tree.nearest(p);
            double stepped = 1e300;
            for (double s = 0; s < 320; s += 0.25) stepped = std::min(stepped, brute(mesh, p + way * s));
            REQUIRE(found.distance_mm <= stepped + 1e-9);
            REQUIRE(stepped <= found.distance_mm + 0.126);
            REQUIRE(brute(mesh, found.at) < 1e-9);
        }
    }
}

TEST_CASE("a ray out of a closed mesh meets it an odd number of times", "[measure][tree]") {
    const TriMesh ball = mesh_of(BRepPrimAPI_MakeSphere(60).Shape());
    const TriangleTree tree(ball);
    geom::Random random(5);
    for (const Point3& p : points_about(random, 400, 70)) {
        if (std::abs(geom::norm(p) - 60) < 0.2) continue;
        REQUIRE((tree.crossings(p, {0.3, 0.5, 0.81}) % 2 == 1) == (geom::norm(p) < 60));
    }
    CHECK(tree.first_hit({0, 0, 0}, {1, 0, 0}) == Approx(60).margin(0.06));
    CHECK(tree.first_hit({100, 0, 0}, {-1, 0, 0}) == Approx(40).margin(0.06));
    CHECK(tree.first_hit({100, 0, 0}, {1, 0, 0}) == std::numeric_limits<double>::infinity());
}

TEST_CASE("least clearance and its place, standing and going in", "[measure][clearance][oracle]") {
    const TriMesh part = mesh_of(box({0, 0, 0}, {100, 80, 60}));
    const TriangleTree tree(part);
    // Walls 5 mm off the sides, floor 7 mm off, and a lip over the front that the part must pass at 2 mm.
    std::vector<Point3> points;
    for (double y = 0; y <= 80; y += 2)
        for (double z = 0; z <= 60; z += 2) {
            points.push_back({-5, y, z});
            points.push_back({105, y, z});
        }
    for (double x = 0; x <= 100; x += 2) points.push_back({x, 40, -7});
    points.push_back({40, 30, 64.5});  // nearest standing
    const std::size_t lip = points.size();
    points.push_back({50, -30, 62});  // before the mouth, above the way
    const Clearance standing = least_clearance(tree, points);
    CHECK(standing.least_mm == Approx(4.5));
    CHECK(standing.point == Point3{40, 30, 64.5});
    CHECK(geom::distance(standing.part_at, {40, 30, 60}) < 1e-9);
    // Goes in along +y.
    const RayTree way(part, {0, 1, 0});
    const Clearance going_in = least_clearance_going_in(way, points, standing.least_mm);
    CHECK(going_in.least_mm == Approx(2.0));
    CHECK(going_in.index == lip);
    // From the other side the lip is behind, never passed.
    const RayTree other(part, {0, -1, 0});
    CHECK(least_clearance_going_in(other, points, standing.least_mm).least_mm == Approx(4.5));
    // Left out, it does not count.
    CHECK(least_clearance_going_in(way, points, 10.0, [&](std::size_t i) { return i != lip; }).least_mm == Approx(4.5));
    // A point in the way is met.
    points.push_back({50, -30, 20});
    CHECK(least_clearance_going_in(way, points, standing.least_mm).least_mm == 0.0);
    CHECK(least_clearance(tree, points).least_mm == Approx(4.5));
}

TEST_CASE("clearance does not depend on the number of threads or on ties", "[measure][clearance][property]") {
    const TriMesh part = mesh_of(box({0, 0, 0}, {100, 80, 60}));
    std::vector<Point3> points;
    for (int i = 0; i < 30000; ++i) points.push_back({-5, 10 + 0.001 * (i % 1000), 30});  // all equally near
    const auto ask = [&] { return least_clearance(TriangleTree(part), points); };
    const Clearance all = ask();
    const geom::ThreadLimit one(1);
    const Clearance single = ask();
    CHECK(all.index == single.index);
    CHECK(all.least_mm == single.least_mm);
    CHECK(all.index == 0);
}

TEST_CASE("points nearer than a limit are counted, those inside as negative", "[measure][clearance][oracle]") {
    const TriangleTree ball(mesh_of(BRepPrimAPI_MakeSphere(60).Shape(), 0.01));
    std::vector<Point3> points{{64.5, 0, 0}, {0, 63, 0}, {0, 0, 50}, {90, 0, 0}, {0, 0, 0}};
    const auto near = points_nearer(ball, ball, points, 4.0);
    REQUIRE(near.size() == 3);
    CHECK(near[0].index == 4);
    CHECK(near[0].distance_mm == Approx(-60).margin(0.03));
    CHECK(near[1].index == 2);
    CHECK(near[1].distance_mm == Approx(-10).margin(0.03));
    CHECK(near[2].index == 1);
    CHECK(near[2].distance_mm == Approx(3).margin(0.03));
}

TEST_CASE("the least of a distance over a mesh is found inside its triangles", "[measure][clearance][oracle]") {
    // The nearest place of a box's large faces to a ball lies far from every vertex.
    const TriMesh part = mesh_of(box({0, 0, 0}, {300, 200, 100}));
    const Point3 centre{150, 83, 140};
    const auto least = least_on_mesh(part, [&](Point3 p) { return geom::distance(p, centre) - 25; });
    CHECK(least.value == Approx(15.0).margin(0.11));
    CHECK(geom::distance(least.at, {150, 83, 100}) < 5.0);
}

TEST_CASE("a least that is enough is not sought, one that is less is found all the same",
          "[measure][clearance][oracle]") {
    const TriMesh part = mesh_of(box({0, 0, 0}, {300, 200, 100}));
    int asked = 0;
    const auto least_with = [&](double enough) {
        asked = 0;
        return least_on_mesh(
            part,
            [&](Point3 p) {
                ++asked;
                return geom::distance(p, Point3{150, 83, 140}) - 25;
            },
            0.1, geom::measure::DistanceKind::Any, enough);
    };
    CHECK(least_with(15.5).value == Approx(15.0).margin(0.11));
    CHECK(least_with(1e9).value == Approx(15.0).margin(0.11));
    const int in_full = asked;
    // 15 are there: 5 are known to be without the place being found.
    CHECK(least_with(5.0).value >= 15.0);
    CHECK(asked < in_full);
}

TEST_CASE("the slopes of a convex function find the same least, to any slack", "[measure][clearance][oracle]") {
    const TriMesh part = mesh_of(box({0, 0, 0}, {300, 200, 100}));
    // A ball, and a plate that lies level before a face: its distance does not change over most of that.
    const auto ball = [](Point3 p) {
        const Vec3 d = p - Point3{150, 83, 140};
        return geom::measure::Sloped{norm(d) - 25, unit(d)};
    };
    CHECK(geom::measure::least_convex_on_mesh(part, ball, 1e-6).value == Approx(15.0).margin(2e-6));
    const auto plate = [](Point3 p) {
        const Vec3 d{std::max(0.0, std::abs(p.x - 150) - 80), std::max(0.0, std::abs(p.y - 100) - 60), 112.5 - p.z};
        const Vec3 way = unit(d);
        return geom::measure::Sloped{norm(d), {p.x < 150 ? -way.x : way.x, p.y < 100 ? -way.y : way.y, -way.z}};
    };
    CHECK(geom::measure::least_convex_on_mesh(part, plate, 1e-6).value == Approx(12.5).margin(2e-6));
}
