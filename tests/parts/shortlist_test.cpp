// Which drivers fit a gap: a box's field, where circles and depths have closed forms.
#include "geom/parts/shortlist.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::parts;

namespace {

double slab(double v, double lo, double hi) {
    return std::max(lo - v, v - hi);
}

/// The room is 150 wide and 120 high and ends 206 behind the plane at t = 0; the wall is of 6.
struct Scene {
    GapField gap;
    EnclosureRequest request;

    Scene() {
        const auto field = [](double in) {
            space::Field f;
            f.grid.vehicle_from_box = space::box_frame({{0, 0, 0}, {0, -1, 0}}, {0, 0, 1});
            f.grid.h_mm = 2.0;
            f.grid.lo = {-90, -40, -80};
            f.grid.nx = 91, f.grid.ny = 140, f.grid.nz = 81;
            for (int k = 0; k < f.grid.nz; ++k)
                for (int j = 0; j < f.grid.ny; ++j)
                    for (int i = 0; i < f.grid.nx; ++i) {
                        const Point3 p = f.grid.node(i, j, k);
                        f.mm.push_back(static_cast<float>(std::max(
                            {slab(p.x, -75 + in, 75 - in), slab(p.y, -300, 206 - in), slab(p.z, -60 + in, 60 - in)})));
                    }
            return f;
        };
        gap.room.outer = field(0);
        gap.air = field(6);
        request.baffle.plane = request.room.baffle = {{0, 0, 0}, {0, -1, 0}};
        request.baffle.travel_lo_mm = request.room.travel_lo_mm = -150;
        request.baffle.travel_hi_mm = request.room.travel_hi_mm = 10;
        request.baffle.thickness = Length::mm(12);
        request.baffle.rim_radius = Length::mm(3);
        request.net_volume = Volume::litres(2);
    }
    void ask_centre(Point3 p) { request.driver.emplace().centre = p; }
    DriverFitting fit(const sound::Driver& driver, std::optional<Volume> wanted = {}) const {
        const auto list = Shortlister::over(gap, request);
        REQUIRE(list);
        return list->fit(driver, wanted);
    }
};

sound::Driver driver_of(double flange, double depth) {
    sound::Driver d{};
    d.name = "test driver";
    d.flange_diameter = Length::mm(flange);
    d.cutout_diameter = Length::mm(flange - 20);
    d.basket_diameter = Length::mm(flange - 24);
    d.mounting_depth = Length::mm(depth);
    d.magnet_diameter = Length::mm(50);
    d.magnet_depth = Length::mm(20);
    d.displacement = Volume::litres(0.1);
    return d;
}

}  // namespace

TEST_CASE("a flange fits while it lies within the flat, and what is widest is told", "[parts][shortlist]") {
    // 120 high, less a rim of 3 on both sides: 114.
    const Scene scene;
    CHECK(scene.fit(driver_of(113, 60)).place);
    const DriverFitting wide = scene.fit(driver_of(116, 60));
    CHECK_FALSE(wide.place);
    CHECK_THAT(wide.why_not, Catch::Contains("116 mm across") && Catch::Contains("takes 114 mm at most"));
}

TEST_CASE("a driver fits by depth with the air behind its magnet", "[parts][shortlist]") {
    // From the outermost seat, 10 before zero, to the inner wall at 200: 210, of which 10 stay free.
    const Scene scene;
    CHECK(scene.fit(driver_of(100, 199.5)).place);
    const DriverFitting deep = scene.fit(driver_of(100, 205));
    CHECK_FALSE(deep.place);
    CHECK_THAT(deep.why_not, Catch::Contains("205 mm deep") && Catch::Contains("5 mm less at best"));
    // Without a depth it is judged by its circles alone, and that is told.
    sound::Driver unknown = driver_of(100, 60);
    unknown.mounting_depth.reset();
    const DriverFitting flat = scene.fit(unknown);
    CHECK(flat.place);
    CHECK_THAT(flat.why_not, Catch::Contains("mounting_depth"));
}

TEST_CASE("a magnet as wide as its basket meets the side wall before the flange does", "[parts][shortlist]") {
    // The inner wall is 54 from the middle: a magnet of 104 and the air wanted beside it just fit, one of 106 does not.
    const Scene scene;
    sound::Driver driver = driver_of(112, 60);
    driver.cutout_diameter = Length::mm(107);
    driver.basket_diameter = driver.magnet_diameter = Length::mm(103.5);
    CHECK(scene.fit(driver).place);
    driver.basket_diameter = driver.magnet_diameter = Length::mm(106);
    CHECK_THAT(scene.fit(driver).why_not, Catch::Contains("too near to the inner wall"));
}

TEST_CASE("the innermost place that leaves the air wanted is told, and the roomiest", "[parts][shortlist][oracle]") {
    const Scene scene;
    const sound::Driver driver = driver_of(100, 60);
    const auto list = Shortlister::over(scene.gap, scene.request);
    REQUIRE(list);
    // Behind the seat at t: 138 x 108 over 200 - 12 + t, with the cut-out of 80 through 12, less 0.1 L of driver.
    const double pi = 3.14159265358979;
    const auto net = [&](double t) { return (138.0 * 108 * (188 + t) + pi * 40 * 40 * 12) * 1e-6 - 0.1; };
    const DriverFitting fitting = list->fit(driver, Volume::litres(2));
    REQUIRE(fitting.place);
    CHECK(fitting.roomiest->t_mm == Approx(10));
    CHECK(fitting.roomiest->net.litres() == Approx(net(10)).epsilon(2e-3));
    CHECK(fitting.place->net.litres() == Approx(net(fitting.place->t_mm)).epsilon(2e-3));
    CHECK(fitting.place->net.litres() >= 2.0);
    CHECK(net(fitting.place->t_mm - 160.0 / 39) < 2.0);  // one step further in it is too little
    CHECK(list->fit(driver, Volume::litres(1)).place->t_mm < fitting.place->t_mm);
    // More than there is: the roomiest place.
    CHECK(list->fit(driver, Volume::litres(9)).place->t_mm == Approx(10));
}

TEST_CASE("the job's own centre is kept where it fits, otherwise the nearest is told", "[parts][shortlist]") {
    Scene scene;
    scene.ask_centre({20, 0, 3});
    const DriverFitting kept = scene.fit(driver_of(100, 60));
    REQUIRE(kept.place);
    CHECK(kept.place->is_as_asked);
    CHECK(kept.place->centre.x == Approx(20));
    CHECK(kept.place->centre.z == Approx(3));
    CHECK(kept.place->front_spare_mm == Approx(72 - 20 - 50).margin(0.3));
    // At 40 it reaches past the flat, which ends at 72: it goes back to 22 at most, on a grid of 8.
    scene.ask_centre({40, 0, 3});
    const DriverFitting moved = scene.fit(driver_of(100, 60));
    REQUIRE(moved.place);
    CHECK_FALSE(moved.place->is_as_asked);
    CHECK(moved.place->centre.x <= 22.3);
    CHECK(moved.place->centre.x >= 22.3 - 1.5 * kCentreStep_mm);
}

TEST_CASE("a travel that never meets the room is refused", "[parts][shortlist][faults]") {
    Scene scene;
    scene.request.baffle.travel_lo_mm = -250;
    scene.request.baffle.travel_hi_mm = -230;
    const auto list = Shortlister::over(scene.gap, scene.request);
    REQUIRE_FALSE(list);
    CHECK(list.error().code == FaultCode::Impossible);
}
