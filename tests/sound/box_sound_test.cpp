// Figures of a driver in a box of a measured volume. Oracles: the reference's worked examples, and closed forms of the
// spread: qtc and fc go with sqrt(1 + Vas/V), a port's tuning with 1/sqrt(V).
#include "geom/sound/box_sound.h"

#include "geom/sound/cabin.h"
#include "tests/sound/reference_drivers.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::sound;

namespace {

BoxFigure told(const BoxSound& heard, const std::string& name) {
    const auto f = heard.figure(name);
    REQUIRE(f);
    return *f;
}

SizedPort tube(double diameter_mm, double length_mm) {
    SizedPort port;
    port.port.section = PortSection::round(Length::mm(diameter_mm));
    port.length = Length::mm(length_mm);
    return port;
}

}  // namespace

TEST_CASE("a closed box tells the reference's figures of woofer A in 22 litres", "[sound][box_sound]") {
    const BoxSound heard = box_sound(derived(test::woofer_a()), test::closed(22.0), 0.0);
    CHECK(told(heard, "alpha").value == test::printed(2.95248, 5));
    CHECK(told(heard, "qtc").value == test::printed(0.735204, 6));
    CHECK(told(heard, "fc_hz").value == test::printed(57.7689, 4));
    CHECK(told(heard, "f3_hz").value == test::printed(55.6454, 4));
    CHECK(told(heard, "f10_hz").value == test::printed(32.9388, 4));
    CHECK(told(heard, "peak_db").value == test::printed(0.0244808, 7));
    CHECK(*heard.peak_at_hz == test::printed(210.979, 3));
    CHECK(told(heard, "level_1w_db").value == test::printed(88.0338, 4));
    CHECK(told(heard, "level_2v83_db").value == test::printed(91.5065, 4));
    // What the excursion allows hangs on the driver alone; the power that takes hangs on the box.
    CHECK(told(heard, "xmax_level_40_hz_db").value == test::printed(94.7996, 4));
    // 10 V into 3.6 ohm move the cone 6.46535 mm there.
    CHECK(told(heard, "xmax_watts_40_hz").value == Approx(100.0 / 3.6 * std::pow(6.0 / 6.46535, 2.0)).epsilon(1e-5));
    CHECK_FALSE(heard.figure("most_level_40_hz_db"));  // its power is not given
    for (const BoxFigure& f : heard.figures) CHECK((f.least == f.value && f.most == f.value));
    CHECK(heard.curves.f_hz.size() == heard.curves.response_db.size());
}

TEST_CASE("the spread of every figure is that of the volume's two ends", "[sound][box_sound][law]") {
    constexpr double kBound = 0.013;
    const SmallSignal driver = derived(test::woofer_a());
    const BoxSound heard = box_sound(driver, test::closed(22.0), kBound);
    const double vas = driver.vas->value.litres(), fs = driver.fs_hz->value, qts = driver.qts->value;
    const double tight = std::sqrt(1.0 + vas / (22.0 * (1.0 - kBound))),
                 wide = std::sqrt(1.0 + vas / (22.0 * (1.0 + kBound)));
    CHECK(told(heard, "qtc").most == Approx(qts * tight).epsilon(1e-12));
    CHECK(told(heard, "qtc").least == Approx(qts * wide).epsilon(1e-12));
    CHECK(told(heard, "fc_hz").most == Approx(fs * tight).epsilon(1e-12));
    CHECK(told(heard, "fc_hz").least == Approx(fs * wide).epsilon(1e-12));
    for (const double litres : {22.0 * (1.0 - kBound), 22.0 * (1.0 + kBound)}) {
        const BoxSound end = box_sound(driver, test::closed(litres), 0.0);
        for (const BoxFigure& f : end.figures) {
            CAPTURE(f.name, litres);
            const BoxFigure whole = told(heard, f.name);
            CHECK(whole.least <= f.value);
            CHECK(whole.most >= f.value);
            CHECK((whole.least == f.value || whole.most == f.value || f.name == "xmax_level_40_hz_db"));
        }
    }
    // A level within the excursion is the same in every closed box.
    CHECK(told(heard, "xmax_level_40_hz_db").most - told(heard, "xmax_level_40_hz_db").least < 1e-9);
}

TEST_CASE("a port stays as it is made while the volume is not known exactly", "[sound][box_sound]") {
    Box box = test::vented(40.0, 32.0);
    const SizedPort port = tube(75, 205);
    box.port_area = port.port.area();
    const BoxSound heard = box_sound(derived(test::woofer_a()), box, 0.02, port);
    CHECK(told(heard, "alpha").value == test::printed(1.62387, 5));
    CHECK(told(heard, "f3_hz").value == test::printed(35.1084, 4));
    CHECK(told(heard, "f10_hz").value == test::printed(25.2989, 4));
    CHECK(told(heard, "tuning_hz").value == 32.0);
    CHECK(told(heard, "tuning_hz").most == Approx(32.0 / std::sqrt(0.98)).epsilon(1e-12));
    CHECK(told(heard, "tuning_hz").least == Approx(32.0 / std::sqrt(1.02)).epsilon(1e-12));
    CHECK_FALSE(heard.figure("qtc"));
    REQUIRE(heard.port_air);
    CHECK(heard.port_air->m_s > 0.0);
    double most = 0.0;
    for (const double v : heard.curves.port_m_s) most = std::max(most, v);
    CHECK(heard.port_air->m_s == Approx(most).epsilon(1e-3));
    CHECK(heard.port_air->m_s >= most);
}

TEST_CASE("fibre that makes a box seem larger is the larger box", "[sound][box_sound][law]") {
    Box lined = test::closed(20.0);
    lined.lining_gain = 1.15;
    const BoxSound a = box_sound(derived(test::woofer_a()), lined, 0.0),
                   b = box_sound(derived(test::woofer_a()), test::closed(23.0), 0.0);
    for (const BoxFigure& f : a.figures) CHECK(f.value == Approx(told(b, f.name).value).epsilon(1e-12));
}

TEST_CASE("what a driver's file leaves out is said, and only what needs it is left out", "[sound][box_sound]") {
    Driver d;
    d.name = "bare";
    SECTION("no fs, qts, vas: nothing is told") {
        const BoxSound heard = box_sound(derived(d), test::closed(10.0), 0.001);
        CHECK(heard.figures.empty());
        REQUIRE(heard.left_out.size() == 1);
        CHECK_THAT(heard.left_out.front(), Catch::Contains("all of it: ") && Catch::Contains("fs and qts not given"));
    }
    SECTION("fs, qts and vas: the shape of the response and no level") {
        d.fs_hz = 45, d.qts = 0.62, d.vas = Volume::litres(14);
        const BoxSound heard = box_sound(derived(d), test::closed(7.0), 0.001);
        CHECK(told(heard, "qtc").value == test::printed(1.07387, 5));
        CHECK_FALSE(heard.figure("level_1w_db"));
        CHECK_FALSE(heard.figure("xmax_level_40_hz_db"));
        CHECK(std::any_of(heard.left_out.begin(), heard.left_out.end(),
                          [](const std::string& s) { return s.find("level in dB: wants") == 0; }));
    }
}

TEST_CASE("a cabin's gain goes straight between its measured places on a logarithmic scale", "[sound][cabin]") {
    const CabinGain cabin{"van.csv", {20, 40, 80}, {12, 6, 0}};
    CHECK(gain_at(cabin, 20) == 12.0);
    CHECK(gain_at(cabin, 40) == 6.0);
    CHECK(gain_at(cabin, 80) == 0.0);
    CHECK(gain_at(cabin, 20 * std::sqrt(2.0)) == Approx(9.0).epsilon(1e-12));
    CHECK(gain_at(cabin, 40 * std::pow(2.0, 0.25)) == Approx(4.5).epsilon(1e-12));
    CHECK_FALSE(covers(cabin, 19.9));
    CHECK_FALSE(covers(cabin, 80.1));
}
