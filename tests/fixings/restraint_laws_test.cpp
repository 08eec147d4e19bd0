// Laws of the sum that hold whatever the numbers are.
#include "geom/fixings/restraint.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <numbers>

using namespace geom;
using namespace geom::fixings;

namespace {

std::vector<Held> ring(int n, double radius_mm) {
    std::vector<Held> bolts;
    for (int i = 0; i < n; ++i) {
        const double a = 2.0 * std::numbers::pi * (i + 0.5) / n;
        bolts.push_back({.name = "b",
                         .seat = {radius_mm * std::cos(a), radius_mm * std::sin(a), 0},
                         .axis = {0, 0, -1},
                         .proof_N = 11600,
                         .seat_radius_mm = 10});
    }
    return bolts;
}

double worst(const std::vector<Held>& bolts, Point3 com, double g = 20) {
    double most = 0.0;
    for (const LoadCase& load : load_cases(g, {0, 0, 1}, std::nullopt))
        for (const BoltForce& b : restrain(9, com, bolts, load).bolts) most = std::max(most, b.use_rel);
    return most;
}

}  // namespace

TEST_CASE("more bolts on the same circle carry less each", "[fixings][restraint]") {
    double last = 1e300;
    for (const int n : {2, 4, 6, 8, 12}) {
        const double now = worst(ring(n, 120), {0, 0, 110});
        CHECK(now < last);
        last = now;
    }
}

TEST_CASE("a higher centre of mass and a narrower circle ask for more, half the deceleration for half",
          "[fixings][restraint]") {
    const auto bolts = ring(4, 120);
    CHECK(worst(bolts, {0, 0, 200}) > worst(bolts, {0, 0, 100}));
    CHECK(worst(ring(4, 80), {0, 0, 100}) > worst(bolts, {0, 0, 100}));
    CHECK(worst(bolts, {0, 0, 100}, 10) == Approx(worst(bolts, {0, 0, 100}, 20) / 2));
}

TEST_CASE("a ring of bolts shares shear evenly and pulls by 2 M / (n r)", "[fixings][restraint][oracle]") {
    // Bolts on a circle: the one farthest back takes 2 M / (n r) of a moment M, classical for n >= 3.
    for (const int n : {4, 6, 8}) {
        auto bolts = ring(n, 100);
        for (Held& b : bolts) {  // turned so that one lies straight back
            const double a = std::numbers::pi / n;
            b.seat = {b.seat.x * std::cos(a) + b.seat.y * std::sin(a), b.seat.y * std::cos(a) - b.seat.x * std::sin(a),
                      0};
        }
        const Restraint r = restrain(10, {0, 0, 150}, bolts, {"forward", {1, 0, 0}, 20});
        const double force = 10 * 20 * kGravity_m_s2;
        double most = 0.0;
        for (const BoltForce& b : r.bolts) {
            CHECK(b.shear_N == Approx(force / n));
            most = std::max(most, b.tension_N);
        }
        CHECK(most == Approx(2.0 * force * 150 / (n * 100)));
    }
}
