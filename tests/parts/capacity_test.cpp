// What a gap holds: the curve against closed forms and against the slow way, depths, prices against runs of their own.
#include "geom/parts/capacity.h"
#include "geom/parts/directions.h"
#include "geom/parts/driver_room.h"
#include "geom/parts/price_list.h"
#include "tests/support/capacity_laws.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::parts;

namespace {

/// Box frame = vehicle frame turned so that y goes in; bodies are given in box numbers.
template <class Distance>
space::Field field_of(Distance&& distance, double h = 2.0) {
    space::Field field;
    field.grid.vehicle_from_box = space::box_frame({{0, 0, 0}, {0, -1, 0}}, {0, 0, 1});
    field.grid.h_mm = h;
    field.grid.lo = {-80, -20, -80};
    field.grid.nx = field.grid.nz = static_cast<int>(160 / h) + 1;
    field.grid.ny = static_cast<int>(220 / h) + 1;
    for (int k = 0; k < field.grid.nz; ++k)
        for (int j = 0; j < field.grid.ny; ++j)
            for (int i = 0; i < field.grid.nx; ++i)
                field.mm.push_back(static_cast<float>(distance(field.grid.node(i, j, k))));
    return field;
}

EnclosureRequest plain_request() {
    EnclosureRequest r;
    r.name = "plain";
    r.baffle.plane = r.room.baffle = {{0, 0, 0}, {0, -1, 0}};
    r.baffle.travel_lo_mm = r.room.travel_lo_mm = -150;
    r.baffle.travel_hi_mm = r.room.travel_hi_mm = 10;
    r.baffle.thickness = Length::mm(12);
    r.net_volume = Volume::litres(1);
    return r;
}

const support::LawJob& small_job() {
    static const support::LawJob job = [] {
        support::LawJob coarse = support::law_job(5);
        coarse.request.room.voxel = Length::mm(7);
        return coarse;
    }();
    return job;
}

double slab(double v, double lo, double hi) {
    return std::max(lo - v, v - hi);
}

/// Two chambers that hang together in front of y = 60: the left one is wider but ends at 120, the right one at 180.
double two_chambers(Point3 p) {
    const double left = std::max({slab(p.x, -70, -5), slab(p.y, -100, 120), slab(p.z, -50, 50)});
    const double right = std::max({slab(p.x, 5, 60), slab(p.y, -100, 180), slab(p.z, -50, 50)});
    const double front = std::max({slab(p.x, -70, 60), slab(p.y, -100, 61), slab(p.z, -50, 50)});
    return std::min({left, right, front});
}

}  // namespace

TEST_CASE("net volume against baffle place is that of a box in closed form, less what stands in it",
          "[parts][capacity]") {
    const space::Field air = field_of([](Point3 p) {
        return std::max({slab(p.x, -41, 41), slab(p.y, -100, 151), slab(p.z, -31, 31)});
    });
    EnclosureRequest request = plain_request();
    request.terminal = Terminal{.diameter = Length::mm(20), .at = {}, .displacement = Volume::litres(0.05)};
    const double features = features_volume(request).litres();
    CHECK(features < 0.0);
    const CapacityCurve curve(air, request);
    for (const double t : {10.0, 0.0, -37.3, -99.0}) {
        const double depth = 151.0 - (12.0 - t);
        CHECK(curve.net_at(t).litres() == Approx(82.0 * 62.0 * depth / 1e6 + features).epsilon(2e-3));
        CHECK(curve.section_at(t).cm2() == Approx(50.84).epsilon(2e-3));
        CHECK(curve.pieces_at(t) == 1);
    }
    CHECK(curve.net_at(-150.0).litres() == 0.0);
    const auto place = curve.place_for(Volume::litres(0.4));
    REQUIRE(place);
    CHECK(curve.net_at(*place).litres() == Approx(0.4).epsilon(1e-6));
    CHECK_FALSE(curve.place_for(Volume::litres(5)));
}

TEST_CASE("where a plane leaves several pieces the largest counts, as it does when the part is made",
          "[parts][capacity]") {
    const space::Field air = field_of(two_chambers);
    const EnclosureRequest request = plain_request();
    const CapacityCurve curve(air, request);
    for (double t = -150.0; t <= 10.0; t += 3.7) {
        CAPTURE(t);
        // Within a voxel of a flat end the two tables' interpolation differs by a part of its section.
        CHECK(curve.net_at(t).litres() ==
              Approx(net_volume_at(air, request, t).litres()).margin(std::abs(t + 108.0) < 2.0 ? 2e-3 : 1e-9));
    }
    // In front of the wall between them both, behind it first the wider, then the deeper.
    CHECK(curve.pieces_at(0.0) == 1);
    CHECK(curve.pieces_at(-60.0) == 2);
    CHECK(curve.net_at(-52.0).litres() == Approx(std::max(65.0 * 56.0, 55.0 * 116.0) * 100.0 / 1e6).epsilon(0.01));
    CHECK(curve.net_at(-130.0).litres() == Approx(55.0 * 38.0 * 100.0 / 1e6).epsilon(0.01));
}

TEST_CASE("the depth left for a driver ends at the nearest inner wall behind its magnet", "[parts][capacity]") {
    // The back leans: at x it lies at 140 + x / 4.
    const space::Field air = field_of([](Point3 p) {
        return std::max({slab(p.x, -60, 60), -100.0 - p.y, p.y - 140.0 - 0.25 * p.x, slab(p.z, -60, 60)});
    });
    EnclosureRequest request = plain_request();
    sound::Driver driver;
    driver.name = "woofer";
    driver.cutout_diameter = Length::mm(92);
    driver.flange_diameter = Length::mm(110);
    driver.basket_diameter = Length::mm(90);
    driver.magnet_diameter = Length::mm(60);
    driver.mounting_depth = Length::mm(50);
    driver.recess = Length::mm(3);
    request.driver = DriverMount{driver, {0, 0, 5}, Angle::deg(0)};
    const DriverRoom room(air, request);
    const double toward = air.grid.vehicle_from_box.dir_to_parent({1, 0, 0}).x;  // box x in the vehicle
    CHECK(std::abs(toward) == Approx(1.0));
    const DriverDepth depth = room.depth_at(-20.0);
    CHECK(depth.magnet_mm == Approx(140.0 - 0.25 * 30.0 - 20.0 - 3.0).margin(0.05));
    REQUIRE(depth.basket_mm);
    CHECK(*depth.basket_mm == Approx(140.0 - 0.25 * 45.0 - 20.0 - 3.0).margin(0.05));
    CHECK(room.depth_at(-135.0).magnet_mm == 0.0);  // the plane meets the back
    CHECK_THAT(room.what(), Catch::Contains("magnet's section of 60 mm"));

    request.driver->centre = {20, 0, 5};  // its basket reaches into the side wall
    CHECK(*DriverRoom(air, request).depth_at(-20.0).basket_mm == 0.0);

    request.driver.reset();
    CHECK(DriverRoom(air, request).depth_at(-20.0).magnet_mm == Approx(120.0).margin(0.3));
}

TEST_CASE("a travel that never meets the room is a fault, one without length tells places further in",
          "[parts][capacity]") {
    GapField gap;
    gap.air = gap.room.outer = field_of([](Point3 p) {
        return std::max({slab(p.x, -41, 41), slab(p.y, -100, 151), slab(p.z, -31, 31)});
    });
    EnclosureRequest request = plain_request();
    request.baffle.travel_lo_mm = -190, request.baffle.travel_hi_mm = -160;
    const auto none = capacity_of(gap, request);
    REQUIRE_FALSE(none);
    CHECK(none.error().code == FaultCode::Impossible);
    CHECK_THAT(none.error().what, Catch::Contains("never meets the room"));

    request.baffle.travel_lo_mm = request.baffle.travel_hi_mm = -10;
    const auto fixed = capacity_of(gap, request);
    REQUIRE(fixed);
    CHECK(fixed->is_fixed);
    CHECK(fixed->places.back().t_mm == -10.0);
    CHECK(fixed->places.size() > 20);
    CHECK(fixed->most_t_mm == -10.0);
}

TEST_CASE("each price and each pair is what a run with the thing taken away gives", "[parts][capacity][prices]") {
    support::LawJob job = small_job();
    job.request.room.keep_outs.push_back(
        {"lever", space::SphereShape{job.request.room.air + Vec3{50, 30, 0}, 25.0}, Length::mm(2), true});
    job.request.feet.push_back({"foot", {0, 0, 0}, {0, 0, -1}, "M8"});
    const auto list =
        price_list(job.surface, job.request, {.place_mm = -20.0, .pairs_of = 2, .voxel = Length::mm(7)}, {});
    REQUIRE(list);
    const auto base = most_net_volume(job.surface, job.request, {});
    REQUIRE(base);
    CHECK(list->most.litres() == Approx(base->litres()).epsilon(1e-12));
    const auto all = constraints(job.request);
    CHECK(list->prices.size() == all.size());
    std::map<std::string, double> single;
    for (const Price& p : list->prices) {
        CAPTURE(p.name, p.note);
        const auto c = std::find_if(all.begin(), all.end(), [&](const Constraint& k) { return k.name == p.name; });
        REQUIRE(c != all.end());
        if (!p.litres) continue;
        single[p.name] = *p.litres;
        EnclosureRequest changed = job.request;
        (p.taken == c->taken ? c->take_away : c->ease)(changed);
        const auto own = most_net_volume(job.surface, changed, {});
        REQUIRE(own);
        CHECK(*p.litres == Approx((*own - *base).litres()).margin(1e-9));
        REQUIRE(p.litres_at_place);
        if (p.name == "fixing 'foot'") {
            CHECK(*p.litres == 0.0);
            CHECK_THAT(p.note, Catch::Contains("takes nothing from the air"));
        }
    }
    for (std::size_t i = 1; i < list->prices.size(); ++i)
        CHECK(list->prices[i - 1].litres.value_or(-1e300) >= list->prices[i].litres.value_or(-1e300));
    CHECK(single.at("wall") > 0.1);
    CHECK(single.at("keep-out 'lever'") > 0.01);
    REQUIRE(list->pairs.size() == 1);
    for (const PairPrice& pair : list->pairs)
        CHECK(pair.interaction_litres ==
              Approx(pair.litres - single.at(pair.first) - single.at(pair.second)).margin(1e-12));
}

TEST_CASE("a limit whose removal opens the room says so and is priced a step further out",
          "[parts][capacity][prices]") {
    const support::LawJob& job = small_job();
    const auto list = price_list(job.surface, job.request, {.place_mm = {}, .pairs_of = 0, .voxel = Length::mm(7)}, {});
    REQUIRE(list);
    const auto top =
        std::find_if(list->prices.begin(), list->prices.end(), [](const Price& p) { return p.name == "limit 'top'"; });
    REQUIRE(top != list->prices.end());
    CHECK_THAT(top->note, Catch::Contains("the room is open"));
    CHECK(top->taken == "20 mm further out");
    REQUIRE(top->litres);
    CHECK(*top->litres > 0.1);
    const std::string text = reliefs_text(reliefs(job.surface, job.request, {}));
    CHECK_THAT(text, Catch::Contains("without limit 'top' (the room would be open there)") && Catch::Contains("wall "));
}

TEST_CASE("tightening any rule never gives more volume", "[parts][capacity][property]") {
    support::LawCount laws;
    for (std::uint64_t seed = 0; seed < 1; ++seed) support::look_at_laws(seed, 2e-4, laws);
    for (const auto& broken : laws.broken) FAIL_CHECK(broken.what << ": " << broken.litres_more << " L more");
    CHECK(laws.no_part == 0);
    CHECK(laws.looked_at == 9);
}

TEST_CASE("the fan of directions is spread over the listener's side and begins straight",
          "[parts][capacity][directions]") {
    space::RoomOptions room;
    room.baffle = {{0, 0, 0}, unit(Vec3{0.2, -1, 0.1})};
    room.open = {{"top", {{0, 0, 300}, {0, 0, 1}}}};
    const auto fan = fan_of_directions(room);
    CHECK(fan.size() == 26);
    CHECK(distance(fan.front(), -room.baffle.outward) < 1e-12);
    for (std::size_t a = 0; a < fan.size(); ++a) {
        CHECK(norm(fan[a]) == Approx(1.0));
        CHECK((dot(fan[a], -room.baffle.outward) > 0.49 || fan[a] == Vec3{0, 0, -1}));
        for (std::size_t b = 0; b < a; ++b)
            CHECK(dot(fan[a], fan[b]) < std::cos(5.0 * std::numbers::pi / 180.0) + 1e-12);
    }
    CHECK(fan[1].z < fan[4].z);  // the first of a ring comes from above
}
