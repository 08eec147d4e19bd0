// The centre that a fault of a driver's place tells: whoever writes it into the job has a box, or a fault that has
// nothing to do with the edge or the rim flange. Oracle: the part made with the numbers read from the hint.
#include "tests/parts/features_bodies.h"

#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <cstdio>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

/// So large across its cut-out, the rest in the proportions of its kind.
sound::Driver driver_of(double cutout) {
    sound::Driver driver = woofer();
    driver.cutout_diameter = Length::mm(cutout), driver.flange_diameter = Length::mm(cutout + 22);
    driver.bolt_circle = Length::mm(cutout + 12), driver.basket_diameter = Length::mm(cutout - 2);
    driver.bolt_thread = "M3";
    driver.flange_thickness = Length::mm(4);
    driver.magnet_diameter = Length::mm(0.7 * cutout), driver.mounting_depth = Length::mm(50),
    driver.magnet_depth = Length::mm(16);
    driver.displacement = Volume::litres(0.1);
    return driver;
}

/// The place that a hint tells, none when it tells none.
std::optional<Point3> told(const std::string& hint) {
    const std::string words = "centre at ";
    const std::size_t at = hint.find(words);
    Point3 p;
    if (at == std::string::npos ||
        std::sscanf(hint.c_str() + at + words.size(), "%lf, %lf, %lf", &p.x, &p.y, &p.z) != 3)
        return std::nullopt;
    return p;
}

Result<Enclosure> tried(const Case& box) {
    return add_features(box.bodies, box.room, box.request, {}, nullptr);
}

bool is_of_its_place(const Fault& fault) {
    return fault.what.find("rim flange") != std::string::npos || fault.what.find(" past ") != std::string::npos ||
           fault.what.find("inside the edge") != std::string::npos ||
           fault.what.find("side of the baffle") != std::string::npos;
}

}  // namespace

TEST_CASE("a driver stands where the hint of its fault puts it", "[parts][features][driver][property]") {
    Random random(20);
    int followed = 0;
    for (int i = 0; i < 40; ++i) {
        Sizes sizes{.half_width = random.uniform(80, 150),
                    .half_height = random.uniform(70, 120),
                    .wall = random.uniform(5, 14),
                    .thickness = random.uniform(8, 14)};
        Case box = i % 4 == 3 ? tapered_box(sizes) : rounded_box(sizes);
        box.request.baffle.separate = i % 2 == 0;
        const double cutout = random.uniform(70, 125);
        DriverMount mount = mounted(driver_of(cutout), {random.uniform(-160, 160), 0, random.uniform(-130, 130)});
        mount.turn = Angle::deg(random.uniform(0, 90));
        mount.from_behind = box.request.baffle.separate && random.uniform() < 0.4;
        mount.is_turned = random.uniform() < 0.3;
        box.request.driver = mount;
        // Leaning, so that all three numbers of the place are rounded.
        const double a = random.uniform(-1.0, 1.0), c = std::cos(a), s = std::sin(a);
        if (i % 3 == 0) box = moved(box, {.origin = {3.3, 7.7, -1.1}, .x = {c, s, 0}, .y = {-s, c, 0}, .z = {0, 0, 1}});
        CAPTURE(i, sizes.half_width, sizes.half_height, sizes.wall, cutout, box.request.baffle.separate,
                mount.from_behind, mount.is_turned);
        const auto first = tried(box);
        if (first) continue;
        const auto centre = told(first.error().hint);
        CAPTURE(first.error().what, first.error().hint);
        if (!centre) continue;
        ++followed;
        box.request.driver->centre = *centre;
        if (const auto second = tried(box); !second) {
            INFO(second.error().what);
            CHECK_FALSE(is_of_its_place(second.error()));
        }
    }
    CHECK(followed > 15);
}

TEST_CASE("the hint of a second driver keeps it off the first, in the list that it is given in",
          "[parts][features][driver][drivers]") {
    Sizes sizes;
    sizes.half_width = 150;
    Case box = rounded_box(sizes);
    box.request.baffle.separate = GENERATE(false, true);
    box.request.driver = mounted(driver_of(76), {-60, 0, 0});
    box.request.more_drivers = {{.centre = {130, 0, 5}, .turn = Angle::deg(45)}};
    box.request.wiring = {.in_series = 1, .in_parallel = 2};
    // Asked to the right of the box, and beyond the first, where the way to the roomiest place leads past it.
    box.request.more_drivers.front().centre = GENERATE(Point3{130, 0, 5}, Point3{-60, 0, 80}, Point3{-130, 0, 3});
    const Fault fault = refused(box);
    INFO(fault.what + " | " + fault.hint);
    CHECK(fault.what.find("driver 2: flange of 98 mm reaches ") == 0);
    REQUIRE(fault.hint.find("it fits with [[driver]] centre at ") == 0);
    box.request.more_drivers.front().centre = *told(fault.hint);
    check_sound(box, made(box), box.request.baffle.separate ? 2 : 1);
}

TEST_CASE("a cut-out that lies too near the edge is said to lie inside it", "[parts][features][driver][fault]") {
    // A thick wall: the cut-out meets the air's edge, 90 from the middle, while the flange has room. 0.2 are left.
    Sizes sizes;
    sizes.half_width = 110, sizes.wall = 20;
    Case box = rounded_box(sizes);
    box.request.driver = mounted(driver_of(125), {27.3, 0, 0});
    const Fault fault = refused(box);
    CHECK(fault.what.find(
              "driver: cut-out of 125 mm lies 0.2 mm inside the edge of the cavity's front (to the right") == 0);
    CHECK(fault.what.find("wanted 0.3 inside it") != std::string::npos);
}
