// The foot of a ring over scanned door skins known in closed form: how far its face stands off the gasket, and what
// each stage takes as a share of the whole, levelling of the cropped scan included.
//
//   bench_scan_foot [SEEDS]
#include "tests/support/foot_places.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <map>
#include <string>

namespace {

class Seconds : public geom::StageListener {
public:
    void stage_begins(std::string_view) override { begun_.push_back(Clock::now()); }
    void stage_ends(std::string_view stage) override {
        of_[std::string(stage)] += std::chrono::duration<double>(Clock::now() - begun_.back()).count();
        begun_.pop_back();
    }
    double operator[](const std::string& stage) const { return of_.contains(stage) ? of_.at(stage) : 0.0; }

private:
    using Clock = std::chrono::steady_clock;
    std::vector<Clock::time_point> begun_;
    std::map<std::string, double> of_;
};

struct Case {
    const char* name;
    ring_on_scan::ScanOptions scene;
    double lean = 0.0;  ///< of the seat against the skin
    double gasket_mm = 3.0;
};

}  // namespace

int main(int argc, char** argv) {
    using namespace geom;
    const int seeds = argc > 1 ? std::atoi(argv[1]) : 3;
    const ring_on_scan::Skin flat{.radius_u_mm = 0, .radius_v_mm = 0, .swage_mm = 0};
    ring_on_scan::Skin wavy = flat;
    wavy.wave_mm = 3.0;
    const Case cases[] = {{"door skin", {}},
                          {"door skin, no noise", {.noise_mm = 0.0}},
                          {"door skin, gasket 0", {}, 0.0, 0.0},
                          {"door skin, 300 k points", {.wide_mm = 900, .high_mm = 750}},
                          {"3 sin cos", {.skin = wavy}},
                          {"plane at 3 degrees", {.skin = flat}, 0.0524}};
    fmt::print("{:24} {:>6} {:>6}  {:>7} {:>7} {:>7} {:>7} {:>7}  {:>6}  levelling, relief, field, skin; seconds\n",
               "face", "beside", "places", "least", "1 %", "p99 |d|", "99 %", "most", "bound");
    for (Case c : cases)
        for (int seed = 0; seed < seeds; ++seed) {
            c.scene.seed += static_cast<std::uint64_t>(seed);
            Seconds seconds;
            Context context;
            context.listener = &seconds;
            parts::ScanFootRequest request;
            request.seat = {ring_on_scan::kView.origin, unit(ring_on_scan::kView.z + ring_on_scan::kView.x * c.lean)};
            request.reach_mm = 110, request.bore_mm = 60, request.front_mm = 40;
            request.gasket = Length::mm(c.gasket_mm);
            scan::RawScan raw;
            raw.points = ring_on_scan::scan(c.scene);
            const auto surface = scan::estimate_surface(parts::cropped_for(request, raw), {}, context);
            if (!surface) return fmt::print("{}\n", surface.error().what), 1;
            const auto foot = parts::scan_foot(*surface, request, context);
            if (!foot) return fmt::print("{}\n", foot.error().what), 1;
            const auto places = support::foot_places(*foot, request);
            const double all = seconds["scan/surface"] + seconds["foot"];
            for (const double beside : {0.0, 3.0}) {
                const auto off = support::off_gasket(places, c.scene, request.gasket, beside);
                std::vector<double> size;
                for (const double d : off) size.push_back(std::abs(d));
                std::sort(size.begin(), size.end());
                const auto at = [](const std::vector<double>& v, double q) {
                    return v[static_cast<std::size_t>(q * static_cast<double>(v.size() - 1))];
                };
                fmt::print("{:24} {:>6.0f} {:>6}  {:>+7.3f} {:>+7.3f} {:>7.3f} {:>+7.3f} {:>+7.3f}  {:>6.3f}", c.name,
                           beside, off.size(), off.front(), at(off, 0.01), at(size, 0.99), at(off, 0.99), off.back(),
                           foot->bound_mm);
                if (beside == 0.0)
                    fmt::print("  {:.0f} % {:.0f} % {:.0f} % {:.0f} %; {:.2f}", 100 * seconds["scan/surface"] / all,
                               100 * seconds["scan/relief"] / all, 100 * seconds["space"] / all,
                               100 * seconds["skin/foot"] / all, all);
                fmt::print("\n");
            }
        }
}
