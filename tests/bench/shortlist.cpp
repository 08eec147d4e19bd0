// The shortlist of a folder of drivers: its time against one capacity run of the same job, scan and field counted in
// both, and what it says of each driver against parts really made with it.
//
//   bench_shortlist JOB DRIVERS [COUNT] [MADE]     COUNT drivers, those of the folder over and over (100); MADE: 1 to
//   make
//                                                  a part of each driver of the folder
#include "geom/parts/shortlist.h"
#include "geom/check/verdict.h"
#include "geom/job/driver_file.h"
#include "geom/job/job.h"
#include "geom/sound/closed_box.h"
#include "tests/support/cpu_time.h"

#include <algorithm>
#include <cstdio>
#include <cstdlib>

namespace {

using namespace geom;

std::vector<sound::Driver> drivers_in(const char* folder) {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder))
        if (entry.path().extension() == ".toml") files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    std::vector<sound::Driver> drivers;
    for (const auto& file : files)
        if (auto read = job::read_driver_file(file)) drivers.push_back(read->driver);
    return drivers;
}

/// Whether a part with the driver where it is said to fit is made at all.
void against_part(const scan::Surface& surface, parts::EnclosureRequest request, const sound::Driver& driver,
                  const parts::DriverFitting& fitting) {
    parts::DriverMount mount = request.driver.value_or(parts::DriverMount{});
    mount.driver = driver;
    if (fitting.place) mount.centre = fitting.place->centre;
    request.driver = mount;
    request.feet.clear();
    if (fitting.place) {
        request.baffle.travel_lo_mm = request.baffle.travel_hi_mm = fitting.place->t_mm;
        request.room.travel_lo_mm = request.room.travel_hi_mm = fitting.place->t_mm;
        request.adjust.what = parts::Adjust::What::Fill;
        request.adjust.fill = parts::Adjust::Fill::Told;
        request.net_volume = fitting.place->net * 0.9;
    }
    const auto made = parts::make_enclosure(surface, request, {});
    const double most = made ? (made->enclosure.net_by_brep.litres() + made->enclosure.solved.filled_litres) : 0.0;
    std::printf("  %-22s said to %s: part %s", driver.name.c_str(), fitting.place ? "fit" : "miss",
                made ? "made" : ("refused, " + made.error().what).c_str());
    if (made && fitting.place)
        std::printf(", net %.4f L told, %.4f L made (%+.3f %%)", fitting.place->net.litres(), most,
                    100.0 * (fitting.place->net.litres() / most - 1.0));
    std::printf("\n");
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 3) return std::puts("usage: bench_shortlist JOB DRIVERS [COUNT] [MADE]"), 2;
    const auto job = job::read_job(argv[1], {});
    if (!job) return std::printf("%s\n", job.error().what.c_str()), 1;
    const std::vector<sound::Driver> drivers = drivers_in(argv[2]);
    if (drivers.empty()) return std::puts("no drivers there"), 1;
    const int count = argc > 3 ? std::atoi(argv[3]) : 100;

    const double start = support::cpu_s();
    auto placed = scan::read_placed_scans(job->scans, {.join_by_fit = job->join_by_fit, .read = job->scan}, {});
    if (!placed) return std::printf("%s\n", placed.error().what.c_str()), 1;
    const auto surface = scan::estimate_surface(std::move(placed->scan), job->surface, {});
    if (!surface) return std::printf("%s\n", surface.error().what.c_str()), 1;
    const auto gap = parts::gap_field(*surface, job->enclosure, {});
    if (!gap) return std::printf("%s\n", gap.error().what.c_str()), 1;
    const double field = support::cpu_s() - start;
    const auto capacity = parts::capacity_of(*gap, job->enclosure);
    if (!capacity) return std::printf("%s\n", capacity.error().what.c_str()), 1;
    const double one_run = support::cpu_s() - start;

    const double begin = support::cpu_s();
    const auto list = parts::Shortlister::over(*gap, job->enclosure);
    if (!list) return std::printf("%s\n", list.error().what.c_str()), 1;
    int fit = 0;
    for (int i = 0; i < count; ++i) {
        const sound::Driver& driver = drivers[static_cast<std::size_t>(i) % drivers.size()];
        const auto wanted = sound::closed_volume_for(sound::derived(driver), std::sqrt(0.5));
        fit += list->fit(driver, wanted ? std::optional(*wanted) : std::nullopt).place ? 1 : 0;
    }
    const double shortlist = field + support::cpu_s() - begin;
    std::printf("capacity run %.2f s, shortlist of %d drivers %.2f s: ratio %.2f (3 allowed); %d fit\n", one_run, count,
                shortlist, shortlist / one_run, fit);
    if (argc > 4 && std::atoi(argv[4]) != 0)
        for (const sound::Driver& driver : drivers) {
            const auto wanted = sound::closed_volume_for(sound::derived(driver), std::sqrt(0.5));
            against_part(*surface, job->enclosure, driver,
                         list->fit(driver, wanted ? std::optional(*wanted) : std::nullopt));
        }
    return shortlist / one_run <= 3.0 ? 0 : 1;
}
