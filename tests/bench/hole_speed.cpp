// Processor seconds of finding holes and of closing them, the least of some rounds, on a holed cavity.
//
//     bench_hole_speed [POINTS] [ROUNDS]
#include "geom/scan/holes.h"
#include "geom/scan/internal/point_index.h"
#include "tests/support/cpu_time.h"
#include "tests/support/holed_cavity.h"

#include <fmt/format.h>

#include <cstdlib>

using namespace geom;
using support::least_cpu_s;

int main(int argc, char** argv) {
    const double points = argc > 1 ? std::atof(argv[1]) : 300000.0;
    const int rounds = argc > 2 ? std::atoi(argv[2]) : 5;
    scan::RawScan raw;
    raw.points = test::holed_cavity({.spacing_mm = std::sqrt(540000.0 / points)}).points;
    const std::size_t count = raw.points.size();
    const auto surface = scan::estimate_surface(std::move(raw), {}, {});
    if (!surface) return 1;
    const double neighbours = least_cpu_s(rounds, [&] { scan::internal::PointIndex(surface->points).all_nearest(24); });
    std::size_t found = 0, closed = 0;
    const double finding = least_cpu_s(rounds, [&] { found = scan::find_holes(*surface).size(); });
    const double closing = least_cpu_s(rounds, [&] {
        scan::Surface copy = *surface;
        scan::close_holes(copy, Length::mm(45));
        closed = 0;
        for (const scan::Hole& h : copy.holes) closed += h.closed ? 1 : 0;
    });
    fmt::print(
        "{} points, {} samples: find_holes {:.3f} s, {} of them; close_holes, which finds them too, {:.3f} s, {} "
        "closed; "
        "together {:.3f} s cpu; an index of the samples with 24 neighbours of each {:.3f} s\n",
        count, surface->points.size(), finding, found, closing, closed, finding + closing, neighbours);
    return 0;
}
