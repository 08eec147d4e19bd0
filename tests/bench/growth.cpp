// What a run costs as points grow 30 k, 300 k, 3 M, and as the voxel halves: seconds of the stages from raw points to
// cavity, each also as a ratio to the first row, so that the machine's speed drops out.
//
//   bench_growth [MOST_POINTS]
#include "geom/parts/size.h"
#include "geom/space/room.h"
#include "tests/support/random_gap.h"

#include <chrono>
#include <cstdio>
#include <cstdlib>

namespace {

using Clock = std::chrono::steady_clock;
double since(Clock::time_point t) {
    return std::chrono::duration<double>(Clock::now() - t).count();
}

struct Row {
    double surface_s = 0, room_s = 0, cavity_s = 0, litres = 0;
    bool ok = false;
    double total() const { return surface_s + room_s + cavity_s; }
};

Row run(std::size_t points, double voxel_mm) {
    support::GapScene scene;
    scene.width = 220, scene.depth = 320, scene.top = 280, scene.height = 310, scene.bulge = 8, scene.sigma = 0.3;
    geom::Random rng(7);
    support::RandomGap gap = support::random_gap(1, 0, 10);
    gap.scan = support::scan_of(scene, points, rng);
    geom::space::RoomOptions options;
    options.air = {0, 160, 200};
    options.baffle = {{0, 60, 140}, {0, -1, 0}};
    options.travel_lo_mm = -160, options.travel_hi_mm = 70;
    options.limits.push_back({"top", {{0, 0, 280}, {0, 0, 1}}, geom::Length::mm(0), true});
    options.voxel = geom::Length::mm(voxel_mm);
    options.memory_limit_bytes = 8e9;
    Row row;
    auto t = Clock::now();
    const auto surface = geom::scan::estimate_surface(std::move(gap.scan), {}, {});
    row.surface_s = since(t);
    if (!surface) return row;
    t = Clock::now();
    const auto room = geom::space::free_room(*surface, options, {});
    row.room_s = since(t);
    if (!room) return std::printf("  %s\n", room.error().what.c_str()), row;
    t = Clock::now();
    const auto air = geom::space::cavity(room->outer, geom::Length::mm(6), geom::Length::mm(4), {});
    row.cavity_s = since(t);
    if (!air) return row;
    row.litres = geom::space::VolumeTable::of(*air).volume_behind(-50).litres();
    row.ok = true;
    return row;
}

void print(const char* what, double value, const Row& row, const Row& first) {
    std::printf("%-8s %9g  surface %6.2f s  room %6.2f s  cavity %6.2f s  x%.2f of the first row  %.4f L%s\n", what,
                value, row.surface_s, row.room_s, row.cavity_s, row.total() / first.total(), row.litres,
                row.ok ? "" : "  FAILED");
}

}  // namespace

int main(int argc, char** argv) {
    const double most = argc > 1 ? std::atof(argv[1]) : 3e6;
    Row first;
    for (const double points : {3e4, 3e5, 3e6}) {
        if (points > most) break;
        const Row row = run(static_cast<std::size_t>(points), 2.0);
        if (points == 3e4) first = row;
        print("points", points, row, first);
    }
    for (const double voxel : {3.0, 2.0, 1.5, 1.0}) {
        const Row row = run(300000, voxel);
        if (voxel == 3.0) first = row;
        print("voxel", voxel, row, first);
    }
    return 0;
}
