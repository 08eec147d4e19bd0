// Unlike drivers in one box: what they become where they are alike, their figures, limits and what they lack.
#include "geom/sound/box_sound.h"
#include "tests/sound/random_driver.h"
#include "tests/sound/reference_drivers.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <complex>
#include <numbers>

using namespace geom;
using namespace geom::sound;

namespace {

constexpr int kBoxes = 200;
using Curve = std::vector<double>;

void check_same(const Curve& a, const Curve& b, double rel, double margin) {
    REQUIRE(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        CAPTURE(i);
        CHECK(a[i] == Approx(b[i]).epsilon(rel).margin(margin));
    }
}

Box random_box(Random& random, const SmallSignal& driver, bool has_port) {
    Box box = has_port ? test::random_vented(random, driver) : test::random_closed(random, driver);
    if (!has_port && random.uniform() < 0.5)
        box.losses = BoxLosses{.leakage = random.uniform(5, 30), .absorption = random.uniform(10, 100)};
    box.lining_gain = random.uniform(1.0, 1.4);
    return box;
}

SmallSignal with_le(SmallSignal driver, double henry) {
    driver.le_h = Told<double>{henry, true, "given"};
    return driver;
}

const Wiring kWirings[] = {{.in_series = 1, .in_parallel = 2},
                           {.in_series = 2, .in_parallel = 1},
                           {.in_series = 2, .in_parallel = 2},
                           {.in_series = 3, .in_parallel = 1}};
constexpr Wiring kParallel{.in_series = 1, .in_parallel = 2};

MixedDrivers mixed(std::vector<SmallSignal> each, const Wiring& wiring) {
    auto drivers = mixed_drivers(std::move(each), wiring);
    REQUIRE(drivers);
    return *drivers;
}

MixedDrivers random_pair(Random& random) {
    return mixed({test::random_driver(random), test::random_driver(random)}, kParallel);
}

Driver sheet(const char* name, double fs, double litres, double cm2) {
    Driver d;
    d.name = name;
    d.fs_hz = fs, d.qes = 0.5, d.qms = 4.0, d.vas = Volume::litres(litres), d.sd = Area::cm2(cm2);
    d.re_ohm = 4.0, d.xmax = Length::mm(5), d.power_w = 60.0;
    return d;
}

}  // namespace

TEST_CASE("unlike drivers that are alike are as one", "[sound][mixed]") {
    Random random(411);
    const Curve hz = frequencies(8, 900, 23);
    for (int i = 0; i < kBoxes; ++i) {
        CAPTURE(i);
        SmallSignal one = test::random_driver(random);
        if (i % 3 == 0) one = with_le(one, random.uniform(1e-4, 3e-3));
        const Wiring wiring = kWirings[i % 4];
        const std::size_t count = static_cast<std::size_t>(wiring.count());
        const Box box = random_box(random, one, i % 2 == 0);
        const MixedDrivers drivers = mixed(std::vector(count, one), wiring);
        const SmallSignal as = as_one(one, wiring);
        const ResponseOptions options{.watts = random.uniform(1, 300), .air = {}};
        const Response many = response(drivers, box, hz, options);
        const auto folded = response(as, box, hz, options);
        REQUIRE(folded);
        check_same(many.response_db, folded->response_db, 0.0, 1e-8);
        for (std::size_t k = 0; k < hz.size(); ++k)  // the turn may be told from either side of 180
            CHECK(std::abs(std::remainder(many.phase_deg[k] - folded->phase_deg[k], 360.0)) < 1e-7);
        check_same(many.group_delay_s, folded->group_delay_s, 1e-8, 1e-12);
        check_same(many.spl_db, folded->spl_db, 0.0, 1e-8);
        check_same(many.spl_sheet_db, folded->spl_sheet_db, 0.0, 1e-8);
        check_same(many.port_m_s, folded->port_m_s, 1e-9, 1e-12);
        check_same(many.spl_most_db, folded->spl_most_db, 0.0, 1e-8);
        check_same(many.watts_most, folded->watts_most, 1e-9, 0.0);
        check_same(many.impedance_ohm, folded->impedance_ohm, 1e-9, 0.0);
        check_same(many.impedance_phase_deg, folded->impedance_phase_deg, 1e-9, 1e-8);
        REQUIRE(many.each_cone.size() == count);
        for (const ConeCurve& cone : many.each_cone) check_same(cone.excursion_mm, folded->excursion_mm, 1e-9, 0.0);
        CHECK(many.excursion_mm.empty());

        const SmallSignal& all = drivers.together;
        CHECK(all.re_ohm->value == Approx(as.re_ohm->value).epsilon(1e-12));
        CHECK(all.power_w->value == Approx(as.power_w->value).epsilon(1e-12));
        CHECK(all.efficiency->value == Approx(as.efficiency->value).epsilon(1e-10));
        CHECK(all.spl_sheet_db->value == Approx(as.spl_sheet_db->value).margin(1e-9));
        CHECK(all.sd->value.cm2() == Approx(as.sd->value.cm2()));
        CHECK(all.vas->value.litres() == Approx(as.vas->value.litres()));
    }
}

TEST_CASE("figures of drivers that are alike are those of one", "[sound][mixed]") {
    Random random(412);
    for (int i = 0; i < 40; ++i) {
        CAPTURE(i);
        const SmallSignal one = with_le(test::random_driver(random), 1e-3);  // which figures leave out
        const Wiring wiring = kWirings[i % 4];
        const MixedDrivers drivers = mixed(std::vector(static_cast<std::size_t>(wiring.count()), one), wiring);
        const SmallSignal as = as_one(one, wiring);
        Box box = random_box(random, one, i % 2 == 0);
        std::optional<Peak> peak;
        if (box.has_port()) {
            const auto folded = vented_figures(as, box);
            const MixedFigures figures = mixed_figures(drivers, box);
            CHECK(figures.f3_hz == Approx(folded->f3_hz).epsilon(1e-8));
            CHECK(figures.f10_hz == Approx(folded->f10_hz).epsilon(1e-8));
            REQUIRE(figures.peak.has_value() == folded->peak.has_value());
            if (figures.peak) CHECK(figures.peak->db == Approx(folded->peak->db).margin(1e-8));
            CHECK_FALSE(figures.within_xmax);
            const PortSpeed a = fastest_port_air(drivers, box, 90.0, 10.0, 400.0),
                            b = fastest_port_air(as, box, 90.0, 10.0, 400.0);
            CHECK(a.m_s == Approx(b.m_s).epsilon(1e-9));
            CHECK(a.at_hz == Approx(b.at_hz).epsilon(1e-4));
        } else {
            box.losses.reset();  // closed forms of a tight box
            const auto folded = closed_figures(as, box);
            const MixedFigures figures = mixed_figures(drivers, box);
            CHECK(losses_hz(drivers, box) == Approx(folded->fc_hz).epsilon(1e-12));
            CHECK(figures.f3_hz == Approx(folded->f3_hz).epsilon(1e-9));
            CHECK(figures.f10_hz == Approx(folded->f10_hz).epsilon(1e-9));
            CHECK((figures.peak ? figures.peak->db : 0.0) ==
                  Approx(folded->peak ? folded->peak->db : 0.0).margin(2e-4));
            REQUIRE(figures.within_xmax);
            CHECK(figures.within_xmax->watts == Approx(*folded->within_xmax_w).epsilon(1e-6));
        }
    }
}

TEST_CASE("twice the drivers in twice the box sound twice, each cone as before", "[sound][mixed][laws]") {
    Random random(413);
    for (int i = 0; i < kBoxes; ++i) {
        CAPTURE(i);
        const SmallSignal a = with_le(test::random_driver(random), 5e-4), b = test::random_driver(random);
        Box box = random_box(random, a, i % 2 == 0);
        Box twice = box;
        twice.net = box.net * 2.0;
        twice.port_area = box.port_area * 2.0;
        const MixedDrivers two = mixed({a, b}, {.in_series = 2, .in_parallel = 1}),
                           four = mixed({a, b, a, b}, {.in_series = 2, .in_parallel = 2});
        const Curve hz{14.0, 40.0, 120.0};
        const Response once = response(two, box, hz, {.watts = 20.0, .air = {}}),
                       doubled = response(four, twice, hz, {.watts = 40.0, .air = {}});
        check_same(doubled.response_db, once.response_db, 0.0, 1e-8);
        check_same(doubled.group_delay_s, once.group_delay_s, 1e-8, 1e-12);
        check_same(doubled.port_m_s, once.port_m_s, 1e-9, 0.0);
        for (std::size_t k = 0; k < 4; ++k)
            check_same(doubled.each_cone[k].excursion_mm, once.each_cone[k % 2].excursion_mm, 1e-9, 0.0);
        for (std::size_t k = 0; k < hz.size(); ++k) {
            CHECK(doubled.spl_sheet_db[k] - once.spl_sheet_db[k] == Approx(6.0206).margin(1e-4));
            CHECK(doubled.impedance_ohm[k] == Approx(once.impedance_ohm[k] / 2.0).epsilon(1e-9));
            CHECK(doubled.watts_most[k] == Approx(2.0 * once.watts_most[k]).epsilon(1e-9));
        }
    }
}

TEST_CASE("the most of unlike drivers takes one to its limit and none beyond", "[sound][mixed][laws]") {
    Random random(414);
    int by_cone = 0, by_coil = 0, of_second = 0;
    for (int i = 0; i < kBoxes; ++i) {
        CAPTURE(i);
        const MixedDrivers pair = random_pair(random);
        const Box box = random_box(random, pair.each[i % 2], i % 3 == 0);
        for (const double f : {15.0, 60.0, 250.0}) {
            CAPTURE(f);
            const Response asked = response(pair, box, {f});
            const double watts = asked.watts_most[0];
            const Response most = response(pair, box, {f}, {.watts = watts, .air = {}});
            CHECK(most.spl_db[0] == Approx(asked.spl_most_db[0]).margin(1e-9));
            // In parallel both see the volts: their power goes with one over re.
            const double conductance = 1.0 / pair.each[0].re_ohm->value + 1.0 / pair.each[1].re_ohm->value;
            double strain[2];
            for (std::size_t k = 0; k < 2; ++k) {
                const SmallSignal& d = pair.each[k];
                const double cone = most.each_cone[k].excursion_mm[0] / d.xmax->value.mm(),
                             coil = watts / (d.re_ohm->value * conductance) / d.power_w->value;
                strain[k] = std::max(cone, coil);
                CHECK(cone <= 1.0 + 1e-9);
                CHECK(coil <= 1.0 + 1e-9);
                if (k == asked.limited_by[0]) (cone > coil ? by_cone : by_coil) += 1;
            }
            CHECK(strain[asked.limited_by[0]] == Approx(1.0).epsilon(1e-9));
            of_second += asked.limited_by[0] == 1;
        }
    }
    // Each has to come up, or the test tests nothing.
    CHECK(by_cone > 20);
    CHECK(by_coil > 20);
    CHECK(of_second > 20);
}

TEST_CASE("corner and passband of a woofer and a mid in one box", "[sound][mixed]") {
    const SmallSignal woofer = derived(sheet("woofer", 32, 40, 210)), mid = derived(sheet("mid", 110, 2, 55));
    const MixedDrivers pair = mixed({woofer, mid}, kParallel);
    CHECK(pair.together.name == "woofer + mid");
    // At one voltage pressures add: 20 log of the sum of both.
    const auto pressure = [](const SmallSignal& d) { return std::pow(10.0, d.spl_sheet_db->value / 20.0); };
    CHECK(pair.together.spl_sheet_db->value ==
          Approx(20.0 * std::log10(pressure(woofer) + pressure(mid))).margin(1e-9));
    CHECK(pair.together.spl_1w_db->value ==
          Approx(pair.together.spl_sheet_db->value - 10.0 * std::log10(kSheetVolts * kSheetVolts / 2.0)));
    CHECK(pair.together.power_w->value == Approx(120.0));
    const Box box = test::closed(20.0);
    const MixedFigures figures = mixed_figures(pair, box);
    const Response at = response(pair, box, {figures.f3_hz, figures.f10_hz});
    CHECK(at.response_db[0] == Approx(-3.0103).margin(1e-4));
    CHECK(at.response_db[1] == Approx(-10.0).margin(1e-6));
    const Response above = response(pair, box, frequencies(figures.f3_hz * 1.001, 2e4, 400));
    CHECK(*std::min_element(above.response_db.begin(), above.response_db.end()) > -3.0103);
    // The power that takes no cone beyond xmax at any frequency takes one there at some.
    REQUIRE(figures.within_xmax);
    const Response full =
        response(pair, box, frequencies(1.0, 2e3, 2000), {.watts = figures.within_xmax->watts, .air = {}});
    double most[2];
    for (std::size_t k = 0; k < 2; ++k)
        most[k] = *std::max_element(full.each_cone[k].excursion_mm.begin(), full.each_cone[k].excursion_mm.end());
    CHECK(most[figures.within_xmax->by] == Approx(5.0).epsilon(1e-4));
    CHECK(most[1 - figures.within_xmax->by] < 5.0);
}

TEST_CASE("a mid stands the woofer's pressure on its cone", "[sound][mixed]") {
    // Far below all resonances both cones are springs: the mid is pressed out by the box as by its own force.
    const SmallSignal woofer = derived(sheet("woofer", 32, 40, 210)), mid = derived(sheet("mid", 110, 2, 55));
    const MixedDrivers pair = mixed({woofer, mid}, kParallel);
    Box box = test::closed(5.0);
    const Response low = response(pair, box, {0.01});
    // Statics in volumes: each cone moves F - C p, the box holds p = V/Cbox; compliances as volumes Vas.
    const double free_w = displacement_at_rest(woofer, 0.5).litres(), free_m = displacement_at_rest(mid, 0.5).litres();
    const double pressed = (free_w + free_m) / (5.0 + 40.0 + 2.0);
    CHECK(low.each_cone[0].excursion_mm[0] == Approx(1e4 / 210 * std::abs(free_w - 40.0 * pressed)).epsilon(1e-4));
    CHECK(low.each_cone[1].excursion_mm[0] == Approx(1e4 / 55 * std::abs(free_m - 2.0 * pressed)).epsilon(1e-4));
}

TEST_CASE("unlike drivers that lack values are named with what they lack", "[sound][mixed]") {
    Driver bare = sheet("bare", 110, 2, 55);
    bare.sd.reset(), bare.qms.reset();
    const SmallSignal whole = derived(sheet("whole", 32, 40, 210));
    const auto lacking = mixed_drivers({whole, derived(bare)}, kParallel);
    REQUIRE_FALSE(lacking);
    CHECK(lacking.error().code == FaultCode::BadJob);
    CHECK(lacking.error().what ==
          "unlike drivers in one box: driver \"bare\" lacks qms and sd, and no other value gives it; wanted fs, qes, "
          "qms, vas, sd and re of each");
    // What limits alone hang on is only left out.
    Driver open = sheet("open", 110, 2, 55);
    open.xmax.reset();
    const MixedDrivers no_xmax = mixed({whole, derived(open)}, kParallel);
    const Response r = response(no_xmax, test::vented(20, 40), {40.0});
    CHECK(r.left_out == std::vector<std::string>{kNoneInCommon, "most output within the excursion: wants xmax of open",
                                                 "air speed in the port: wants the port's area"});
    CHECK(r.watts_most[0] == Approx(120.0));
    open.power_w.reset();
    const Response none = response(mixed({whole, derived(open)}, kParallel), test::closed(20), {40.0});
    CHECK(none.watts_most.empty());
    CHECK(none.left_out.back() == "most output: wants power of open, or xmax of open");
    // Two of one name are told apart by their place.
    const SmallSignal other = derived(sheet("whole", 35, 40, 210));
    CHECK(mixed({whole, other}, kParallel).titles == std::vector<std::string>{"whole (1)", "whole (2)"});
    CHECK(names_together({whole, derived(open), other}) == "2 x whole + open");
}

TEST_CASE("only drivers that differ take the long way", "[sound][mixed][box_sound]") {
    const SmallSignal a = derived(sheet("woofer", 32, 40, 210)), b = derived(sheet("mid", 110, 2, 55));
    CHECK(are_alike({a}));
    CHECK(are_alike({a, a, a}));
    CHECK_FALSE(are_alike({a, b}));
    CHECK_FALSE(are_alike({a, with_le(a, 1e-3)}));
    const Box box = test::closed(22.0);
    const BoxSound same = box_sound({a, a}, kParallel, box, 0.01), folded = box_sound(as_one(a, kParallel), box, 0.01);
    CHECK(same.unlike.empty());
    CHECK(same.curves.spl_most_db == folded.curves.spl_most_db);
    CHECK(same.figure("qtc")->value == folded.figure("qtc")->value);
}

TEST_CASE("a box's figures of unlike drivers are their curves', with the volume's spread",
          "[sound][mixed][box_sound]") {
    const SmallSignal a = derived(sheet("woofer", 32, 40, 210)), b = derived(sheet("mid", 110, 2, 55));
    Box box = test::vented(30.0, 38.0);
    box.port_area = Area::cm2(40);
    SizedPort port;
    port.port.section = PortSection::round(Length::mm(71));
    const BoxSound heard = box_sound({a, b}, kParallel, box, 0.02, port);
    const MixedDrivers pair = mixed({a, b}, kParallel);
    CHECK(heard.unlike.size() == 2);
    CHECK(heard.driver.name == "woofer + mid");
    CHECK(heard.watts == Approx(120.0));
    for (const char* none : {"alpha", "qtc", "fc_hz"}) CHECK_FALSE(heard.figure(none));
    CHECK(heard.figure("tuning_hz")->most == Approx(38.0 / std::sqrt(0.98)));
    const Response low = response(pair, box, {40.0});
    CHECK(heard.figure("most_level_40_hz_db")->value == Approx(low.spl_most_db[0]).margin(1e-9));
    // Levels within xmax go with the watts that it allows.
    const double watts = heard.figure("xmax_watts_40_hz")->value;
    CHECK(heard.figure("xmax_level_40_hz_db")->value == Approx(low.spl_db[0] + 10.0 * std::log10(watts)).margin(1e-9));
    double tightest = 1e300;
    std::string by;
    for (const ConeCurve& cone : low.each_cone)
        if (const double w = std::pow(5.0 / cone.excursion_mm[0], 2.0); w < tightest) tightest = w, by = cone.title;
    CHECK(watts == Approx(tightest).epsilon(1e-9));
    CHECK(heard.xmax_limited_by == by);
    REQUIRE(heard.port_air);
    CHECK(heard.port_air->m_s >= *std::max_element(heard.curves.port_m_s.begin(), heard.curves.port_m_s.end()) - 1e-9);
    // Both ends of the bound.
    Box tight = box;
    tight.net = box.net * 0.98, tight.fb_hz = box.fb_hz / std::sqrt(0.98);
    const double f3 = mixed_figures(pair, tight).f3_hz;
    CHECK((heard.figure("f3_hz")->least == Approx(f3) || heard.figure("f3_hz")->most == Approx(f3)));
    // One that lacks a value leaves all of it out and says so.
    Driver bare = sheet("bare", 110, 2, 55);
    bare.re_ohm.reset();
    const BoxSound nothing = box_sound({a, derived(bare)}, kParallel, box, 0.02, port);
    CHECK(nothing.figures.empty());
    CHECK(nothing.driver.name == "woofer + bare");
    REQUIRE(nothing.left_out.size() == 1);
    CHECK(nothing.left_out[0].find("driver \"bare\" lacks re") != std::string::npos);
}
