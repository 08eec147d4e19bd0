// Keep-outs that move, on the nodes of a room's grid, against the body in thousands of poses: by how many voxels the
// grid's zero set falls short of the true space and goes beyond it, at the worst, over random bodies and motions.
#include "tests/space/swept_misses.h"

#include <fmt/format.h>

#include <cstdlib>

int main(int count, char** arguments) {
    const int cases = count > 1 ? std::atoi(arguments[1]) : 200;
    const std::uint64_t seed = count > 2 ? static_cast<std::uint64_t>(std::atoll(arguments[2])) : 1;
    fmt::print("{:>6} {:>6} {:>8} {:>12} {:>12}   worst cases\n", "h mm", "cases", "points", "less, voxel",
               "more, voxel");
    bool good = true;
    for (const double h : {1.5, 2.0, 3.0}) {
        geom::Random random(seed);
        brute::Misses worst;
        std::string less_at, more_at;
        for (int n = 0; n < cases; ++n) {
            const brute::Misses m = brute::swept_misses(random, h, 150);
            worst.points += m.points;
            if (m.less > worst.less) worst.less = m.less, less_at = fmt::format("{} {}", n, m.name);
            if (m.more > worst.more) worst.more = m.more, more_at = fmt::format("{} {}", n, m.name);
        }
        fmt::print("{:>6.1f} {:>6} {:>8} {:>12.3f} {:>12.3f}   {} | {}\n", h, cases, worst.points, worst.less,
                   worst.more, less_at, more_at);
        good = good && worst.less <= 0.5 && worst.more <= 1.0;
    }
    return good ? 0 : 1;
}
