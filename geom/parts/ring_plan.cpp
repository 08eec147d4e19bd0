// All that is cut out of a ring is a cylinder, so every web is a distance of two segments less two radii, or the radius
// of the outside less the farthest that a circle lies from the axis: along a straight line that distance is convex, so
// it is greatest at an end.
#include "geom/parts/internal/ring_plan.h"

#include "geom/core/text.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;   // of a tool past the face it goes through
constexpr double kCover_mm = 3.0;  // of the flange over the bore's mouth
constexpr double kSame_mm = 1e-9;  // what is asked to the bit is kept
constexpr double kMostTilt_deg = 45.0;
constexpr double kEdgePerHole = 1.2;  // from a bolt's centre to an edge

Fault bad(std::string what, std::string hint, std::optional<Point3> at = {}) {
    return {FaultCode::BadJob, "ring: " + std::move(what), std::move(hint), at, "part"};
}

Status check_numbers(const RingRequest& request) {
    const auto positive = [](const char* what, Length length) -> Status {
        if (std::isfinite(length.mm()) && length.mm() > 0.0) return Done{};
        return bad(fmt::format("{} is {} mm, wanted more than 0", what, plain_number(length.mm())), {});
    };
    GAPWRIGHT_CHECK(positive("the seat's outside diameter", request.seat.outside_diameter));
    GAPWRIGHT_CHECK(positive("height", request.height));
    GAPWRIGHT_CHECK(positive("the driver's cutout_diameter", request.driver.cutout_diameter));
    GAPWRIGHT_CHECK(positive("the driver's flange_diameter", request.driver.flange_diameter));
    if (request.bore_diameter) GAPWRIGHT_CHECK(positive("the bore's diameter", *request.bore_diameter));
    for (const RingBolt& bolt : request.bolts)
        if (bolt.under_head) GAPWRIGHT_CHECK(positive("under_head", *bolt.under_head));
    if (request.driver.recess && request.driver.recess->mm() > 0.0)
        return Fault{FaultCode::NotBuilt,
                     "ring: a recess for the driver's flange is not built yet",
                     "take recess out of the driver's keys: its flange then sits on the front face",
                     {},
                     "part"};
    const double tilt = request.tilt.deg();
    if (!(tilt >= 0.0 && tilt <= kMostTilt_deg))
        return bad(fmt::format("tilt is {} deg, wanted 0 to {}", plain_number(tilt), plain_number(kMostTilt_deg)),
                   "turn tilt_towards round rather than give a negative tilt");
    const Vec3 outward = request.seat.plane.outward;
    if (!is_finite(outward) || norm(outward) <= 0.0 || !is_finite(request.seat.plane.point))
        return bad("the seat has no plane: wanted a centre and an outward direction", {});
    if (!is_finite(request.up) || norm(request.up) <= 0.0) return bad("up is no direction", {});
    return Done{};
}

/// x the way the driver turns.
Result<Frame> seat_frame(const RingRequest& request) {
    Frame frame;
    frame.origin = request.seat.plane.point;
    frame.z = unit(request.seat.plane.outward);
    const Vec3 way = unit(request.tilt_towards);
    const Vec3 laid = way - frame.z * dot(way, frame.z);
    if (request.tilt.rad() > 0.0 && !(norm(laid) > 0.02))
        return bad(fmt::format("tilt_towards {} shows no way in the seat plane, whose outward is {}",
                               plain_vector(request.tilt_towards), plain_vector(request.seat.plane.outward)),
                   "give the direction that the driver is to turn to, across the seat's axis");
    frame.x = norm(laid) > 0.02 ? unit(laid) : any_perpendicular(frame.z);
    frame.y = cross(frame.z, frame.x);
    return frame;
}

struct Segment {
    Point3 from, to;
};
Segment axis_of(const RingCut& cut) {
    return {cut.line.at(cut.tool_from_mm), cut.line.at(cut.tool_to_mm)};
}

struct Nearness {
    double mm = 0.0;
    Point3 at;  ///< half way
};
/// Of two segments: the squared distance is convex in both, so its least is that of the lines, or lies on an end.
Nearness nearest(const Segment& a, const Segment& b) {
    Nearness best{1e300, {}};
    const auto take = [&](Point3 p, Point3 q) {
        if (const double d = distance(p, q); d < best.mm) best = {d, (p + q) * 0.5};
    };
    const auto end_to = [&](Point3 p, const Segment& s) {
        const Vec3 d = s.to - s.from;
        take(p, s.from + d * std::clamp(dot(p - s.from, d) / norm2(d), 0.0, 1.0));
    };
    end_to(a.from, b);
    end_to(a.to, b);
    end_to(b.from, a);
    end_to(b.to, a);
    const Vec3 u = a.to - a.from, v = b.to - b.from, w = a.from - b.from;
    const double uu = norm2(u), vv = norm2(v), uv = dot(u, v), det = uu * vv - uv * uv;
    if (det > 1e-12 * uu * vv) {
        const double s = (uv * dot(v, w) - vv * dot(u, w)) / det, t = (uu * dot(v, w) - uv * dot(u, w)) / det;
        if (s >= 0.0 && s <= 1.0 && t >= 0.0 && t <= 1.0) take(a.from + u * s, b.from + v * t);
    }
    return best;
}

/// Collects webs; the first that is too thin is the fault.
class Webs {
public:
    explicit Webs(RingPlan& plan) : plan_(plan) {}

    Status keep(std::string between, double left_mm, double wanted_mm, Point3 at, const std::string& hint) {
        if (left_mm < wanted_mm - kSame_mm)
            return impossible(fmt::format("ring: {} {}, wanted {} mm", between,
                                          left_mm >= 0.0 ? fmt::format("leave {:.2f} mm between them", left_mm)
                                                         : fmt::format("run {:.2f} mm into each other", -left_mm),
                                          plain_number(wanted_mm)),
                              hint, at);
        plan_.webs.push_back({std::move(between), left_mm, wanted_mm, at});
        return Done{};
    }
    Status keep(const RingCut& a, const RingCut& b, double wanted_mm, const std::string& hint) {
        const Nearness near = nearest(axis_of(a), axis_of(b));
        return keep(a.name + " and " + b.name, near.mm - a.radius_mm - b.radius_mm, wanted_mm, near.at, hint);
    }
    /// A hole and the cylinder outside; a circle square to any axis reaches no farther out than its radius.
    Status keep_outside(const RingCut& hole, double wanted_mm, const std::string& hint) {
        double farthest = -1.0;
        Point3 at;
        for (const double h : {hole.tool_from_mm, hole.tool_to_mm}) {
            const Point3 p = hole.line.at(h), q = plan_.seat.to_local(p);
            if (const double r = std::hypot(q.x, q.y); r > farthest) farthest = r, at = p;
        }
        return keep(hole.name + " and the outside", plan_.outside_mm - farthest - hole.radius_mm, wanted_mm, at, hint);
    }

private:
    RingPlan& plan_;
};

/// The farthest from the ring's axis of places on a circle or ellipse, in the seat's frame: the best of a fan, then
/// closed in on between its neighbours.
template <class Curve>
std::pair<double, Point3> farthest_out(const Curve& at) {
    constexpr int kPlaces = 360;
    const double step = 2.0 * std::numbers::pi / kPlaces;
    const auto out = [&](double a) {
        const Point3 p = at(a);
        return std::hypot(p.x, p.y);
    };
    int best = 0;
    for (int i = 1; i < kPlaces; ++i)
        if (out(i * step) > out(best * step)) best = i;
    double lo = (best - 1) * step, hi = (best + 1) * step;
    for (int i = 0; i < 60; ++i) {
        const double third = (hi - lo) / 3.0;
        if (out(lo + third) < out(hi - third))
            lo += third;
        else
            hi -= third;
    }
    const double a = (lo + hi) / 2.0;
    return {out(a), at(a)};
}

/// The driver's body in the bore: circles of its profile as far as they lie over the seat.
Status plan_body(const RingRequest& request, RingPlan& plan, Webs& webs) {
    const auto body = driver_body({.driver = request.driver, .centre = plan.front.point, .turn = {}}, plan.front, 0.0);
    if (!body) {
        plan.notes.push_back("driver: mounting_depth is not given: its body was not held against the bore");
        return Done{};
    }
    constexpr double kStep_mm = 0.25;
    constexpr int kPlaces = 360;
    const Frame front = space::box_frame(plan.front, request.up);
    double farthest = 0.0;
    Point3 at = plan.front.point;
    for (std::size_t i = 0; i + 2 < body->profile.size(); ++i) {
        const auto [r0, h0] = body->profile[i];
        const auto [r1, h1] = body->profile[i + 1];
        const int steps = std::max(1, static_cast<int>(std::ceil((h1 - h0) / kStep_mm)));
        for (int k = 0; k <= steps; ++k) {
            const double share = static_cast<double>(k) / steps, r = r0 + share * (r1 - r0);
            const double h = h0 + share * (h1 - h0);
            for (int j = 0; j < kPlaces; ++j) {
                const double a = 2.0 * std::numbers::pi * j / kPlaces;
                const Point3 p = front.to_parent({r * std::sin(a), h, r * std::cos(a)});
                if (plan.seat.to_local(p).z < 0.0) continue;
                if (const double off = plan.bore.line.beside(p); off > farthest) farthest = off, at = p;
            }
        }
    }
    return webs.keep("the driver's body and the bore's wall", plan.bore.radius_mm - farthest, 0.0, at,
                     "a larger bore, or bore = \"driver\"");
}

/// The bore, and that it leaves a wall at both its mouths; the flange, and that it lies on the front and covers the
/// bore.
Status plan_bore(const RingRequest& request, RingPlan& plan, Webs& webs) {
    const double wall = least_wall(request.make.method).mm();
    const double radius = request.bore_diameter.value_or(request.driver.cutout_diameter).mm() / 2.0;
    const double cutout = request.driver.cutout_diameter.mm() / 2.0, flange = request.driver.flange_diameter.mm() / 2.0;
    const double c = std::cos(request.tilt.rad()), s = std::sin(request.tilt.rad());
    const Point3 centre = plan.seat.to_local(plan.front.point);
    const bool on_driver = request.bore == RingRequest::Bore::Driver;
    const Vec3 axis = on_driver ? Vec3{s, 0, c} : Vec3{0, 0, 1};  // seat's frame
    const Vec3 along = on_driver ? Vec3{c, 0, -s} : Vec3{1, 0, 0};
    if (radius < cutout - kSame_mm)
        return bad(fmt::format("the bore's diameter is {} mm, the driver's cut-out wants {}",
                               plain_number(2.0 * radius), plain_number(2.0 * cutout)),
                   "leave the bore's diameter out: it is then that of the cut-out", plan.front.point);

    const double height = centre.z / axis.z;  // along the axis
    plan.bore = {.name = "the bore",
                 .line = bolt_line(plan.front.point, plan.seat.dir_to_parent(axis), {}),
                 .radius_mm = radius,
                 .from_mm = 0.0,
                 .to_mm = height};
    plan.bore.tool_from_mm = -radius * plan.slope - kPast_mm;
    plan.bore.tool_to_mm = height + radius * plan.slope + kPast_mm;
    plan.bore_mm3 = std::numbers::pi * radius * radius * height;

    const auto side = [&](double a) {
        return centre + along * (radius * std::cos(a)) + Vec3{0, radius * std::sin(a), 0};
    };
    const auto in_seat = [&](double a) {
        const Point3 p = side(a);
        return p - axis * (p.z / axis.z);
    };
    const auto in_front = [&](double a) {
        const Point3 p = side(a);
        return p - axis * ((p.z - plan.front_over(p)) / (axis.z + axis.x * plan.slope));
    };
    const std::string hint = "a larger seat, a smaller bore or less shift";
    const auto [out_seat, at_seat] = farthest_out(in_seat);
    GAPWRIGHT_CHECK(webs.keep("the bore and the outside, at the seat,", plan.outside_mm - out_seat, wall,
                              plan.seat.to_parent(at_seat), hint));
    const auto [out_front, at_front] = farthest_out(in_front);
    GAPWRIGHT_CHECK(webs.keep("the bore and the outside, at the front face,", plan.outside_mm - out_front, wall,
                              plan.seat.to_parent(at_front), hint));

    const auto rim = [&](double a) {
        return centre + Vec3{c, 0, -s} * (flange * std::cos(a)) + Vec3{0, flange * std::sin(a), 0};
    };
    const auto [out_flange, at_flange] = farthest_out(rim);
    GAPWRIGHT_CHECK(webs.keep("the flange's edge and the outside", plan.outside_mm - out_flange, 0.0,
                              plan.seat.to_parent(at_flange), "a larger seat, or the driver nearer to its middle"));
    GAPWRIGHT_CHECK(plan_body(request, plan, webs));
    // The mouth of a bore square to the seat is longer down the slope.
    const double mouth = on_driver ? radius : radius / c;
    return webs.keep("the flange's edge and the bore's mouth", flange - mouth, kCover_mm, plan.front.point,
                     on_driver ? "a smaller bore" : "bore = \"driver\", whose mouth is round, or less tilt");
}

Status plan_screws(const RingRequest& request, RingPlan& plan, Webs& webs) {
    const sound::Driver& driver = request.driver;
    if (!driver.bolt_circle || driver.bolt_count <= 0 || driver.bolt_thread.empty()) {
        plan.notes.push_back("driver: bolt_circle, bolt_count or bolt_thread is not given: no screw holes were made");
        return Done{};
    }
    GAPWRIGHT_TRY(grip, grip_of(driver.bolt_thread, request.material, request.inserts, request.own_threads));
    GAPWRIGHT_TRY(thread, fixings::find_thread(driver.bolt_thread, request.own_threads));
    const double wall = least_wall(request.make.method).mm();
    const double beside = grip.has_insert ? std::max(wall, thread.insert_wall_mm) : wall;
    const double circle = driver.bolt_circle->mm() / 2.0, radius = grip.hole_mm / 2.0;
    const Frame front = space::box_frame(plan.front, request.up);
    for (int i = 0; i < driver.bolt_count; ++i) {
        const double a = request.turn.rad() + 2.0 * std::numbers::pi * i / driver.bolt_count;
        RingCut hole{.name = fmt::format("driver screw {}", i + 1),
                     .line = bolt_line(front.to_parent({circle * std::sin(a), 0.0, circle * std::cos(a)}),
                                       plan.front.outward, {}),
                     .radius_mm = radius,
                     .from_mm = 0.0,
                     .to_mm = grip.depth_mm,
                     .tool_from_mm = -kPast_mm,
                     .tool_to_mm = grip.depth_mm};
        const std::string turn = "another turn of the driver's bolt circle, a shorter thread or a higher ring";
        const Point3 end = hole.line.at(hole.to_mm);
        GAPWRIGHT_CHECK(webs.keep(hole.name + " and the seat under it",
                                  plan.seat.to_local(end).z - radius * std::sin(request.tilt.rad()), kUnderBlindHole_mm,
                                  end, turn));
        GAPWRIGHT_CHECK(webs.keep_outside(hole, beside, turn));
        GAPWRIGHT_CHECK(webs.keep(hole, plan.bore, beside, "check bolt_circle and cutout_diameter of the driver"));
        if (const double left = driver.flange_diameter.mm() / 2.0 - circle - radius; left < 0.0)
            return impossible(
                fmt::format("ring: {} reaches {:.2f} mm past the flange, wanted under it", hole.name, -left),
                "check bolt_circle and flange_diameter of the driver", hole.line.point);
        for (const RingCut& other : plan.screws)
            GAPWRIGHT_CHECK(webs.keep(other, hole, beside, "check bolt_circle and bolt_count of the driver"));
        plan.screws.push_back(hole);
    }
    plan.notes.push_back(fmt::format("driver: {} {} {} of {} mm, {} mm deep along the driver's axis", driver.bolt_count,
                                     driver.bolt_thread,
                                     grip.has_insert ? "heat-set insert pilots" : "tap-drill pilots",
                                     plain_number(grip.hole_mm), plain_number(grip.depth_mm)));
    return Done{};
}

/// One bolt into the vehicle: a clearance hole, and where asked a round recess for head and washer.
Status plan_bolt(const RingRequest& request, const RingBolt& bolt, RingPlan& plan, Webs& webs) {
    GAPWRIGHT_TRY(thread, fixings::find_thread(bolt.thread, request.own_threads));
    const double wall = least_wall(request.make.method).mm(), slope = plan.slope;
    const std::string name = fmt::format("vehicle bolt \"{}\"", bolt.name);
    Point3 local = plan.seat.to_local(bolt.point);
    local.z = 0.0;
    const double over = plan.front_over(local), radius = thread.hole_medium_mm / 2.0;
    const double head = std::max(thread.washer_outside_mm, thread.socket.diameter_mm) / 2.0 + 0.5;
    const double head_height = thread.washer_thickness_mm + thread.socket.height_mm;
    const std::string move = "move it, or turn the pattern";
    RingCut hole{.name = name,
                 .line = bolt_line(plan.seat.to_parent(local), -plan.seat.z, {}),
                 .radius_mm = radius,
                 .from_mm = 0.0,
                 .to_mm = bolt.under_head ? bolt.under_head->mm() : over,
                 .tool_from_mm = -kPast_mm};
    hole.tool_to_mm = (bolt.under_head ? hole.to_mm : over + radius * slope) + kPast_mm;
    std::vector<RingCut> cuts{hole};
    if (bolt.under_head) {
        const double under = bolt.under_head->mm();
        GAPWRIGHT_CHECK(webs.keep(name + "'s head and the seat", under, wall, hole.line.point, "give more under_head"));
        GAPWRIGHT_CHECK(webs.keep(name + "'s seat and the front face over it", over - head * slope - under, head_height,
                                  hole.line.at(under), "the head is to be sunk: less under_head, or a higher ring"));
        cuts.push_back({.name = name + "'s head",
                        .line = hole.line,
                        .radius_mm = head,
                        .from_mm = under,
                        .to_mm = over,
                        .tool_from_mm = under,
                        .tool_to_mm = over + head * slope + kPast_mm});
    } else {
        if (request.tilt.rad() > 0.0)
            return impossible(fmt::format("ring: {} has no level seat for its head on a face tilted by {} deg", name,
                                          plain_number(request.tilt.deg())),
                              "give under_head, the material left under the head, which is then sunk",
                              hole.line.at(over));
        const double beside = distance(hole.line.at(over), plan.front.point);
        GAPWRIGHT_CHECK(webs.keep(name + "'s head and the driver's flange",
                                  beside - head - request.driver.flange_diameter.mm() / 2.0, 0.0, hole.line.at(over),
                                  "give under_head, the material left under the head, which is then sunk"));
    }
    const double to_edge = std::max(wall, kEdgePerHole * 2.0 * radius - radius);
    for (const RingCut& cut : cuts) {
        const double wanted = &cut == &cuts.front() ? to_edge : wall;
        GAPWRIGHT_CHECK(webs.keep_outside(cut, wanted, move));
        GAPWRIGHT_CHECK(webs.keep(cut, plan.bore, wanted, move));
        double beside = wall;
        if (!plan.screws.empty()) {
            GAPWRIGHT_TRY(screw, fixings::find_thread(request.driver.bolt_thread, request.own_threads));
            GAPWRIGHT_TRY(grip,
                          grip_of(request.driver.bolt_thread, request.material, request.inserts, request.own_threads));
            if (grip.has_insert) beside = std::max(wall, screw.insert_wall_mm);
        }
        for (const RingCut& screw : plan.screws) GAPWRIGHT_CHECK(webs.keep(screw, cut, beside, move));
        for (const auto& other : plan.bolts)
            for (const RingCut& its : other) GAPWRIGHT_CHECK(webs.keep(its, cut, wall, move));
    }
    plan.bolts.push_back(std::move(cuts));
    return Done{};
}

}  // namespace

Result<RingPlan> plan_ring(const RingRequest& request) {
    GAPWRIGHT_CHECK(check_numbers(request));
    GAPWRIGHT_TRY(seat, seat_frame(request));
    RingPlan plan;
    plan.seat = seat;
    plan.slope = std::tan(request.tilt.rad());
    plan.outside_mm = request.seat.outside_diameter.mm() / 2.0;
    plan.middle_mm = request.height.mm() + plan.outside_mm * plan.slope;
    plan.most_mm = request.height.mm() + 2.0 * plan.outside_mm * plan.slope;
    Point3 centre = seat.dir_to_local(request.shift);
    centre.z = plan.front_over(centre);
    plan.front = {seat.to_parent(centre),
                  seat.dir_to_parent({std::sin(request.tilt.rad()), 0.0, std::cos(request.tilt.rad())})};

    Webs webs(plan);
    GAPWRIGHT_CHECK(webs.keep("the front face and the seat, on the thin side,", request.height.mm(),
                              least_wall(request.make.method).mm(),
                              seat.to_parent({plan.outside_mm, 0.0, request.height.mm()}), "give more height"));
    GAPWRIGHT_CHECK(plan_bore(request, plan, webs));
    GAPWRIGHT_CHECK(plan_screws(request, plan, webs));
    for (const RingBolt& bolt : request.bolts) GAPWRIGHT_CHECK(plan_bolt(request, bolt, plan, webs));
    return plan;
}

}  // namespace geom::parts
