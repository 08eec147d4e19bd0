// Processor time of all curves of many drivers in boxes with ports, the least of some rounds, and how many complex
// multiply-adds take as long.
//
//     bench_response_speed [DRIVERS] [FREQUENCIES] [ROUNDS]
#include "geom/core/random.h"
#include "geom/sound/response.h"
#include "tests/sound/random_driver.h"
#include "tests/support/cpu_time.h"

#include <fmt/format.h>

#include <complex>
#include <cstdlib>

using namespace geom;
using support::least_cpu_s;

int main(int argc, char** argv) {
    const int drivers = argc > 1 ? std::atoi(argv[1]) : 100, count = argc > 2 ? std::atoi(argv[2]) : 2000,
              rounds = argc > 3 ? std::atoi(argv[3]) : 5;
    Random random(1);
    std::vector<std::pair<sound::SmallSignal, sound::Box>> all;
    for (int i = 0; i < drivers; ++i) {
        const sound::SmallSignal driver = test::random_driver(random);
        all.emplace_back(driver, test::random_vented(random, driver));
    }
    const std::vector<double> hz = sound::frequencies(10, 1000, static_cast<std::size_t>(count));
    double sum = 0.0;
    std::size_t lists = 0;
    const double curves = least_cpu_s(rounds, [&] {
        sum = 0.0;
        for (const auto& [driver, box] : all) {
            const auto r = sound::response(driver, box, hz);
            if (!r) std::abort();
            const std::vector<double>* told[] = {&r->response_db,   &r->phase_deg,          &r->group_delay_s,
                                                 &r->spl_db,        &r->spl_sheet_db,       &r->excursion_mm,
                                                 &r->port_m_s,      &r->spl_most_db,        &r->watts_most,
                                                 &r->impedance_ohm, &r->impedance_phase_deg};
            lists = std::size(told);
            for (const auto* list : told) sum += list->back();
        }
    });
    // One chain, each step needing the last.
    const double steps = 2e7;
    std::complex<double> z(0.3, 0.4);
    const double adding = least_cpu_s(rounds, [&] {
        z = {0.3, 0.4};
        const double re = 0.6, im = 0.7;
        for (int i = 0; i < static_cast<int>(steps); ++i)
            z = {z.real() * re - z.imag() * im + 0.1, z.real() * im + z.imag() * re + 0.1};
    });
    const double each = curves / drivers / count, one = adding / steps;
    fmt::print(
        "{} drivers, {} frequencies, {} curves: {:.4f} s cpu, {:.0f} ns a frequency, as long as {:.0f} complex "
        "multiply-adds of {:.2f} ns in a chain; sum {:.9f}, {:.3f}\n",
        drivers, count, lists, curves, 1e9 * each, each / one, 1e9 * one, sum, z.real());
    return 0;
}
