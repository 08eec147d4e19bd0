// A port measured on triangles. Oracle: tubes whose triangles are written here by sines and cosines, of known length
// and area.
#include "geom/check/internal/port_measure.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <functional>
#include <numbers>

using namespace geom;

namespace {

constexpr double kPi = std::numbers::pi;

/// A pipe whose border runs over n places of `border(k, grown)`, straight for `before`, turned by `angle` about a
/// radius, straight for `rest`, all towards +x from the way +y; `wall` thick, rims at both ends.
TriMesh pipe(const std::function<std::array<double, 2>(int, double)>& border, int n, double before, double radius,
             double angle, double rest, int arcs) {
    struct Place {
        double x, y, angle;
    };
    std::vector<Place> places{{0, 0, 0}};
    if (angle > 0.0)
        for (int i = 0; i <= arcs; ++i) {
            const double a = angle * i / arcs;
            places.push_back({radius * (1 - std::cos(a)), before + radius * std::sin(a), a});
        }
    const Place last = angle > 0.0 ? places.back() : Place{0, before, 0};
    places.push_back({last.x + rest * std::sin(angle), last.y + rest * std::cos(angle), angle});
    TriMesh mesh;
    for (const double grown : {0.0, 3.0})
        for (const Place& p : places)
            for (int k = 0; k < n; ++k) {
                const auto [u, v] = border(k, grown);
                mesh.vertices.push_back({p.x + u * std::cos(p.angle), p.y - u * std::sin(p.angle), v});
            }
    const auto rings = static_cast<std::uint32_t>(places.size()), m = static_cast<std::uint32_t>(n);
    const auto at = [&](std::uint32_t side, std::uint32_t ring, std::uint32_t k) {
        return (side * rings + ring) * m + k % m;
    };
    const auto quad = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c, std::uint32_t d) {
        mesh.triangles.push_back({a, b, c});
        mesh.triangles.push_back({a, c, d});
    };
    for (std::uint32_t k = 0; k < m; ++k) {
        for (std::uint32_t r = 0; r + 1 < rings; ++r) {
            quad(at(0, r, k), at(0, r, k + 1), at(0, r + 1, k + 1), at(0, r + 1, k));
            quad(at(1, r, k), at(1, r + 1, k), at(1, r + 1, k + 1), at(1, r, k + 1));
        }
        quad(at(0, 0, k), at(1, 0, k), at(1, 0, k + 1), at(0, 0, k + 1));
        quad(at(0, rings - 1, k), at(0, rings - 1, k + 1), at(1, rings - 1, k + 1), at(1, rings - 1, k));
    }
    return mesh;
}

}  // namespace

TEST_CASE("a port's length and area are those of its triangles, straight and bent", "[check][port][oracle]") {
    const double angle = GENERATE(0.0, 0.3, kPi / 2);
    const auto circle = [](int k, double grown) {
        const double t = 2 * kPi * k / 48;
        return std::array{(17 + grown) * std::cos(t), (17 + grown) * std::sin(t)};
    };
    const auto rectangle = [](int k, double grown) {
        const double x = k == 0 || k == 3 ? 8 + grown : -8 - grown, y = k < 2 ? 30 + grown : -30 - grown;
        return std::array{x, y};
    };
    for (const double rest : {1.0, 47.3}) {
        CAPTURE(angle, rest);
        const double length = 20 + 25 * angle + rest;
        const auto round = check::measure_port(pipe(circle, 48, 20, 25, angle, rest, 30), {0, 0, 0}, {0, 1, 0}, 0.0);
        REQUIRE(round);
        CHECK(round->length_mm == Approx(length).margin(0.05));
        CHECK(round->area_mm2 == Approx(kPi * 17 * 17).epsilon(1e-4));
        const Point3 end{25 * (1 - std::cos(angle)) + rest * std::sin(angle),
                         20 + 25 * std::sin(angle) + rest * std::cos(angle), 0};
        CHECK(distance(round->end, end) < 0.1);
        const auto slot = check::measure_port(pipe(rectangle, 4, 20, 25, angle, rest, 30), {0, 0, 0}, {0, 1, 0}, 0.0);
        REQUIRE(slot);
        CHECK(slot->length_mm == Approx(length).margin(0.05));
        CHECK(slot->area_mm2 == Approx(60 * 16).epsilon(1e-6));
        if (rest > 10) CHECK(slot->turned_rad == Approx(angle).margin(0.01));
    }
}

TEST_CASE("where there is no bore none is measured", "[check][port]") {
    CHECK_FALSE(check::measure_port({}, {0, 0, 0}, {0, 1, 0}, 0.0));
}
