// Laws of what a gap holds over random small jobs: how many tightened rules were looked at, how many gave more.
//
//   bench_capacity_laws [COUNT] [FIRST]
#include "tests/support/capacity_laws.h"

#include <cstdio>
#include <cstdlib>

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 200, first = argc > 2 ? std::atoi(argv[2]) : 0;
    support::LawCount laws;
    for (int i = first; i < first + count; ++i) support::look_at_laws(static_cast<std::uint64_t>(i), 2e-4, laws);
    for (const auto& broken : laws.broken)
        std::printf("  broken: %s: %+.5f L\n", broken.what.c_str(), broken.litres_more);
    std::printf(
        "%d jobs, %d without a part as asked; %d rules tightened, %zu broken; most more %.4f %% of the volume\n", count,
        laws.no_part, laws.looked_at, laws.broken.size(), 100.0 * laws.worst_rel);
    return laws.broken.empty() && laws.no_part <= count / 10 ? 0 : 1;
}
