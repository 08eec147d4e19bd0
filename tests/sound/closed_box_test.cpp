// Small 1972/73 [memory for the theory and the published maxima]; table and examples E2 to E4, E7, E8 [computed].
#include "geom/sound/closed_box.h"
#include "geom/sound/output.h"
#include "geom/sound/response.h"
#include "geom/sound/wiring.h"
#include "tests/sound/reference_drivers.h"

#include <limits>

using namespace geom;
using namespace geom::sound;
using test::closed;
using test::printed;

namespace {

const double kHalf_db = 10.0 * std::log10(2.0);
const Air kSmallsAir{.density_kg_m3 = 1.18, .speed_m_s = 345.0};
const std::vector<double> kHz{20, 30, 40, 50, 80, 100, 200};

void check_levels(const SmallSignal& driver, double litres, const std::vector<double>& db,
                  const std::vector<double>& phase_deg = {}) {
    const auto got = response(driver, closed(litres), kHz);
    REQUIRE(got);
    for (std::size_t i = 0; i < kHz.size(); ++i) {
        CAPTURE(kHz[i]);
        CHECK(got->response_db[i] == printed(db[i], 4));
        if (!phase_deg.empty()) CHECK(got->phase_deg[i] == printed(phase_deg[i], 3));
    }
}

}  // namespace

TEST_CASE("second-order high-passes have the reference's corner, peak and rating constants",
          "[sound][closed][oracle]") {
    struct Row {
        double q, f3, f10, peak_db, peak_at, k_p, k_eta;
        int eta_digits;
    };
    // [computed]; k of Small's air.
    const Row rows[] = {{0.5, 1.553774, 0.680055, 0, 0, 0.0728, 5.126e-7, 10},
                        {0.577350, 1.272020, 0.627285, 0, 0, 0.1620, 8.091e-7, 10},
                        {1.0, 0.786151, 0.531390, 1.249387, 1.414214, 0.8329, 1.9787e-6, 10},
                        {1.1, 0.756747, 0.523882, 1.832995, 1.305460, 0.8481, 2.0168e-6, 10},
                        {1.2, 0.735815, 0.518269, 2.411780, 1.237705, 0.8305, 2.0110e-6, 10},
                        {1.5, 0.699345, 0.507872, 4.033350, 1.133893, 0.7006, 1.8739e-6, 10},
                        {2.0, 0.673623, 0.500000, 6.300887, 1.069045, 0.4829, 1.5726e-6, 10}};
    for (const Row& row : rows) {
        CAPTURE(row.q);
        // 0.577350 is 1/sqrt 3.
        const double q = row.q == 0.577350 ? 1.0 / std::sqrt(3.0) : row.q;
        CHECK(frequency_of_drop(q, kHalf_db) == printed(row.f3, 6));
        CHECK(frequency_of_drop(q, 10.0) == printed(row.f10, 6));
        CHECK(response_peak(q).has_value() == (row.peak_db > 0.0));
        if (row.peak_db > 0.0) {
            CHECK(response_peak(q)->db == printed(row.peak_db, 6));
            CHECK(response_peak(q)->at == printed(row.peak_at, 6));
            CHECK(excursion_peak(q)->db == Approx(row.peak_db).margin(1e-6));
            CHECK(excursion_peak(q)->at == Approx(1.0 / row.peak_at).epsilon(1e-6));
        }
        CHECK(displacement_constant(q, kSmallsAir) == printed(row.k_p, 4));
        CHECK(efficiency_constant(q, kSmallsAir) == printed(row.k_eta, row.eta_digits));
    }
    const double butterworth = std::sqrt(0.5);
    CHECK(frequency_of_drop(butterworth, kHalf_db) == Approx(1.0).epsilon(1e-14));
    CHECK(frequency_of_drop(butterworth, 10.0) == printed(0.577350, 6));
    CHECK_FALSE(response_peak(butterworth * (1.0 - 1e-9)));
    CHECK(displacement_constant(butterworth, kSmallsAir) == printed(0.4242, 4));
    CHECK(efficiency_constant(butterworth, kSmallsAir) == printed(1.3596e-6, 10));
}

TEST_CASE("the rating constants are largest where Small has it", "[sound][closed][oracle]") {
    // Small 1972 part I [memory]: 2.0e-6 and 0.85, both near Qtc = 1.1; [computed] 2.019e-6 at 1.13, 0.8484 at 1.09.
    double best_eta = 0.0, at_eta = 0.0, best_p = 0.0, at_p = 0.0;
    for (int i = 500; i <= 2000; ++i) {
        const double q = i / 1000.0;
        if (const double k = efficiency_constant(q, kSmallsAir); k > best_eta) best_eta = k, at_eta = q;
        if (const double k = displacement_constant(q, kSmallsAir); k > best_p) best_p = k, at_p = q;
    }
    CHECK(best_eta == printed(2.019e-6, 9));
    CHECK(at_eta == printed(1.13, 2));
    CHECK(best_p == printed(0.8484, 4));
    CHECK(at_p == printed(1.09, 2));
}

TEST_CASE("E2, woofer A in 22 litres", "[sound][closed][oracle]") {
    const SmallSignal a = derived(test::woofer_a());
    const auto f = closed_figures(a, closed(22));
    REQUIRE(f);
    CHECK(f->alpha == printed(2.95248, 5));
    CHECK(f->fc_hz == printed(57.7689, 4));
    CHECK(f->qtc == printed(0.735204, 6));
    CHECK(f->f3_hz == printed(55.6454, 4));
    CHECK(f->f10_hz == printed(32.9388, 4));
    CHECK(f->peak->db == printed(0.0244808, 7));
    CHECK(f->peak->at == printed(210.979, 3));
    check_levels(a, 22, {-18.4109, -11.5209, -7.0223, -4.1192, -0.7690, -0.2585, 0.0242},
                 {151.852, 135.956, 118.931, 102.030, 64.023, 49.704, 23.202});

    // Peak excursion at 10 V.
    const auto r = response(a, closed(22), {10, 20, 30, 40, 60, 100}, {.watts = 100.0 / 3.6, .air = {}});
    REQUIRE(r);
    const double mm[] = {6.96984, 6.96988, 6.84762, 6.46535, 4.91721, 2.25374};
    for (std::size_t i = 0; i < std::size(mm); ++i) CHECK(r->excursion_mm[i] == printed(mm[i], 5));

    // Within xmax, whatever power that takes.
    const Volume vd = a.vd->value;
    const double level[] = {89.8021, 94.7996, 101.843}, mw[] = {5.81068, 18.3646, 92.9710};
    const int level_decimals[] = {4, 4, 3}, mw_decimals[] = {5, 4, 4};
    const std::vector<double> hz{30, 40, 60};
    const auto most = response(a, closed(22), hz);
    for (std::size_t i = 0; i < hz.size(); ++i) {
        CHECK(level_of_displacement_db(vd, hz[i]) == printed(level[i], level_decimals[i]));
        CHECK(1000.0 * power_of_displacement_w(vd, hz[i]) == printed(mw[i], mw_decimals[i]));
        // No power is given: the curve of the circuit must lead to the same.
        CHECK(most->spl_most_db[i] == printed(level[i], level_decimals[i]));
    }
}

TEST_CASE("E3, woofer B in the volume that makes it flattest", "[sound][closed][oracle]") {
    const SmallSignal b = test::driver_of(32, 0.40, 48);
    const auto volume = closed_volume_for(b, std::sqrt(0.5));
    REQUIRE(volume);
    CHECK(volume->litres() == printed(22.5882, 4));
    const auto f = closed_figures(b, closed(volume->litres()));
    CHECK(f->alpha == Approx(2.125).epsilon(1e-12));
    CHECK(f->fc_hz == printed(56.5685, 4));
    CHECK(f->f3_hz == printed(56.5685, 4));
    CHECK(f->f10_hz == printed(32.6599, 4));
    check_levels(b, volume->litres(), {-18.1291, -11.3488, -6.9897, -4.2134, -0.9691, -0.4234, -0.0277});
    // No box lowers Q.
    const auto none = closed_volume_for(b, 0.4);
    REQUIRE_FALSE(none);
    CHECK(none.error().code == FaultCode::Impossible);
}

TEST_CASE("E4, woofer C, peaky", "[sound][closed][oracle]") {
    const SmallSignal c = test::driver_of(45, 0.62, 14);
    const auto f = closed_figures(c, closed(7));
    CHECK(f->alpha == Approx(2.0));
    CHECK(f->fc_hz == printed(77.9423, 4));
    CHECK(f->qtc == printed(1.07387, 5));
    CHECK(f->f3_hz == printed(59.5049, 4));
    CHECK(f->f10_hz == printed(40.9688, 4));
    CHECK(f->peak->db == printed(1.68025, 5));
    CHECK(f->peak->at == printed(103.562, 3));
    check_levels(c, 7, {-23.3134, -15.9013, -10.4591, -6.1827, 0.8318, 1.6695, 0.7006});
}

TEST_CASE("E7, fill as an apparent volume", "[sound][closed][oracle]") {
    const SmallSignal a = derived(test::woofer_a());
    Box box = closed(20);
    CHECK(closed_figures(a, box)->qtc == printed(0.762169, 6));
    CHECK(closed_figures(a, box)->f3_hz == printed(55.8718, 4));
    box.lining_gain = 1.2;
    CHECK(closed_figures(a, box)->alpha == printed(2.70644, 5));
    CHECK(closed_figures(a, box)->fc_hz == printed(55.9420, 4));
    CHECK(closed_figures(a, box)->qtc == printed(0.711953, 6));
    CHECK(closed_figures(a, box)->f3_hz == printed(55.5638, 4));
    box.lining_gain = 1.4;
    CHECK(closed_figures(a, box)->fc_hz == printed(52.9439, 4));
    CHECK(closed_figures(a, box)->qtc == printed(0.673798, 6));
    CHECK(closed_figures(a, box)->f3_hz == printed(55.6902, 4));
    box.lining_gain = 1.41;
    CHECK_THROWS_AS(closed_figures(a, box), LogicError);
}

TEST_CASE("E8, two woofers A in twice the volume are E2", "[sound][closed][oracle]") {
    const SmallSignal two = as_one(derived(test::woofer_a()), {.in_series = 1, .in_parallel = 2});
    const auto f = closed_figures(two, closed(44));
    CHECK(f->alpha == printed(2.95248, 5));
    CHECK(f->fc_hz == printed(57.7689, 4));
    CHECK(f->qtc == printed(0.735204, 6));
    check_levels(two, 44, {-18.4109, -11.5209, -7.0223, -4.1192, -0.7690, -0.2585, 0.0242});
}

TEST_CASE("losses of the box lower Q: absorption as the closed form has it, the leak to first order",
          "[sound][closed]") {
    const SmallSignal a = derived(test::woofer_a());
    Box box = closed(22);
    const double tight = closed_figures(a, box)->qtc;
    box.losses.emplace();
    box.losses->absorption = 10.0;
    const auto lined = closed_figures(a, box);
    CHECK(lined->qtc < tight);
    // At fc the excursion over that at 0 Hz is Q.
    const auto x_over_rest = [&](const Box& b, double fc) {
        return std::sqrt(Circuit(*circuit_values(a, b)).excursion2(fc)) * (1.0 + lined->alpha);
    };
    CHECK(x_over_rest(box, lined->fc_hz) == Approx(lined->qtc).epsilon(1e-12));
    for (const double leakage : {100.0, 1000.0}) {
        box.losses = BoxLosses{};
        box.losses->leakage = leakage;
        const double q = closed_figures(a, box)->qtc;
        CHECK(q < tight);
        CHECK(std::abs(x_over_rest(box, lined->fc_hz) / q - 1.0) < 2.0 / (leakage * leakage));
    }
    // A leak lets the cone go at 0 Hz as it does without a box, a tight box does not.
    CHECK(Circuit(*circuit_values(a, box)).excursion2(1e-9) == Approx(1.0).epsilon(1e-6));
    CHECK(Circuit(*circuit_values(a, closed(22))).excursion2(1e-9) ==
          Approx(std::pow(1.0 + lined->alpha, -2)).epsilon(1e-12));
}
