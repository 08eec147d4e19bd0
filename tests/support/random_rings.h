// Rings drawn at random over all seats, and whether a finished one keeps the rules, asked of its triangles only: by
// rays through its material, not by the distances that the builder reckons with.
#pragma once

#include "examples/ring_on_scan/scene.h"
#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/triangle_tree.h"
#include "geom/parts/ring.h"
#include "geom/parts/ring_foot.h"
#include "tests/support/random_frames.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

namespace support {

struct RandomRing {
    std::string kind;  ///< of its seat
    geom::parts::RingRequest request;
    bool is_on_scan = false;
};

/// A door's skin as the scanner has it, for the rings that stand on one.
inline geom::Result<geom::scan::Surface> scanned_door(const geom::Context& context) {
    geom::scan::RawScan raw;
    raw.points = ring_on_scan::scan({.spacing_mm = 2.5});
    return geom::scan::estimate_surface(std::move(raw), {}, context);
}

/// One of the outlines a job can give, about `mean` wide.
inline geom::Result<geom::parts::RingOutline> random_outline(geom::Random& random, int kind, double mean) {
    using namespace geom;
    using namespace geom::parts;
    const auto mm = [](double v) { return Length::mm(v); };
    const auto loop = [&](int corners, double spread) {
        std::vector<FlatPoint> path;
        const double turn = random.uniform(0, 6.28);
        for (int k = 0; k < corners; ++k) {
            const double a = turn + 2.0 * std::numbers::pi * k / corners,
                         r = 0.5 * mean * random.uniform(1.0 - spread, 1.0 + spread);
            path.push_back({r * std::cos(a), r * std::sin(a)});
        }
        return path;
    };
    switch (kind) {
        case 0:
            return round_outline(mm(mean));
        case 1: {
            const double wide = mean * random.uniform(0.85, 1.3);
            return ellipse_outline(mm(wide), mm(wide * random.uniform(0.8, 1.0)), Angle::deg(random.uniform(0, 180)));
        }
        case 2: {  // a rectangle with rounded corners
            const double w = 0.5 * mean * random.uniform(0.95, 1.2), h = 0.5 * mean * random.uniform(0.95, 1.1);
            return rounded_polygon({{-w, -h}, {w, -h}, {w, h}, {-w, h}}, mm(random.uniform(10, 60)));
        }
        case 3: {  // a rounded polygon
            const int corners = 3 + static_cast<int>(random.uniform() * 6.0);
            return rounded_polygon(loop(corners, corners == 3 ? 0.02 : 0.08), mm(random.uniform(5, 50)));
        }
        default: {  // drawn: lobes of arcs
            const int lobes = 3 + static_cast<int>(random.uniform() * 4.0);
            std::vector<FlatPoint> path = loop(lobes * 2, 0.03);
            for (std::size_t k = 0; k < path.size(); k += 2) path[k].bulge = std::tan(std::numbers::pi / 4.0 / lobes);
            return path_outline(path);
        }
    }
}

/// Sizes as the trade has them: drivers of 100 to 200 mm, rings that leave them 15 to 45 mm all round.
inline geom::Result<RandomRing> random_ring(geom::Random& random) {
    using namespace geom;
    using namespace geom::parts;
    const auto mm = [](double v) { return Length::mm(v); };
    const auto is = [&](double share) { return random.uniform() < share; };
    constexpr const char* kKinds[] = {"round", "oval", "rectangle", "polygon", "drawn", "on a scan"};
    RandomRing drawn;
    RingRequest& request = drawn.request;
    const int kind = static_cast<int>(random.uniform() * 6.0);
    drawn.kind = kKinds[kind];
    drawn.is_on_scan = kind == 5;

    const double cutout = drawn.is_on_scan ? random.uniform(145, 165) : random.uniform(95, 190);
    request.driver.name = "drawn driver";
    request.driver.cutout_diameter = mm(cutout);
    request.driver.flange_diameter = mm(cutout + random.uniform(20, 34));
    request.driver.flange_thickness = mm(random.uniform(3, 6));
    if (is(0.8)) {
        request.driver.bolt_circle = mm((cutout + request.driver.flange_diameter.mm()) / 2.0 + random.uniform(0, 3));
        constexpr int kCounts[] = {3, 4, 4, 6, 8};
        request.driver.bolt_count = kCounts[static_cast<int>(random.uniform() * 5.0)];
        request.driver.bolt_thread = is(0.7) ? "M4" : "M5";
        if (is(0.3)) request.turn = Angle::deg(random.uniform(0, 90));
    }
    if (is(0.6)) {
        request.driver.mounting_depth = mm(random.uniform(50, 80));
        request.driver.magnet_diameter = mm(cutout * random.uniform(0.5, 0.8));
        request.driver.magnet_depth = mm(random.uniform(20, 30));
        request.driver.sd = Area::mm2(std::numbers::pi / 4.0 * std::pow(cutout - 12.0, 2));
    }
    const double ring = random.uniform(18, 60), outside = request.driver.flange_diameter.mm() + 2.0 * ring;
    request.height = mm(random.uniform(8, 40));
    const bool is_tilted = is(0.6);
    if (is_tilted) {
        request.tilt = Angle::deg(random.uniform(1, drawn.is_on_scan ? 15 : 30));
        const double a = random.uniform(0, 6.28);
        request.tilt_towards = {std::cos(a), std::sin(a), random.uniform(-0.3, 0.3)};
    }

    Frame view = random_frame(random);
    if (drawn.is_on_scan) view = {ring_on_scan::kView.origin, ring_on_scan::kView.x, ring_on_scan::kView.z, {}};
    request.seat.plane = {view.origin, view.y};
    request.up = drawn.is_on_scan ? ring_on_scan::kView.y : view.z;
    // Most put a tilted driver so that its slanting bore comes out about the middle.
    if (is_tilted && is(0.8)) {
        const Vec3 out = request.seat.plane.outward;
        const Vec3 towards = request.tilt_towards - out * dot(request.tilt_towards, out);
        const double slope = std::tan(request.tilt.rad());
        request.shift = unit(towards) * ((request.height.mm() + outside / 2.0 * slope) * slope * 0.6);
    }
    const int form = drawn.is_on_scan ? static_cast<int>(random.uniform() * 2.0) : kind;
    GAPWRIGHT_TRY(seat, random_outline(random, form, outside * 1.06));
    request.seat.outside = seat;
    if (is(0.3)) {
        GAPWRIGHT_TRY(front, random_outline(random, is(0.5) ? 0 : form, outside));
        request.front = front;
    } else if (!is_tilted && !drawn.is_on_scan && is(0.2)) {
        request.step = RingStep{round_outline(mm(outside - random.uniform(0, 10))),
                                mm(request.height.mm() * random.uniform(0.3, 0.7))};
    }
    if (!drawn.is_on_scan && is(0.35)) {
        GAPWRIGHT_TRY(opening, random_outline(random, is(0.5) ? 0 : kind, cutout + random.uniform(2, 20)));
        request.seat.opening = opening;
        if (is(0.3))
            request.bore = RingRequest::Bore::Opening;
        else if (is(0.4))
            request.lip = RingLip{mm(random.uniform(3, 8)), mm(random.uniform(0, 1))};
    }
    if (request.bore == RingRequest::Bore::Driver && is(0.3)) request.bore = RingRequest::Bore::Seat;
    if (is(0.15)) request.recess = mm(random.uniform(2, 5));
    if (is(0.25)) request.grooves.push_back({is(0.5) ? RingGroove::On::Seat : RingGroove::On::Front, mm(3)});
    if (request.bore != RingRequest::Bore::Opening && is(0.2))
        request.flare = RingFlare{is_tilted || is(0.5) ? RingFlare::Kind::Chamfer : RingFlare::Kind::Round,
                                  mm(random.uniform(2, 6))};
    if (request.bore != RingRequest::Bore::Opening && is(0.1)) request.rain_lip = RainLip{mm(random.uniform(10, 30))};
    constexpr DriverHold::Kind kHolds[] = {DriverHold::Kind::Insert, DriverHold::Kind::Tapped,
                                           DriverHold::Kind::WoodScrew, DriverHold::Kind::Through};
    request.hold.kind = kHolds[static_cast<int>(random.uniform() * 4.0)];

    const int bolts = is(0.8) ? 3 + static_cast<int>(random.uniform() * 3.0) : 0;
    const double at = request.driver.flange_diameter.mm() / 2.0 + random.uniform(0.45, 0.6) * ring,
                 turn = random.uniform(0, 6.28);
    const Vec3 x = cross(unit(request.seat.plane.outward), request.up) * -1.0;
    for (int k = 0; k < bolts; ++k) {
        const double a = turn + 2.0 * std::numbers::pi * k / bolts;
        RingBolt bolt{.name = std::to_string(k + 1),
                      .point = request.seat.plane.point + x * (at * std::sin(a)) + request.up * (at * std::cos(a)),
                      .thread = is(0.6) ? "M5" : "M4"};
        if (is_tilted || is(0.5)) bolt.under_head = mm(random.uniform(3, 6));
        bolt.is_countersunk = is(0.2);
        request.bolts.push_back(bolt);
    }
    constexpr Method kMethods[] = {Method::Print, Method::Print, Method::Cnc};
    request.make.method = kMethods[static_cast<int>(random.uniform() * 3.0)];
    request.material = *find_material(request.make.method == Method::Cnc ? "birch plywood" : "ASA");
    return drawn;
}

/// What breaks a rule of a finished ring; empty: it keeps them all.
///
///   sound     one valid closed solid
///   holes     on their axes and of their diameters, measured on the B-rep
///   material  from the wall of every hole, level with its axis, to what comes next: the least wall of the method
///   flange    what the driver's flange lies on is there all round
inline std::string broken_rule(const geom::parts::Ring& ring, const geom::parts::RingRequest& request,
                               const geom::Context& context) {
    using namespace geom;
    using namespace geom::parts;
    constexpr double kChord_mm = 0.02, kPi = std::numbers::pi;
    const auto solid = measure::measure_solid(ring.product.solid, context);
    if (!solid) return solid.error().what;
    if (!solid->valid || !solid->closed || solid->solids != 1 || solid->shells != 1)
        return fmt::format("valid {}, closed {}, {} solids, {} shells", solid->valid, solid->closed, solid->solids,
                           solid->shells);
    const auto mesh = measure::tessellate(ring.product.solid, Length::mm(kChord_mm), context);
    if (!mesh) return mesh.error().what;
    const measure::TriangleTree tree(*mesh);
    const Vec3 aside = unit(Vec3{0.431, 0.287, 0.856});
    const Vec3 z = unit(request.seat.plane.outward);
    const double sunk = std::max(0.0, request.recess.value_or(Length::mm(0)).mm());
    const double least = request.grooves.empty() ? least_wall(request.make.method).mm() : 1.5;
    const double foot = request.foot ? request.foot_highest_mm + 1.0 : 0.0;
    const auto height = [&](Point3 p) { return dot(p - request.seat.plane.point, z); };
    const auto before = [&](Point3 p) { return dot(p - ring.front.point, ring.front.outward); };
    for (const RingHole& hole : ring.holes) {
        if (hole.off_axis_mm > 1e-6) return fmt::format("{} lies {} mm off its axis", hole.name, hole.off_axis_mm);
        if (std::abs(hole.made_mm - hole.diameter_mm) > 1e-6)
            return fmt::format("{} is {} mm", hole.name, hole.made_mm);
        const Vec3 e = any_perpendicular(hole.way), f = cross(hole.way, e);
        for (int k = 1; k < 8; ++k)
            for (int j = 0; j < 90; ++j) {
                const double a = 2.0 * kPi * j / 90.0;
                const Vec3 way = e * std::cos(a) + f * std::sin(a);
                const Point3 p = hole.from + hole.way * (hole.depth_mm * k / 8.0) + way * (hole.made_mm / 2.0 + 0.01);
                if (before(p) > -0.05 - sunk || height(p) < foot + 0.05) continue;  // out of the ring
                // A flare or a rain lip's tube takes the bore's wall away; nothing may take a hole's.
                if (hole.name == "the bore" && tree.crossings(p, aside) % 2 == 0) continue;
                const double left = tree.first_hit(p, way) + 0.01;
                const Point3 hit = p + way * left;
                if (before(hit) > -0.1 - sunk || height(hit) < foot + 0.1) continue;  // through a face of the ring
                if (left < least - 2.0 * kChord_mm)
                    return fmt::format(
                        "{} leaves {:.2f} mm, wanted {:.2f}, {:.2f} of {:.2f} mm along it, {:.2f} mm over the seat and "
                        "{:.2f} mm behind the front",
                        hole.name, left, least, hole.depth_mm * k / 8.0, hole.depth_mm, height(hit), -before(hit));
            }
    }
    if (request.flange_outline) return {};
    const double edge = request.driver.flange_diameter.mm() / 2.0 - 0.3;
    const Vec3 e = any_perpendicular(ring.rest.outward), f = cross(ring.rest.outward, e);
    for (int j = 0; j < 180; ++j) {
        const double a = 2.0 * kPi * j / 180.0;
        const Point3 p = ring.rest.point + (e * std::cos(a) + f * std::sin(a)) * edge - ring.rest.outward * 0.1;
        const bool is_in_hole = std::any_of(ring.holes.begin(), ring.holes.end(), [&](const RingHole& hole) {
            const Vec3 off = p - hole.from;
            return norm(off - hole.way * dot(off, hole.way)) < hole.made_mm / 2.0 + 0.1;
        });
        if (!is_in_hole && tree.crossings(p, aside) % 2 == 0)
            return fmt::format("nothing under the flange's edge at ({:.1f}, {:.1f}, {:.1f})", p.x, p.y, p.z);
    }
    return {};
}

struct RingOutcome {
    std::string kind;
    bool is_made = false;
    std::string rule;    ///< of a refused ring: what it broke
    std::string broken;  ///< what the ring or its refusal gets wrong; empty: nothing
};

inline RingOutcome outcome_of(RandomRing drawn, const geom::scan::Surface& door, const geom::Context& context) {
    using namespace geom;
    RingOutcome outcome{.kind = drawn.kind, .is_made = false, .rule = {}, .broken = {}};
    const auto refused = [&](const Fault& fault) {
        outcome.rule = fault.what;
        if (fault.code != FaultCode::Impossible && fault.code != FaultCode::BadJob &&
            fault.code != FaultCode::MethodRefused)
            outcome.broken = "a fault of another kind: " + fault.what;
        else if (fault.hint.empty())
            outcome.broken = "a refusal that says nothing to try: " + fault.what;
        return outcome;
    };
    if (drawn.is_on_scan) {
        const parts::RingFootOptions options{.gasket = Length::mm(2)};
        const auto under = parts::foot_under(drawn.request, options);
        if (!under) return refused(under.error());
        const auto foot = parts::scan_foot(door, *under, context);
        if (!foot) return refused(foot.error());
        parts::stand_on(*foot, options, drawn.request);
    }
    const auto ring = parts::make_ring(drawn.request, context);
    if (!ring) return refused(ring.error());
    outcome.is_made = true;
    outcome.broken = broken_rule(*ring, drawn.request, context);
    return outcome;
}

}  // namespace support
