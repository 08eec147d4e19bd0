#include "geom/space/room.h"
#include "tests/space/fields.h"
#include "tests/space/scene.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::space;

TEST_CASE("the volume of a ball is its closed form within 0.01 percent at a voxel of 2 mm", "[space][volume][oracle]") {
    const double r = GENERATE(20.0, 60.0);
    const GridSpec g = test::grid_about_origin({r + 12, r + 12, r + 12}, 2.0);
    const VolumeTable table = VolumeTable::of(test::sampled(g, test::ball({0.3, -0.2, 0.1}, r)));
    CHECK(table.volume_behind(-r - 6).mm3() == Approx(4.0 / 3.0 * std::numbers::pi * r * r * r).epsilon(1e-4));
}

TEST_CASE("a plane through a ball cuts off the cap of the closed form", "[space][volume][oracle]") {
    const double r = 60.0, y = GENERATE(-37.3, 0.0, 21.7, 50.1);
    const GridSpec g = test::grid_about_origin({72, 72, 72}, 2.0);
    const VolumeTable table = VolumeTable::of(test::sampled(g, test::ball({0, 0, 0}, r)));
    const double cap = r - y;  // height of the part with larger y
    const Volume wanted = Volume::mm3(std::numbers::pi * cap * cap * (3 * r - cap) / 3.0);
    CHECK(table.volume_behind(y).mm3() == Approx(wanted.mm3()).epsilon(1e-4));
    CHECK(table.section_at(y).mm2() == Approx(std::numbers::pi * (r * r - y * y)).epsilon(1e-3));
    const auto plane = table.plane_for(wanted);
    REQUIRE(plane);
    CHECK(std::abs(*plane - y) < 0.02);
}

TEST_CASE("the plane for a volume gives that volume back and none is given for what the body does not hold",
          "[space][volume][property]") {
    const GridSpec g = test::grid_about_origin({50, 60, 40}, 2.0);
    const VolumeTable table = VolumeTable::of(test::sampled(g, [](Point3 p) {
        return test::box_distance(p, {38.3, 47.1, 29.9});
    }));
    const double all = table.volume_mm3.front();
    for (const double share : {0.01, 0.3, 0.77, 0.999}) {
        const auto y = table.plane_for(Volume::mm3(share * all));
        REQUIRE(y);
        CHECK(table.volume_behind(*y).mm3() == Approx(share * all).epsilon(1e-7));
    }
    CHECK_FALSE(table.plane_for(Volume::mm3(1.001 * all)));
    CHECK_FALSE(table.plane_for(Volume::mm3(0.0)));
}
