// How near the levelled surface lies to the scanned one, and what it costs: the cavity with ball, tube and ledge, whose
// distances are known in closed form. Prints bias, 95 % and extremes of the distance error 3 to 8 mm from the surface,
// and wall and processor seconds of each stage as the number of points grows. Then walls scanned twice, sheets scanned
// from both sides and walls of uneven density: how much farther than the nearer wall the told surface lies.
#include "geom/scan/surface.h"
#include "tests/support/cavity_scene.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <map>
#include <random>

using namespace geom;

namespace {

class Clock : public StageListener {
public:
    void stage_begins(std::string_view stage) override { started_[std::string(stage)] = now(); }
    void stage_ends(std::string_view stage) override {
        const auto [wall, cpu] = now();
        const auto [wall0, cpu0] = started_[std::string(stage)];
        text += fmt::format("{} {:.2f}/{:.2f}  ", stage, wall - wall0, cpu - cpu0);
    }
    std::string text;

private:
    static std::pair<double, double> now() {
        const auto t = std::chrono::steady_clock::now().time_since_epoch();
        return {std::chrono::duration<double>(t).count(), static_cast<double>(std::clock()) / CLOCKS_PER_SEC};
    }
    std::map<std::string, std::pair<double, double>> started_;
};

/// Errors near one solid, or near any for -1.
void print_errors(const scan::Surface& surface, int solid, const char* name) {
    const scan::SurfaceDistance distance(surface);
    std::vector<double> error;
    double sum = 0;
    for (const Point3& p : test::CavityScene::queries(solid >= 0 ? 200000 : 30000, 3, 8, 77)) {
        int which = 0;
        const double truth = test::CavityScene::distance(p, &which);
        if (solid >= 0 && which != solid) continue;
        error.push_back(distance.at(p) - truth);
        sum += error.back();
    }
    std::sort(error.begin(), error.end());
    std::vector<double> size;
    for (double e : error) size.push_back(std::abs(e));
    std::sort(size.begin(), size.end());
    fmt::print("  {:6} bias {:+.4f} p95 {:.3f} p99 {:.3f} min {:+.2f} max {:+.2f} p99.9 of too far {:+.3f}\n", name,
               sum / static_cast<double>(error.size()), size[size.size() * 95 / 100], size[size.size() * 99 / 100],
               error.front(), error.back(), error[error.size() * 999 / 1000]);
}

/// Two flat walls of 120 mm square at z = 0 and z = -apart.
struct Walls {
    const char* name;
    double apart_mm;
    double near_part;  ///< of the points that the wall at z = 0 has, of those that `spacing` gives it
    bool both_sides;   ///< free below the second wall too
    bool is_uneven;    ///< density falls to a tenth along x
};

void print_walls(const Walls& walls, double spacing_mm, double noise_mm) {
    std::mt19937_64 random(5);
    std::uniform_real_distribution<double> unit(0, 1);
    std::normal_distribution<double> normal(0, 1);
    scan::RawScan raw;
    const double side = 120;
    const auto count = static_cast<int>(side * side / (spacing_mm * spacing_mm));
    for (int wall = 0; wall < (walls.apart_mm > 0 ? 2 : 1); ++wall)
        for (int i = 0; i < count; ++i) {
            const double x = unit(random), y = unit(random), z = normal(random) * noise_mm, chance = unit(random);
            if (wall == 0 && chance > walls.near_part) continue;
            if (walls.is_uneven && chance > 1.0 - 0.9 * x) continue;
            raw.points.push_back({side * (x - 0.5), side * (y - 0.5), z - wall * walls.apart_mm});
        }
    auto made = scan::estimate_surface(std::move(raw), {}, Context{});
    if (!made) {
        fmt::print("{}: {}\n", walls.name, made.error().what);
        return;
    }
    const scan::SurfaceDistance distance(*made);
    std::vector<double> error, size;
    double sum = 0;
    for (int i = 0; i < 20000; ++i) {
        const double height = 3 + 5 * unit(random);
        const bool below = walls.both_sides && i % 2 == 1;
        const Point3 p{80 * (unit(random) - 0.5), 80 * (unit(random) - 0.5), below ? -walls.apart_mm - height : height};
        error.push_back(distance.at(p) - height);
        size.push_back(std::abs(error.back()));
        sum += error.back();
    }
    std::sort(error.begin(), error.end());
    std::sort(size.begin(), size.end());
    const auto beyond = error.end() - std::upper_bound(error.begin(), error.end(), made->bound_mm);
    fmt::print(
        "{:34} {:4.1f} {:4.1f}  bias {:+.3f} p95 {:.3f} worst too far {:+.3f}  told noise {:.3f} bound {:.3f}  "
        "beyond it {:.2f} %  kept {} of {}\n",
        walls.name, spacing_mm, noise_mm, sum / static_cast<double>(error.size()), size[size.size() * 95 / 100],
        error.back(), made->noise_mm, made->bound_mm,
        100.0 * static_cast<double>(beyond) / static_cast<double>(error.size()), made->points.size(), made->raw_points);
    std::fflush(stdout);
}

void print_all_walls() {
    fmt::print("walls: spacing and noise in mm\n");
    for (const Walls& walls :
         {Walls{"one wall", 0, 1, false, false}, Walls{"one wall, density 1:10", 0, 1, false, true},
          Walls{"two passes 1 mm apart", 1, 1, false, false}, Walls{"two passes 2 mm apart", 2, 1, false, false},
          Walls{"two passes 3 mm apart", 3, 1, false, false},
          Walls{"2 mm apart, the nearer a tenth", 2, 0.1, false, false},
          Walls{"sheet of 2 mm, both sides", 2, 1, true, false},
          Walls{"sheet of 2 mm, density 1:10", 2, 1, true, true}})
        for (const double spacing : {1.2, 2.5})
            for (const double noise : {0.0, 0.3, 0.7}) print_walls(walls, spacing, noise);
}

}  // namespace

int main(int argc, char** argv) {
    const std::size_t most = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 3000000;
    for (const std::size_t points : {std::size_t{30000}, std::size_t{300000}, std::size_t{3000000}})
        for (const double noise : {0.3, 0.7}) {
            if (points > most) continue;
            scan::RawScan raw;
            raw.points = test::CavityScene::scan({.points = points, .noise_mm = noise});
            Clock clock;
            Context context;
            context.listener = &clock;
            auto made = scan::estimate_surface(std::move(raw), {}, context);
            if (!made) {
                fmt::print("{} points: {}\n", points, made.error().what);
                continue;
            }
            const scan::Surface& s = *made;
            fmt::print("{} points, noise {}: kept {}, spacing {:.3f}, noise {:.3f}, bound {:.3f}\n  wall/cpu s: {}\n",
                       points, noise, s.points.size(), s.spacing_mm, s.noise_mm, s.bound_mm, clock.text);
            print_errors(s, -1, "all");
            print_errors(s, test::CavityScene::Ledge, "ledge");
            print_errors(s, test::CavityScene::Tube, "tube");
            for (std::size_t i = 0; i < std::min<std::size_t>(s.dropped.size(), 3); ++i)
                fmt::print("  dropped {} \"{}\" at {:.0f} {:.0f} {:.0f}, {:.0f} mm\n", s.dropped[i].points,
                           s.dropped[i].reason, s.dropped[i].place.x, s.dropped[i].place.y, s.dropped[i].place.z,
                           s.dropped[i].size.mm());
            std::fflush(stdout);
        }
    print_all_walls();
    return 0;
}
