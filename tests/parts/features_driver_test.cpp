// What every case promises is in sound(); each test adds its own.
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

TEST_CASE("an integral baffle with a driver is one valid solid whose ledger sums to the measured air", "[parts][features][driver]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        check_sound(box, require(add_features(box.bodies, box.room, box.request, {})), 1);
    }
}

TEST_CASE("without a driver the air stays a void of the shell", "[parts][features]") {
    for (const Case& box : {rounded_box(), bulging_loft()}) {
        CAPTURE(box.name);
        const Enclosure made = require(add_features(box.bodies, box.room, box.request, {}));
        check_sound(box, made, 1);
        CHECK(require(measure::measure_solid(made.products[0].solid, {})).shells == 2);
    }
}

TEST_CASE("a separate baffle and its shell are valid solids that close the same air", "[parts][features][baffle]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.baffle.separate = true;
        SECTION(box.name + " without a driver") { check_sound(box, require(add_features(box.bodies, box.room, box.request, {})), 2); }
        box.request.driver = mounted(woofer());
        SECTION(box.name + " with a driver") {
            const Enclosure made = require(add_features(box.bodies, box.room, box.request, {}));
            check_sound(box, made, 2);
            for (const auto& n : made.notes) WARN(n);
        }
    }
}

TEST_CASE("a terminal hole goes through the wall that is nearest", "[parts][features][terminal]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {80, 100, 30}, .displacement = std::nullopt};
        const Enclosure made = require(add_features(box.bodies, box.room, box.request, {}));
        check_sound(box, made, 1);
        for (const auto& n : made.notes) WARN(n);
    }
}

TEST_CASE("a foot stands beside the box", "[parts][features][foot]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        box.request.feet.push_back({.name = "left", .point = {-150, 80, -95}, .axis = {0, 0, -1}, .thread = "M8"});
        box.request.feet.push_back({.name = "right", .point = {140, 60, -95}, .axis = {0, 0, -1}, .thread = "M6"});
        const Enclosure made = require(add_features(box.bodies, box.room, box.request, {}));
        check_sound(box, made, 1);
        for (const auto& n : made.notes) WARN(n);
        for (const auto& f : made.fixings) WARN(f.name << " web " << f.web_section_mm2 << " of " << f.web_wanted_mm2);
    }
}
