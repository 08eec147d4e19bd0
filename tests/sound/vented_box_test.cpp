// Rows of Thiele 1971 and of published tables [verified, reproduced by the response: computed]; coefficients, Small
// 1973 equations 22 to 24 [verified]; E5, E6 [computed].
#include "geom/sound/vented_box.h"
#include "geom/core/random.h"
#include "geom/sound/port.h"
#include "geom/sound/response.h"
#include "tests/sound/reference_drivers.h"

#include <limits>

using namespace geom;
using namespace geom::sound;
using test::printed;
using test::vented;

namespace {

constexpr double kInf = std::numeric_limits<double>::infinity();

/// f3 over fs (or f10) of a box by its ratios.
VentedFigures figures(double qts, double h, double alpha, double leakage) {
    const auto f = vented_figures(test::driver_of(1.0, qts, 1.0), vented(1.0 / alpha, h, leakage));
    REQUIRE(f);
    return *f;
}

}  // namespace

TEST_CASE("published alignment rows have their corner", "[sound][vented][oracle]") {
    struct Row {
        const char* name;
        double leakage, qts, h, alpha, published, computed;
        int digits;
        double tolerance;
    };
    // Thiele's rows as read, [verified; computed]; Qts of row 7 is the paper's 0.466 [memory], see the reference.
    const Row rows[] = {{"Thiele 1", kInf, 0.180, 2.000, 10.48, 2.68, 2.6823, 4, 0.01},
                        {"Thiele 2", kInf, 0.209, 1.730, 7.48, 2.28, 2.2779, 4, 0.01},
                        {"Thiele 3", kInf, 0.259, 1.420, 4.46, 1.77, 1.7697, 4, 0.01},
                        {"Thiele 4", kInf, 0.303, 1.230, 2.95, 1.45, 1.4466, 4, 0.01},
                        {"Thiele 5", kInf, 0.383, 1.000, 1.414, 1.000, 0.9999, 4, 0.001},
                        {"Thiele 6", kInf, 0.415, 0.927, 1.055, 0.867, 0.8668, 4, 0.001},
                        {"Thiele 7", kInf, 0.466, 0.829, 0.729, 0.729, 0.7281, 4, 0.002},
                        {"Thiele 8", kInf, 0.518, 0.757, 0.559, 0.641, 0.6426, 4, 0.003},
                        {"Thiele 9", kInf, 0.557, 0.716, 0.485, 0.600, 0.5988, 4, 0.003},
                        {"SC4", 7, 0.40, 1.0103, 1.1146, 1.0215, 1.021533, 6, 0.0001},
                        {"BL4", 7, 0.3312, 0.97354, 1.9076, 1.4941, 1.494081, 6, 0.0001}};
    for (const Row& row : rows) {
        CAPTURE(row.name);
        const double f3 = figures(row.qts, row.h, row.alpha, row.leakage).f3_hz;
        CHECK(std::abs(f3 - row.published) <= row.tolerance);
        CHECK(f3 == printed(row.computed, row.digits));
    }
    CHECK(figures(0.3312, 0.97354, 1.9076, 7).f10_hz == printed(0.866741, 6));
    // The misprint of row 7 [computed]: no peak.
    CHECK(figures(0.446, 0.829, 0.729, kInf).f3_hz == printed(0.7317, 4));
    CHECK_FALSE(figures(0.446, 0.829, 0.729, kInf).peak);
}

TEST_CASE("Butterworth's row for every leak", "[sound][vented][oracle]") {
    struct Row {
        double leakage, qts, alpha;
    };
    // Infinite: Thiele no. 5 [verified]; 7: published 0.4048, 1.0613 [verified]; all [computed].
    for (const Row& row : {Row{kInf, 0.382683, 1.414214}, Row{20, 0.390149, 1.286057}, Row{10, 0.397911, 1.162901},
                           Row{7, 0.404814, 1.061318}, Row{5, 0.414400, 0.931588}, Row{3, 0.438636, 0.654283}}) {
        CAPTURE(row.leakage);
        const AlignmentRow got = butterworth(row.leakage);
        CHECK(got.qts == printed(row.qts, 6));
        CHECK(got.alpha == printed(row.alpha, 6));
        CHECK(got.h == Approx(1.0).epsilon(1e-12));
        CHECK(got.f3 == Approx(1.0).epsilon(1e-9));
    }
    const AlignmentRow seven = butterworth(7);
    CHECK(figures(seven.qts, 1.0, seven.alpha, 7).f10_hz == printed(0.759836, 6));
}

TEST_CASE("Bessel's row is the published one", "[sound][vented][oracle]") {
    const AlignmentRow got = bessel(7);
    CHECK(got.qts == printed(0.3312, 4));
    CHECK(got.h == Approx(0.97354).margin(3e-5));
    CHECK(got.alpha == Approx(1.9076).margin(3e-4));
    CHECK(got.f3 == Approx(1.4941).margin(2e-4));
    // The normalised polynomial [computed].
    const auto a = vented_coefficients(got.qts, got.h, got.alpha, 7);
    CHECK(a[0] == printed(3.20109, 5));
    CHECK(a[1] == printed(4.39155, 5));
    CHECK(a[2] == printed(3.12394, 5));
    // And of the row as published [computed].
    const auto rounded = vented_coefficients(0.3312, 0.97354, 1.9076, 7);
    CHECK(rounded[2] == printed(3.12390, 5));
    CHECK(rounded[1] == printed(4.39150, 5));
    CHECK(rounded[0] == printed(3.20103, 5));
}

TEST_CASE("quasi-Butterworth rows are solved for any Qts", "[sound][vented][oracle]") {
    struct Row {
        double qts, h, alpha, f3;
    };
    // QL = 7 [computed].
    for (const Row& row : {Row{0.20, 1.93930, 7.77748, 2.52892}, Row{0.25, 1.56293, 4.58219, 1.96665},
                           Row{0.30, 1.31453, 2.84520, 1.57316}, Row{0.35, 1.13950, 1.79642, 1.27024},
                           Row{0.37, 1.08343, 1.49046, 1.16509}, Row{0.40, 1.01060, 1.11412, 1.02139}}) {
        CAPTURE(row.qts);
        const auto got = flattest(row.qts, 7);
        REQUIRE(got);
        CHECK(got->alignment == Alignment::QuasiButterworth);
        CHECK(got->qts == Approx(row.qts).epsilon(1e-12));
        CHECK(got->h == printed(row.h, 5));
        CHECK(got->alpha == printed(row.alpha, 5));
        CHECK(got->f3 == printed(row.f3, 5));
        const auto a = vented_coefficients(got->qts, got->h, got->alpha, 7);
        CHECK(std::abs(a[0] * a[0] - 2.0 * a[1]) < 1e-11);
        CHECK(std::abs(a[1] * a[1] + 2.0 - 2.0 * a[0] * a[2]) < 1e-10);
    }
    // Thiele's own, to the digits of the printed Qts.
    for (const auto& [qts, h, alpha] :
         {std::tuple{0.180, 2.000, 10.48}, {0.209, 1.730, 7.48}, {0.259, 1.420, 4.46}, {0.303, 1.230, 2.95}}) {
        CAPTURE(qts);
        CHECK(flattest(qts, kInf)->h == Approx(h).epsilon(0.005));
        CHECK(flattest(qts, kInf)->alpha == Approx(alpha).epsilon(0.012));
    }
}

TEST_CASE("Chebyshev rows are Thiele's, and ripple evenly", "[sound][vented][oracle]") {
    for (const auto& [qts, h, alpha] :
         {std::tuple{0.415, 0.927, 1.055}, {0.466, 0.829, 0.729}, {0.518, 0.757, 0.559}, {0.557, 0.716, 0.485}}) {
        CAPTURE(qts);
        const auto got = flattest(qts, kInf);
        REQUIRE(got);
        CHECK(got->alignment == Alignment::Chebyshev);
        CHECK(got->h == Approx(h).epsilon(0.005));
        CHECK(got->alpha == Approx(alpha).epsilon(0.01));
    }
    // Two peaks of one height, and between and beyond them nothing under 1.
    const auto row = flattest(0.5, 7);
    const auto driver = test::driver_of(1, row->qts, 1);
    const Circuit c(*circuit_values(driver, vented(1.0 / row->alpha, row->h, 7)));
    std::vector<double> peaks;
    double least = 10.0;
    constexpr double kStep = 1.0002;
    for (double f = row->f3; f < 30; f *= kStep) {
        const double now = c.response2(f);
        if (now > c.response2(f / kStep) && now >= c.response2(f * kStep)) peaks.push_back(now);
        if (!peaks.empty()) least = std::min(least, now);
    }
    REQUIRE(peaks.size() == 2);
    CHECK(peaks[0] > 1.01);
    CHECK(peaks[1] == Approx(peaks[0]).epsilon(1e-6));
    CHECK(least == Approx(1.0).margin(1e-6));
    for (const double qts : {0.001, 3.0}) {
        REQUIRE_FALSE(flattest(qts, 7));
        CHECK(flattest(qts, 7).error().code == FaultCode::Impossible);
    }
}

TEST_CASE("E5, woofer D", "[sound][vented][oracle]") {
    const AlignmentRow row = butterworth(7);
    const double litres = 60 / row.alpha;
    CHECK(litres == printed(56.5335, 4));
    const auto driver = test::driver_of(30, row.qts, 60);
    const auto f = vented_figures(driver, vented(litres, 30));
    CHECK(f->f3_hz == printed(30, 4));
    CHECK(f->f10_hz == printed(22.7951, 4));
    const std::vector<double> hz{15, 20, 25, 30, 40, 60, 100};
    const double db[] = {-24.0993, -14.2535, -7.2426, -3.0103, -0.4144, -0.0169, -0.0003};
    const auto r = response(driver, vented(litres, 30), hz);
    for (std::size_t i = 0; i < hz.size(); ++i) CHECK(r->response_db[i] == printed(db[i], 4));
}

TEST_CASE("E6, woofer A in 40 litres tuned to 32 Hz", "[sound][vented][oracle]") {
    const SmallSignal a = derived(test::woofer_a());
    Box box = vented(40, 32);
    box.port_area = Length::mm(70) * Length::mm(70) * (std::acos(-1.0) / 4.0);
    const auto f = vented_figures(a, box);
    CHECK(f->alpha == printed(1.62387, 5));
    CHECK(f->h == printed(1.10126, 5));
    CHECK(f->f3_hz == printed(35.1084, 4));
    CHECK(f->f10_hz == printed(25.2989, 4));
    CHECK(f->peak->db == printed(0.1076, 4));
    const auto c = vented_coefficients(a.qts->value, f->h, f->alpha, 7);
    CHECK(c[0] == printed(2.72672, 5));
    CHECK(c[1] == printed(3.87016, 5));
    CHECK(c[2] == printed(2.97387, 5));
    CHECK(std::sqrt(a.fs_hz->value * 32) == printed(30.4933, 4));

    const std::vector<double> hz{15, 20, 25, 32, 40, 50, 60, 80, 100, 200};
    const double db[] = {-25.8240, -16.7635, -10.3189, -4.5574, -1.4923, -0.2839, 0.0203, 0.1076, 0.0915, 0.0291};
    const double phase[] = {-83.879, -112.108, -140.861, 179.150, 140.134, 106.944, 86.144, 62.319, 49.031, 23.988};
    const double mm[] = {18.8107, 13.2840, 7.52006, 1.91673, 4.61581, 5.37018, 4.65194, 3.09252, 2.10888};
    const int mm_digits[] = {4, 4, 5, 5, 5, 5, 5, 5, 5};
    const double flow[] = {1.27691, 1.62369, 2.46720, 7, 1.69444, 0.685595, 0.395281, 0.190037, 0.113934};
    const int flow_digits[] = {5, 5, 5, 5, 5, 6, 6, 6, 6};
    const double speed[] = {12.5882, 15.0720, 16.2059, 15.0009, 10.9306, 6.43182, 3.85478, 1.64266, 0.839486};
    const int speed_digits[] = {4, 4, 4, 4, 4, 5, 5, 5, 6};
    const auto r = response(a, box, hz, {.watts = 100.0 / 3.6, .air = {}});
    const Circuit circuit(*circuit_values(a, box));
    for (std::size_t i = 0; i < hz.size(); ++i) {
        CAPTURE(hz[i]);
        CHECK(r->response_db[i] == printed(db[i], 4));
        CHECK(r->phase_deg[i] == printed(phase[i], 3));
        if (i >= std::size(mm)) continue;
        CHECK(r->excursion_mm[i] == printed(mm[i], mm_digits[i]));
        const Circuit::State s = circuit.at(hz[i]);
        CHECK(std::abs(s.port / s.excursion) == printed(flow[i], flow_digits[i]));
        CHECK(r->port_m_s[i] == printed(speed[i], speed_digits[i]));
    }
    // "Below about 27 Hz the cone passes xmax".
    const auto many = response(a, box, frequencies(10, 200, 2000), {.watts = 100.0 / 3.6, .air = {}});
    const auto over = bands_above(many->f_hz, many->excursion_mm, 6.0);
    REQUIRE(over.size() == 1);
    CHECK(over[0].from_hz == 10.0);
    CHECK(over[0].to_hz == Approx(27.0).margin(0.75));
    const PortSpeed fastest = fastest_port_air(a, box, 100.0 / 3.6, 10, 200);
    CHECK(fastest.m_s > 16.2059);
    CHECK(fastest.m_s < PortSpeedLimits{}.warn_m_s);
    for (const double v : many->port_m_s) CHECK(v <= fastest.m_s * (1.0 + 1e-12));
}

TEST_CASE("applied alignments of publications", "[sound][vented][oracle]") {
    // Thiele's third applied: fs 30.4, Vas 125.9 L, Qts 0.249: Vb 28.23, fb 43.2, f3 53.8 [verified].
    CHECK(125.9 / 4.46 == Approx(28.23).margin(0.005));
    CHECK(30.4 * figures(0.259, 1.42, 4.46, kInf).f3_hz == Approx(53.8).margin(0.05));
    // Textbook SC4: fs 19, Qts 0.40, Vas 260 L, QL 7 [verified; levels computed].
    const auto driver = test::driver_of(19, 0.40, 260);
    const double litres = 260 / 1.1146, fb = 1.0103 * 19;
    CHECK(litres == printed(233.268, 3));
    CHECK(fb == printed(19.1957, 4));
    const auto f = vented_figures(driver, vented(litres, fb));
    CHECK(f->f3_hz == printed(19.4091, 4));
    const std::vector<double> hz{10, 15, 19, 25, 40};
    const double db[] = {-22.6534, -9.2755, -3.3837, -0.5819, -0.0197};
    const auto r = response(driver, vented(litres, fb), hz);
    for (std::size_t i = 0; i < hz.size(); ++i) CHECK(r->response_db[i] == printed(db[i], 4));
}

TEST_CASE("a box with a port says what the driver lacks", "[sound][vented]") {
    Driver d;
    d.name = "nameless";
    d.qts = 0.4;
    const auto got = vented_figures(derived(d), vented(30, 30));
    REQUIRE_FALSE(got);
    CHECK(got.error().code == FaultCode::BadJob);
    CHECK(got.error().what == "driver \"nameless\": fs not given, and no other value gives it; wanted fs and qts");
}
