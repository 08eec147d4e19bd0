// Processor time of some work, for benches: the least of several rounds.
#pragma once

#include <algorithm>
#include <ctime>

namespace support {

/// Processor time of the program so far, all threads, in seconds.
inline double cpu_s() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

template <class Work>
double least_cpu_s(int rounds, Work work) {
    double least = 1e300;
    for (int k = 0; k < rounds; ++k) {
        const double begun = cpu_s();
        work();
        least = std::min(least, cpu_s() - begun);
    }
    return least;
}

}  // namespace support
