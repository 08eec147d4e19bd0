// What must hold for any driver in any box: 1 000 random ones each.
#include "geom/sound/closed_box.h"
#include "geom/sound/response.h"
#include "geom/sound/vented_box.h"
#include "tests/sound/random_driver.h"
#include "tests/sound/reference_drivers.h"

#include <complex>
#include <numbers>

using namespace geom;
using namespace geom::sound;

namespace {

constexpr int kDrivers = 1000;
constexpr double kTwoPi = 2.0 * std::numbers::pi;
using Complex = std::complex<double>;

Circuit circuit_of(const SmallSignal& driver, const Box& box) {
    return Circuit(*circuit_values(driver, box));
}

/// The circuit in physical units, each part by itself: a second way to all that Circuit tells.
struct Parts {
    Complex response, excursion, port, impedance;
};

Parts by_parts(const SmallSignal& d, const Box& box, double f, const Air& air = {}) {
    const Complex s(0.0, kTwoPi * f);
    const double sd = square_metres(d.sd->value), vb = cubic_metres(box.apparent());
    const double mas = d.mms_kg->value / (sd * sd), cas = d.cms_m_per_n->value * sd * sd,
                 ras = d.rms_kg_per_s->value / (sd * sd);
    const double cab = vb / air.stiffness_Pa();
    const BoxLosses q = box.losses_used();
    const double wr =
        box.has_port() ? kTwoPi * box.fb_hz : kTwoPi * d.fs_hz->value * std::sqrt(1.0 + d.vas->value / box.apparent());
    const Complex ze = d.re_ohm->value + s * (d.le_h ? d.le_h->value : 0.0);
    const double bl = d.bl_tm->value;
    Complex flow_in = 1.0 / (1.0 / (s * cab) + 1.0 / (wr * cab * q.absorption));
    Complex leak = wr * cab / q.leakage, port = 0.0;
    if (box.has_port()) {
        const double wb = kTwoPi * box.fb_hz, map = 1.0 / (wb * wb * cab);
        port = 1.0 / (s * map + wb * map / q.port);
    }
    const Complex zb = 1.0 / (flow_in + leak + port);
    const Complex zm = ras + s * mas + 1.0 / (s * cas) + zb;
    const Complex u = bl / (sd * ze) / (zm + bl * bl / (sd * sd * ze));  // of the cone, at 1 V
    const double passband = bl / (sd * d.re_ohm->value * mas);           // volume acceleration of the passband
    const double rest = bl / (sd * d.re_ohm->value) * cas;               // volume displaced at 0 Hz, no box
    return {s * u * zb * flow_in / passband, u / s / rest, u / s * zb * port / rest,
            (ze + bl * bl / (sd * sd * zm)) / d.re_ohm->value};
}

void check_same(Complex a, Complex b, double rel) {
    CHECK(std::abs(a - b) <= rel * std::abs(b));
}

}  // namespace

TEST_CASE("the polynomials are the circuit's parts", "[sound][laws]") {
    Random random(81);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        SmallSignal d = test::random_driver(random);
        if (i % 3 == 0) d.le_h = Told<double>{random.uniform(1e-4, 3e-3), true, "given"};
        Box box = i % 2 == 0 ? test::random_vented(random, d) : test::random_closed(random, d);
        if (i % 4 == 1) box.losses = BoxLosses{.leakage = random.uniform(5, 30), .absorption = random.uniform(10, 100)};
        const Circuit circuit = circuit_of(d, box);
        for (const double f : {3.0, 17.0, 31.7, 60.0, 140.0, 900.0}) {
            CAPTURE(f);
            const Circuit::State s = circuit.at(f);
            const Parts p = by_parts(d, box, f);
            check_same(s.response, p.response, 1e-9);
            check_same(s.excursion, p.excursion, 1e-9);
            check_same(s.port, p.port, 1e-9);
            check_same(s.impedance, p.impedance, 1e-9);
            CHECK(circuit.response2(f) == Approx(std::norm(s.response)).epsilon(1e-12));
            CHECK(circuit.excursion2(f) == Approx(std::norm(s.excursion)).epsilon(1e-12));
            CHECK(circuit.port2(f) == Approx(std::norm(s.port)).epsilon(1e-12));
        }
    }
}

TEST_CASE("the group delay is the slope of the phase", "[sound][laws]") {
    Random random(82);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        SmallSignal d = test::random_driver(random);
        if (i % 3 == 0) d.le_h = Told<double>{random.uniform(1e-4, 3e-3), true, "given"};
        const Box box = i % 2 == 0 ? test::random_vented(random, d) : test::random_closed(random, d);
        const Circuit circuit = circuit_of(d, box);
        for (const double f : {7.0, 25.0, 50.0, 110.0, 400.0}) {
            const double step = 1e-4 * f;
            // By the ratio of two responses, which never wraps; central, of second order.
            const Complex turn = circuit.at(f + step).response / circuit.at(f - step).response;
            const double slope = -std::arg(turn) / (kTwoPi * 2.0 * step);
            CHECK(circuit.at(f).group_delay_s == Approx(slope).epsilon(2e-5).margin(1e-9));
        }
    }
}

TEST_CASE("a closed box raises fs and Qts alike, and is the second-order high-pass", "[sound][laws]") {
    Random random(83);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        const Box box = test::random_closed(random, d);
        const auto f = closed_figures(d, box);
        REQUIRE(f);
        CHECK(f->fc_hz / d.fs_hz->value == Approx(f->qtc / d.qts->value).epsilon(1e-12));
        CHECK(closed_volume_for(d, f->qtc)->litres() == Approx(box.net.litres()).epsilon(1e-9));
        const Circuit circuit = circuit_of(d, box);
        CHECK(test::db(circuit.response2(f->f3_hz)) == Approx(-3.0102999566).margin(1e-9));
        CHECK(test::db(circuit.response2(f->f10_hz)) == Approx(-10).margin(1e-9));
        // At fc the response is Q, a quarter turn ahead.
        check_same(circuit.at(f->fc_hz).response, Complex(0.0, f->qtc), 1e-12);
        if (f->peak && f->peak->at < 1e5) {
            CHECK(test::db(circuit.response2(f->peak->at)) == Approx(f->peak->db).margin(1e-9));
            CHECK(circuit.response2(f->peak->at * 1.02) < circuit.response2(f->peak->at));
            CHECK(circuit.response2(f->peak->at / 1.02) < circuit.response2(f->peak->at));
        }
        // Far above all is passed, at 0 Hz the cone stands on both springs.
        CHECK(circuit.response2(1e7) == Approx(1.0).epsilon(1e-6));
        CHECK(circuit.excursion2(1e-7) == Approx(std::pow(1.0 + f->alpha, -2)).epsilon(1e-9));
        // Impedance at fc: the motion adds Qmc/Qec to it, which is Qms/Qes.
        CHECK(circuit.at(f->fc_hz).impedance.real() == Approx(1.0 + d.qms->value / d.qes->value).epsilon(1e-9));
        CHECK(std::abs(circuit.at(f->fc_hz).impedance.imag()) < 1e-9 * (1.0 + d.qms->value / d.qes->value));
    }
}

TEST_CASE("a closed box is a vented one whose port is blocked", "[sound][laws]") {
    Random random(84);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        CircuitValues v = *circuit_values(d, test::random_vented(random, d));
        CircuitValues closed_values = v;
        closed_values.h = 0.0;
        const Circuit closed(closed_values);
        // The port's share goes with its admittance, the square of h.
        double last[2] = {0.0, 0.0};
        for (const double h : {1e-2, 1e-3}) {
            v.h = h, v.losses.port = 1e9;
            const Circuit nearly(v);
            for (const double f : {25.0, 80.0}) {
                const Circuit::State a = nearly.at(f), b = closed.at(f);
                const double off =
                    std::max({std::abs(a.response / b.response - 1.0), std::abs(a.excursion / b.excursion - 1.0),
                              std::abs(a.impedance / b.impedance - 1.0)});
                double& before = last[f > 50.0];
                if (before > 0.0) CHECK(off == Approx(before / 100.0).epsilon(0.02).margin(1e-12));
                before = off;
                CHECK(off < 100.0 * h * h);
                CHECK(a.group_delay_s == Approx(b.group_delay_s).epsilon(300.0 * h * h));
            }
        }
        // No port at all: bit by bit.
        v.h = 0.0;
        CHECK(Circuit(v).at(33.0).response == closed.at(33.0).response);
    }
}

TEST_CASE("a port without losses takes the cone's motion at its tuning, and 24 dB an octave below", "[sound][laws]") {
    Random random(85);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        Box box = test::random_vented(random, d);
        box.losses = BoxLosses{};
        const Circuit tight = circuit_of(d, box);
        CHECK(tight.excursion2(box.fb_hz) < 1e-20);
        // All sound is the port's there: G = p^2 * port.
        const double u = box.fb_hz / d.fs_hz->value;
        CHECK(tight.response2(box.fb_hz) == Approx(u * u * u * u * tight.port2(box.fb_hz)).epsilon(1e-9));
        // 0 Hz: the cone stands on its own spring alone, the port moves as much air, against it.
        const Circuit::State low = tight.at(1e-3);
        CHECK(std::abs(low.excursion) == Approx(1.0).epsilon(1e-4));
        CHECK(std::abs(low.port) == Approx(1.0).epsilon(1e-4));
        CHECK(test::db(tight.response2(0.02)) - test::db(tight.response2(0.01)) == Approx(24.0824).margin(1e-3));
        // Small 1973 [verified]: with a leak only, port over cone flow is QL at fb.
        box.losses->leakage = random.uniform(3, 20);
        const Circuit::State s = circuit_of(d, box).at(box.fb_hz);
        CHECK(std::abs(s.port / s.excursion) == Approx(box.losses->leakage).epsilon(1e-9));
        // And the response is the published fourth-order function.
        const auto a =
            vented_coefficients(d.qts->value, box.fb_hz / d.fs_hz->value, d.vas->value / box.net, box.losses->leakage);
        for (const double f : {15.0, 33.0, 90.0}) {
            const Complex p(0.0, f / std::sqrt(d.fs_hz->value * box.fb_hz)), p2 = p * p;
            const Complex g = p2 * p2 / (p2 * p2 + a[0] * p2 * p + a[1] * p2 + a[2] * p + 1.0);
            check_same(circuit_of(d, box).at(f).response, g, 1e-11);
        }
    }
}

TEST_CASE("the box takes no more power than the coil gives, and every loss takes some", "[sound][laws]") {
    Random random(86);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        const Box box = test::random_vented(random, d);
        Box tight = box;
        tight.losses = BoxLosses{};
        for (const double f : {12.0, 28.0, 55.0, 200.0}) {
            const Circuit::State s = circuit_of(d, box).at(f);
            // Passive: the resistance at the terminals never falls under the coil's.
            CHECK(s.impedance.real() >= 1.0);
            // Motional power at 1 V into re = 1 equals what the mechanical and box resistances take. Without losses in
            // the box: |v|^2 Rms, in units of the circuit u^2 |x|^2/(qms qes).
            const Circuit::State t = circuit_of(d, tight).at(f);
            const double u = f / d.fs_hz->value;
            const double current2 = 1.0 / std::norm(t.impedance);
            CHECK(current2 * (t.impedance.real() - 1.0) ==
                  Approx(u * u * std::norm(t.excursion) / (d.qms->value * d.qes->value)).epsilon(1e-7));
            const double lossy = (s.impedance.real() - 1.0) / std::norm(s.impedance);
            CHECK(lossy > u * u * std::norm(s.excursion) / (d.qms->value * d.qes->value));
        }
    }
}

TEST_CASE("power and excursion limits cross where the closed form has it", "[sound][laws]") {
    Random random(87);
    int none = 0, one = 0, two = 0;
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        const Box box = test::random_closed(random, d);
        const auto f = closed_figures(d, box);
        const double power = d.power_w->value;
        // Excursion at 0 Hz at the driver's power, against xmax.
        const double rest = displacement_at_rest(d, power) / (1.0 + f->alpha) / d.vd->value;
        const std::vector<double> cross = frequencies_of_excursion(f->qtc, 1.0 / rest);
        (cross.empty() ? none : cross.size() == 1 ? one : two) += 1;
        CHECK((cross.size() == 1) == (rest > 1.0));
        for (const double at : cross) {
            const auto r = response(d, box, {at * f->fc_hz * 0.999, at * f->fc_hz, at * f->fc_hz * 1.001},
                                    {.watts = power, .air = {}});
            REQUIRE(r);
            CHECK(r->excursion_mm[1] == Approx(d.xmax->value.mm()).epsilon(1e-7));
            CHECK(r->watts_most[1] == Approx(power).epsilon(1e-6));
            // On one side the cone limits, on the other the coil.
            const double lower = r->watts_most[0], upper = r->watts_most[2];
            CHECK(std::max(lower, upper) == Approx(power).epsilon(1e-12));
            CHECK(std::min(lower, upper) < power);
            if (cross.size() == 1) CHECK(lower < upper);
        }
        // The power that no frequency takes beyond xmax at: there the largest excursion is xmax.
        const double x = largest_excursion(f->qtc);
        CHECK(displacement_at_rest(d, *f->within_xmax_w) / (1.0 + f->alpha) * x / d.vd->value == Approx(1.0));
        CHECK((*f->within_xmax_w < power) == (rest * x > 1.0));
        // Small's rating is the passband's output at that power.
        CHECK(*f->rated_output_w == Approx(d.efficiency->value * *f->within_xmax_w).epsilon(1e-9));
        // What the cone displaces at its limit makes the level that the curve tells.
        const double low = 0.3 * f->fc_hz;
        const auto r = response(d, box, {low}, {.watts = 3.0, .air = {}});
        const double ratio =
            std::sqrt(std::min(1.0, r->watts_most[0] / (3.0 * std::pow(d.xmax->value.mm() / r->excursion_mm[0], 2))));
        CHECK(r->spl_most_db[0] == Approx(level_of_displacement_db(d.vd->value * ratio, low)).margin(1e-6));
    }
    // Each kind has to come up, or the test tests nothing.
    CHECK(none > 20);
    CHECK(one > 20);
    CHECK(two > 5);
}

TEST_CASE("levels and excursions follow power, limits and impedance do not", "[sound][laws]") {
    Random random(88);
    for (int i = 0; i < kDrivers; ++i) {
        CAPTURE(i);
        const SmallSignal d = test::random_driver(random);
        const Box box = i % 2 == 0 ? test::random_vented(random, d) : test::random_closed(random, d);
        const std::vector<double> hz{14.0, 40.0, 120.0};
        const auto one = response(d, box, hz, {.watts = 1.0, .air = {}}),
                   four = response(d, box, hz, {.watts = 4.0, .air = {}});
        for (std::size_t k = 0; k < hz.size(); ++k) {
            CHECK(four->spl_db[k] - one->spl_db[k] == Approx(6.0206).margin(1e-4));
            CHECK(four->excursion_mm[k] == Approx(2.0 * one->excursion_mm[k]));
            CHECK(four->spl_most_db[k] == Approx(one->spl_most_db[k]).margin(1e-9));
            CHECK(four->watts_most[k] == Approx(one->watts_most[k]).epsilon(1e-9));
            CHECK(four->impedance_ohm[k] == one->impedance_ohm[k]);
            if (box.has_port()) CHECK(four->port_m_s[k] == Approx(2.0 * one->port_m_s[k]));
        }
    }
}
