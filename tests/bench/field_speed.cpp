// Where the field's time goes: one gap of 200 x 340 x 350 mm, about 300 000 samples, h = 2 mm. Seconds depend on the
// machine and its load; the shares and the seconds against one sort of the same run are what to compare.
#include "geom/core/parallel.h"
#include "geom/space/room.h"
#include "tests/space/scene.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <ctime>
#include <map>
#include <string>
#include <string_view>

namespace {

using Clock = std::chrono::steady_clock;

double cpu_seconds() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

class Split : public geom::StageListener {
public:
    void stage_begins(std::string_view s) override { started_[std::string(s)] = {Clock::now(), cpu_seconds()}; }
    void stage_ends(std::string_view s) override {
        const auto& [wall, cpu] = started_[std::string(s)];
        rows_.push_back(
            {std::string(s), std::chrono::duration<double>(Clock::now() - wall).count(), cpu_seconds() - cpu});
    }
    struct Row {
        std::string name;
        double wall = 0.0, cpu = 0.0;
    };
    const std::vector<Row>& rows() const { return rows_; }

private:
    std::map<std::string, std::pair<Clock::time_point, double>> started_;
    std::vector<Row> rows_;
};

}  // namespace

int main(int argc, char** argv) {
    using namespace geom;
    const double h = argc > 1 ? std::atof(argv[1]) : 2.0, spacing = argc > 2 ? std::atof(argv[2]) : 1.15;
    const scan::Surface surface = test::exact_surface(test::seat_gap(), spacing);
    // One yardstick that any machine has: sorting ten million numbers.
    std::vector<double> numbers(10'000'000);
    Random random(1);
    for (double& v : numbers) v = random.uniform();
    const double sort_begins = cpu_seconds();
    std::sort(numbers.begin(), numbers.end());
    const double yardstick = cpu_seconds() - sort_begins;

    for (const bool oblique : {false, true}) {
        space::RoomOptions o;
        o.air = {0, 120, 160};
        o.baffle = {{0, 40, 0}, {0, -1, 0}};
        o.travel_lo_mm = -200;
        o.travel_hi_mm = 32;
        o.voxel = Length::mm(h);
        o.limits = {{"shelf", {{0, 0, 300}, {0, 0, 1}}, Length::mm(0), true}};
        if (oblique) o.insert = unit(Vec3{-0.1, 1, -0.15});
        Split split;
        Context context;
        context.listener = &split;
        const auto begins = Clock::now();
        const double cpu_begins = cpu_seconds();
        auto room = space::free_room(surface, o, context);
        if (!room) return fmt::print("{}: {}\n", room.error().what, room.error().hint), 1;
        auto air = space::cavity(room->outer, Length::mm(6), Length::mm(4), context);
        if (!air) return fmt::print("{}\n", air.error().what), 1;
        const double table_begins = cpu_seconds();
        const auto outer = space::VolumeTable::of(room->outer), inner = space::VolumeTable::of(*air);
        const double tables = cpu_seconds() - table_begins;
        const double wall = std::chrono::duration<double>(Clock::now() - begins).count(),
                     cpu = cpu_seconds() - cpu_begins;
        const auto& g = room->outer.grid;
        fmt::print(
            "{} insertion: {} samples, h {:.2f}, {} x {} x {} = {:.2f} M nodes kept; outer {:.4f} L, air {:.4f} L "
            "behind the outermost baffle\n",
            oblique ? "oblique" : "straight", surface.points.size(), room->report.voxel_mm, g.nx, g.ny, g.nz,
            static_cast<double>(g.count()) / 1e6, outer.volume_behind(-32).litres(), inner.volume_behind(-32).litres());
        fmt::print("  {:<26} {:>8} {:>8} {:>8} {:>9}\n", "stage", "wall s", "cpu s", "share", "of sort");
        for (const auto& row : split.rows())
            fmt::print("  {:<26} {:8.3f} {:8.3f} {:7.1f}% {:9.2f}\n", row.name, row.wall, row.cpu,
                       100.0 * row.cpu / cpu, row.cpu / yardstick);
        fmt::print("  {:<26} {:>8} {:8.3f} {:7.1f}% {:9.2f}\n", "two volume tables", "", tables, 100.0 * tables / cpu,
                   tables / yardstick);
        fmt::print("  {:<26} {:8.3f} {:8.3f} {:>8} {:9.2f}   (sort of ten million: {:.3f} s)\n", "all", wall, cpu, "",
                   cpu / yardstick, yardstick);
    }
}
