#include "geom/sound/response.h"
#include "geom/sound/wiring.h"
#include "tests/sound/reference_drivers.h"

using namespace geom;
using namespace geom::sound;

TEST_CASE("curves that lack a value are left out and say what they want", "[sound][response]") {
    const auto bare = response(test::driver_of(30, 0.4, 60), test::vented(40, 30), {20, 40});
    REQUIRE(bare);
    CHECK(bare->response_db.size() == 2);
    CHECK(bare->group_delay_s.size() == 2);
    CHECK(bare->spl_db.empty());
    CHECK(bare->excursion_mm.empty());
    CHECK(bare->port_m_s.empty());
    CHECK(bare->impedance_ohm.empty());
    CHECK(bare->left_out ==
          std::vector<std::string>{"level in dB: wants qes or qms", "level at 2.83 V: wants qes or qms and re",
                                   "excursion: wants qes or qms and sd", "most output: wants power, or xmax with sd",
                                   "impedance: wants qes or qms and re",
                                   "air speed in the port: wants qes or qms and the port's area"});
    const auto whole = response(derived(test::woofer_a()), test::closed(22), {20, 40});
    CHECK(whole->left_out.empty());
    CHECK(whole->port_m_s.empty());
}

TEST_CASE("without qes and qms the response is the same, by Qts alone", "[sound][response]") {
    const SmallSignal a = derived(test::woofer_a());
    const auto by_parts = response(a, test::vented(40, 32), {20, 30, 70});
    const auto by_total = response(test::driver_of(a.fs_hz->value, a.qts->value, a.vas->value.litres()),
                                   test::vented(40, 32), {20, 30, 70});
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(by_total->response_db[i] == Approx(by_parts->response_db[i]).margin(1e-9));
        CHECK(by_total->group_delay_s[i] == Approx(by_parts->group_delay_s[i]).epsilon(1e-9));
    }
}

TEST_CASE("a driver without a box is one in a box without end", "[sound][response]") {
    const SmallSignal a = derived(test::woofer_a());
    const auto open = response(a, std::nullopt, {20, 30, 70}), wide = response(a, test::closed(1e9), {20, 30, 70});
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(open->spl_db[i] == Approx(wide->spl_db[i]).margin(1e-5));
        CHECK(open->excursion_mm[i] == Approx(wide->excursion_mm[i]).epsilon(1e-6));
    }
    // Resonance: 1 + Qms/Qes.
    const auto at_fs = response(a, std::nullopt, {a.fs_hz->value});
    CHECK(at_fs->impedance_ohm[0] == Approx(3.6 * (1.0 + 4.56435 / 0.402408)).epsilon(1e-5));
    CHECK(std::abs(at_fs->impedance_phase_deg[0]) < 1e-9);
}

TEST_CASE("the coil's inductance lowers the top and raises the impedance", "[sound][response]") {
    SmallSignal a = derived(test::woofer_a());
    const auto without = response(a, test::closed(22), {30, 5000});
    a.le_h = Told<double>{1e-3, true, "given"};
    const auto with = response(a, test::closed(22), {30, 5000});
    CHECK(with->spl_db[1] < without->spl_db[1] - 10.0);
    CHECK(std::abs(with->spl_db[0] - without->spl_db[0]) < 0.5);
    // 1 mH at 5 kHz beside 3.6 ohm.
    CHECK(with->impedance_ohm[1] == Approx(std::hypot(3.6, 31.4159)).epsilon(2e-3));
}

TEST_CASE("a sheet whose three Qs do not quite agree keeps its total", "[sound][response]") {
    Driver d;
    d.fs_hz = 30, d.qts = 0.40, d.qes = 0.42, d.qms = 6.0, d.vas = Volume::litres(60);
    const auto given = response(derived(d), test::closed(20), {25, 50});
    const auto total = response(test::driver_of(30, 0.40, 60), test::closed(20), {25, 50});
    for (std::size_t i = 0; i < 2; ++i) CHECK(given->response_db[i] == Approx(total->response_db[i]).margin(1e-9));
}

TEST_CASE("a driver that lacks fs, qts or vas is refused by what is missing", "[sound][response]") {
    Driver d;
    d.name = "bare";
    const auto nothing = response(derived(d), test::closed(20), {30});
    REQUIRE_FALSE(nothing);
    CHECK(nothing.error().what ==
          "driver \"bare\": fs and qts not given, and no other value gives them; wanted fs and qts");
    d.fs_hz = 30, d.qts = 0.4;
    const auto no_vas = response(derived(d), test::closed(20), {30});
    REQUIRE_FALSE(no_vas);
    CHECK(no_vas.error().code == FaultCode::BadJob);
    CHECK(no_vas.error().what == "driver \"bare\": vas is not given, and no other value gives it; wanted vas");
    CHECK(response(derived(d), std::nullopt, {30}));
    CHECK_THROWS_AS(response(derived(d), std::nullopt, {0.0}), LogicError);
}

TEST_CASE("frequencies are evenly spread and end where they should", "[sound][response]") {
    const auto f = frequencies(10, 1000, 201);
    CHECK(f.front() == 10.0);
    CHECK(f.back() == 1000.0);
    CHECK(f[100] == Approx(100.0));
    for (std::size_t i = 1; i < f.size(); ++i) CHECK(f[i] / f[i - 1] == Approx(std::pow(100.0, 0.005)));
}

TEST_CASE("bands over a limit are found with their ends", "[sound][response]") {
    const std::vector<double> f{10, 20, 30, 40, 50}, y{5, 3, 1, 3, 7};
    const auto bands = bands_above(f, y, 2.0);
    REQUIRE(bands.size() == 2);
    CHECK(bands[0].from_hz == 10.0);
    CHECK(bands[0].to_hz == Approx(25.0));
    CHECK(bands[1].from_hz == Approx(35.0));
    CHECK(bands[1].to_hz == 50.0);
    CHECK(bands_above(f, y, 7.0).empty());
}
