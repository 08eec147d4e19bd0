// Walls scanned twice and thin sheets scanned from both sides: the nearer layer is what is told.
#include "tests/support/layered_scene.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace geom;
using test::LayeredScene;

namespace {

struct Told {
    scan::Surface surface;
    std::vector<double> error;  ///< ascending
    double bias = 0.0;
};

Told told_of(const LayeredScene& scene) {
    auto made = scan::estimate_surface(test::scan_of(scene), {}, {});
    if (!made) FAIL(made.error().what);
    Told told{*std::move(made), {}, 0.0};
    told.error = test::errors_of(scene, told.surface, 5000);
    std::sort(told.error.begin(), told.error.end());
    for (const double e : told.error) told.bias += e / static_cast<double>(told.error.size());
    return told;
}

double quantile(const Told& t, double q) {
    return t.error[static_cast<std::size_t>(q * static_cast<double>(t.error.size() - 1))];
}

}  // namespace

TEST_CASE("the nearer of two passes is told, also with a tenth of the points", "[scan][layers][oracle]") {
    for (const LayeredScene& scene : {LayeredScene{.apart_mm = 1.0}, LayeredScene{.apart_mm = 2.0},
                                      LayeredScene{.apart_mm = 3.0}, LayeredScene{.apart_mm = 2.0, .near_share = 0.1},
                                      LayeredScene{.apart_mm = 2.0, .near_share = 0.1, .noise_mm = 0.1},
                                      LayeredScene{.apart_mm = 2.0, .bend_mm = 60.0},
                                      LayeredScene{.apart_mm = 2.0, .noise_mm = 0.7, .spacing_mm = 2.5}}) {
        INFO(test::name_of(scene));
        const Told told = told_of(scene);
        CHECK(std::abs(told.bias) < 0.05);
        CHECK(quantile(told, 0.95) < 0.35);
        CHECK(quantile(told, 0.999) <= told.surface.bound_mm);
        CHECK(told.surface.noise_mm == Approx(scene.noise_mm).epsilon(0.08));
        REQUIRE_FALSE(told.surface.layered.empty());
        CHECK(told.surface.layered.front().apart_mm == Approx(scene.apart_mm).margin(0.15));
        CHECK(norm(told.surface.layered.front().place) < 20.0);
    }
}

TEST_CASE("both sides of a thin sheet are told, evenly or unevenly scanned", "[scan][layers][oracle]") {
    for (const bool uneven : {false, true}) {
        const Told told = told_of({.apart_mm = 2.0, .both_sides = true, .uneven = uneven});
        CHECK(std::abs(told.bias) < 0.03);
        CHECK(quantile(told, 0.95) < 0.2);
        CHECK(told.error.back() <= 1.5 * told.surface.bound_mm);
    }
}

TEST_CASE("given normals tell the sides of a sheet thinner than two noises", "[scan][layers][oracle]") {
    const LayeredScene scene{.apart_mm = 1.0, .noise_mm = 0.7, .both_sides = true, .normals = true};
    const Told told = told_of(scene);
    CHECK(std::abs(told.bias) < 0.1);
    CHECK(told.error.back() <= told.surface.bound_mm);
    // Normals of no side are left alone: the same as none.
    scan::RawScan raw = test::scan_of(scene);
    for (std::size_t i = 0; i < raw.normals.size(); i += 2) raw.normals[i] = -raw.normals[i];
    const auto made = scan::estimate_surface(std::move(raw), {}, {});
    REQUIRE(made);
    CHECK(made->layer_mm.empty());
}

TEST_CASE("a plain wall has one layer, and layers that are not told apart grow the bound", "[scan][layers][property]") {
    for (const double noise : {0.1, 0.3, 0.7})
        for (const double bend : {0.0, 60.0}) {
            INFO(noise << ' ' << bend);
            const Told told = told_of({.apart_mm = 0.0, .noise_mm = noise, .bend_mm = bend});
            CHECK(told.surface.layer_mm.empty());
            CHECK(told.surface.bound_mm < 1.25 * noise + 0.18);
        }
    for (const LayeredScene& scene : {LayeredScene{.apart_mm = 1.0, .noise_mm = 0.7},
                                      LayeredScene{.apart_mm = 2.0, .near_share = 0.1, .noise_mm = 0.7},
                                      LayeredScene{.apart_mm = 3.0, .near_share = 0.1, .noise_mm = 0.1}}) {
        INFO(test::name_of(scene));
        const Told told = told_of(scene);
        CHECK(quantile(told, 0.99) <= told.surface.bound_mm);
    }
}
