// The circuit of unlike cones, held to a second one that is put together part by part and solved as a full matrix, and
// to what must hold of any such circuit.
#include "geom/sound/shared_circuit.h"

#include "geom/core/checks.h"
#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <numbers>

using namespace geom;
using namespace geom::sound;

namespace {

constexpr int kPairs = 200;
constexpr double kTwoPi = 2.0 * std::numbers::pi;
using Complex = std::complex<double>;

Cone random_cone(Random& random) {
    Cone c;
    const double w = kTwoPi * random.uniform(18, 300);
    c.mass_kg = random.uniform(0.002, 0.2);
    c.stiffness_n_m = w * w * c.mass_kg;
    c.resistance_kg_s = w * c.mass_kg / random.uniform(1.5, 12);
    c.re_ohm = random.uniform(1, 8);
    c.bl_tm = std::sqrt(w * c.mass_kg * c.re_ohm / random.uniform(0.2, 1.2));
    c.le_h = random.uniform() < 0.5 ? 0.0 : random.uniform(1e-4, 3e-3);
    c.sd_m2 = random.uniform(0.003, 0.08);
    return c;
}

/// Of some litres, with all losses, and a port or none.
SharedAir random_air(Random& random, bool has_port) {
    SharedAir a;
    a.compliance_m3_pa = random.uniform(2e-3, 0.1) / 1.4e5;
    const double w = kTwoPi * random.uniform(20, 90);
    a.absorption_pa_s_m3 = 1.0 / (w * a.compliance_m3_pa * random.uniform(10, 100));
    a.leak_m3_s_pa = w * a.compliance_m3_pa / random.uniform(5, 30);
    if (has_port) {
        a.port_mass_kg_m4 = 1.0 / (w * w * a.compliance_m3_pa);
        a.port_pa_s_m3 = w * a.port_mass_kg_m4 / random.uniform(20, 100);
    }
    return a;
}

struct Drawn {
    std::vector<Cone> cones;
    Wiring wiring;
    SharedAir air;

    SharedCircuit circuit() const { return {cones, wiring, air}; }
};

Drawn drawn(Random& random, const Wiring& wiring, bool has_port) {
    Drawn d{{}, wiring, random_air(random, has_port)};
    for (int i = 0; i < wiring.count(); ++i) d.cones.push_back(random_cone(random));
    return d;
}

const Wiring kWirings[] = {{.in_series = 1, .in_parallel = 2},
                           {.in_series = 2, .in_parallel = 1},
                           {.in_series = 3, .in_parallel = 1},
                           {.in_series = 2, .in_parallel = 2},
                           {.in_series = 1, .in_parallel = 4}};

/// Elimination with the largest pivot of a full matrix; equations in rows, the right side behind them.
std::vector<Complex> solved(std::vector<std::vector<Complex>> rows) {
    const std::size_t n = rows.size();
    for (std::size_t c = 0; c < n; ++c) {
        const auto from = rows.begin() + static_cast<std::ptrdiff_t>(c);
        std::iter_swap(from, std::max_element(from, rows.end(), [c](const auto& a, const auto& b) {
                           return std::abs(a[c]) < std::abs(b[c]);
                       }));
        for (std::size_t r = 0; r < n; ++r) {
            if (r == c) continue;
            const Complex factor = rows[r][c] / rows[c][c];
            for (std::size_t k = c; k <= n; ++k) rows[r][k] -= factor * rows[c][k];
        }
    }
    std::vector<Complex> x(n);
    for (std::size_t i = 0; i < n; ++i) x[i] = rows[i][n] / rows[i][i];
    return x;
}

/// Branch by branch: each coil's voltage and current, each cone's displacement, the flows through port and leak and
/// the volume pressed are unknowns of their own.
struct Branches {
    std::vector<Complex> displacement, current;
    Complex pressure, port, leak, pressed;
};

Branches by_branches(const Drawn& d, double f) {
    const Complex s(0.0, kTwoPi * f);
    const std::size_t n = d.cones.size(), in_series = static_cast<std::size_t>(d.wiring.in_series);
    // x_i, i_i, u_i of each driver, then pressure, port's, leak's and pressed volume.
    const std::size_t p = 3 * n, port = p + 1, leak = p + 2, pressed = p + 3, all = p + 4;
    std::vector<std::vector<Complex>> rows;
    const auto row = [&]() -> std::vector<Complex>& { return rows.emplace_back(all + 1); };
    for (std::size_t i = 0; i < n; ++i) {
        const Cone& c = d.cones[i];
        auto& force = row();
        force[i] = s * s * c.mass_kg + s * c.resistance_kg_s + c.stiffness_n_m;
        force[n + i] = -c.bl_tm;
        force[p] = c.sd_m2;
        auto& coil = row();
        coil[2 * n + i] = 1.0;
        coil[n + i] = -(c.re_ohm + s * c.le_h);
        coil[i] = -s * c.bl_tm;
        if (i % in_series != 0) {  // one current through a string
            auto& same = row();
            same[n + i] = 1.0;
            same[n + i - 1] = -1.0;
        } else {  // whose voltages add to that of the amplifier
            auto& round = row();
            for (std::size_t k = i; k < i + in_series; ++k) round[2 * n + k] = 1.0;
            round[all] = 1.0;
        }
    }
    auto& volume = row();
    for (std::size_t i = 0; i < n; ++i) volume[i] = d.cones[i].sd_m2;
    volume[port] = volume[leak] = volume[pressed] = -1.0;
    auto& spring = row();
    spring[p] = 1.0;
    spring[pressed] = -(1.0 / d.air.compliance_m3_pa + s * d.air.absorption_pa_s_m3);
    auto& hole = row();
    hole[leak] = s;
    hole[p] = -d.air.leak_m3_s_pa;
    auto& tube = row();
    if (d.air.port_mass_kg_m4 > 0.0) {
        tube[port] = s * s * d.air.port_mass_kg_m4 + s * d.air.port_pa_s_m3;
        tube[p] = -1.0;
    } else {
        tube[port] = 1.0;
    }
    const std::vector<Complex> x = solved(std::move(rows));
    const auto part = [&](std::size_t from) {
        return std::vector<Complex>(x.begin() + static_cast<std::ptrdiff_t>(from),
                                    x.begin() + static_cast<std::ptrdiff_t>(from + n));
    };
    return {part(0), part(n), x[p], x[port], x[leak], x[pressed]};
}

void check_same(Complex a, Complex b, double rel) {
    CAPTURE(a, b);
    CHECK(std::abs(a - b) <= rel * std::abs(b));
}

}  // namespace

TEST_CASE("the circuit of unlike cones is its branches, solved as a full matrix", "[sound][mixed]") {
    Random random(401);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        const Drawn d = drawn(random, kWirings[i % 5], i % 2 == 0);
        const SharedCircuit circuit = d.circuit();
        for (const double f : {3.0, 17.0, 31.7, 60.0, 140.0, 900.0}) {
            CAPTURE(f);
            const SharedCircuit::State s = circuit.at(f);
            const Branches b = by_branches(d, f);
            const double w = kTwoPi * f;
            const std::size_t in_series = static_cast<std::size_t>(d.wiring.in_series);
            Complex current, volume = -(b.port + b.leak);
            for (std::size_t k = 0; k < d.cones.size(); ++k) {
                check_same(s.excursion_m[k], b.displacement[k], 1e-9);
                check_same(s.current_a[k / in_series], b.current[k], 1e-9);
                if (k % in_series == 0) current += b.current[k];
                volume += d.cones[k].sd_m2 * b.displacement[k];
            }
            check_same(s.pressure_pa, b.pressure, 1e-9);
            if (d.air.port_mass_kg_m4 > 0.0)
                check_same(s.port_m3, b.port, 1e-9);
            else
                CHECK(s.port_m3 == Complex(0.0));
            // Far off, cones, port and leak are heard together, which is what the air in the box is pressed by.
            check_same(s.acceleration_m3_s2, -w * w * b.pressed, 1e-9);
            CHECK(std::abs(b.pressed - volume) <= 1e-9 * (std::abs(volume) + std::abs(b.port) + std::abs(b.leak)));
            check_same(s.impedance_ohm, 1.0 / current, 1e-9);
        }
    }
}

TEST_CASE("what the amplifier gives is what coils, cones, box and port turn to heat", "[sound][mixed][laws]") {
    Random random(402);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        const Drawn d = drawn(random, kWirings[i % 5], i % 2 == 0);
        const double f = std::pow(10.0, random.uniform(0.7, 3.0)), w = kTwoPi * f;
        CAPTURE(f);
        const SharedCircuit::State s = d.circuit().at(f);
        double heat = 0.0;
        for (std::size_t k = 0; k < d.cones.size(); ++k) {
            const Complex current = s.current_a[k / static_cast<std::size_t>(d.wiring.in_series)];
            heat += std::norm(current) * d.cones[k].re_ohm +
                    w * w * std::norm(s.excursion_m[k]) * d.cones[k].resistance_kg_s;
        }
        const Complex pressing = s.acceleration_m3_s2 / Complex(0.0, w);
        heat += std::norm(s.pressure_pa) * d.air.leak_m3_s_pa + std::norm(pressing) * d.air.absorption_pa_s_m3 +
                w * w * std::norm(s.port_m3) * d.air.port_pa_s_m3;
        CHECK((1.0 / s.impedance_ohm).real() == Approx(heat).epsilon(1e-10));
    }
}

TEST_CASE("the group delay of unlike cones is the slope of the phase", "[sound][mixed][laws]") {
    Random random(403);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        const SharedCircuit circuit = drawn(random, kWirings[i % 5], i % 2 == 0).circuit();
        for (const double f : {7.0, 25.0, 50.0, 110.0, 400.0}) {
            CAPTURE(f);
            const double step = 2e-4 * f;
            // Central, of fourth order; the ratio of two never wraps.
            const auto turned = [&](double by) {
                return std::arg(circuit.at(f + by).acceleration_m3_s2 / circuit.at(f - by).acceleration_m3_s2);
            };
            const double slope = (8.0 * turned(step) - turned(2.0 * step)) / (12.0 * step * kTwoPi);
            CHECK(circuit.at(f).group_delay_s == Approx(-slope).epsilon(1e-6).margin(1e-9));
        }
    }
}

TEST_CASE("a blocked cone leaves its coil's resistance and nothing else", "[sound][mixed][laws]") {
    Random random(404);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        Drawn pair = drawn(random, kWirings[0], i % 2 == 0);
        pair.cones[1].mass_kg *= 1e15;
        Drawn alone = pair;
        alone.wiring = {};
        alone.cones.pop_back();
        // In series the coil stands before the other as a resistance and an inductance of the amplifier.
        Drawn before = alone;
        before.cones[0].re_ohm += pair.cones[1].re_ohm;
        before.cones[0].le_h += pair.cones[1].le_h;
        Drawn series = pair;
        series.wiring = kWirings[1];
        for (const auto& [two, one] : {std::pair(pair, alone), std::pair(series, before)})
            for (const double f : {9.0, 33.0, 120.0}) {
                CAPTURE(f);
                const SharedCircuit::State a = two.circuit().at(f), b = one.circuit().at(f);
                check_same(a.acceleration_m3_s2, b.acceleration_m3_s2, 1e-8);
                check_same(a.excursion_m[0], b.excursion_m[0], 1e-8);
                check_same(a.current_a[0], b.current_a[0], 1e-8);
                CHECK(std::abs(a.port_m3 - b.port_m3) <= 1e-8 * std::abs(b.port_m3));
                CHECK(a.group_delay_s == Approx(b.group_delay_s).epsilon(1e-7).margin(1e-10));
            }
    }
}

TEST_CASE("before a box without end unlike drivers sound as two alone", "[sound][mixed][laws]") {
    Random random(405);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        Drawn pair = drawn(random, kWirings[0], false);
        pair.air = SharedAir{.compliance_m3_pa = 1e6};
        for (const double f : {12.0, 47.0, 300.0}) {
            CAPTURE(f);
            const SharedCircuit::State s = pair.circuit().at(f);
            const Complex p(0.0, kTwoPi * f);
            Complex sum, current;
            for (std::size_t k = 0; k < 2; ++k) {
                // A driver in a baffle, in one line.
                const Cone& c = pair.cones[k];
                const Complex coil = c.re_ohm + p * c.le_h,
                              cone = p * c.mass_kg + c.resistance_kg_s + c.stiffness_n_m / p,
                              speed = c.bl_tm / (coil * cone + c.bl_tm * c.bl_tm);
                check_same(s.excursion_m[k], speed / p, 1e-9);
                sum += p * speed * c.sd_m2;
                current += cone / (coil * cone + c.bl_tm * c.bl_tm);
            }
            check_same(s.acceleration_m3_s2, sum, 1e-9);
            check_same(s.impedance_ohm, 1.0 / current, 1e-9);
        }
        // Far above all resonances, without le.
        for (Cone& c : pair.cones) c.le_h = 0.0;
        const SharedCircuit bare = pair.circuit();
        CHECK(std::abs(bare.at(1e7).acceleration_m3_s2) == Approx(bare.passband_m3_s2()).epsilon(1e-6));
    }
}

TEST_CASE("a port of heavy air is no port, by as much as it is heavy", "[sound][mixed][laws]") {
    Random random(406);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        Drawn d = drawn(random, kWirings[i % 5], false);
        const SharedCircuit closed = d.circuit();
        double last = 0.0;
        for (const double mass : {1e7, 1e9}) {
            d.air.port_mass_kg_m4 = mass;
            const SharedCircuit::State a = d.circuit().at(40.0), b = closed.at(40.0);
            const double off = std::max(std::abs(a.acceleration_m3_s2 / b.acceleration_m3_s2 - 1.0),
                                        std::abs(a.excursion_m[1] / b.excursion_m[1] - 1.0));
            if (last > 0.0) CHECK(off == Approx(last / 100.0).epsilon(0.02).margin(1e-12));
            last = off;
        }
        CHECK(last < 1e-3);
    }
}

TEST_CASE("order counts only where it changes the strings", "[sound][mixed][laws]") {
    Random random(407);
    for (int i = 0; i < kPairs; ++i) {
        CAPTURE(i);
        const Drawn four = drawn(random, {.in_series = 1, .in_parallel = 4}, i % 2 == 0);
        const auto sound = [&](std::vector<std::size_t> order, const Wiring& wiring) {
            Drawn d = four;
            d.wiring = wiring;
            for (std::size_t k = 0; k < 4; ++k) d.cones[k] = four.cones[order[k]];
            return d.circuit().at(45.0);
        };
        const auto a = sound({0, 1, 2, 3}, four.wiring), b = sound({2, 0, 3, 1}, four.wiring);
        check_same(b.acceleration_m3_s2, a.acceleration_m3_s2, 1e-11);
        check_same(b.excursion_m[1], a.excursion_m[0], 1e-11);
        CHECK(b.group_delay_s == Approx(a.group_delay_s).epsilon(1e-9).margin(1e-12));
        // Two strings of two: what stands in one string may change places, and the strings may.
        const Wiring strings{.in_series = 2, .in_parallel = 2};
        const auto c = sound({0, 1, 2, 3}, strings), d = sound({3, 2, 0, 1}, strings), e = sound({0, 2, 1, 3}, strings);
        check_same(d.acceleration_m3_s2, c.acceleration_m3_s2, 1e-11);
        check_same(d.excursion_m[2], c.excursion_m[0], 1e-11);
        CHECK(std::abs(e.impedance_ohm / c.impedance_ohm - 1.0) > 1e-6);
    }
}

TEST_CASE("a watt is shared out over the coils by current and resistance", "[sound][mixed]") {
    Random random(408);
    const Cone a = random_cone(random), b = random_cone(random);
    const SharedAir air = random_air(random, false);
    const double sum = a.re_ohm + b.re_ohm;
    const SharedCircuit series({a, b}, kWirings[1], air), parallel({a, b}, kWirings[0], air);
    CHECK(series.resistance_ohm() == Approx(sum));
    CHECK(series.share_of(0) == Approx(a.re_ohm / sum));
    CHECK(parallel.resistance_ohm() == Approx(a.re_ohm * b.re_ohm / sum));
    CHECK(parallel.share_of(0) == Approx(b.re_ohm / sum));
    for (const Wiring& wiring : kWirings) {
        const SharedCircuit circuit = drawn(random, wiring, true).circuit();
        double all = 0.0;
        for (std::size_t i = 0; i < circuit.cones().size(); ++i) all += circuit.share_of(i);
        CHECK(all == Approx(1.0));
    }
    CHECK_THROWS_AS(SharedCircuit({a, b}, Wiring{}, air), LogicError);
    CHECK_THROWS_AS(SharedCircuit({a, Cone{}}, kWirings[0], air), LogicError);
}
