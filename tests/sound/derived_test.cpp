// Relations: Thiele 1971, Small 1972 [memory; Vas verified]; example E1 [computed].
#include "geom/sound/derived.h"
#include "geom/core/random.h"
#include "geom/sound/wiring.h"
#include "tests/sound/reference_drivers.h"

#include <numbers>

using namespace geom;
using namespace geom::sound;
using test::printed;

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

/// A driver by its physical values, each in the span that woofers have.
Driver random_driver(Random& random) {
    Driver d;
    d.sd = Area::cm2(random.uniform(80, 800));
    d.mms_kg = random.uniform(0.008, 0.25);
    d.cms_m_per_n = random.uniform(1e-4, 2e-3);
    d.rms_kg_per_s = random.uniform(0.3, 6.0);
    d.bl_tm = random.uniform(3, 25);
    d.re_ohm = random.uniform(1, 8);
    return d;
}

}  // namespace

TEST_CASE("woofer A's small-signal values follow from its physical ones", "[sound][derived][oracle]") {
    // E1 [computed].
    const SmallSignal a = derived(test::woofer_a());
    CHECK(a.fs_hz->value == printed(29.0576, 4));
    CHECK(a.vas->value.litres() == printed(64.9546, 4));
    CHECK(a.qms->value == printed(4.56435, 5));
    CHECK(a.qes->value == printed(0.402408, 6));
    CHECK(a.qts->value == printed(0.369805, 6));
    CHECK(a.efficiency->value == printed(0.00386724, 8));
    CHECK(a.spl_1w_db->value == printed(88.0338, 4));
    CHECK(a.spl_sheet_db->value == printed(91.5065, 4));
    CHECK(a.vd->value.litres() == printed(0.1284, 4));
    CHECK(a.notes.empty());
    CHECK(a.sd->is_given);
    CHECK_FALSE(a.qts->is_given);
    CHECK(a.qts->from == "qes and qms");
    CHECK(a.vas->from == "sd and cms");
    // Of an efficiency of 1, one watt in half space [computed; 112 in print, memory].
    CHECK(level_of_efficiency_db(1.0) == printed(112.16, 2));
}

TEST_CASE("a published driver has its published Qts and efficiency", "[sound][derived][oracle]") {
    // Small 1973 part III [memory]: fs 33, Qms 2.0, Qes 0.45, Vas 57 dm3: Qts 0.37, 0.44 %; with c = 345 [computed]
    // 0.367347 and 0.43763 %.
    Driver d;
    d.fs_hz = 33, d.qms = 2.0, d.qes = 0.45, d.vas = Volume::litres(57);
    const SmallSignal got = derived(d, {.density_kg_m3 = 1.18, .speed_m_s = 345.0});
    CHECK(got.qts->value == printed(0.367347, 6));
    CHECK(100.0 * got.efficiency->value == printed(0.43763, 5));
}

TEST_CASE("any two of the three Qs give the third", "[sound][derived]") {
    Driver whole;
    whole.qes = 0.5, whole.qms = 4.0;
    const double qts = derived(whole).qts->value;
    CHECK(qts == Approx(0.5 * 4.0 / 4.5));
    Driver d;
    d.qts = qts, d.qms = 4.0;
    CHECK(derived(d).qes->value == Approx(0.5));
    d.qms.reset(), d.qes = 0.5;
    CHECK(derived(d).qms->value == Approx(4.0));
    d.qes.reset();
    CHECK_FALSE(derived(d).qes);
    CHECK_FALSE(derived(d).qms);
    // A total that is not below its part has no other part.
    d.qts = 0.6, d.qes = 0.5;
    CHECK_FALSE(derived(d).qms);
    REQUIRE(derived(d).notes.size() == 1);
    CHECK(derived(d).notes[0] == "qts: 0.6, not less than qes of 0.5; wanted less, as other losses add to it");
}

TEST_CASE("1 000 random drivers come back from every sheet that says enough", "[sound][derived]") {
    Random random(8);
    for (int i = 0; i < 1000; ++i) {
        CAPTURE(i);
        const Driver physical = random_driver(random);
        const SmallSignal all = derived(physical);
        REQUIRE(all.notes.empty());
        // By the usual sheet: fs, the Qs, vas, sd, re. The force factor in closed form.
        Driver sheet;
        sheet.fs_hz = all.fs_hz->value, sheet.qts = all.qts->value, sheet.qes = all.qes->value;
        sheet.vas = all.vas->value, sheet.sd = physical.sd, sheet.re_ohm = physical.re_ohm;
        const SmallSignal back = derived(sheet);
        REQUIRE(back.notes.empty());
        CHECK(back.mms_kg->value == Approx(*physical.mms_kg).epsilon(1e-9));
        CHECK(back.cms_m_per_n->value == Approx(*physical.cms_m_per_n).epsilon(1e-9));
        CHECK(back.bl_tm->value == Approx(*physical.bl_tm).epsilon(1e-9));
        CHECK(back.rms_kg_per_s->value == Approx(*physical.rms_kg_per_s).epsilon(1e-6));
        // The second form of the efficiency, by Bl, Sd, Re and Mms.
        const Air air;
        const double sd = square_metres(*physical.sd);
        const double eta0 = air.density_kg_m3 * std::pow(*physical.bl_tm * sd / *physical.mms_kg, 2) /
                            (kTwoPi * air.speed_m_s * *physical.re_ohm);
        CHECK(all.efficiency->value == Approx(eta0).epsilon(1e-12));
    }
}

TEST_CASE("contradictions over 5 % are named with both values", "[sound][derived]") {
    Driver d = test::woofer_a();
    d.fs_hz = 29.0576 * 1.04;
    CHECK(derived(d).notes.empty());
    d.fs_hz = 32.0;
    const SmallSignal got = derived(d);
    REQUIRE(got.notes.size() == 1);
    CHECK(got.notes[0] == "fs: given as 32 Hz, but 29.1 Hz by mms and cms");
    CHECK(got.fs_hz->value == 32.0);  // the given one stays
    CHECK(got.fs_hz->is_given);

    Driver v = test::woofer_a();
    v.vas = Volume::litres(50);
    REQUIRE(derived(v).notes.size() == 1);
    CHECK(derived(v).notes[0] == "vas: given as 50 L, but 65 L by sd and cms");
    // Through values that are not given themselves: fs and vas make a mass that bl does not go with.
    Driver q;
    q.fs_hz = 30, q.vas = Volume::litres(60), q.sd = Area::cm2(214), q.re_ohm = 3.6, q.bl_tm = 14, q.qes = 0.4;
    REQUIRE(derived(q).notes.size() == 1);
    CHECK(derived(q).notes[0].rfind("qes: given as 0.4, but 0.1", 0) == 0);
}

TEST_CASE("what is missing is left out and nothing else", "[sound][derived]") {
    const SmallSignal d = test::driver_of(30, 0.4, 60);
    CHECK(d.fs_hz);
    CHECK_FALSE(d.sd);
    CHECK_FALSE(d.vd);
    CHECK_FALSE(d.efficiency);
    CHECK_FALSE(d.mms_kg);
    Driver bad;
    bad.fs_hz = -1;
    CHECK_THROWS_AS(derived(bad), LogicError);
}

TEST_CASE("drivers that share a box work as one, however they are wired", "[sound][wiring]") {
    const SmallSignal one = derived(test::woofer_a());
    for (const auto& [series, parallel] : {std::pair{1, 2}, {2, 1}, {2, 2}, {1, 3}, {4, 1}}) {
        CAPTURE(series, parallel);
        const double n = series * parallel;
        const SmallSignal got = as_one(one, {.in_series = series, .in_parallel = parallel});
        // The physical values put through the relations again must give what is told.
        Driver whole;
        whole.sd = got.sd->value, whole.xmax = got.xmax->value;
        whole.mms_kg = got.mms_kg->value, whole.cms_m_per_n = got.cms_m_per_n->value;
        whole.rms_kg_per_s = got.rms_kg_per_s->value, whole.bl_tm = got.bl_tm->value;
        whole.re_ohm = got.re_ohm->value;
        const SmallSignal again = derived(whole);
        CHECK(again.fs_hz->value == Approx(one.fs_hz->value).epsilon(1e-12));
        CHECK(again.qes->value == Approx(one.qes->value).epsilon(1e-12));
        CHECK(again.qts->value == Approx(got.qts->value).epsilon(1e-12));
        CHECK(again.vas->value.litres() == Approx(n * one.vas->value.litres()).epsilon(1e-12));
        CHECK(again.efficiency->value == Approx(got.efficiency->value).epsilon(1e-12));
        CHECK(again.spl_1w_db->value == Approx(got.spl_1w_db->value).epsilon(1e-12));
        CHECK(again.spl_sheet_db->value == Approx(got.spl_sheet_db->value).epsilon(1e-12));
        CHECK(again.vd->value.litres() == Approx(got.vd->value.litres()).epsilon(1e-12));
        CHECK(got.re_ohm->value == Approx(3.6 * series / parallel));
    }
    // E8 [computed]: two woofers A.
    const SmallSignal two = as_one(one, {.in_series = 1, .in_parallel = 2});
    CHECK(two.vas->value.litres() == printed(129.909, 3));
    CHECK(two.efficiency->value == printed(0.00773448, 8));
    CHECK_THROWS_AS(as_one(one, {.in_series = 0, .in_parallel = 1}), LogicError);
}
