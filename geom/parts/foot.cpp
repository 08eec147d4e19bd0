// The pad is a disc about the hole that stands on the vehicle's face; the arm is a bar that keeps the clearance from
// that face and is as deep as twice the wall. An arm too deep to stand on the pad by its own width stands on half the
// disc, no wider than its load asks, so that nothing else of the pad rises beside the bolt. Where even that is too
// little the whole pad is as high as the arm and the bolt's seat is let in again by the access the socket wants.
//
// Of 72 directions about the bolt the one with the shortest way to the body is taken: the way until every corner of
// the bar's section lies inside. The bar ends there: it is fused to the filled outer body, the air is not touched.
#include "geom/parts/internal/foot.h"

#include "geom/parts/internal/vehicle_face.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/internal/baffle_shape.h"

#include <fmt/format.h>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <Bnd_Box.hxx>
#include <GProp_GProps.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax2.hxx>
#include <gp_Pln.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr int kDirections = 72;
constexpr double kOver_mm = 0.5;         // of width and depth over the least section
constexpr double kPadOverWeb_mm = 0.3;   // so that no two faces fall together
constexpr double kRootDepth_mm = 1.0;    // of every corner of the arm's end inside the body
constexpr double kBlockBeside_mm = 3.0;  // of a block, on either side of the socket's access
constexpr double kStep_mm = 0.5;
constexpr double kMostLift_mm = 24.0;   // of the arm above its clearance from the face, where the body begins higher
constexpr double kLongestArm_d = 12.0;  // longer arms are not made: bolt diameters
// A sample nearer than asked by less, and by no more than the scan's own bound, is no fault where nothing better is
// found: noise under a face that is itself the clearance away. Limits and keep-outs have no noise.
constexpr double kBound_mm = 0.3;
constexpr double kBesidePlate_mm = 1.0;    // a foot keeps that far from a separate plate
constexpr double kBeforeDriver_mm = 60.0;  // straight room before the driver's flange
constexpr int kCuts = 5;                   // along each arm
constexpr double kLongArm_heights = 2.5;   // an arm that stands out farther from its pad gets a gusset
constexpr double kLeastGusset_mm = 4.0;    // lower ones are not worth their print
constexpr double kGussetToe_mm = 1.0;
constexpr double kGussetBeside_mm = 1.0;  // the socket's access
constexpr double kJoined_mm = 6.0;        // pads nearer than that are joined by a bar
constexpr double kOnePlane_mm = 0.2, kOneAxis_deg = 1.0;
constexpr double kOverSeat_mm = 0.2;  // a socket's room begins that much over its seat
constexpr double kTouch_mm = 1e-6;
constexpr double kCutOff_mm = 0.2;  // from the ends of the arm, and past its sides

/// Lets the arm stand on the pad, from beside the washer to within its disc, when that joint is no weaker than the arm.
/// It begins as far out as that allows, so that what is left beside the socket's access is no thin fin.
void stand_on_pad(FootPlan& foot) {
    const double half = foot.web_width_mm / 2.0, square = foot.pad_radius_mm * foot.pad_radius_mm - half * half;
    const double reach = square > 0.0 ? std::sqrt(square) - kPadOverWeb_mm : 0.0, r = foot.access_radius_mm;
    if (reach <= r) return;
    for (const double part : {0.6, 0.4, 0.2, 0.0}) {
        const double from = part * r;
        const double segment = r * r * std::acos(part) - from * std::sqrt(r * r - from * from);
        if ((reach - from) * foot.web_width_mm - segment < 1.05 * foot.web_wanted_mm2) continue;
        foot.riser_mm = reach;
        foot.arm_from_mm = from;
        return;
    }
    const double edge = block_radius_mm(foot), least = std::max(half, r + kBlockBeside_mm);
    for (double w = least; w < edge; w += kStep_mm) {
        const double area =
            w * std::sqrt(edge * edge - w * w) + edge * edge * std::asin(w / edge) - 0.5 * std::numbers::pi * r * r;
        if (area < 1.05 * foot.web_wanted_mm2) continue;
        foot.riser_mm = edge;
        foot.arm_from_mm = kPadOverWeb_mm;
        foot.block_half_mm = w;
        return;
    }
}

/// The bar's section as sample points: across and up.
std::vector<std::pair<double, double>> section_points(const FootPlan& foot) {
    std::vector<std::pair<double, double>> points;
    for (const double a : {-0.5, -0.25, 0.0, 0.25, 0.5})
        for (const double u : {0.0, 0.5, 1.0})
            points.emplace_back(a * foot.web_width_mm, foot.web_from_mm + u * (foot.web_to_mm - foot.web_from_mm));
    return points;
}

/// Places on the foot's outside, pad and arm up to the shell.
std::vector<Point3> outside_points(const FootPlan& foot) {
    std::vector<Point3> points;
    for (int i = 0; i < 24; ++i) {
        const double a = 2.0 * std::numbers::pi * i / 24;
        for (const double u : {0.0, 0.5, 1.0})
            points.push_back(
                at(foot, foot.pad_radius_mm * std::cos(a), foot.pad_radius_mm * std::sin(a), u * pad_top_mm(foot)));
    }
    if (foot.block_half_mm > 0.0)
        for (int i = -12; i <= 12; ++i) {
            const double edge = block_radius_mm(foot), a = 0.5 * std::numbers::pi * i / 12;
            const double across = std::clamp(edge * std::sin(a), -foot.block_half_mm, foot.block_half_mm);
            for (const double u : {0.0, 0.5, 1.0})
                for (const double along : {0.0, edge * std::cos(a)})
                    points.push_back(at(foot, along, across, u * block_top_mm(foot)));
        }
    for (double s = 0.0; s <= foot.covered_mm; s += 4.0)
        for (const auto& [a, u] : section_points(foot)) points.push_back(at(foot, s, a, u));
    if (foot.gusset) {
        const Gusset& g = *foot.gusset;
        for (double part = 0.0; part <= 1.0; part += 0.125)
            for (const double a : {-0.5, 0.0, 0.5})
                points.push_back(at(foot, g.from_mm + part * (g.top_root_mm - g.from_mm), a * g.width_mm,
                                    g.toe_mm + part * (g.top_mm - g.toe_mm)));
    }
    return points;
}

/// The bolt of another foot: what its washer and socket need stays free.
struct OtherBolt {
    std::string name;
    Point3 seat;  ///< under its washer
    Vec3 up;
    double radius_mm = 0.0, height_mm = 0.0;
};

/// What of vehicle, limits, keep-outs and other bolts is nearest.
Tightest tightest(const Site& site, const FootPlan& foot, const std::vector<Point3>& samples,
                  const std::vector<OtherBolt>& others) {
    const StandingSeat seat{foot.point, foot.up, foot.pad_radius_mm};
    Tightest least = tightest(
        site, samples, [&](Point3 p) { return distance_to(foot, p); }, outside_points(foot), &seat);
    for (const OtherBolt& other : others) {
        if (norm(other.seat - foot.point) > foot.longest_mm + foot.web_width_mm + other.radius_mm + other.height_mm)
            continue;
        const Vec3 side = any_perpendicular(other.up), across = cross(other.up, side);
        for (double h = kOverSeat_mm; h <= other.height_mm; h += 2.0)
            for (int i = 0; i <= 12; ++i) {
                const double a = 2.0 * std::numbers::pi * i / 12, r = i == 12 ? 0.0 : other.radius_mm;
                const Point3 p = other.seat + other.up * h + (side * std::cos(a) + across * std::sin(a)) * r;
                const double spare = distance_to(foot, p) - 0.5 * kOverSeat_mm;
                if (spare < least.spare_mm) least = {spare, "the bolt of \"" + other.name + "\"", p};
            }
    }
    return least;
}

/// Tries the direction in foot.along; true when the arm ends well inside the body. `meets_plate`: it would have, but
/// would hold a separate plate too.
bool reach(const Site& site, FootPlan& foot, double least_depth_mm, double longest_mm, bool& meets_plate) {
    const bool is_separate = site.request.baffle.separate;
    const auto body = [&](double s, double a, double u) {
        const Point3 p = at(foot, s, a, u);
        return std::max(site.body_mm(p), least_depth_mm - site.depth(p));
    };
    const auto points = section_points(foot);
    foot.skin_mm = 1e300;
    foot.covered_mm = foot.root_mm = 0.0;
    for (const auto& [a, u] : points) {
        double s = 0.0;
        const auto bare = [&] { return site.body_mm(at(foot, s, a, u)); };
        while (s < longest_mm && bare() > 0.0) s += std::max(kStep_mm, std::min(bare(), 5.0));
        if (s >= longest_mm) return false;
        if (is_separate && site.depth(at(foot, s, a, u)) < least_depth_mm) {
            meets_plate = true;
            return false;
        }
        foot.skin_mm = std::min(foot.skin_mm, s);
        foot.covered_mm = std::max(foot.covered_mm, s);
        while (s < longest_mm && body(s, a, u) > -kRootDepth_mm) s += kStep_mm;
        if (s >= longest_mm) return false;
        foot.root_mm = std::max(foot.root_mm, s);
    }
    for (const auto& [a, u] : points)
        if (body(foot.root_mm, a, u) > -0.5 * kRootDepth_mm) return false;
    if (is_separate)
        for (const Point3& p : outside_points(foot))
            if (site.depth(p) < least_depth_mm && site.body_mm(p) < kBesidePlate_mm) {
                meets_plate = true;
                return false;
            }
    return true;
}

/// Whether any of the foot stands straight before the driver.
bool is_before_driver(const Site& site, const FootPlan& foot) {
    const std::vector<DriverMount> mounts = site.request.drivers();
    if (mounts.empty()) return false;
    const BaffleForm form = baffle_form_or_flat(site.request);
    for (const DriverMount& mount : mounts) {
        double before = kBeforeDriver_mm;
        const double seat = seat_depth_mm(mount, form);
        if (const auto body = driver_before_box(mount, site.plane(seat), seat))
            before = std::max(before, body->depth_mm() + kBehindMagnet_mm - site.depth(body->seat));
        for (const Point3& p : outside_points(foot))
            if (site.depth(p) < 0.0 && site.depth(p) > -before &&
                distance(site.flat(p), site.flat(mount.centre)) < mount.driver.flange_diameter.mm() / 2.0)
                return true;
    }
    return false;
}

/// The bolt's own way: pad, washer, socket.
Status check_access(const Site& site, const std::string& name, const FootPlan& foot) {
    if (const double inside = -site.body_mm(foot.point); inside > 0.0)
        return impossible(
            fmt::format("{}: the point lies {:.1f} mm inside the box, wanted on the vehicle's face outside it", name,
                        inside),
            "check the fixing's point", foot.point);
    const Vec3 side = any_perpendicular(foot.up), other = cross(foot.up, side);
    for (double height = 0.0; height <= foot.pad_mm + foot.access_height_mm; height += 2.0)
        for (int i = 0; i <= 12; ++i) {
            const double a = 2.0 * std::numbers::pi * i / 12, r = i == 12 ? 0.0 : foot.access_radius_mm;
            const Point3 p = foot.point + foot.up * height + (side * std::cos(a) + other * std::sin(a)) * r;
            if (site.body_mm(p) > 0.2) continue;
            return impossible(
                fmt::format(
                    "{}: the box stands in the bolt's way {:.0f} mm above the face, wanted {} mm of straight room "
                    "{} mm wide for washer and socket",
                    name, height, plain_number(foot.pad_mm + foot.access_height_mm),
                    plain_number(2.0 * foot.access_radius_mm)),
                "move the point away from the box, or keep the room over it free with a keep_out", p);
        }
    return Done{};
}

/// Signed distance in the plane of a gusset's side.
double distance_to_side(const Gusset& gusset, double along, double up) {
    const auto corners = gusset.corners();
    double inside = -1e300, outside = 1e300;
    for (std::size_t i = 0; i < corners.size(); ++i) {
        const auto [ax, ay] = corners[i];
        const auto [bx, by] = corners[(i + 1) % corners.size()];
        const double dx = bx - ax, dy = by - ay, length = std::hypot(dx, dy);
        if (length < 1e-9) continue;
        const double off = ((along - ax) * dy - (up - ay) * dx) / length;  // positive to the right: outside
        const double t = std::clamp(((along - ax) * dx + (up - ay) * dy) / (length * length), 0.0, 1.0);
        inside = std::max(inside, off);
        outside = std::min(outside, std::hypot(along - ax - t * dx, up - ay - t * dy));
    }
    return inside > 0.0 ? outside : inside;
}

/// The highest gusset, up to half the arm's free length, for which there is shell and room; none where there is not.
std::optional<Gusset> gusset_of(const Site& site, const FootPlan& plan, double least_depth_mm,
                                const std::vector<Point3>& samples, const std::vector<OtherBolt>& others) {
    const double from = std::max(plan.access_radius_mm, plan.arm_from_mm) + kGussetBeside_mm;
    const double free = plan.skin_mm - plan.pad_radius_mm, height = plan.web_to_mm - plan.web_from_mm;
    if (free < kLongArm_heights * height) return std::nullopt;
    const double width = std::min(std::max(site.request.wall.mm(), 4.0), 0.6 * plan.web_width_mm);
    const double bare_mm = tightest(site, plan, samples, others).spare_mm;  // a gusset brings it no nearer
    const auto body = [&](double s, double a, double u) {
        const Point3 p = at(plan, s, a, u);
        return std::max(site.body_mm(p), least_depth_mm - site.depth(p));
    };
    for (double rise = (plan.skin_mm - from) / 2.0; rise >= kLeastGusset_mm; rise *= 0.85) {
        Gusset g{.from_mm = from,
                 .root_mm = plan.root_mm - 0.4,  // so that no two faces fall together
                 .base_mm = plan.web_to_mm - 0.5 * height,
                 .toe_mm = plan.web_to_mm + kGussetToe_mm,
                 .top_mm = plan.web_to_mm + kGussetToe_mm + rise,
                 .width_mm = width};
        bool has_shell = true;
        for (const double a : {-0.5, 0.0, 0.5}) {
            double s = from;
            while (s < plan.root_mm + rise && body(s, a * width, g.top_mm) > -kRootDepth_mm) s += kStep_mm;
            has_shell = has_shell && body(s, a * width, g.top_mm) <= -kRootDepth_mm;
            g.top_root_mm = std::max(g.top_root_mm, s);
        }
        if (!has_shell) continue;
        FootPlan tried = plan;
        tried.gusset = g;
        if (tightest(site, tried, samples, others).spare_mm < std::min(-kTouch_mm, bare_mm) ||
            is_before_driver(site, tried))
            continue;
        return g;
    }
    return std::nullopt;
}

}  // namespace

double distance_to(const FootPlan& foot, Point3 p) {
    const Vec3 d = p - foot.point;
    const double up = dot(d, foot.up), along = dot(d, foot.along), across = dot(d, foot.across);
    // Signed distance of a body from how far a place lies beyond each of its sides.
    const auto signed_distance = [](double a, double b, double c) {
        return norm(Vec3{std::max(a, 0.0), std::max(b, 0.0), std::max(c, 0.0)}) + std::min(std::max({a, b, c}), 0.0);
    };
    const auto beyond = [](double v, double lo, double hi) { return std::max(lo - v, v - hi); };
    const double pad =
        signed_distance(std::hypot(along, across) - foot.pad_radius_mm, beyond(up, 0.0, pad_top_mm(foot)), -1e300);
    const double arm = signed_distance(beyond(along, 0.0, foot.covered_mm),
                                       beyond(across, -foot.web_width_mm / 2.0, foot.web_width_mm / 2.0),
                                       beyond(up, foot.web_from_mm, foot.web_to_mm));
    // Of a block never too far: where disc and sides meet the nearer of both counts.
    const double riser = foot.block_half_mm > 0.0
                             ? signed_distance(std::max(std::hypot(along, across) - block_radius_mm(foot),
                                                        beyond(across, -foot.block_half_mm, foot.block_half_mm)),
                                               -along, beyond(up, 0.0, block_top_mm(foot)))
                             : signed_distance(beyond(along, 0.0, foot.riser_mm),
                                               beyond(across, -foot.web_width_mm / 2.0, foot.web_width_mm / 2.0),
                                               beyond(up, 0.0, foot.web_from_mm));
    const double rib =
        foot.gusset ? signed_distance(distance_to_side(*foot.gusset, along, up),
                                      beyond(across, -foot.gusset->width_mm / 2.0, foot.gusset->width_mm / 2.0), -1e300)
                    : 1e300;
    return std::min({pad, arm, foot.riser_mm > 0.0 ? riser : 1e300, rib});
}

double block_radius_mm(const FootPlan& foot) {
    return foot.pad_radius_mm - kPadOverWeb_mm;
}

double block_top_mm(const FootPlan& foot) {
    return std::max(foot.pad_mm, foot.web_to_mm) + kPadOverWeb_mm;
}

double pad_top_mm(const FootPlan& foot) {
    return foot.riser_mm > 0.0 ? foot.pad_mm : std::max(foot.pad_mm, foot.web_to_mm + kPadOverWeb_mm);
}

bool are_joined(const FootPlan& a, const FootPlan& b) {
    const Vec3 way = b.point - a.point;
    return dot(a.up, b.up) > std::cos(Angle::deg(kOneAxis_deg).rad()) && std::abs(dot(way, a.up)) < kOnePlane_mm &&
           norm(way) < a.pad_radius_mm + b.pad_radius_mm + kJoined_mm;
}

namespace {

/// The foot as its bolt alone makes it; where its arm goes is not settled.
Result<FootPlan> bolt_of(const Site& site, const Foot& foot) {
    const EnclosureRequest& request = site.request;
    GAPWRIGHT_TRY(thread, fixings::find_thread(foot.thread, request.own_threads));
    const double wall = request.wall.mm();
    GAPWRIGHT_CHECK(check_slot("fixing \"" + foot.name + "\"", foot.use, foot.axis, foot.point));
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, foot.use, false));
    FootPlan plan;
    plan.name = foot.name;
    plan.thread = foot.thread;
    plan.point = foot.point;
    plan.up = -unit(foot.axis);
    plan.line = bolt_line(foot.point, foot.axis, foot.use.slot);
    plan.bore = bore_of(thread, foot.use, hole, request.material);
    // Pad and access are round: a slot's ends and the bolt's play are added all round.
    const double more = plan.line.half_mm + foot.use.play.mm();
    plan.edge_wanted_mm = fixings::least_edge_distance(thread, request.material.is_metal).mm();
    plan.pad_radius_mm = plan.edge_wanted_mm + more + kOver_mm;
    plan.pad_mm = std::max(1.2 * thread.d_mm, wall);
    const fixings::ToolRoom tool = fixings::tool_room(thread, foot.use);
    plan.access_radius_mm = std::max(tool.diameter.mm(), hole.seat_mm + 2.0) / 2.0 + more;
    plan.access_height_mm = tool.length.mm();
    plan.pad_radius_mm = std::max(plan.pad_radius_mm, plan.access_radius_mm + kOver_mm);
    plan.web_width_mm = 3.0 * thread.d_mm + kOver_mm;
    plan.web_wanted_mm2 = 3.0 * thread.d_mm * 2.0 * wall;
    stand_on_pad(plan);
    plan.longest_mm = kLongestArm_d * thread.d_mm;
    return plan;
}

Result<FootPlan> plan_foot(const Site& site, const FootPlan& plan, double least_depth_mm,
                           const std::vector<OtherBolt>& others) {
    const EnclosureRequest& request = site.request;
    const std::string name = "fixing \"" + plan.name + "\"";
    const double wall = request.wall.mm(), clear = request.room.clearance.mm() + request.room.covering.mm();
    const double longest = plan.longest_mm;

    GAPWRIGHT_CHECK(check_access(site, name, plan));
    const std::vector<Point3> samples = samples_near(site, plan.point, longest + plan.web_width_mm + clear);
    const StandingSeat seat{plan.point, plan.up, plan.pad_radius_mm};
    if (!plan.on_plate) GAPWRIGHT_CHECK(check_face(name, seat, samples, clear));

    const Vec3 side = any_perpendicular(plan.up), other = cross(plan.up, side);
    std::optional<FootPlan> best;
    double nearest_body = 1e300;
    std::optional<Tightest> in_the_way;
    bool is_driver_in_the_way = false, meets_plate = false;
    const double noise = site.surface == nullptr ? 0.0 : std::clamp(site.surface->bound_mm, 0.0, kBound_mm);
    for (const double least_spare_mm : {-kTouch_mm, -noise - kTouch_mm})
        for (double lift = 0.0; lift <= kMostLift_mm && !best; lift += 0.5)
            for (int i = 0; i < kDirections; ++i) {
                const double a = 2.0 * std::numbers::pi * i / kDirections;
                FootPlan tried = plan;
                tried.web_from_mm = clear + lift;
                tried.web_to_mm = tried.web_from_mm + 2.0 * wall + kOver_mm;
                tried.along = side * std::cos(a) + other * std::sin(a);
                tried.across = cross(tried.up, tried.along);
                for (double s = 0.0; s < 600.0 && s < nearest_body; s += 1.0)
                    if (site.body_mm(at(tried, s, 0.0, (tried.web_from_mm + tried.web_to_mm) / 2.0)) < 1e-3)
                        nearest_body = s;
                if (!reach(site, tried, least_depth_mm, longest, meets_plate)) continue;
                if (best && tried.root_mm > best->root_mm - 1e-6) continue;
                const Tightest room = tightest(site, tried, samples, others);
                const bool is_noise = room.spare_mm < -kTouch_mm && room.spare_mm >= least_spare_mm;
                if (is_noise && tightest(site, tried, {}, others).spare_mm < -kTouch_mm) continue;
                if (room.spare_mm < least_spare_mm) {
                    if (!in_the_way || room.spare_mm > in_the_way->spare_mm) in_the_way = room;
                    continue;
                }
                if (is_before_driver(site, tried)) {
                    is_driver_in_the_way = true;
                    continue;
                }
                best = tried;
            }
    if (best) {
        best->gusset = gusset_of(site, *best, least_depth_mm, samples, others);
        return *best;
    }
    const std::string move = "move the point nearer to the box, or give the box more room beside it";
    if (in_the_way)
        return impossible(
            fmt::format("{}: {} stands in the way of its pad or arm by {:.1f} mm, wanted {} mm clear of it", name,
                        in_the_way->what, -in_the_way->spare_mm, plain_number(clear)),
            "move the point, or take a smaller thread", in_the_way->where);
    if (is_driver_in_the_way)
        return impossible(name + ": its pad or arm stands before the driver, wanted beside it",
                          "move the point or the driver", plan.point);
    if (meets_plate && nearest_body <= longest)
        return impossible(name + ": its arm would hold the separate baffle too, wanted an arm to the shell behind it",
                          "move the point farther back, or make the baffle integral", plan.point);
    const std::string how =
        nearest_body > 599.0 ? "there is no box beside it within 600 mm"
        : nearest_body > longest
            ? fmt::format("the box is {:.0f} mm away, wanted at most {}", nearest_body, plain_number(longest))
            : fmt::format("an arm {} by {} mm does not end inside the box, {:.0f} mm away",
                          plain_number(plan.web_width_mm), plain_number(2.0 * wall + kOver_mm), nearest_body);
    return impossible(fmt::format("{}: cannot reach its point: {}", name, how), move, plan.point);
}

}  // namespace

Result<FootPlan> plan_lug(const Site& site, const Foot& screw, double least_depth_mm,
                          const std::vector<FootPlan>& beside) {
    GAPWRIGHT_TRY(lug, bolt_of(site, screw));
    lug.on_plate = true;
    std::vector<OtherBolt> others;
    for (const FootPlan& other : beside) {
        if (distance(lug.point, other.point) < lug.access_radius_mm + other.access_radius_mm)
            return impossible(fmt::format("fixing \"{}\": its screw stands too near that of \"{}\" for both sockets",
                                          lug.name, other.name),
                              "use one of the two", lug.point);
        others.push_back({other.name, other.point + other.up * other.pad_mm, other.up, other.access_radius_mm});
    }
    return plan_foot(site, lug, least_depth_mm, others);
}

Result<std::vector<FootPlan>> plan_feet(const Site& site, double least_depth_mm) {
    std::vector<FootPlan> bolts, plans;
    for (const Foot& foot : site.request.feet) {
        GAPWRIGHT_TRY(bolt, bolt_of(site, foot));
        bolts.push_back(bolt);
    }
    for (std::size_t i = 0; i < bolts.size(); ++i) {
        std::vector<OtherBolt> others;
        for (std::size_t j = 0; j < bolts.size(); ++j) {
            if (j == i) continue;
            const FootPlan& other = bolts[j];
            const double apart = distance(bolts[i].point, other.point),
                         wanted = bolts[i].access_radius_mm + other.access_radius_mm;
            if (apart < wanted)
                return impossible(
                    fmt::format("fixing \"{}\": its bolt stands {:.1f} mm from that of \"{}\", wanted {:.1f} "
                                "for both sockets",
                                bolts[i].name, apart, other.name, wanted),
                    "use one of the two, or smaller threads", bolts[i].point);
            others.push_back({other.name, other.point + other.up * other.pad_mm, other.up, other.access_radius_mm,
                              other.access_height_mm});
        }
        GAPWRIGHT_TRY(plan, plan_foot(site, bolts[i], least_depth_mm, others));
        plans.push_back(plan);
    }
    return plans;
}

Result<std::vector<FixingMade>> measure_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& solid) {
    if (feet.empty()) return std::vector<FixingMade>{};
    return guard_occt("fixings", [&]() -> Result<std::vector<FixingMade>> {
        // All cuts of all arms in one intersection; the pieces of each are asked for afterwards.
        std::vector<std::vector<TopoDS_Face>> cuts(feet.size());
        BRepAlgoAPI_Common common;
        TopTools_ListOfShape planes, body;
        body.Append(solid);
        for (std::size_t f = 0; f < feet.size(); ++f) {
            const FootPlan& foot = feet[f];
            // From the edge of the socket's access to where the arm meets the shell.
            const double from = foot.access_radius_mm + kCutOff_mm, to = foot.skin_mm - kCutOff_mm;
            const int n = to > from ? kCuts : 1;
            for (int i = 0; i < n; ++i) {
                const double s = n == 1 ? from : from + (to - from) * i / (n - 1);
                const gp_Ax3 frame(to_occt(at(foot, s, 0.0, (foot.web_from_mm + foot.web_to_mm) / 2.0)),
                                   to_occt_dir(foot.along), to_occt_dir(foot.across));
                const double half_width = foot.web_width_mm / 2.0 + kCutOff_mm;
                const double half_height = (foot.web_to_mm - foot.web_from_mm) / 2.0 + kCutOff_mm;
                cuts[f].push_back(
                    BRepBuilderAPI_MakeFace(gp_Pln(frame), -half_width, half_width, -half_height, half_height).Face());
                planes.Append(cuts[f].back());
            }
            // Where the arm stands on the pad: level, just over it.
            const bool on_block = foot.block_half_mm > 0.0;
            if (on_block || (foot.riser_mm > 0.0 && foot.web_from_mm > foot.pad_mm + 2.0 * kCutOff_mm)) {
                const gp_Ax3 frame(to_occt(at(foot, foot.riser_mm / 2.0, 0.0, foot.pad_mm + kCutOff_mm)),
                                   to_occt_dir(foot.up), to_occt_dir(foot.across));
                const double half_width = (on_block ? foot.block_half_mm : foot.web_width_mm / 2.0) + kCutOff_mm,
                             half_length = foot.riser_mm / 2.0 + kCutOff_mm;
                cuts[f].push_back(
                    BRepBuilderAPI_MakeFace(gp_Pln(frame), -half_width, half_width, -half_length, half_length).Face());
                planes.Append(cuts[f].back());
            }
        }
        common.SetArguments(planes);
        common.SetTools(body);
        common.SetRunParallel(false);
        common.Build();
        if (common.HasErrors())
            return Fault{FaultCode::Internal, "fixings: their arms could not be cut", {}, {}, "part"};
        std::vector<FixingMade> made;
        for (std::size_t f = 0; f < feet.size(); ++f) {
            const FootPlan& foot = feet[f];
            FixingMade fixing{.name = foot.name,
                              .thread = foot.thread,
                              .point = foot.point,
                              .axis = -foot.up,
                              .hole_mm = 2.0 * foot.bore.radius_mm,
                              .edge_distance_mm = foot.pad_radius_mm - foot.line.half_mm,
                              .edge_wanted_mm = foot.edge_wanted_mm,
                              .web_section_mm2 = 1e300,
                              .web_wanted_mm2 = foot.web_wanted_mm2};
            for (const TopoDS_Face& cut : cuts[f]) {
                double area = 0.0;
                const auto add = [&](const TopoDS_Shape& piece) {
                    GProp_GProps props;
                    BRepGProp::SurfaceProperties(piece, props);
                    area += props.Mass();
                };
                const TopTools_ListOfShape& pieces = common.Modified(cut);
                for (const TopoDS_Shape& piece : pieces) add(piece);
                if (pieces.IsEmpty() && !common.IsDeleted(cut)) add(cut);  // all of it in the material
                fixing.web_section_mm2 = std::min(fixing.web_section_mm2, area);
            }
            GAPWRIGHT_TRY(hole, measure_hole("fixing \"" + foot.name + "\"", solid, foot.line, foot.bore.radius_mm, 0.0,
                                             foot.pad_mm - foot.bore.sink_mm));
            fixing.measured_hole_mm = hole.diameter_mm;
            fixing.measured_off_axis_mm = hole.off_axis_mm;
            fixing.has_metal_sleeve = foot.bore.has_metal_sleeve;
            made.push_back(fixing);
        }
        return made;
    });
}

}  // namespace geom::parts
