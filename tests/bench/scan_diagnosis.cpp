// What the diagnosis of a scan finds of what was planted in it, and which unit it takes real scans to be in.
//
//     bench_scan_diagnosis [FOLDER OF SCANS] [SEEDS] [FIRST SEED] [SPACING...]
//
// Planted: holes of 15 to 40 mm and 2 % outliers in a cavity of known form, spacing 1.2 to 3 mm, density varying ten to
// one, noise 0 to 0.7 mm. Found: a hole named within 5 mm; an outlier more than 3 mm off every surface that is not
// believed. Units: each file's numbers as they would be in mm, cm, m and in.
#include "geom/scan/diagnosis.h"
#include "tests/support/holed_cavity.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <set>
#include <tuple>

using namespace geom;

namespace {

struct Score {
    int holes = 0, found = 0, others = 0;
    double width_error_mm = 0.0;
    std::size_t outliers = 0, outliers_found = 0, believed_points = 0, wrongly_dropped = 0;
};

void add(Score& score, const test::HoledCavity& cavity, const scan::Diagnosis& d, double noise, double spacing,
         std::uint64_t seed) {
    for (const auto& hole : cavity.holes) {
        ++score.holes;
        const auto at = std::find_if(d.holes.begin(), d.holes.end(),
                                     [&](const scan::Hole& h) { return distance(h.place, hole.place) <= 5.0; });
        if (at != d.holes.end()) {
            ++score.found;
            score.width_error_mm += at->width.mm() - hole.width_mm;
            continue;
        }
        double nearest = 1e300, width = 0.0;
        for (const auto& h : d.holes)
            if (distance(h.place, hole.place) < nearest) nearest = distance(h.place, hole.place), width = h.width.mm();
        fmt::print(
            "    missed: {:.0f} mm at {:.1f}, {:.1f}, {:.1f} (solid {}), noise {}, spacing {} ({:.1f} there), seed {}; "
            "the "
            "nearest named lies {:.1f} mm off, {:.1f} wide\n",
            hole.width_mm, hole.place.x, hole.place.y, hole.place.z, hole.solid, noise, spacing, hole.spacing_mm, seed,
            nearest, width);
    }
    for (const auto& h : d.holes)
        if (h.width.mm() >= 15.0 && std::none_of(cavity.holes.begin(), cavity.holes.end(), [&](const auto& p) {
                return distance(h.place, p.place) <= p.width_mm / 2.0 + 5.0;
            })) {
            ++score.others;
            int solid = 0;
            const double off = test::CavityScene::distance(h.place, &solid);
            fmt::print(
                "    nothing planted: {:.1f} mm at {:.1f}, {:.1f}, {:.1f}, {:.1f} off solid {}, noise {}, spacing {} "
                "({:.1f} "
                "there), seed {}\n",
                h.width.mm(), h.place.x, h.place.y, h.place.z, off, solid, noise, spacing,
                test::local_spacing(h.place, spacing), seed);
        }
    std::set<std::tuple<double, double, double>> strays;
    for (const Point3& p : d.strays) strays.insert({p.x, p.y, p.z});
    for (std::size_t i = 0; i < cavity.points.size(); ++i) {
        const Point3 p = cavity.points[i];
        const bool dropped = strays.count({p.x, p.y, p.z}) > 0;
        if (i < cavity.points.size() - cavity.outliers) {
            ++score.believed_points;
            score.wrongly_dropped += dropped;
        } else if (test::CavityScene::distance(p) > 3.0) {
            ++score.outliers;
            score.outliers_found += dropped;
        }
    }
}

void planted(int seeds, int first, const std::vector<double>& spacings, double most_local) {
    fmt::print(
        "planted holes of 15, 20, 30 and 40 mm, 2 % outliers, density 1:10, seeds {} to {}; points round the "
        "holes at most {} mm apart\n",
        first, first + seeds - 1, most_local);
    for (const double spacing : spacings)
        for (const double noise : {0.0, 0.3, 0.7}) {
            Score score;
            const std::clock_t begun = std::clock();
            double median = 0.0, told_noise = 0.0;
            for (int s = first; s < first + seeds; ++s) {
                const auto seed = static_cast<std::uint64_t>(s);
                const test::HoledCavity cavity = test::holed_cavity({.spacing_mm = spacing,
                                                                     .most_local_mm = most_local,
                                                                     .noise_mm = noise,
                                                                     .widths_mm = {15, 20, 30, 40},
                                                                     .seed = seed});
                scan::RawScan raw;
                raw.points = cavity.points;
                const auto d = scan::diagnose(raw, {});
                if (!d || !d->surface) {
                    fmt::print("  no surface: {}\n", d ? d->no_surface->what : d.error().what);
                    continue;
                }
                median = d->spacing.median_mm;
                told_noise = d->surface->noise_mm;
                add(score, cavity, *d, noise, spacing, seed);
            }
            fmt::print(
                "  spacing {:.1f} (told {:.2f}) noise {:.1f} (told {:.2f}): holes {} of {}, width {:+.1f} mm, others "
                "of 15 mm "
                "{:.1f} a cloud; outliers {:.2f} %, wrongly dropped {:.3f} %; {:.1f} s cpu\n",
                spacing, median, noise, told_noise, score.found, score.holes,
                score.width_error_mm / std::max(score.found, 1), static_cast<double>(score.others) / seeds,
                100.0 * static_cast<double>(score.outliers_found) /
                    static_cast<double>(std::max<std::size_t>(score.outliers, 1)),
                100.0 * static_cast<double>(score.wrongly_dropped) /
                    static_cast<double>(std::max<std::size_t>(score.believed_points, 1)),
                static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC);
            std::fflush(stdout);
        }
}

void units(const std::filesystem::path& folder, bool with_spacing) {
    std::vector<std::filesystem::path> files;
    std::error_code error;
    for (const auto& entry : std::filesystem::directory_iterator(folder, error))
        if (entry.is_regular_file()) files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    const std::set<std::string> metres = {"parked_vehicles_lidar.pcd",
                                          "parked_vehicles_lidar.xyz",
                                          "room_corner_depthcam_1.ply",
                                          "room_corner_depthcam_2.ply",
                                          "room_laser.ply",
                                          "apartment_corner_laser.xyz",
                                          "floor_objects_depthcam.ply",
                                          "desk_depthcam.ply"};
    fmt::print(
        "\nunits, by extent{}: + the true one is named, o it is listed and none named, ! a wrong one is named, - it is "
        "not "
        "listed; then all plausible ones\n",
        with_spacing ? " and spacing" : "");
    int asked = 0, named = 0, wrong = 0, listed = 0;
    for (const auto& file : files) {
        const auto raw = scan::read_scans(
            {file}, {.unit = scan::FileUnit::Millimetre, .vehicle_place = {}, .placed = false, .any_extent = true}, {});
        if (!raw) continue;
        const double in_file_mm = metres.count(file.filename().string()) > 0 ? 1000.0 : 1.0;
        const double spacing = with_spacing && raw->triangles.empty() ? scan::spacing_of(*raw).median_mm : 0.0;
        const Vec3 size = scan::middle_box(raw->points).size();
        fmt::print("  {:34}", file.filename().string());
        for (const scan::FileUnit unit : scan::kFileUnits) {
            const double factor = in_file_mm / scan::one(unit).mm();
            const scan::UnitGuess guess = scan::likely_units(size * factor, spacing * factor);
            std::string text;
            bool is_listed = false;
            for (const auto& reading : guess.plausible) {
                text += fmt::format(" {}", scan::name_of(reading.unit));
                is_listed = is_listed || reading.unit == unit;
            }
            const bool hit = guess.likeliest == unit;
            const bool miss = guess.likeliest && !hit;
            ++asked, named += hit, wrong += miss, listed += is_listed;
            fmt::print(" {:>3}: {:16}", scan::name_of(unit),
                       fmt::format("{}{}",
                                   hit         ? '+'
                                   : miss      ? '!'
                                   : is_listed ? 'o'
                                               : '-',
                                   text));
        }
        if (const auto said = raw->files.front().said_unit)
            fmt::print(" says {}{}", scan::name_of(*said),
                       scan::one(*said).mm() == in_file_mm ? "" : ", which is wrong");
        fmt::print("\n");
    }
    fmt::print("  {} asked: the true unit is listed {} times; named {} times, not decided {}, a wrong one named {}\n",
               asked, listed, named, asked - named - wrong, wrong);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc > 1 && argv[1][0] != '\0')
        for (const bool with_spacing : {false, true}) units(argv[1], with_spacing);
    const int seeds = argc > 2 ? std::atoi(argv[2]) : 5, first = argc > 3 ? std::atoi(argv[3]) : 1;
    std::vector<double> spacings;
    for (int a = 4; a < argc; ++a) spacings.push_back(std::atof(argv[a]));
    if (spacings.empty()) spacings = {1.2, 2.0, 3.0};
    if (seeds > 0)
        for (const double most_local : {3.1, 1e9}) planted(seeds, first, spacings, most_local);
    return 0;
}
