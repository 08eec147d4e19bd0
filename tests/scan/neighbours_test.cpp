#include "geom/core/parallel.h"
#include "geom/core/random.h"
#include "geom/scan/internal/eigen3.h"
#include "geom/scan/internal/point_index.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace geom;
using namespace geom::scan::internal;

namespace {

/// Places that no even grid suits: a dense plane, a thin one, a line, clusters, doubles and strays far away.
std::vector<Point3> mixed_points(std::uint64_t seed, Point3 shift) {
    Random random(seed);
    std::vector<Point3> points;
    for (int i = 0; i < 3000; ++i)
        points.push_back({random.uniform(0, 100), random.uniform(0, 100), random.normal() * 0.3});
    for (int i = 0; i < 500; ++i) points.push_back({random.uniform(0, 300), 200.0, random.uniform(0, 300)});
    for (int i = 0; i < 200; ++i) points.push_back({150.0 + 0.01 * i, 50.0, 50.0});
    for (int i = 0; i < 60; ++i) points.push_back({-50 + random.normal(), -50 + random.normal(), random.normal()});
    for (int i = 0; i < 50; ++i) points.push_back(points[static_cast<std::size_t>(i) * 7]);
    points.push_back({9000, -4000, 100});
    points.push_back({9000, 5000, -7000});
    for (Point3& p : points) p += shift;
    return points;
}

std::vector<double> nearest_by_hand(const std::vector<Point3>& points, Point3 x, std::size_t k) {
    std::vector<double> d;
    for (const Point3& p : points) d.push_back(distance(p, x));
    std::sort(d.begin(), d.end());
    d.resize(std::min(k, d.size()));
    return d;
}

}  // namespace

TEST_CASE("nearest places are those found by comparing all, near the origin and far from it",
          "[scan][neighbours][oracle]") {
    const Point3 shift = GENERATE(Point3{}, Point3{68000, -20000, 300});
    const std::vector<Point3> points = mixed_points(3, shift);
    const PointIndex index(points);
    const int k = GENERATE(1, 8, 40);
    CAPTURE(shift.x, k);
    const std::vector<std::uint32_t> all = index.all_nearest(k);
    REQUIRE(all.size() == points.size() * static_cast<std::size_t>(k));
    for (std::size_t i = 0; i < index.size(); i += 17) {
        // The place itself is the nearest of all and not in its row.
        const std::vector<double> wanted = nearest_by_hand(points, index.points()[i], static_cast<std::size_t>(k) + 1);
        std::vector<double> found;
        for (int m = 0; m < k; ++m) {
            const std::uint32_t j = all[i * static_cast<std::size_t>(k) + static_cast<std::size_t>(m)];
            REQUIRE(j != i);
            REQUIRE(j < index.size());
            found.push_back(distance(index.points()[j], index.points()[i]));
        }
        CHECK(std::is_sorted(found.begin(), found.begin() + std::min(k, 8),
                             [](double a, double b) { return a < b - 1e-4; }));
        std::sort(found.begin(), found.end());
        for (std::size_t m = 0; m < found.size(); ++m) CHECK(found[m] == Approx(wanted[m + 1]).margin(2e-3));
    }
    Random random(5);
    for (int i = 0; i < 200; ++i) {
        const double reach = i % 2 == 0 ? 300 : 20000;
        const Point3 x =
            shift + Vec3{random.uniform(-reach, reach), random.uniform(-reach, reach), random.uniform(-reach, reach)};
        std::uint32_t place[40];
        float d2[40];
        REQUIRE(index.nearest(x, k, place, d2) == k);
        const std::vector<double> wanted = nearest_by_hand(points, x, static_cast<std::size_t>(k));
        for (std::size_t m = 0; m < static_cast<std::size_t>(k); ++m)
            CHECK(distance(index.points()[place[m]], x) == Approx(wanted[m]).epsilon(1e-5).margin(2e-3));
    }
}

TEST_CASE("fewer points than asked for give all there are", "[scan][neighbours]") {
    const PointIndex index(std::vector<Point3>{{0, 0, 0}, {1, 0, 0}, {0, 3, 0}});
    const std::vector<std::uint32_t> all = index.all_nearest(8);
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(all[i * 8] != PointIndex::kNone);
        CHECK(all[i * 8 + 1] != PointIndex::kNone);
        CHECK(all[i * 8 + 2] == PointIndex::kNone);
    }
    std::uint32_t place[8];
    float d2[8];
    CHECK(index.nearest({5, 5, 5}, 8, place, d2) == 3);
    CHECK(PointIndex(std::vector<Point3>{}).nearest({0, 0, 0}, 8, place, d2) == 0);
}

TEST_CASE("neighbours do not depend on threads or on the order of the points", "[scan][neighbours][property]") {
    std::vector<Point3> points = mixed_points(9, {});
    const PointIndex index(points);
    std::vector<std::uint32_t> one_thread;
    {
        const ThreadLimit limit(1);
        one_thread = index.all_nearest(24);
    }
    CHECK(index.all_nearest(24) == one_thread);
    std::reverse(points.begin(), points.end());
    const PointIndex reversed(points);
    CHECK(std::equal(index.points().begin(), index.points().end(), reversed.points().begin()));
    CHECK(reversed.all_nearest(24) == one_thread);
}

TEST_CASE("the closed-form eigenvector is that of the matrix it was built from", "[scan][neighbours][oracle]") {
    // Oracle: a matrix put together from chosen eigenvalues and axes.
    Random random(11);
    for (int i = 0; i < 2000; ++i) {
        // From round to needle and sheet, down to a least eigenvalue a millionth of the next.
        const double l0 = std::pow(10.0, random.uniform(-6, 0)), l1 = std::pow(10.0, random.uniform(0, 1)) * (1 + l0);
        const double l2 = l1 * std::pow(10.0, random.uniform(0, 3));
        const Vec3 u = unit(Vec3{random.normal(), random.normal(), random.normal()});
        const Vec3 v = unit(cross(u, {random.normal(), random.normal(), random.normal()})), w = cross(u, v);
        auto entry = [&](std::size_t r, std::size_t c) {
            return l0 * u[r] * u[c] + l1 * v[r] * v[c] + l2 * w[r] * w[c];
        };
        const Sym3 a{entry(0, 0), entry(0, 1), entry(0, 2), entry(1, 1), entry(1, 2), entry(2, 2)};
        CAPTURE(l0, l1, l2);
        // Rounding of the entries alone turns the axis by this much.
        const double turn = 1e-14 * l2 / (l1 - l0);
        CHECK(norm(cross(least_eigenvector(a, {0, 0, 1}), u)) < 10 * turn);
        const Eigenvalues e = eigenvalues(a);
        CHECK(e.least == Approx(l0).margin(1e-12 * l2));
        CHECK(e.most == Approx(l2).epsilon(1e-12));
    }
    CHECK(least_eigenvector({2, 0, 0, 2, 0, 2}, {0, 1, 0}) == Vec3{0, 1, 0});
}
