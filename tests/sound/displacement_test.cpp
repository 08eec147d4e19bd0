// The instance of the reference: basket D 184 to D 90 over 55 mm, 0.842570 L; magnet D 120 by 30, 0.339292 L
// [computed].
#include "geom/sound/driver.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::sound;

namespace {

Driver driver() {
    Driver d;
    d.cutout_diameter = Length::mm(185);
    d.flange_diameter = Length::mm(208);
    d.mounting_depth = Length::mm(85);
    d.magnet_diameter = Length::mm(120);
    d.magnet_depth = Length::mm(30);
    return d;
}

}  // namespace

TEST_CASE("an estimated displacement is the frustum from basket to magnet and the magnet",
          "[sound][displacement][oracle]") {
    const auto got = displacement_of(driver());
    REQUIRE(got);
    CHECK(got->is_estimated);
    CHECK(got->spread_rel == Approx(0.15));
    // The basket is taken as 1 mm less than the cut-out: 184.
    const double frustum = 3.14159265358979 * 55.0 / 3.0 * (92.0 * 92.0 + 92.0 * 60.0 + 60.0 * 60.0);
    CHECK(got->volume.litres() == Approx(frustum / 1e6 + 0.339292).epsilon(1e-5));
}

TEST_CASE("a basket that is given is used", "[sound][displacement]") {
    Driver d = driver();
    d.basket_diameter = Length::mm(150);
    CHECK(displacement_of(d)->volume < displacement_of(driver())->volume);
    // Equal diameters: two cylinders.
    d.basket_diameter = Length::mm(120);
    CHECK(displacement_of(d)->volume.litres() == Approx(3.14159265358979 * 60 * 60 * 85 / 1e6).epsilon(1e-9));
}

TEST_CASE("a given displacement is taken as it is", "[sound][displacement]") {
    Driver d = driver();
    d.displacement = Volume::litres(0.803824);
    CHECK(displacement_of(d)->volume.litres() == Approx(0.803824));
    CHECK(displacement_of(d)->spread_rel == 0.0);
    CHECK_FALSE(displacement_of(d)->is_estimated);
}

TEST_CASE("without the lengths nothing is estimated", "[sound][displacement]") {
    Driver d = driver();
    d.magnet_depth.reset();
    CHECK_FALSE(displacement_of(d));
}

TEST_CASE("a magnet longer than the driver is deep is no longer than that", "[sound][displacement]") {
    Driver d = driver();
    d.magnet_depth = Length::mm(200);
    CHECK(displacement_of(d)->volume.litres() == Approx(3.14159265358979 * 60 * 60 * 85 / 1e6).epsilon(1e-9));
}
