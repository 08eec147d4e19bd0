// Laws that what a gap holds must keep, on random small jobs: tightening one rule never gives more.
#pragma once

#include "geom/parts/capacity.h"
#include "tests/space/scene.h"

#include <fmt/format.h>

#include <string>
#include <utility>
#include <vector>

namespace support {

struct LawJob {
    geom::scan::Surface surface;
    geom::parts::EnclosureRequest request;
};

/// A gap between two leaning walls with a floor, a bulkhead and a ball in it; exact samples, a coarse grid.
inline LawJob law_job(std::uint64_t seed) {
    using namespace geom;
    Random random(seed * 7919 + 13);
    const double half = random.uniform(75, 110), depth = random.uniform(170, 240), top = random.uniform(170, 230);
    test::Scene scene;
    scene.solids = {
        test::half_space({-half, 0, 0}, {1, random.uniform(-0.08, 0.02), random.uniform(-0.1, 0.1)}),
        test::half_space({half, 0, 0}, {-1, random.uniform(-0.08, 0.02), random.uniform(-0.1, 0.1)}),
        test::half_space({0, 0, 0}, {0, 0, 1}), test::half_space({0, depth, 0}, {0, -1, random.uniform(-0.1, 0.15)}),
        test::ball({random.uniform(-half, half), random.uniform(0.5, 1.0) * depth, random.uniform(0, 0.5) * top},
                   random.uniform(20, 45))};
    scene.sampled = {{-half - 40, -25, -5}, {half + 40, depth + 40, top + 30}};
    LawJob job;
    job.surface = test::exact_surface(scene, 7.0, seed);
    parts::EnclosureRequest& r = job.request;
    r.name = fmt::format("law {}", seed);
    r.room.air = {0, 0.35 * depth, 0.6 * top};
    r.baffle.plane = r.room.baffle = {{0, 20, 0}, {0, -1, 0}};
    r.baffle.travel_lo_mm = r.room.travel_lo_mm = -100;
    r.baffle.travel_hi_mm = r.room.travel_hi_mm = random.uniform(-5, 10);
    r.room.clearance = Length::mm(random.uniform(6, 9));
    r.room.covering = Length::mm(random.uniform(0, 3));
    r.room.edge_radius = Length::mm(random.uniform(6, 12));
    r.room.limits = {{"top", {{0, 0, top}, {0, 0, 1}}, Length::mm(0), true}};
    r.room.voxel = Length::mm(5);
    r.wall = r.room.wall = Length::mm(random.uniform(5, 8));
    r.inner_radius = Length::mm(random.uniform(3, 6));
    r.net_volume = Volume::litres(1);
    return job;
}

struct LawBroken {
    std::string what;
    double litres_more = 0.0;
};
struct LawCount {
    int looked_at = 0, no_part = 0;
    std::vector<LawBroken> broken;
    double worst_rel = 0.0;  ///< most that a tightened job held more than the job itself, of its volume
};

/// Tightens each rule of the job once. What the coarse grid may err by is `slack_rel` of the volume.
inline void look_at_laws(std::uint64_t seed, double slack_rel, LawCount& count) {
    using namespace geom;
    const LawJob job = law_job(seed);
    Random random(seed + 5);
    const auto most = parts::most_net_volume(job.surface, job.request, {});
    if (!most) {
        ++count.no_part;
        return;
    }
    const auto tighter = [&](const char* what, auto&& change) {
        parts::EnclosureRequest changed = job.request;
        change(changed);
        ++count.looked_at;
        const auto held = parts::most_net_volume(job.surface, changed, {});
        if (!held && held.error().code == FaultCode::Impossible) return;  // nothing is less than something
        const double more = held ? held->litres() - most->litres() : 1e300;
        count.worst_rel = std::max(count.worst_rel, more / most->litres());
        if (more > slack_rel * most->litres())
            count.broken.push_back(
                {fmt::format("job {}: {}{}", seed, what, held ? "" : ": " + held.error().what), more});
    };
    const double step = random.uniform(1.0, 3.0);
    tighter("more clearance", [&](auto& r) { r.room.clearance += Length::mm(step); });
    tighter("more clearance on the way in alone",
            [&](auto& r) { r.room.insert_clearance = r.room.clearance + Length::mm(step); });
    tighter("more covering", [&](auto& r) { r.room.covering += Length::mm(step); });
    tighter("a thicker wall", [&](auto& r) { r.wall += Length::mm(step), r.room.wall = r.wall; });
    tighter("a larger outside radius", [&](auto& r) { r.room.edge_radius += Length::mm(3.0 * step); });
    tighter("a larger inside radius", [&](auto& r) { r.inner_radius += Length::mm(3.0 * step); });
    const Vec3 outward = unit(Vec3{random.uniform(-1, 1), random.uniform(0.2, 1), random.uniform(-0.5, 1)});
    tighter("one more limit", [&](auto& r) {
        r.room.limits.push_back(
            {"more", {r.room.air + outward * random.uniform(50, 80), outward}, Length::mm(0), true});
    });
    const Point3 centre = job.request.room.air + unit(Vec3{random.normal(), random.normal(), random.normal()}) * 60.0;
    tighter("one more keep-out", [&](auto& r) {
        r.room.keep_outs.push_back({"more", space::SphereShape{centre, random.uniform(15, 30)}, Length::mm(0), true});
    });
    tighter("a smaller travel", [&](auto& r) {
        r.baffle.travel_hi_mm -= 5.0 * step;
        r.room.travel_hi_mm = r.baffle.travel_hi_mm;
    });
}

}  // namespace support
