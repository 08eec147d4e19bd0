// Whether the patch of a closed hole ever lies farther behind the true surface than the hole's stated bound, where the
// part would grow into what was not scanned; and whether a gap is left in it.
//
//     bench_hole_bound [SEEDS] [FIRST SEED]
//
// Scenes of tests/support/holed_faces.h: a flat face, mildly and strongly bent ones, a hollow edge, a standing edge, a
// corner of three, hollow and standing, beside the scan's rim; and rounded edges, whose rounding only shows beside the
// hole. Widths 15 to 40 mm, noise 0 to 0.7 mm, spacing 1.5 to 2.5 mm by chance.
#include "geom/scan/holes.h"
#include "geom/scan/internal/point_index.h"
#include "tests/support/holed_faces.h"

#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <map>
#include <numbers>

using namespace geom;
using test::HoledFaces;

namespace {

constexpr const char* kKinds[] = {"flat",
                                  "mildly bent",
                                  "strongly bent",
                                  "hollow edge",
                                  "standing edge",
                                  "hollow corner",
                                  "standing corner",
                                  "beside a rim",
                                  "rounded hollow edge",
                                  "rounded standing edge",
                                  "rounded hollow corner"};

HoledFaces scene(const std::string& kind, std::uint64_t seed) {
    Random rng(seed * 6151u + 3u);
    HoledFaces s;
    s.name = kind;
    s.seed = seed;
    s.noise_mm = rng.uniform(0.0, 0.7), s.spacing_mm = rng.uniform(1.5, 2.5);
    s.hole_radius_mm = rng.uniform(7.5, 20.0);
    const double a = rng.uniform(0.0, 1.0), b = rng.uniform(0.0, 1.0), c = rng.uniform(0.0, 1.0);
    const double sign_a = rng.uniform() < 0.5 ? -1.0 : 1.0, sign_b = rng.uniform() < 0.5 ? -1.0 : 1.0;
    s.hole = {20.0 * a - 10.0, 20.0 * b - 10.0, 0.0};
    s.lo = {-70, -70, -70}, s.hi = {70, 70, 70};
    const bool is_standing = kind.find("standing") != std::string::npos;
    if (is_standing) s.meeting = HoledFaces::Meeting::Standing;
    if (kind == "mildly bent") s.bend_x = sign_a / (300.0 + 500.0 * a), s.bend_y = sign_b / (300.0 + 500.0 * b);
    if (kind == "strongly bent") s.bend_x = sign_a / (60.0 + 60.0 * a), s.bend_y = sign_b / (60.0 + 60.0 * b);
    if (kind == "beside a rim") {
        s.bend_x = sign_a / 500.0;
        s.hole = {70.0 - s.hole_radius_mm - 5.0 - 5.0 * a, 0.0, 0.0};
    }
    if (kind.find("edge") != std::string::npos) {
        const double angle = s.name[0] == 'r' ? 0.5 * std::numbers::pi : (70.0 + 40.0 * b) * std::numbers::pi / 180.0;
        s.faces.push_back({std::sin(angle), 0.0, std::cos(angle)});
        s.hole =
            Point3{0.0, 20.0 * b - 10.0, 0.0} + Vec3{0.7 * s.hole_radius_mm * a * (is_standing ? -1.0 : 1.0), 0.0, 0.0};
        if (s.name[0] != 'r' && c < 0.5) s.bend_y = sign_b / 600.0;
    }
    if (kind.find("corner") != std::string::npos) {
        s.faces = {{0, 0, 1}, {1, 0, 0}, {0, 1, 0}};
        const double out = is_standing ? -0.4 * s.hole_radius_mm : 0.4 * s.hole_radius_mm;
        s.hole = {a * out, b * out, 0.0};
    }
    if (s.name[0] == 'r') s.round_mm = 2.0 + 4.0 * c;
    s.hole = test::on_surface(s, s.hole);
    return s;
}

struct Score {
    int scenes = 0, named = 0, closed = 0, beyond = 0, gaps = 0, places = 0, places_beyond = 0;
    double worst_rel = 0.0, worst_behind_mm = 0.0, worst_front_mm = 0.0, bound_sum_mm = 0.0, widest_gap_mm = 0.0;
};

void judge(const HoledFaces& s, Score& score) {
    scan::RawScan raw;
    raw.points = s.scan();
    const auto surface = scan::estimate_surface(std::move(raw), {.thin = {}, .close_holes = Length::mm(45)}, {});
    ++score.scenes;
    if (!surface) return;
    const auto is_it = [&](const scan::Hole& h) { return distance(h.place, s.hole) < s.hole_radius_mm + 2.0; };
    const auto hole = std::max_element(surface->holes.begin(), surface->holes.end(), [&](const auto& x, const auto& y) {
        return (is_it(x) ? x.width.mm() : 0.0) < (is_it(y) ? y.width.mm() : 0.0);
    });
    if (hole == surface->holes.end() || !is_it(*hole)) {
        fmt::print("    {} seed {}: not named; radius {:.1f}, spacing {:.1f}, noise {:.2f}\n", s.name, s.seed,
                   s.hole_radius_mm, s.spacing_mm, s.noise_mm);
        return;
    }
    ++score.named;
    if (!hole->closed) {
        fmt::print(
            "    {} seed {}: open; radius {:.1f}, spacing {:.1f}, noise {:.2f}, {:.1f} wide, {} faces, misfit {:.2f}, "
            "bound {:.2f}\n",
            s.name, s.seed, s.hole_radius_mm, s.spacing_mm, s.noise_mm, hole->width.mm(), hole->faces, hole->misfit_mm,
            hole->bound_mm);
        return;
    }
    ++score.closed;
    score.bound_sum_mm += hole->bound_mm;
    double behind = 0.0, front = 0.0;
    Point3 at;
    for (std::size_t i = surface->edge_end; i < surface->points.size(); ++i) {
        const Point3 p = surface->points[i];
        if (distance(p, s.hole) > s.hole_radius_mm + 6.0) continue;
        const double off = s.off(p);
        if (-off > behind) behind = -off, at = p;
        front = std::max(front, off);
        ++score.places, score.places_beyond += -off > hole->bound_mm ? 1 : 0;
    }
    // Where no sample is near, the part could go through.
    const scan::internal::PointIndex told(surface->points);
    double gap = 0.0;
    Point3 gap_at;
    for (const Point3& p : s.truth(0.5)) {
        if (distance(p, s.hole) > s.hole_radius_mm) continue;
        std::uint32_t place = 0;
        float d2 = 0.0f;
        told.nearest(p, 1, &place, &d2);
        if (std::sqrt(d2) > gap) gap = std::sqrt(d2), gap_at = p;
    }
    const bool is_beyond = behind > hole->bound_mm, is_gap = gap > hole->bound_mm + 2.0 * surface->spacing_mm;
    score.beyond += is_beyond, score.gaps += is_gap;
    score.worst_rel = std::max(score.worst_rel, behind / hole->bound_mm);
    score.worst_behind_mm = std::max(score.worst_behind_mm, behind);
    score.worst_front_mm = std::max(score.worst_front_mm, front);
    score.widest_gap_mm = std::max(score.widest_gap_mm, gap);
    if (is_beyond || is_gap)
        fmt::print(
            "    {} seed {}: {:.2f} mm behind at {:.1f}, {:.1f}, {:.1f}, front {:.2f}, bound {:.2f}, misfit {:.2f}, {} "
            "faces, gap {:.1f} at "
            "{:.1f}, {:.1f}, {:.1f}; hole {:.1f} wide at {:.1f}, {:.1f}, {:.1f}, noise {:.2f}, spacing {:.1f}, round "
            "{:.1f}\n",
            s.name, s.seed, behind, at.x, at.y, at.z, front, hole->bound_mm, hole->misfit_mm, hole->faces, gap,
            gap_at.x, gap_at.y, gap_at.z, 2.0 * s.hole_radius_mm, s.hole.x, s.hole.y, s.hole.z, s.noise_mm,
            s.spacing_mm, s.round_mm);
}

}  // namespace

int main(int argc, char** argv) {
    const int seeds = argc > 1 ? std::atoi(argv[1]) : 6, first = argc > 2 ? std::atoi(argv[2]) : 1;
    const std::clock_t begun = std::clock();
    Score all;
    for (const char* kind : kKinds) {
        Score score;
        for (int seed = first; seed < first + seeds; ++seed)
            judge(scene(kind, static_cast<std::uint64_t>(seed)), score);
        fmt::print(
            "  {:22} {} of {} named, {} closed; behind by more than stated: {} (places {} of {}), worst {:.2f} mm, "
            "{:.2f} of the bound, which "
            "is {:.2f} in the mean; in front at most {:.2f} mm; gaps {}, widest {:.1f} mm\n",
            kind, score.named, score.scenes, score.closed, score.beyond, score.places_beyond, score.places,
            score.worst_behind_mm, score.worst_rel, score.bound_sum_mm / std::max(score.closed, 1),
            score.worst_front_mm, score.gaps, score.widest_gap_mm);
        std::fflush(stdout);
        all.closed += score.closed, all.beyond += score.beyond, all.scenes += score.scenes, all.gaps += score.gaps;
        all.worst_rel = std::max(all.worst_rel, score.worst_rel);
    }
    fmt::print(
        "{} of {} closed; {} of them somewhere farther behind the true surface than stated, worst {:.2f} of the bound; "
        "{} with "
        "a gap; {:.0f} s cpu\n",
        all.closed, all.scenes, all.beyond, all.worst_rel, all.gaps,
        static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC);
    return all.beyond + all.gaps > 0 ? 1 : 0;
}
