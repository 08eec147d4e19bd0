// Random sleeves and braces in analytic boxes over the vehicle's floor: what is made must hold each rule, measured on
// the finished solid; what is not made must say which rule broke.
//
//   true     each hole's cylinder on the B-rep: off its axis over the grip, off the diameter asked
//   sound    one valid closed solid, its mesh without self-crossing
//   air      what the mesh's air lost is what the ledger says of sleeves and braces
//   wall     from the air's surface to the outer one, the baffle left out
//   clear    of the floor outside the seats: least distance of the mesh against the clearance
//
// The boxes stand turned at random in the vehicle's frame; bolts are M4 to M10 and lean by up to 8 degrees.
//
// Usage   bench_random_sleeves [COUNT [SEED]]
#include "geom/core/random.h"
#include "geom/fixings/threads.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/triangle_tree.h"
#include "geom/measure/wall.h"
#include "geom/scan/surface.h"
#include "tests/parts/features_bodies.h"
#include "tests/support/random_frames.h"

#include <fmt/format.h>

#include <cstdlib>
#include <map>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;
using support::leaning;
using support::random_frame;

namespace {

struct Scene {
    Case box;
    scan::Surface surface;
};

Scene random_scene(Random& random) {
    const Sizes sizes{.half_width = random.uniform(100, 150),
                      .half_height = random.uniform(90, 120),
                      .depth = random.uniform(140, 220),
                      .wall = random.uniform(5, 9)};
    const double pick = random.uniform();
    Scene scene{pick < 0.34 ? rounded_box(sizes) : pick < 0.67 ? tapered_box(sizes) : bulging_loft(sizes), {}};
    EnclosureRequest& request = scene.box.request;
    if (random.uniform() < 0.3) request.material = *find_material("aluminium 5754");
    if (random.uniform() < 0.5) request.driver = mounted(woofer());
    const double clear = request.room.clearance.mm();
    // A floor under the lowest of the box, square to each bolt within the lean.
    const double floor = -1.05 * sizes.half_height - clear;
    const char* threads[] = {"M4", "M5", "M6", "M8", "M10"};
    const int sleeves = static_cast<int>(random.uniform(1.0, 4.999)),
              braces = static_cast<int>(random.uniform(0.0, 3.999));
    for (int i = 0; i < sleeves; ++i) {
        Sleeve sleeve{
            .name = fmt::format("sleeve {}", i + 1),
            .point = {random.uniform(-0.85, 0.85) * sizes.half_width, random.uniform(0.2, 0.9) * sizes.depth, floor},
            .axis = leaning(random, {0, 0, -1}, random.uniform() < 0.5 ? 0.0 : 8.0),
            .thread = threads[static_cast<int>(random.uniform() * 5.0)]};
        if (random.uniform() < 0.4) sleeve.recess = Length::mm(random.uniform(1, 15));
        if (random.uniform() < 0.2) sleeve.use.slot = fixings::Slot{{0, 1, 0}, Length::mm(random.uniform(2, 10))};
        if (random.uniform() < 0.2) sleeve.use.play = Length::mm(random.uniform(0.5, 2));
        if (random.uniform() < 0.2) {
            sleeve.use.slot.reset();
            sleeve.use.head = fixings::HeadKind::Countersunk;
            sleeve.use.has_washer = false;
        }
        request.sleeves.push_back(sleeve);
    }
    if (random.uniform() < 0.5)
        request.braces_to_place = braces;
    else
        for (int i = 0; i < braces; ++i)
            request.braces.push_back(
                {.name = fmt::format("brace {}", i + 1),
                 .axis = leaning(random, i == 1 ? Vec3{0, 0, 1} : Vec3{1, 0, 0}, 20.0),
                 .at = {0, random.uniform(0.2, 0.9) * sizes.depth, random.uniform(-0.8, 0.8) * sizes.half_height},
                 .thickness = Length::mm(random.uniform(8, 24))});
    for (double a = -300; a <= 300; a += 4)
        for (double b = -100; b <= 320; b += 4) scene.surface.points.push_back({a, b, floor + 0.1 * random.normal()});
    const Frame to = random_frame(random);
    scene.box = moved(scene.box, to);
    for (Sleeve& sleeve : scene.box.request.sleeves)
        if (sleeve.use.slot) sleeve.use.slot->along = to.dir_to_parent(sleeve.use.slot->along);
    for (Point3& p : scene.surface.points) p = to.to_parent(p);
    return scene;
}

/// The rule of a fault: its words without names and numbers.
std::string rule_of(const Fault& fault) {
    for (const char* rule :
         {"leaves the box at its side", "behind the baffle's face", "the driver's body", "behind the driver's magnet",
          "of that of", "to a wall beside it", "of air beside it", "meets the inner wall at an edge", "of sleeve",
          "of brace", "to the side of the box", "nearly flat", "passes the box", "of the box under it",
          "the face under its pad", "the vehicle's face lies", "stands in the way of its pad",
          "would stand on the baffle", "misses the air"})
        if (fault.what.find(rule) != std::string::npos) return rule;
    return fault.what;
}

}  // namespace

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 200;
    const std::uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
    const Context context;
    std::map<std::string, int> refused;
    int made = 0, broken = 0, sleeves = 0, braces = 0;
    double most_off_axis = 0.0, most_off_diameter = 0.0, least_wall = 1e300, least_clear = 1e300, most_air_rel = 0.0;
    for (int i = 0; i < count; ++i) {
        Random random(seed * 1000003u + static_cast<std::uint64_t>(i));
        const Scene scene = random_scene(random);
        const EnclosureRequest& request = scene.box.request;
        const auto result = add_features(scene.box.bodies, scene.box.room, request, context, &scene.surface);
        const auto say = [&](const std::string& what) {
            ++broken;
            fmt::print("{}: {} ({})\n", i, what, scene.box.name);
        };
        if (!result) {
            if (result.error().code == FaultCode::Impossible)
                ++refused[rule_of(result.error())];
            else
                say("fault that is no rule: " + result.error().what);
            continue;
        }
        ++made;
        const Brep& solid = result->products.front().solid;
        const auto measured = measure::measure_solid(solid, context);
        if (!measured || !measured->valid || !measured->closed || measured->solids != 1)
            say("not one valid closed solid");
        double in_ledger = 0.0;
        for (const FixingMade& fixing : result->fixings) {
            ++sleeves;
            in_ledger += fixing.tube_mm3;
            const fixings::Thread thread = *fixings::find_thread(fixing.thread);
            const double wanted = fixing.has_metal_sleeve ? fixings::metal_sleeve(thread, fixing.use).outside_mm
                                                          : thread.hole_medium_mm + 2.0 * fixing.use.play.mm();
            most_off_axis = std::max(most_off_axis, fixing.measured_off_axis_mm);
            most_off_diameter = std::max(most_off_diameter, std::abs(fixing.measured_hole_mm - wanted));
            if (fixing.measured_off_axis_mm > 0.01 || std::abs(fixing.measured_hole_mm - wanted) > 1e-6)
                say(fixing.name + ": its hole is off");
        }
        for (const BraceMade& brace : result->braces) ++braces, in_ledger += brace.volume_mm3;

        const auto mesh = measure::tessellate(solid, Length::mm(0.05), {});
        const auto outer = measure::tessellate(result->outer_body, Length::mm(0.05), {}),
                   air = measure::tessellate(result->air_body, Length::mm(0.05), {}),
                   bare = measure::tessellate(scene.box.bodies.air, Length::mm(0.05), {});
        if (!mesh || !outer || !air || !bare) {
            say("no mesh");
            continue;
        }
        if (const auto crossings = measure::self_crossings(*mesh); !crossings || !crossings->empty())
            say("the mesh crosses itself");
        const double lost = measure::measure_mesh(*bare).volume.mm3() - measure::measure_mesh(*air).volume.mm3();
        const double off_rel = std::abs(lost - in_ledger) / measure::measure_mesh(*bare).volume.mm3();
        most_air_rel = std::max(most_air_rel, off_rel);
        if (off_rel > 5e-4) say(fmt::format("the mesh's air lost {:.0f} mm3, the ledger says {:.0f}", lost, in_ledger));

        const double behind = request.baffle.thickness.mm() + 0.1;
        const auto wall = measure::measure_wall(*air, *outer, [&](Point3 p) {
            return result->baffle_plane.height(p) < -std::max(behind, request.wall.mm());
        });
        // The lofts' own wall is thinner in places than the one asked.
        const auto skin = measure::tessellate(scene.box.bodies.outer, Length::mm(0.05), {});
        const double own = measure::measure_wall(*bare, *skin, [&](Point3 p) {
                               return result->baffle_plane.height(p) < -std::max(behind, request.wall.mm());
                           }).least_mm;
        const double wanted = std::min(own, request.wall.mm());
        least_wall = std::min(least_wall, wall.least_mm / wanted);
        if (wall.least_mm < 0.93 * wanted)
            say(fmt::format("wall {:.2f} of {:.2f} mm at {:.0f} {:.0f} {:.0f}", wall.least_mm, wanted, wall.at.x,
                            wall.at.y, wall.at.z));

        const measure::TriangleTree tree(*mesh);
        const double clear = request.room.clearance.mm();
        for (const Point3& p : scene.surface.points) {
            bool on_seat = false;
            for (const FixingMade& fixing : result->fixings) {
                const Vec3 d = p - fixing.point;
                const double up = dot(d, fixing.axis);
                on_seat |=
                    std::abs(up) <= clear + 1.0 && norm(d - fixing.axis * up) <= fixing.seat_radius_mm + clear + 1.0;
            }
            if (on_seat) continue;
            least_clear = std::min(least_clear, tree.nearest(p).distance_mm - clear);
        }
    }
    fmt::print("{} boxes: {} made with {} sleeves and {} braces, {} refused by a rule, {} broken rules\n", count, made,
               sleeves, braces, count - made, broken);
    for (const auto& [rule, n] : refused) fmt::print("  {:3}  {}\n", n, rule);
    fmt::print("hole off its axis, at most          {:.6f} mm\n", most_off_axis);
    fmt::print("hole off the asked diameter, at most   {:.6f} mm\n", most_off_diameter);
    fmt::print("air lost against the ledger         {:.4f} % of the air, at most\n", 100.0 * most_air_rel);
    fmt::print("wall, least of the asked            {:.3f}\n", least_wall);
    fmt::print("clearance outside the seats, least  {:+.3f} mm of the asked\n", least_clear);
    return broken == 0 ? 0 : 1;
}
