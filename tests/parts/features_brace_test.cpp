#include "tests/parts/features_bodies.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

// Of the rounded box: air x from -104 to 104, y from 12 to 154, z from -99 to 99.
Brace across(double y, double z) {
    return {.name = "post", .axis = {1, 0, 0}, .at = {0, y, z}};
}

}  // namespace

TEST_CASE("a brace takes pi r2 L from the air, between the inner walls and no more",
          "[parts][features][brace][oracle]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    const double before = volume_mm3(box.bodies.air);
    box.request.braces = {across(120, 20), {.name = "upright", .axis = {0, 0, -1}, .at = {80, 60, 50}}};
    box.request.braces[1].thickness = Length::mm(20);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    REQUIRE(enclosure.braces.size() == 2);
    CHECK(enclosure.braces[0].volume_mm3 == Approx(kPi * 7.5 * 7.5 * 208).epsilon(1e-7));
    CHECK(enclosure.braces[1].volume_mm3 == Approx(kPi * 100 * 198).epsilon(1e-7));
    CHECK(before - volume_mm3(enclosure.air_body) == Approx(kPi * 7.5 * 7.5 * 208 + kPi * 100 * 198).epsilon(1e-7));
    CHECK(distance(enclosure.braces[0].from, {-104, 120, 20}) < 1e-6);
    CHECK(distance(enclosure.braces[0].to, {104, 120, 20}) < 1e-6);
    CHECK(enclosure.braces[1].thickness_mm == 20);
    for (const LedgerLine& line : enclosure.ledger)
        if (line.name == "brace \"post\"") CHECK(line.litres == Approx(-kPi * 7.5 * 7.5 * 208 / 1e6));
    // The shell is one solid with the posts in it.
    CHECK(cylinders(enclosure.products[0].solid, 7.5).size() == 1);
}

TEST_CASE("a brace through leaning and bulging walls ends in them all round", "[parts][features][brace]") {
    for (Case box : {tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.braces = {across(90, 30), {.name = "slant", .axis = {0.2, 0.1, 1}, .at = {40, 110, -20}}};
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        REQUIRE(enclosure.braces.size() == 2);
        for (const BraceMade& brace : enclosure.braces) {
            const double r = brace.thickness_mm / 2;
            // Exact for plane ends, whatever their lean.
            CHECK(brace.volume_mm3 == Approx(kPi * r * r * distance(brace.from, brace.to)).epsilon(1e-2));
        }
    }
}

TEST_CASE("a brace may stand on an integral baffle beside the driver", "[parts][features][brace]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.braces = {{.name = "deep", .axis = {0, 1, 0}, .at = {90, 80, -84}}};
    box.request.braces[0].thickness = Length::mm(10);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    CHECK(enclosure.braces[0].volume_mm3 == Approx(kPi * 25 * 142).epsilon(1e-7));
    box.request.braces[0].at = {60, 80, 60};
    CHECK(refused(box).what.find("brace \"deep\": ") == 0);
    box.request.braces[0].at = {90, 80, -84};
    box.request.baffle.separate = true;
    CHECK(refused(box).what ==
          "brace \"deep\": it would stand on the separate baffle, wanted from wall to wall of the shell");
}

TEST_CASE("braces are placed where the largest walls want them, the same every time", "[parts][features][brace][law]") {
    Case box = rounded_box();
    SECTION("one, in the middle of the largest pair of walls") {
        box.request.braces_to_place = 1;
        const Enclosure one = made(box);
        check_sound(box, one, 1);
        REQUIRE(one.braces.size() == 1);
        // Walls across x are 142 x 198, across z 142 x 208: one is as good as the other.
        CHECK(distance((one.braces[0].from + one.braces[0].to) * 0.5, {0, 83, 0}) < 8);
        CHECK(one.braces[0].name == "brace 1");
    }
    SECTION("three, clear of the driver and of sleeves") {
        box.request.driver = mounted(woofer());
        box.request.sleeves = {{.name = "left", .point = {-60, 110, -109}, .axis = {0, 0, -1}, .thread = "M6"}};
        box.request.braces_to_place = 3;
        const Enclosure three = made(box);
        check_sound(box, three, 1);
        CHECK(three.braces.size() == 3);
        const Enclosure again = made(box);
        for (std::size_t i = 0; i < 3; ++i) CHECK(three.braces[i].from == again.braces[i].from);
        double sum = 0.0;
        for (const BraceMade& brace : three.braces) sum += brace.volume_mm3;
        CHECK(volume_mm3(box.bodies.air) - volume_mm3(three.air_body) ==
              Approx(sum + three.fixings[0].tube_mm3).epsilon(1e-7));
    }
    SECTION("not more than there is room for") {
        Case small = rounded_box({.half_width = 40, .half_height = 40, .depth = 80});
        small.request.braces_to_place = 12;
        const Fault fault = refused(small);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.what.find("braces: of 12 only ") == 0);
    }
}

TEST_CASE("braces lie alike wherever the vehicle's frame is, and mirrored", "[parts][features][brace][law]") {
    Case box = tapered_box();
    box.request.braces = {across(90, 30)};
    box.request.braces[0].axis = {1, 0.1, 0.05};
    const double straight = made(box).braces[0].volume_mm3;
    const double c = std::cos(0.7), s = std::sin(0.7);
    const Enclosure turned = made(moved(box, {{300, -200, 50}, {c, s, 0}, {-s, c, 0}, {0, 0, 1}}));
    CHECK(turned.braces[0].volume_mm3 == Approx(straight).epsilon(1e-7));
    box.request.braces[0].axis = {-1, 0.1, 0.05};
    CHECK(made(box).braces[0].volume_mm3 == Approx(straight).epsilon(1e-7));
}

TEST_CASE("a brace that cannot be is refused with place and number", "[parts][features][brace][fault]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.braces = {across(120, 20)};
    Brace& brace = box.request.braces[0];
    SECTION("beside the box") {
        brace.at = {0, 300, 0};
        CHECK(refused(box).what == "brace \"post\": its axis misses the air of the box, wanted through it");
    }
    SECTION("through the driver") {
        brace.at = {0, 50, 0};
        CHECK(refused(box).what == "brace \"post\": it runs through the driver's body, wanted 2 mm beside it");
    }
    SECTION("behind the magnet") {
        brace.at = {0, 84, 0};
        CHECK(refused(box).what == "brace \"post\": it stands 6.5 mm behind the driver's magnet, wanted 10");
    }
    SECTION("along a wall") {
        brace.at = {0, 120, 89};
        CHECK(refused(box).what == "brace \"post\": it leaves 2.5 mm of air to a wall beside it, wanted 4");
    }
    SECTION("along the baffle") {
        brace.at = {0, 21, 85};
        CHECK(refused(box).what.find("brace \"post\": ") == 0);
    }
    SECTION("through another") {
        box.request.braces.push_back({.name = "other", .axis = {0, 0, 1}, .at = {30, 120, 0}});
        CHECK(refused(box).what == "brace \"other\": it comes to 0.0 mm of brace \"post\", wanted 4");
    }
    SECTION("through a sleeve") {
        box.request.sleeves = {{.name = "left", .point = {-60, 110, -109}, .axis = {0, 0, -1}, .thread = "M6"}};
        CHECK(refused(box).what == "brace \"post\": it comes to 0.0 mm of sleeve \"left\", wanted 4");
    }
    SECTION("before the terminal") {
        box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {110, 112, 15}, .displacement = {}};
        CHECK(refused(box).what.find("terminal: ") == 0);
    }
}
