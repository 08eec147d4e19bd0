// Random fixings on analytic boxes among the walls of a vehicle: what is made must hold each rule, measured on the
// finished solid; what is not made must say which rule broke.
//
//   connected   least section of the foot's web, cut on the B-rep, against the section asked
//   true        the hole's cylinder on the B-rep: off its axis over the pad's height, off ISO 273's diameter with its
//   play,
//               or off the metal sleeve's outside
//   clear       of the vehicle's samples outside the seat: least distance of the finished mesh, against the clearance
//   sound       one valid closed solid a product
//
// The boxes stand turned at random in the vehicle's frame; bolts are M4 to M10; faces of the vehicle lean by up to 12
// degrees.
//
// Usage   bench_random_fixings [COUNT [SEED]]
#include "geom/core/random.h"
#include "geom/core/text.h"
#include "geom/fixings/threads.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/triangle_tree.h"
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

/// A box over a floor, with one fixing on a bracket of the vehicle beside, behind or before it.
struct Scene {
    Case box;
    scan::Surface surface;
};

Scene random_scene(Random& random) {
    const Sizes sizes{.half_width = random.uniform(90, 140),
                      .half_height = random.uniform(80, 120),
                      .depth = random.uniform(120, 200),
                      .wall = random.uniform(5, 9)};
    const double pick = random.uniform();
    Scene scene{pick < 0.34 ? rounded_box(sizes) : pick < 0.67 ? tapered_box(sizes) : bulging_loft(sizes), {}};
    EnclosureRequest& request = scene.box.request;
    if (random.uniform() < 0.25) request.material = *find_material("aluminium 5754");
    request.room.clearance = Length::mm(random.uniform(3, 6));
    const double clear = request.room.clearance.mm();

    const char* threads[] = {"M4", "M5", "M6", "M8", "M10"};
    const std::string thread = threads[static_cast<int>(random.uniform() * 5.0)];

    // A place beside the box, below it or up its side, on a face that looks up, in or to the front.
    const double out = random.uniform(12.0, 12.0 + 5.0 * fixings::find_thread(thread)->d_mm);
    const double pick_side = random.uniform();
    const double up = random.uniform(-1.1, 0.6) * sizes.half_height, back = random.uniform(-0.1, 0.9) * sizes.depth;
    const Point3 point = pick_side < 0.4   ? Point3{-sizes.half_width - out, back, up}
                         : pick_side < 0.8 ? Point3{sizes.half_width + out, back, up}
                         : pick_side < 0.9 ? Point3{random.uniform(-0.8, 0.8) * sizes.half_width, sizes.depth + out, up}
                                           : Point3{random.uniform(-0.8, 0.8) * sizes.half_width, -out,
                                                    -sizes.half_height - clear - 2.0};
    const Vec3 n = leaning(random, random.uniform() < 0.8 ? Vec3{0, 0, 1} : Vec3{0, -1, 0}, 12.0);
    fixings::BoltUse use;
    use.fit = random.uniform() < 0.7   ? fixings::Fit::Medium
              : random.uniform() < 0.5 ? fixings::Fit::Fine
                                       : fixings::Fit::Coarse;
    if (random.uniform() < 0.3) use.play = Length::mm(random.uniform(0.5, 2.0));
    if (random.uniform() < 0.5) use.metal_sleeve = false;
    request.feet.push_back({.name = "foot", .point = point, .axis = -n, .thread = thread, .use = use});

    // That face as the scanner has it, off by 0.2 mm, as far as the box lets it be; and a floor under it all.
    const auto take = [&](Point3 p) {
        if (scene.box.room.outer.at(p) > clear) scene.surface.points.push_back(p);
    };
    const Vec3 u = any_perpendicular(n), v = cross(n, u);
    for (double a = -60; a <= 60; a += 3)
        for (double b = -60; b <= 60; b += 3)
            if (a * a + b * b < 3600) take(point + u * a + v * b + n * (0.2 * random.normal()));
    const double floor = std::min(-1.06 * sizes.half_height, point.z) - clear - random.uniform(1, 20);
    for (double a = -320; a <= 320; a += 4)
        for (double b = -320; b <= 320; b += 4) take({a, b, floor + 0.2 * random.normal()});
    const Frame to = random_frame(random);
    scene.box = moved(scene.box, to);
    for (Point3& p : scene.surface.points) p = to.to_parent(p);
    return scene;
}

/// The rule of a fault: its words without names and numbers.
std::string rule_of(const Fault& fault) {
    const std::string& w = fault.what;
    for (const char* rule :
         {"stands in the way of its pad or arm", "stands in the bolt's way", "inside the box", "cannot reach its point",
          "stands before the driver", "the face under its pad", "the vehicle's face lies", "hold the separate baffle"})
        if (w.find(rule) != std::string::npos) return rule;
    return w;
}

}  // namespace

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 200;
    const std::uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
    const Context context;
    std::map<std::string, int> refused;
    int made = 0, broken = 0;
    double least_web = 1e300, most_off_axis = 0.0, most_off_diameter = 0.0, least_clear = 1e300;
    for (int i = 0; i < count; ++i) {
        Random random(seed * 1000003u + static_cast<std::uint64_t>(i));
        const Scene scene = random_scene(random);
        const Foot& foot = scene.box.request.feet.front();
        const auto result = add_features(scene.box.bodies, scene.box.room, scene.box.request, context, &scene.surface);
        if (!result) {
            const Fault& fault = result.error();
            if (fault.code == FaultCode::Impossible) {
                ++refused[rule_of(fault)];
            } else {
                ++broken;
                fmt::print("{}: fault that is no rule: {}\n", i, fault.what);
            }
            continue;
        }
        ++made;
        const FixingMade& fixing = result->fixings.front();
        const Brep& solid = result->products.front().solid;
        const auto say = [&](const std::string& what) {
            ++broken;
            fmt::print("{}: {} ({}, {})\n", i, what, scene.box.name, foot.thread);
        };
        const auto measured = measure::measure_solid(solid, context);
        if (!measured || !measured->valid || !measured->closed || measured->solids != 1)
            say("not one valid closed solid");

        const double web = fixing.web_section_mm2 / fixing.web_wanted_mm2;
        least_web = std::min(least_web, web);
        if (web < 1.0) say(fmt::format("web {:.3f} of the section asked", web));

        const fixings::Thread thread = *fixings::find_thread(foot.thread);
        const double medium = foot.use.fit == fixings::Fit::Fine     ? thread.hole_fine_mm
                              : foot.use.fit == fixings::Fit::Medium ? thread.hole_medium_mm
                                                                     : thread.hole_coarse_mm;
        const double wanted =
            medium + 2.0 * foot.use.play.mm() + (fixing.has_metal_sleeve ? 2.0 * fixings::kSleeveWall_mm : 0.0);
        double off_axis = 1e300, off_diameter = 1e300;
        for (const Cylinder& c : cylinders(solid)) {
            if (std::abs(2.0 * c.radius_mm - wanted) > 0.5) continue;
            double off = 0.0;  // over a pad's height of 1.2 d
            for (const double h : {0.0, 1.2 * thread.d_mm}) {
                const Vec3 d = foot.point - unit(foot.axis) * h - c.at;
                off = std::max(off, norm(d - c.axis * dot(d, c.axis)));
            }
            if (off > 1.0) continue;
            off_axis = std::min(off_axis, off);
            off_diameter = std::abs(2.0 * c.radius_mm - wanted);
        }
        most_off_axis = std::max(most_off_axis, off_axis);
        most_off_diameter = std::max(most_off_diameter, off_diameter);
        if (off_axis > 0.01 || off_diameter > 1e-6)
            say(fmt::format("hole off by {:.4f} mm, {:.4f} mm in diameter", off_axis, off_diameter));

        const auto mesh = measure::tessellate(solid, Length::mm(0.05), {});
        if (!mesh) {
            say("mesh: " + mesh.error().what);
            continue;
        }
        const auto bare = measure::tessellate(scene.box.bodies.outer, Length::mm(0.05), {});
        const measure::TriangleTree tree(*mesh), box(*bare);
        const double clear = scene.box.request.room.clearance.mm(), zone = fixing.edge_distance_mm + clear + 1.0;
        double nearest = 1e300;
        for (const Point3& p : scene.surface.points) {
            const Vec3 d = p - foot.point;
            const double up = dot(d, unit(foot.axis));
            if (std::abs(up) <= clear + 1.0 && norm(d - unit(foot.axis) * up) <= zone) continue;  // the seat
            if (norm(d) > 160.0) continue;
            const double mm = tree.nearest(p).distance_mm;
            if (mm < nearest && mm < box.nearest(p).distance_mm - 0.1) nearest = mm;  // the fixing, not the box
        }
        least_clear = std::min(least_clear, nearest - clear);
        if (nearest < clear - 0.05)
            fmt::print("{}: {:+.3f} mm of the clearance ({}, {})\n", i, nearest - clear, scene.box.name, foot.thread);
        if (nearest < clear - 1.0) say(fmt::format("{:.2f} mm of the vehicle, {:.2f} asked", nearest, clear));
    }
    fmt::print("{} fixings: {} made, {} refused by a rule, {} broken\n", count, made, count - made - broken, broken);
    for (const auto& [rule, n] : refused) fmt::print("  {:3}  {}\n", n, rule);
    fmt::print("web, least of the section asked     {:.3f}\n", least_web);
    fmt::print("hole off its axis, at most          {:.6f} mm\n", most_off_axis);
    fmt::print("hole off ISO 273 (or its sleeve)    {:.6f} mm\n", most_off_diameter);
    fmt::print("clearance outside the seat, least   {:+.3f} mm of the asked\n", least_clear);
    return broken == 0 ? 0 : 1;
}
