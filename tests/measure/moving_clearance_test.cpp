// Oracle: the part put into many poses of each move, and its nearest triangle asked in each.
#include "tests/measure/shapes.h"

#include "geom/core/random.h"
#include "geom/measure/moving_clearance.h"

#include <numbers>

using namespace shapes;
using namespace geom::measure;
using geom::space::Slide;
using geom::space::Turn;
using geom::space::WayIn;

TEST_CASE("the least clearance of a move is that of the part put into all of its poses", "[clearance][way][oracle]") {
    geom::Random random(5);
    for (int round = 0; round < 12; ++round) {
        const TriMesh mesh = scattered(random, 60, 60, 12);
        const TriangleTree tree(mesh);
        const auto any = [&](double r) {
            return Vec3{random.uniform(-r, r), random.uniform(-r, r), random.uniform(-r, r)};
        };
        const WayIn way({Slide{any(80)}, Turn{random.uniform(-2.5, 2.5), geom::unit(any(1)), any(80)},
                         Turn{random.uniform(-0.4, 0.4), geom::unit(any(1)), any(40)}, Slide{any(60)}});
        std::vector<Point3> points;
        for (int n = 0; n < 6; ++n) points.push_back(any(130));
        for (std::size_t m = 0; m < way.size(); ++m) {
            const double more = m == 0 ? 50.0 : 0.0;
            const auto found =
                least_clearance_moving(tree, MoveSeen(way, m), points, 1e9, [&](Point3) { return more; });
            REQUIRE(found.is_found());
            const auto* slide = std::get_if<Slide>(&way.move(m));
            const double from = slide != nullptr ? -more / geom::norm(slide->by_mm) : 0.0;
            double least = 1e300;
            constexpr int kPoses = 3000;
            for (int q = 0; q <= kPoses; ++q) {
                const geom::Frame pose = way.during(m, from + (1.0 - from) * q / kPoses);
                for (const Point3 p : points) least = std::min(least, tree.nearest(pose.to_local(p)).distance_mm);
            }
            INFO(round << " " << m);
            CHECK(found.nearest.least_mm <= least + 2.0 * kSagitta_mm);
            CHECK(found.nearest.least_mm >= least - 0.08);  // half a step of the poses
            // What is told of it is true: the point, the pose and the place on the part.
            const geom::Frame pose = way.during(m, found.share);
            CHECK(geom::distance(pose.to_parent(found.nearest.part_at), found.nearest.point) ==
                  Approx(found.nearest.least_mm).margin(3.0 * kSagitta_mm));
            CHECK(points[found.nearest.index] == found.nearest.point);
        }
    }
}

TEST_CASE("a long slide is as near as the half-line of the straight way in", "[clearance][way]") {
    geom::Random random(6);
    const TriMesh mesh = scattered(random, 80, 60, 10);
    const Vec3 in = geom::unit({0.2, 1, -0.3});
    std::vector<Point3> points;
    for (int n = 0; n < 40; ++n)
        points.push_back({random.uniform(-90, 90), random.uniform(-90, 90), random.uniform(60, 90)});
    const RayTree ray(mesh, in);
    const auto straight = least_clearance_going_in(ray, points, 1e9);
    const auto slid = least_clearance_moving(TriangleTree(mesh), MoveSeen(WayIn({Slide{in * 900.0}}), 0), points, 1e9,
                                             [](Point3) { return 0.0; });
    CHECK(slid.nearest.least_mm == Approx(straight.least_mm).margin(1e-9));
    CHECK(slid.nearest.index == straight.index);
}
