// Loads of driver and baffle screws against what a hand gets.
#include "tests/check/case.h"

#include "geom/fixings/pull_out.h"

using namespace geom;
using namespace geom::check;

namespace {

/// Four screws on a circle of 110 mm about the driver, at 45 degrees.
void add_screws(shapes::TestPart& part, parts::Step step, const std::string& thread, double reach_mm) {
    for (int i = 0; i < 4; ++i) {
        const double a = (i + 0.5) * shapes::kPi / 2.0;
        parts::BoltMade screw;
        screw.name = "screw " + std::to_string(i + 1);
        screw.thread = thread;
        screw.head_seat = {100 + 55 * std::cos(a), 0, 60 + 55 * std::sin(a)};
        screw.axis = {0, 1, 0};
        screw.hole.hole_mm = 6.4;
        screw.hole.seat_mm = 8.72;
        screw.step = step;
        screw.product = "shell";
        screw.reach_mm = reach_mm;
        part.made.enclosure.screws.push_back(screw);
    }
}

}  // namespace

TEST_CASE("driver screws share its weight and its lever", "[check][screws][oracle]") {
    shapes::TestPart part;
    part.request.forward = Vec3{0, -1, 0};
    add_screws(part, parts::Step::DriverOnBaffle, "M5", 12);
    const CheckLine pulled = shapes::line(shapes::require(part.judged()), "driver screws, pull-out and proof load");
    // 2 kg at 20 g straight out: 98.07 N each, against an insert of M5, pi 6.4 9.5 10 N, with 1.5.
    const double insert = shapes::kPi * 6.4 * 9.5 * 10.0, tension = 2 * 20 * 9.80665 / 4;
    CHECK(pulled.value == Approx(100.0 * 1.5 * tension / insert));
    CHECK(pulled.ok);
    // Forward along the baffle: its centre of mass, 70 - 15 mm behind the seat, pulls by its lever on two of them, over
    // their distance across the load.
    part.request.forward = Vec3{1, 0, 0};
    const double lever = 2 * 20 * 9.80665 * 55 / (2 * 2 * 55 / std::sqrt(2.0));
    CHECK(shapes::line(shapes::require(part.judged()), "driver screws, pull-out and proof load").value ==
          Approx(100.0 * 1.5 * lever / insert));
    // Without inserts the thread itself holds, 12 mm of it.
    part.request.baffle.inserts = false;
    const double thread =
        fixings::pull_out_N(*fixings::find_thread("M5"), fixings::Hold::Thread, fixings::Holder::Printed, 12);
    CHECK(shapes::line(shapes::require(part.judged()), "driver screws, pull-out and proof load").value ==
          Approx(100.0 * 1.5 * lever / thread));
    // Too heavy for them.
    part.request.driver->driver.mass_kg = 30.0;
    CHECK_FALSE(shapes::line(shapes::require(part.judged()), "driver screws, pull-out and proof load").ok);
    // Not known: not judged.
    part.request.driver->driver.mass_kg.reset();
    for (const CheckLine& l : shapes::require(part.judged()).lines)
        CHECK(l.name != "driver screws, pull-out and proof load");
}
