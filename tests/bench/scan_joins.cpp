// Two passes cut out of each real scan, the second moved by a known motion: how well `join = "fit"` finds it back, and
// when it refuses. The passes share no point: in the overlap one has the even points of the file and the other the odd.
//
//   bench_scan_joins FOLDER
#include "geom/core/random.h"
#include "geom/scan/placing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>

using namespace geom;

namespace {

struct Cut {
    const char* file;
    scan::FileUnit unit;
    std::size_t axis;
    double overlap;  ///< share of the extent along the axis that both see
};

struct Passes {
    scan::RawScan first, second;
};

Result<scan::RawScan> read_in(scan::FileUnit unit, const std::filesystem::path& file) {
    scan::ReadOptions options;
    options.unit = unit;
    return scan::read_scans({file}, options, {});
}

double quantile(std::vector<double> v, double share) {
    const auto at = v.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(v.size() - 1));
    std::nth_element(v.begin(), at, v.end());
    return *at;
}

Passes cut(const scan::RawScan& raw, std::size_t axis, double overlap) {
    std::vector<double> along;
    for (const Point3& p : raw.points) along.push_back(p[axis]);
    const double lo = quantile(along, 0.5 - 0.5 * overlap), hi = quantile(along, 0.5 + 0.5 * overlap);
    Passes passes;
    Random random(3);
    for (const Point3& p : raw.points) {
        const bool in_first = p[axis]<hi, in_second = p[axis]> lo;
        if (in_first && in_second)
            (random.uniform(0.0, 1.0) < 0.5 ? passes.first : passes.second).points.push_back(p);
        else
            (in_first ? passes.first : passes.second).points.push_back(p);
    }
    return passes;
}

/// A turn about the middle of `points` round a slanting axis, and a shift of `shift_mm`.
scan::Motion known(const std::vector<Point3>& points, double shift_mm, double turn_deg, Vec3 about, Vec3 towards) {
    Point3 middle;
    for (const Point3& p : points) middle += p / static_cast<double>(points.size());
    const Vec3 k = unit(about);
    const double a = turn_deg * M_PI / 180.0, c = std::cos(a), s = std::sin(a);
    scan::Motion m;
    m.x = {c + k.x * k.x * (1 - c), k.x * k.y * (1 - c) - k.z * s, k.x * k.z * (1 - c) + k.y * s};
    m.y = {k.y * k.x * (1 - c) + k.z * s, c + k.y * k.y * (1 - c), k.y * k.z * (1 - c) - k.x * s};
    m.z = {k.z * k.x * (1 - c) - k.y * s, k.z * k.y * (1 - c) + k.x * s, c + k.z * k.z * (1 - c)};
    m.shift = middle + unit(towards) * shift_mm - m.turned(middle);
    return m;
}

void tell(const Cut& cut_as, const std::filesystem::path& folder) {
    const auto raw = read_in(cut_as.unit, folder / cut_as.file);
    if (!raw) {
        fmt::print("{}: {}\n", cut_as.file, raw.error().what);
        return;
    }
    const Passes passes = cut(*raw, cut_as.axis, cut_as.overlap);
    for (const auto& [shift, turn] : {std::pair(0.0, 0.0), {3.0, 0.5}, {10.0, 0.5}, {10.0, 2.0}, {30.0, 3.0}}) {
        const scan::Motion off = known(passes.second.points, shift, turn, {1, 2, 3}, {2, -1, 2});
        scan::RawScan second = passes.second;
        place(second, off);
        std::vector<double> was, left;
        const std::clock_t begun = std::clock();
        const auto fitted = scan::fit_pass(passes.first, second, Length::mm(10), {});
        const double cpu = static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC;
        for (std::size_t i = 0; i < second.points.size(); i += 7) {
            was.push_back(distance(second.points[i], passes.second.points[i]));
            if (fitted) left.push_back(distance(fitted->first.at(second.points[i]), passes.second.points[i]));
        }
        fmt::print(
            "  {:32} {} {:2.0f} %, {:4.0f} mm {:3.1f} deg (points off {:5.1f} median {:6.1f} most): ", cut_as.file,
            "xyz"[cut_as.axis], 100 * cut_as.overlap, shift, turn, quantile(was, 0.5), quantile(was, 1.0));
        if (!fitted)
            fmt::print("refused: {}; {:.1f} s\n", fitted.error().what, cpu);
        else
            fmt::print(
                "left {:.2f} median {:.2f} most, told {:.2f}; {} rounds, overlap {:.0f} %, planes {:.2f} -> {:.2f} mm; "
                "{:.1f} s\n",
                quantile(left, 0.5), quantile(left, 1.0), fitted->second.parts_differ_mm, fitted->second.rounds,
                100 * fitted->second.overlap, fitted->second.before_mm, fitted->second.after_mm, cpu);
        std::fflush(stdout);
    }
}

/// Two passes as they came, whose motion nobody knows: from a wide reach to the one of jobs.
void tell_pair(const std::filesystem::path& a, const std::filesystem::path& b) {
    const auto first = read_in(scan::FileUnit::Metre, a);
    auto second = read_in(scan::FileUnit::Metre, b);
    if (!first || !second) return;
    fmt::print("{} + {}\n", a.filename().string(), b.filename().string());
    for (const double reach : {10.0, 500.0, 300.0, 150.0, 60.0, 30.0, 20.0, 10.0}) {
        const auto fitted = scan::fit_pass(*first, *second, Length::mm(reach), {});
        if (!fitted) {
            fmt::print("  reach {:3.0f}: refused: {}\n", reach, fitted.error().what);
            continue;
        }
        fmt::print(
            "  reach {:3.0f}: moved {:.1f} mm, turned {:.2f} deg, overlap {:.0f} %, planes {:.2f} -> {:.2f} mm\n",
            reach, fitted->second.moved_mm, fitted->second.turned_deg, 100 * fitted->second.overlap,
            fitted->second.before_mm, fitted->second.after_mm);
        place(*second, fitted->first);
    }
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) return 2;
    const std::filesystem::path folder = argv[1];
    using scan::FileUnit;
    for (const Cut& each :
         {Cut{"gap_two_scanned_objects.ply", FileUnit::Millimetre, 2, 0.4},
          Cut{"gap_two_scanned_objects.ply", FileUnit::Millimetre, 1, 0.4},
          Cut{"gap_two_scanned_objects.ply", FileUnit::Millimetre, 0, 0.3},
          Cut{"desk_depthcam.ply", FileUnit::Metre, 0, 0.4}, Cut{"floor_objects_depthcam.ply", FileUnit::Metre, 0, 0.4},
          Cut{"room_corner_depthcam_1.ply", FileUnit::Metre, 0, 0.4}, Cut{"room_laser.ply", FileUnit::Metre, 0, 0.4},
          Cut{"apartment_corner_laser.xyz", FileUnit::Metre, 0, 0.4}})
        tell(each, folder);
    tell_pair(folder / "room_corner_depthcam_1.ply", folder / "room_corner_depthcam_2.ply");
    return 0;
}
