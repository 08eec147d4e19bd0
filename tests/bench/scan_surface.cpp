// How near the levelled surface lies to the scanned one, and what it costs: the cavity with ball, tube and ledge, whose
// distances are known in closed form. Prints bias, 95 % and extremes of the distance error 3 to 8 mm from the surface,
// and wall and processor seconds of each stage as the number of points grows.
#include "geom/scan/surface.h"
#include "tests/support/cavity_scene.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <map>

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
    return 0;
}
