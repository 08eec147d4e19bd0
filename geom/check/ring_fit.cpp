// What would free a body that fails: moving the driver by s along its axis changes no distance by more than s, so that
// the ring may always be raised by what is missing without passing the first height that is free; and a body of less
// depth, which is asked for by halving.
#include "geom/check/ring_fit.h"

#include "geom/check/internal/case.h"
#include "geom/check/internal/driver_solid.h"
#include "geom/check/internal/front_room.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/check/internal/part_distance.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

constexpr double kSlack_mm = 0.005;
constexpr double kFoot_mm = 1.0;     // over a flat seat, within which a sample belongs to the seat
constexpr double kLook_mm = 5.0;     // samples farther from the ring are not looked for
constexpr double kTouch_mm = 0.15;   // a sheet has no inside to reach into: nearer than this is taken for touched
constexpr double kHigher_mm = 80.0;  // a ring that would have to be higher by more is none
constexpr double kBeforeRest_mm = 100.0;
constexpr double kLeastDepth_mm = 10.0, kDepth_mm = 0.1;
const Vec3 kAskew = unit({0.5773, 0.4142, 0.7071});

/// Measured samples; those of patches over closed holes come after them.
std::size_t measured_end(const scan::Surface& surface) {
    return surface.edge_end > 0 ? surface.edge_end : surface.points.size();
}

std::vector<Standing> round_of(const RingSurroundings& around, double from_surface_mm) {
    std::vector<Standing> round;
    for (const space::Limit& limit : around.limits) round.emplace_back(limit);
    for (const space::KeepOut& keep_out : around.keep_outs) round.emplace_back(keep_out);
    if (around.surface != nullptr) round.emplace_back(*around.surface, measured_end(*around.surface), from_surface_mm);
    return round;
}

Plane raised(const Plane& plane, double by_mm) {
    return {plane.point + plane.outward * by_mm, plane.outward};
}

double bound_of(const scan::Surface* surface) {
    return surface == nullptr ? 0.0 : std::max(surface->bound_mm, surface->edge_bound_mm);
}

/// Never told too large.
double left_at(const parts::RingRequest& request, const Plane& rest, const std::vector<Standing>& round) {
    return DriverSolid::of(request, rest)->least_left(round, kSought).mm - kSought.slack_mm;
}

/// Greatest mounting depth, less than the driver's own, at which its body is free; none.
std::optional<double> free_depth(const parts::RingRequest& request, const Plane& rest,
                                 const std::vector<Standing>& round) {
    parts::RingRequest tried = request;
    const auto is_free = [&](double depth) {
        tried.driver.mounting_depth = Length::mm(depth);
        return left_at(tried, rest, round) >= 0.0;
    };
    double lo = kLeastDepth_mm, hi = request.driver.mounting_depth->mm();
    if (hi <= lo || !is_free(lo)) return std::nullopt;
    while (hi - lo > kDepth_mm / 2.0) {
        const double mid = (lo + hi) / 2.0;
        (is_free(mid) ? lo : hi) = mid;
    }
    const double told = std::floor(lo / kDepth_mm) * kDepth_mm;
    return is_free(told) ? told : lo;
}

/// "try a ring 12.3 mm higher, or a driver no deeper than 53.7 mm"
std::string what_frees(const parts::RingRequest& request, const Plane& rest, const std::vector<Standing>& round) {
    const auto higher = way_to_free([&](double by) { return left_at(request, raised(rest, by), round); }, kHigher_mm);
    const auto depth = free_depth(request, rest, round);
    const std::string with_ring =
        higher ? fmt::format("a ring {:.1f} mm higher", std::ceil(*higher * 10.0) / 10.0) : std::string();
    const std::string with_driver = depth ? fmt::format("a driver no deeper than {:.1f} mm, {:.1f} now", *depth,
                                                        request.driver.mounting_depth->mm())
                                          : std::string();
    if (with_ring.empty() && with_driver.empty())
        return fmt::format("try another place of the driver, or another tilt: no ring up to {:.0f} mm higher frees it",
                           kHigher_mm);
    return "try " + with_ring + (with_ring.empty() || with_driver.empty() ? "" : ", or ") + with_driver;
}

void check_body(const parts::Ring& ring, const parts::RingRequest& request, const std::vector<Standing>& round,
                double scan_bound_mm, Verdict& verdict) {
    const auto solid = DriverSolid::of(request, ring.rest);
    if (!solid) {
        verdict.lines.push_back({"driver, body behind the ring", Kind::Fit, true, 0.0, 0.0, "mm",
                                 "not judged: the driver file gives no mounting_depth"});
        verdict.lines.back().is_judged = false;
        return;
    }
    std::string frees;
    for (const Standing& thing : round) {
        const Met met = solid->to(thing);
        std::string note = fmt::format("{}; left between the driver's body and {}", place(met.at), met.what);
        if (!met.pose.empty()) note += ", nearest when " + met.pose;
        if (thing.is_scanned())
            note += fmt::format("; the true surface may be {:.2f} mm nearer than its samples", scan_bound_mm);
        CheckLine line =
            at_least("driver, " + thing.what(), Kind::Fit, met.mm, thing.asked_mm(), "mm", std::move(note));
        if (!line.ok) {
            if (frees.empty()) frees = what_frees(request, ring.rest, round);
            line.note += "; " + frees;
            line.place = met.at;
        }
        verdict.lines.push_back(std::move(line));
    }
}

/// How deep a keep-out that lies in the part's material as a whole does so; none where its first place does not.
std::optional<double> depth_within(const measure::TriangleTree& part, const space::KeepOutShape& shape) {
    Point3 at;
    if (const auto* box = std::get_if<space::BoxShape>(&shape))
        at = box->min;
    else if (const auto* rod = std::get_if<space::CylinderShape>(&shape))
        at = rod->from;
    else if (const auto* ball = std::get_if<space::SphereShape>(&shape))
        at = ball->centre;
    else
        at = std::get<TriMesh>(shape).vertices.front();
    if (part.crossings(at, kAskew) % 2 == 0) return std::nullopt;
    return part.nearest(at).distance_mm;
}

void check_part(const TriMesh& mesh, const RingSurroundings& around, Verdict& verdict) {
    const auto judge = [&](const std::string& what, const measure::LeastOnMesh& least, double limit,
                           const std::string& how) {
        CheckLine line = at_least("ring, " + what, Kind::Fit, least.value, limit, "mm",
                                  fmt::format("{}; left between the ring and {}{}", place(least.at), what, how));
        if (!line.ok) {
            line.note += "; try a narrower or a lower ring, or one turned or shifted away from it";
            line.place = least.at;
        }
        verdict.lines.push_back(std::move(line));
    };
    for (const space::Limit& limit : around.limits) {
        measure::LeastOnMesh least;
        for (const Point3& p : mesh.vertices)
            if (const double left = -limit.plane.height(p); left < least.value) least = {left, p};
        judge("limit \"" + limit.name + "\"", least, limit.clearance.mm(), "");
    }
    if (around.keep_outs.empty()) return;
    const PartDistance part(mesh);
    const measure::TriangleTree tree(mesh);
    for (const space::KeepOut& keep_out : around.keep_outs) {
        const std::string what = "keep-out \"" + keep_out.name + "\"";
        const double limit = std::max(keep_out.clearance.mm(), is_sheet(keep_out.shape) ? kTouch_mm : 0.0);
        const bool moves = space::is_moving(keep_out.motion);
        LeastOfMotion found;
        if (moves)
            found = least_swept(part, keep_out, limit);
        else
            found.least = part.to(DrawnShape(keep_out.shape));
        if (const auto depth = depth_within(tree, posed(keep_out.shape, keep_out.motion, 0.0)))
            found.least.value = std::min(found.least.value, -*depth);
        judge(what, found.least, limit,
              moves ? ", wherever it has moved, nearest when " + space::pose_text(keep_out.motion, found.run) : "");
    }
}

/// Samples that lie in the ring; those on a flat seat are its foot.
void check_part_on_scan(const parts::RingRequest& request, const TriMesh& mesh, const RingSurroundings& around,
                        Verdict& verdict) {
    const scan::Surface& surface = *around.surface;
    const Plane seat{request.seat.plane.point, unit(request.seat.plane.outward)};
    const std::size_t end = measured_end(surface);
    const auto counts = [&](std::size_t i) {
        if (i >= end) return false;
        const double h = seat.height(surface.points[i]);
        return request.foot || h < 0.0 || h > kFoot_mm;
    };
    const measure::TriangleTree tree(mesh);
    const auto near = measure::points_nearer(tree, tree, surface.points, kLook_mm, counts);
    const double bound = std::max(bound_of(&surface), around.foot_bound.mm());
    const std::string where = near.empty() ? fmt::format("nothing scanned within {:.0f} mm", kLook_mm)
                                           : place(surface.points[near.front().index]);
    CheckLine line = at_least(
        "ring, the scanned surface", Kind::Fit, near.empty() ? kLook_mm : near.front().distance_mm, -bound, "mm",
        fmt::format("{}; left between the ring and the samples{}, 0 asked with a stated bound of {:.2f} mm", where,
                    request.foot ? "" : fmt::format(", its seat left out up to {:.0f} mm", kFoot_mm), bound));
    if (!line.ok) {
        line.place = surface.points[near.front().index];
        line.note += request.foot
                         ? "; try a narrower ring, or more gasket"
                         : "; try a narrower ring, or let it stand on the scanned face: seat = { .., scan = {} }";
    }
    verdict.lines.push_back(std::move(line));
}

void check_front_of(const parts::Ring& ring, const parts::RingRequest& request, const RingSurroundings& around,
                    Verdict& verdict) {
    const std::vector<Standing> round = round_of(around, 0.0);
    const parts::ConeNeeds cone = parts::cone_needs(request.driver);
    const Vec3 out = ring.rest.outward;
    const Turned column =
        front_column(ring.rest.point, out, cone.mm, request.driver.flange_diameter, around.grille_room);
    FrontFit& front = verdict.driver_fit.front;
    if (!round.empty()) {
        front = told_front(round, column, cone);
        front.before_baffle_mm = column.circles.back().height_mm + ring.front.height(column.base);
    }
    const auto lower = [&] {
        const double most = std::max(0.0, ring.least_height.mm() - parts::least_wall(request.make.method).mm());
        const auto by = way_to_free([&](double way) { return least_left(round, column.moved(-out * way)).mm; }, most);
        return by ? fmt::format("; try a ring {:.1f} mm lower", std::ceil(*by * 10.0) / 10.0)
                  : std::string("; no lower ring leaves it free");
    };
    if (around.grille_room) {
        front.asked_mm = column.circles.back().height_mm;
        if (!round.empty()) {
            const Met least = least_left(round, column);
            front.least_mm = least.told_mm();
            CheckLine line = grille_room_line(column, least, bound_of(around.surface));
            if (!line.ok) line.note += lower();
            verdict.lines.push_back(std::move(line));
        }
        verdict.lines.push_back(held_line("the cone's travel", column, cone));
        return;
    }
    if (round.empty()) return;
    const std::string met =
        front.met.empty() ? std::string(", nothing met") : fmt::format(", up to {} {}", front.met, place(front.met_at));
    CheckLine line = at_least("room before the cone", Kind::Fit, front.free_mm, cone.mm, "mm",
                              fmt::format("free before the driver's seat{}; the cone needs {}", met, cone.how));
    if (!line.ok) {
        if (cone.is_estimated)
            line.ok = true, line.is_judged = false, line.note += "; not judged";
        else
            line.note += lower(), line.place = front.met_at;
    }
    verdict.lines.push_back(std::move(line));
}

}  // namespace

void check_own_bore(const parts::Ring& ring, const parts::RingRequest& request, const TriMesh& mesh, Verdict& verdict) {
    // Going on before its rest it is never left by that end, which is none in the ring.
    const auto solid = DriverSolid::of(request, ring.rest, kBeforeRest_mm);
    if (!solid) return;
    const double chord = request.make.chord_error.mm();
    const Met met = solid->to(mesh, kSlack_mm);
    CheckLine line = at_least(
        "driver, body against the ring", Kind::Fit, met.mm, -chord, "mm",
        fmt::format("{}; least gap between basket or magnet and the bore's wall, lips and flares, over all their "
                    "height; 0 asked, the mesh's chord error of {:.2f} mm taken off",
                    place(met.at), chord));
    if (!line.ok) {
        line.note += "; try a larger bore, bore = \"driver\", or a driver with a narrower basket or magnet";
        line.place = met.at;
    }
    verdict.lines.push_back(std::move(line));
}

void check_ring_fit(const parts::Ring& ring, const parts::RingRequest& request, const TriMesh& mesh,
                    const RingSurroundings& around, Verdict& verdict) {
    const std::vector<Standing> round = round_of(around, around.clearance.mm());
    if (!round.empty()) {
        check_body(ring, request, round, bound_of(around.surface), verdict);
        check_part(mesh, around, verdict);
        if (around.surface != nullptr) check_part_on_scan(request, mesh, around, verdict);
    }
    check_front_of(ring, request, around, verdict);
    verdict.driver_fit.has_driver =
        request.driver.mounting_depth && !(around.limits.empty() && around.keep_outs.empty());
}

}  // namespace geom::check
