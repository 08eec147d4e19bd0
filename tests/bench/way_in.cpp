// Rooms for parts that come in by random moves through gaps known in closed form, against plain sampling of the whole
// motion: how much room is claimed that the motion does not leave, how much is lost, in voxels; and the time.
//
//   bench_way_in [MOTIONS [FIRST]]
#include "geom/space/room.h"
#include "tests/space/way_scene.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <ctime>
#include <memory>

using namespace geom;

int main(int argc, char** argv) {
    const int motions = argc > 1 ? std::atoi(argv[1]) : 210, first = argc > 2 ? std::atoi(argv[2]) : 0;
    constexpr int kPerScene = 10;
    const double voxels[] = {1.5, 2.0, 3.0};
    struct Sum {
        double more = -1e9, less = -1e9, cpu = 0.0, wall = 0.0;
        int rooms = 0, none = 0;
        std::vector<double> mores, lesses;
    } sums[3];
    std::unique_ptr<test::WayScene> scene;
    for (int n = first; n < first + motions; ++n) {
        if (!scene || n % kPerScene == 0)
            scene =
                std::make_unique<test::WayScene>(test::way_scene(static_cast<std::uint64_t>(n / kPerScene) + 100, 1.6));
        Random random(static_cast<std::uint64_t>(n) + 7000);
        const auto moves = test::random_moves(random, *scene, n % 4);
        const int with = static_cast<int>(random.next() % 4);
        for (int v = 0; v < 3; ++v) {
            // Three voxels in turn, but all of them for every fifth motion.
            if (n % 3 != v && n % 5 != 0) continue;
            space::RoomOptions o = test::way_options(*scene, voxels[v]);
            o.moves = moves;
            if (with & 1) o.limits = {{"top", {{0, 0, 0.85 * scene->size.z}, {0, 0, 1}}, Length::mm(0), true}};
            if (with & 2)
                o.keep_outs = {{"ball", space::SphereShape{{0.3 * scene->size.x, -40, 0.2 * scene->size.z}, 22},
                                Length::mm(3), true}};
            if (n % 7 == 0) o.insert_clearance = Length::mm(7);
            const auto start = std::chrono::steady_clock::now();
            const std::clock_t cpu = std::clock();
            const auto room = space::free_room(scene->surface, o, {});
            sums[v].cpu += static_cast<double>(std::clock() - cpu) / CLOCKS_PER_SEC;
            sums[v].wall += std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
            if (!room) {
                ++sums[v].none;
                fmt::print("motion {:3} h {:.1f}: {}\n", n, voxels[v], room.error().what);
                continue;
            }
            const test::WayFigures f = test::way_figures(*scene, o, *room, v == 0 ? 41 : v == 1 ? 23 : 11, 0.5);
            ++sums[v].rooms;
            sums[v].more = std::max(sums[v].more, f.more_vx), sums[v].less = std::max(sums[v].less, f.less_vx);
            sums[v].mores.push_back(f.more_vx), sums[v].lesses.push_back(f.less_vx);
            fmt::print(
                "motion {:3} h {:.1f}: {:6.2f} L, more {:.2f} at ({:.0f}, {:.0f}, {:.0f}), less {:.2f} at ({:.0f}, "
                "{:.0f}, {:.0f}) voxels{}\n",
                n, voxels[v], f.litres, f.more_vx, f.more_at.x, f.more_at.y, f.more_at.z, f.less_vx, f.less_at.x,
                f.less_at.y, f.less_at.z, room->report.notes.empty() ? "" : "; " + room->report.notes.back());
            std::fflush(stdout);
        }
    }
    for (int v = 0; v < 3; ++v) {
        Sum& s = sums[v];
        if (s.rooms == 0) continue;
        std::sort(s.mores.begin(), s.mores.end()), std::sort(s.lesses.begin(), s.lesses.end());
        const auto p90 = [](const std::vector<double>& x) { return x[x.size() * 9 / 10]; };
        fmt::print(
            "h {:.1f}: {} rooms, {} without any; more {:.3f} (nine in ten below {:.3f}), less {:.3f} ({:.3f}) voxels; "
            "{:.2f} s, {:.2f} s of CPU a room\n",
            voxels[v], s.rooms, s.none, s.more, p90(s.mores), s.less, p90(s.lesses), s.wall / (s.rooms + s.none),
            s.cpu / (s.rooms + s.none));
    }
    return 0;
}
