// Outlines in the plane against closed forms: rectangles, circles, and an L whose largest circle is known.
#include "geom/parts/internal/contour.h"

#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;

namespace {

constexpr double kPi = std::numbers::pi;

Loop rectangle(double half_x, double half_y) {
    return {{-half_x, -half_y}, {half_x, -half_y}, {half_x, half_y}, {-half_x, half_y}};
}
Loop circle_loop(Point2 centre, double r, int n) {
    Loop loop;
    for (int i = 0; i < n; ++i)
        loop.push_back(centre + Point2{std::cos(2 * kPi * i / n), std::sin(2 * kPi * i / n)} * r);
    return loop;
}

}  // namespace

TEST_CASE("depth in an outline is the signed distance to its edge", "[parts][contour][oracle]") {
    Random random(1);
    const Outline box(rectangle(50, 30));
    const Outline ball(circle_loop({5, -3}, 40, 4000));
    for (int i = 0; i < 2000; ++i) {
        const Point2 p{random.uniform(-80, 80), random.uniform(-60, 60)};
        const double qx = std::abs(p.x) - 50, qy = std::abs(p.y) - 30;
        const double outside = std::hypot(std::max(qx, 0.0), std::max(qy, 0.0)) + std::min(std::max(qx, qy), 0.0);
        CHECK(box.depth(p) == Approx(-outside).margin(1e-9));
        CHECK(ball.depth(p) == Approx(40 - distance(p, {5, -3})).margin(1e-4));
        CHECK(distance(p, box.nearest(p).at) == Approx(box.nearest(p).distance_mm).margin(1e-12));
    }
}

TEST_CASE("an outline given clockwise is turned", "[parts][contour]") {
    Loop loop = rectangle(10, 20);
    std::reverse(loop.begin(), loop.end());
    const Outline outline(loop);
    CHECK(signed_area(outline.loop()) == Approx(800));
    CHECK(length(outline.loop()) == Approx(120));
    CHECK(outline.contains({9.9, 19.9}));
    CHECK_FALSE(outline.contains({10.1, 0}));
}

TEST_CASE("the largest circle in an L sits where its two legs meet", "[parts][contour][oracle]") {
    // Legs of width w: the circle through the inner corner touches both outer sides, r (1 + 1/sqrt 2) = w (from the
    // corner's diagonal: (2 - sqrt 2) w).
    const double w = 40;
    const Outline ell(Loop{{0, 0}, {150, 0}, {150, w}, {w, w}, {w, 150}, {0, 150}});
    const Best best = greatest([&](Point2 p) { return ell.depth(p); }, ell.lo(), ell.hi());
    CHECK(best.value == Approx((2 - std::sqrt(2.0)) * w).margin(0.06));
    CHECK(best.value <= (2 - std::sqrt(2.0)) * w + 1e-9);
    CHECK(distance(best.at, {best.value, best.value}) < 0.5);
}

TEST_CASE("a level loop of a circle's depth is a smaller circle", "[parts][contour][oracle]") {
    const Outline ball(circle_loop({5, -3}, 40, 2000));
    const auto loop = level_loop([&](Point2 p) { return ball.depth(p); }, 12.0, ball.lo(), ball.hi(), 2.0);
    REQUIRE(loop);
    CHECK(signed_area(*loop) == Approx(kPi * 28 * 28).epsilon(2e-3));
    for (const Point2 p : *loop) CHECK(distance(p, {5, -3}) == Approx(28).margin(0.02));
    CHECK_FALSE(level_loop([&](Point2 p) { return ball.depth(p); }, 41.0, ball.lo(), ball.hi(), 2.0));
}

TEST_CASE("of several level loops the one with the most area is taken", "[parts][contour]") {
    const Outline small(circle_loop({-60, 0}, 20, 500)), large(circle_loop({40, 0}, 35, 500));
    const auto loop =
        level_loop([&](Point2 p) { return std::max(small.depth(p), large.depth(p)); }, 1.0, {-90, -40}, {90, 40}, 2.0);
    REQUIRE(loop);
    CHECK(signed_area(*loop) == Approx(kPi * 34 * 34).epsilon(5e-3));
}

TEST_CASE("resampling keeps place and spacing, smoothing rounds corners inward only a little", "[parts][contour]") {
    const Loop loop = resampled(rectangle(50, 30), 4.0, 0);
    for (std::size_t i = 0; i < loop.size(); ++i) CHECK(distance(loop[i], loop[(i + 1) % loop.size()]) <= 4.0 + 0.1);
    CHECK(signed_area(loop) == Approx(6000).epsilon(1e-3));
    const Loop smooth = resampled(rectangle(50, 30), 4.0, 2);
    const Outline box(rectangle(50, 30));
    for (const Point2 p : smooth) CHECK(box.depth(p) >= -1e-9);
    for (const Point2 p : smooth) CHECK(box.depth(p) < 2.5);
}

TEST_CASE("directions are named as seen from the front", "[parts][contour]") {
    CHECK(direction_words({1, 0}) == "to the right");
    CHECK(direction_words({1, 1}) == "up and to the right");
    CHECK(direction_words({0, 1}) == "up");
    CHECK(direction_words({-1, 1}) == "up and to the left");
    CHECK(direction_words({-1, -0.1}) == "to the left");
    CHECK(direction_words({-1, -1}) == "down and to the left");
    CHECK(direction_words({0.1, -1}) == "down");
    CHECK(direction_words({1, -1}) == "down and to the right");
}
