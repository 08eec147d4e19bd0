// Processor time of some work, for benches: the least of several rounds.
#pragma once

#include <algorithm>
#include <ctime>

namespace support {

template <class Work>
double least_cpu_s(int rounds, Work work) {
    double least = 1e300;
    for (int k = 0; k < rounds; ++k) {
        const std::clock_t begun = std::clock();
        work();
        least = std::min(least, static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC);
    }
    return least;
}

}  // namespace support
