// The example's gap scanned with more and less noise: how far the made outer skin stands from the surfaces themselves,
// which are known in closed form, against the clearance asked for and the bound that is stated.
//
//   bench_true_clearance JOB [SEED [SIGMA ...]]
#include "examples/camper_seat_gap/scene.h"
#include "geom/job/job.h"
#include "geom/measure/brep_measure.h"
#include "geom/scan/surface.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace {

/// Places spread evenly over the triangles, about one a square millimetre.
std::vector<geom::Point3> spread_over(const geom::TriMesh& mesh) {
    geom::Random random(7);
    std::vector<geom::Point3> places;
    double due = 0.0;
    for (const auto& t : mesh.triangles) {
        const geom::Point3 a = mesh.vertices[t[0]], b = mesh.vertices[t[1]], c = mesh.vertices[t[2]];
        for (due += 0.5 * geom::norm(geom::cross(b - a, c - a)); due >= 1.0; due -= 1.0) {
            double u = random.uniform(), v = random.uniform();
            if (u + v > 1.0) u = 1.0 - u, v = 1.0 - v;
            places.push_back(a + (b - a) * u + (c - a) * v);
        }
    }
    return places;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) return fmt::print("usage: bench_true_clearance JOB [SEED [SIGMA ...]]\n"), 2;
    std::vector<double> sigmas;
    for (int i = 3; i < argc; ++i) sigmas.push_back(std::atof(argv[i]));
    if (sigmas.empty()) sigmas = {0.0, 0.3, 0.7};
    const geom::Context context;
    const auto job = geom::job::read_job(argv[1], context);
    if (!job) return fmt::print("{}\n", job.error().what), 1;
    for (const double sigma : sigmas) {
        camper_seat_gap::ScanOptions options;
        options.noise_mm = sigma;
        if (argc > 2) options.seed = static_cast<std::uint64_t>(std::atoll(argv[2]));
        geom::scan::RawScan raw;
        raw.points = camper_seat_gap::scan(options);
        const auto surface = geom::scan::estimate_surface(std::move(raw), job->surface, context);
        if (!surface) return fmt::print("{}\n", surface.error().what), 1;
        const auto made = geom::parts::make_enclosure(*surface, job->enclosure, context);
        if (!made) return fmt::print("{}\n", made.error().what), 1;
        const auto mesh = geom::measure::tessellate(made->enclosure.outer_body, geom::Length::mm(0.02), context);
        if (!mesh) return fmt::print("{}\n", mesh.error().what), 1;
        const double asked = job->enclosure.room.clearance.mm() + job->enclosure.room.covering.mm();
        std::vector<std::pair<double, geom::Point3>>
            less;  // true distance less the asked one, where the clearance acts
        for (const geom::Point3 p : spread_over(*mesh)) {
            const bool by_hole =
                std::any_of(std::begin(camper_seat_gap::kHoles), std::end(camper_seat_gap::kHoles),
                            [&](const auto& h) { return geom::distance(p, h.centre) < h.radius + asked + 4.0; });
            const bool by_foot = std::any_of(made->enclosure.fixings.begin(), made->enclosure.fixings.end(),
                                             [&](const auto& f) { return geom::distance(p, f.point) < 45.0; });
            if (by_hole || by_foot) continue;
            const double d = camper_seat_gap::distance(p) - asked;
            if (d < 0.5) less.push_back({d, p});
        }
        std::sort(less.begin(), less.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
        if (less.empty()) return fmt::print("nowhere near the surface\n"), 1;
        const auto at = [&](double q) {
            return less[static_cast<std::size_t>(q * static_cast<double>(less.size() - 1))].first;
        };
        const auto [least, place] = less.front();
        // As the verdict states it.
        const double field = made->room.report.bound_mm;
        const double skin = std::max(0.0, made->enclosure.outer_quality.proud_max_mm - 0.5 * surface->noise_mm);
        fmt::print(
            "sigma {:.1f} (told {:.3f}): {} places where the clearance acts; true less asked: least {:+.3f} at "
            "({:.0f}, {:.0f}, {:.0f}), "
            "0.01 % {:+.3f}, 1 % {:+.3f}, median {:+.3f}; stated bound {:.3f} (scan and field {:.3f}, skin {:.3f})\n",
            sigma, surface->noise_mm, less.size(), least, place.x, place.y, place.z, at(0.0001), at(0.01), at(0.5),
            std::hypot(field, skin), field, skin);
    }
}
