// Some of the rings of bench_random_rings: each keeps every rule, asked by rays, or says which rule it would break.
#include "tests/support/random_rings.h"

#include <catch2/catch.hpp>

#include <set>

using namespace geom;

TEST_CASE("rings drawn at random keep every rule or name the one that they would break", "[parts][ring][random]") {
    const auto door = support::scanned_door({});
    REQUIRE(door);
    std::set<std::string> kinds_made;
    int made = 0, refused = 0, on_scan = 0;
    for (std::uint64_t i = 0; i < 20; ++i) {
        Random random(7000 + i);
        const auto drawn = support::random_ring(random);
        if (!drawn || (drawn->is_on_scan && ++on_scan > 1)) continue;  // those take the longest
        INFO("ring " << i << ", " << drawn->kind);
        const auto outcome = support::outcome_of(*drawn, *door, {});
        CHECK(outcome.broken == "");
        ++(outcome.is_made ? made : refused);
        if (outcome.is_made)
            kinds_made.insert(outcome.kind);
        else
            CHECK_FALSE(outcome.rule.empty());
    }
    CHECK(made >= 5);
    CHECK(refused >= 3);
    CHECK(kinds_made.size() >= 3);
}

TEST_CASE("a ring with a sliver of a face is measured, in no more time than others", "[parts][ring][random]") {
    // Two edges of its foot all but lie on one another; to the kernel's own integral that face has no end.
    const auto door = support::scanned_door({});
    REQUIRE(door);
    Random random(20251129ull * 1000003u + 76u);
    const auto drawn = support::random_ring(random);
    REQUIRE(drawn);
    REQUIRE(drawn->is_on_scan);
    const auto outcome = support::outcome_of(*drawn, *door, {});
    CHECK(outcome.is_made);
    CHECK(outcome.broken == "");
}

TEST_CASE("the rays find what a ring breaks", "[parts][ring][random]") {
    parts::RingRequest request;
    request.seat = {{{0, 0, 0}, {0, 0, 1}}, parts::round_outline(Length::mm(220)), {}};
    request.driver.cutout_diameter = Length::mm(140);
    request.driver.flange_diameter = Length::mm(170);
    request.height = Length::mm(20);
    request.up = {0, 1, 0};
    request.bolts = {{.name = "1", .point = {100.0, 0, 0}, .thread = "M5"}};
    const auto ring = parts::make_ring(request, {});
    REQUIRE(ring);
    CHECK(support::broken_rule(*ring, request, {}) == "");

    SECTION("a flange wider than the ring") {
        request.driver.flange_diameter = Length::mm(224);
        CHECK(support::broken_rule(*ring, request, {}).find("nothing under the flange's edge") != std::string::npos);
    }
    SECTION("a hole elsewhere than told") {
        parts::Ring moved = *ring;
        for (auto& hole : moved.holes)
            if (hole.name != "the bore") hole.from.x += 6.0;  // its wall now runs through what is told to be material
        CHECK_FALSE(support::broken_rule(moved, request, {}).empty());
    }
}
