// What `capacity` tells of a job against runs of their own: net volume and place of parts really made at five volumes
// against the curve, and prices, single and in pairs, against whole runs on the job's own grid with the thing really
// taken away.
//
//   bench_capacity JOB [PARTS] [PRICES]     1 or 0 each
#include "geom/parts/capacity.h"
#include "geom/job/job.h"
#include "geom/parts/price_list.h"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>

namespace {

using namespace geom;

bool parts_agree(const scan::Surface& surface, parts::EnclosureRequest request, const parts::GapField& gap) {
    const parts::CapacityCurve curve(gap.air, request, &gap.room);
    const double most = curve.net_at(request.baffle.travel_hi_mm).litres();
    double worst = 0.0;
    for (const double share : {0.45, 0.58, 0.71, 0.84, 0.97}) {
        request.net_volume = Volume::litres(std::round(100.0 * share * most) / 100.0);
        const auto made = parts::make_enclosure(surface, request, {});
        if (!made) {
            std::printf("  %6.2f L: refused: %s\n", request.net_volume.litres(), made.error().what.c_str());
            worst = 1e300;
            continue;
        }
        const auto& e = made->enclosure;
        const double told = curve.net_at(e.baffle_t_mm).litres(), is = e.net_by_brep.litres();
        const auto place = curve.place_for(request.net_volume);
        worst = std::max(worst, std::abs(told / is - 1.0));
        std::printf(
            "  asked %6.2f L: made %9.5f L with the baffle at %8.3f mm; the curve tells %9.5f L there (%+.4f %%), and "
            "%8.3f mm\n",
            request.net_volume.litres(), is, e.baffle_t_mm, told, 100.0 * (told / is - 1.0), place.value_or(0.0));
    }
    std::printf("curve against parts: worst %.4f %% (0.1 %% allowed)\n", 100.0 * worst);
    return worst < 1e-3;
}

bool prices_agree(const scan::Surface& surface, const parts::EnclosureRequest& request, double voxel_mm) {
    const auto list = parts::price_list(surface, request, {.place_mm = {}, .pairs_of = 4, .voxel = {}}, {});
    if (!list) return std::printf("%s\n", list.error().what.c_str()), false;
    parts::EnclosureRequest own = request;
    own.room.voxel = Length::mm(voxel_mm);
    const auto base = parts::most_net_volume(surface, own, {});
    if (!base) return std::printf("%s\n", base.error().what.c_str()), false;
    std::printf("prices on %.2f mm, own runs on %.2f mm; most %.4f and %.4f L\n", list->voxel_mm, voxel_mm,
                list->most.litres(), base->litres());
    const auto all = parts::constraints(own);
    const auto find = [&](const std::string& name) {
        for (const auto& c : all)
            if (c.name == name) return &c;
        return static_cast<const parts::Constraint*>(nullptr);
    };
    double worst = 0.0;
    std::map<std::string, double> single;
    const auto compare = [&](const std::string& what, double told, const parts::EnclosureRequest& changed) {
        const auto most = parts::most_net_volume(surface, changed, {});
        if (!most)
            return std::printf("  %s: told %+8.4f L, own run: %s\n", what.c_str(), told, most.error().what.c_str()),
                   std::nan("");
        const double own_litres = most->litres() - base->litres();
        worst = std::max(worst, std::abs(own_litres - told) / base->litres());
        std::printf("  %-60s told %+8.4f L, own run %+8.4f L, off by %+.3f %% of the volume\n", what.c_str(), told,
                    own_litres, 100.0 * (told - own_litres) / base->litres());
        return own_litres;
    };
    for (const auto& p : list->prices) {
        if (!p.litres) {
            std::printf("  %-60s %s\n", p.name.c_str(), p.note.c_str());
            continue;
        }
        const auto* c = find(p.name);
        parts::EnclosureRequest changed = own;
        (p.taken == c->taken ? c->take_away : c->ease)(changed);
        single[p.name] = compare(p.name + " " + p.taken, *p.litres, changed);
    }
    for (const auto& pair : list->pairs) {
        const auto *a = find(pair.first), *b = find(pair.second);
        if (a < b) std::swap(a, b);
        parts::EnclosureRequest changed = own;
        a->take_away(changed);
        b->take_away(changed);
        const double both = compare(pair.first + " and " + pair.second, pair.litres, changed);
        std::printf("  %60s interaction %+8.4f L, own runs %+8.4f L\n", "", pair.interaction_litres,
                    both - single[pair.first] - single[pair.second]);
    }
    std::printf("prices against own runs: worst %.3f %% of the volume (0.3 %% allowed)\n", 100.0 * worst);
    return worst < 3e-3;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 2) return std::puts("usage: bench_capacity JOB [PARTS] [PRICES]"), 2;
    const auto job = job::read_job(argv[1], {});
    if (!job) return std::printf("%s\n", job.error().what.c_str()), 1;
    auto placed = scan::read_placed_scans(job->scans, {.join_by_fit = job->join_by_fit, .read = job->scan}, {});
    if (!placed) return std::printf("%s\n", placed.error().what.c_str()), 1;
    const auto surface = scan::estimate_surface(std::move(placed->scan), job->surface, {});
    if (!surface) return std::printf("%s\n", surface.error().what.c_str()), 1;
    const auto gap = parts::gap_field(*surface, job->enclosure, {});
    if (!gap) return std::printf("%s\n", gap.error().what.c_str()), 1;
    bool good = true;
    if (argc < 3 || std::atoi(argv[2]) != 0) {
        // Driver and feet fit at few places; what they take is the ledger's, and not the question here.
        parts::EnclosureRequest bare = job->enclosure;
        bare.driver.reset();
        bare.feet.clear();
        good = parts_agree(*surface, bare, *gap) && good;
    }
    if (argc < 4 || std::atoi(argv[3]) != 0) good = prices_agree(*surface, job->enclosure, gap->air.grid.h_mm) && good;
    return good ? 0 : 1;
}
