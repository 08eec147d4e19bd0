// The shape of a ring: heights, front face, bore, flare, and the rules that need no model.
#include "geom/parts/internal/ring_plan.h"

#include "geom/core/text.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;        // of a tool past the face it goes through
constexpr double kCover_mm = 3.0;       // of the flange over the bore's mouth
constexpr double kRecessPlay_mm = 0.5;  // round a flange that is let in [common practice]
constexpr double kSame_mm = 1e-9;
constexpr double kMostTilt_deg = 45.0;
constexpr double kChord_mm = 0.005;  // how well outlines are followed where no closed form holds
constexpr double kMostFlare_mm = 30.0, kFlareStep_mm = 0.5;

Fault bad(std::string what, std::string hint, std::optional<Point3> at = {}) {
    return {FaultCode::BadJob, "ring: " + std::move(what), std::move(hint), at, "part"};
}

Status positive(const char* what, Length length) {
    if (std::isfinite(length.mm()) && length.mm() > 0.0) return Done{};
    return bad(fmt::format("{} is {} mm, wanted more than 0", what, plain_number(length.mm())), {});
}

Status check_outline(const char* what, const RingOutline& outline) {
    if (outline.kind != RingOutline::Kind::Path) {
        GAPWRIGHT_CHECK(positive(what, outline.width));
        GAPWRIGHT_CHECK(positive(what, outline.height));
    }
    if (is_seen_from_origin(outline)) return Done{};
    return bad(fmt::format("{} does not go round its middle, or turns back on itself seen from there", what),
               "put its middle (the seat's centre, or the driver's) where all of the outline is seen from");
}

Status check_numbers(const RingRequest& request) {
    GAPWRIGHT_CHECK(check_outline("the seat's outside", request.seat.outside));
    if (request.seat.opening) GAPWRIGHT_CHECK(check_outline("the seat's opening", *request.seat.opening));
    if (request.front) GAPWRIGHT_CHECK(check_outline("the front's outline", *request.front));
    if (request.bore_outline) GAPWRIGHT_CHECK(check_outline("the bore's outline", *request.bore_outline));
    if (request.flange_outline) GAPWRIGHT_CHECK(check_outline("the flange's outline", *request.flange_outline));
    GAPWRIGHT_CHECK(positive("height", request.height));
    GAPWRIGHT_CHECK(positive("the driver's cutout_diameter", request.driver.cutout_diameter));
    GAPWRIGHT_CHECK(positive("the driver's flange_diameter", request.driver.flange_diameter));
    if (request.bore_diameter) GAPWRIGHT_CHECK(positive("the bore's diameter", *request.bore_diameter));
    if (request.flare) GAPWRIGHT_CHECK(positive("the flare", request.flare->size));
    if (request.lip) GAPWRIGHT_CHECK(positive("the lip's height", request.lip->height));
    if (request.rain_lip) GAPWRIGHT_CHECK(positive("the rain lip's length", request.rain_lip->length));
    for (const RingGroove& groove : request.grooves) GAPWRIGHT_CHECK(positive("a groove's cord", groove.cord));
    for (const RingBolt& bolt : request.bolts)
        if (bolt.under_head) GAPWRIGHT_CHECK(positive("under_head", *bolt.under_head));
    if (request.step) {
        GAPWRIGHT_CHECK(check_outline("the step's outside", request.step->outside));
        GAPWRIGHT_CHECK(positive("the step's height", request.step->height));
        if (request.front) return bad("has a step and a front outline; wanted one of them", "take one of them out");
        if (request.step->height.mm() >= request.height.mm())
            return bad(
                fmt::format("the step is {} mm over the seat, not under the front face, which comes down to {} mm",
                            plain_number(request.step->height.mm()), plain_number(request.height.mm())),
                "less height of the step, or more height of the ring");
    }
    if (request.lip && !request.seat.opening)
        return bad("has a lip and no opening for it", "give the seat's opening; the lip fits into it with its play");
    using Bore = RingRequest::Bore;
    if (request.bore == Bore::Opening && !request.seat.opening)
        return bad("is bored to the opening, and there is none", "give the seat's opening, or another bore");
    if (request.bore == Bore::Opening && (request.lip || request.flare || request.rain_lip || request.bore_outline))
        return bad("is bored to the opening and has a lip, a flare, a rain lip or an outline of its bore too",
                   "bore it about the driver's axis, or leave those out");
    const double tilt = request.tilt.deg();
    if (!(tilt >= 0.0 && tilt <= kMostTilt_deg))
        return bad(fmt::format("tilt is {} deg, wanted 0 to {}", plain_number(tilt), plain_number(kMostTilt_deg)),
                   "turn tilt_towards round rather than give a negative tilt");
    if (request.flare && request.flare->kind == RingFlare::Kind::Round && tilt > 0.0 && request.bore == Bore::Driver)
        return bad("has a round flare on a bore that is not square to the seat",
                   "a chamfer, or a bore about the seat's axis");
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

/// The part of a direction that lies in an outline's plane, as the outline sees it.
Point2 seen(const Frame& view, Vec3 direction) {
    return {dot(direction, view.x), dot(direction, view.z)};
}

/// Heights of the front face: `height` over the outline where it is lowest.
void lay_front(const RingRequest& request, RingShape& shape) {
    const double tilt = request.tilt.rad(), height = request.height.mm();
    shape.slope = std::tan(tilt);
    Point3 centre = shape.seat.dir_to_local(request.shift);
    const Vec3 way = shape.seat.x, normal = shape.seat.dir_to_parent({std::sin(tilt), 0.0, std::cos(tilt)});
    if (request.front) {
        const Frame view = space::box_frame({shape.seat.origin, normal}, request.up);
        const Vec3 down = shape.seat.dir_to_parent({std::cos(tilt), 0.0, -std::sin(tilt)});
        const double fall = extent(*request.front, seen(view, down)), rise = extent(*request.front, seen(view, -down));
        const double over = height + fall * std::sin(tilt);
        shape.middle_mm = over + centre.x * shape.slope;
        shape.most_mm = over + rise * std::sin(tilt);
    } else {
        const RingOutline& outside = request.step ? request.step->outside : request.seat.outside;
        const double low = extent(outside, seen(shape.view, way)), high = extent(outside, seen(shape.view, -way));
        shape.middle_mm = height + low * shape.slope;
        shape.most_mm = shape.middle_mm + high * shape.slope;
        if (outside.kind == RingOutline::Kind::Round && !request.step) shape.outside_mm = outside.width.mm() / 2.0;
    }
    centre.z = shape.front_over(centre);
    shape.front = {shape.seat.to_parent(centre), normal};
    shape.front_view = space::box_frame(shape.front, request.up);
    shape.recess_mm = request.recess.value_or(request.driver.recess.value_or(Length())).mm();
    shape.recess_radius_mm = request.driver.flange_diameter.mm() / 2.0 + kRecessPlay_mm;
    shape.rest = {shape.front.point - normal * shape.recess_mm, normal};
}

/// The front face's edge, as the front's view sees it.
Outline front_edge(const RingRequest& request, const RingShape& shape) {
    if (request.front) return Outline(loop_of(*request.front, kChord_mm));
    Loop loop = loop_of(request.step ? request.step->outside : request.seat.outside, kChord_mm);
    for (Point2& p : loop) {
        Point3 local = shape.seat.to_local(shape.view.to_parent({p.x, 0.0, p.y}));
        local.z = shape.front_over(local);
        const Point3 q = shape.front_view.to_local(shape.seat.to_parent(local));
        p = {q.x, q.z};
    }
    return Outline(std::move(loop));
}

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

/// The driver's body in a round bore: circles of its profile as far as they lie over the seat.
Status hold_body(const RingRequest& request, const RingShape& shape, Webs& webs) {
    constexpr double kStep_mm = 0.25;
    constexpr int kPlaces = 360;
    const auto& profile = shape.body->profile;
    const Frame rest = space::box_frame(shape.rest, request.up);
    double farthest = 0.0;
    Point3 at = shape.rest.point;
    for (std::size_t i = 0; i + 2 < profile.size(); ++i) {
        const auto [r0, h0] = profile[i];
        const auto [r1, h1] = profile[i + 1];
        const int steps = std::max(1, static_cast<int>(std::ceil((h1 - h0) / kStep_mm)));
        for (int k = 0; k <= steps; ++k) {
            const double share = static_cast<double>(k) / steps, r = r0 + share * (r1 - r0);
            const double h = h0 + share * (h1 - h0);
            for (int j = 0; j < kPlaces; ++j) {
                const double a = 2.0 * std::numbers::pi * j / kPlaces;
                const Point3 p = rest.to_parent({r * std::sin(a), h, r * std::cos(a)});
                if (shape.seat.to_local(p).z < -shape.below_mm) continue;
                if (const double off = shape.bore.line.beside(p); off > farthest) farthest = off, at = p;
            }
        }
    }
    return webs.keep("the driver's body and the bore's wall", shape.bore.radius_mm - farthest, 0.0, at,
                     "a larger bore, or bore = \"driver\"");
}

double behind_seat(const RingRequest& request) {
    double below = 0.0;
    if (request.lip) below = std::max(below, request.lip->height.mm());
    if (request.rain_lip) below = std::max(below, request.rain_lip->length.mm());
    if (request.foot) below = std::max(below, -request.foot_lowest_mm) + kPast_mm;
    return below;
}

/// A round bore; of any other only its axis.
Status lay_bore(const RingRequest& request, RingShape& shape) {
    const double radius = request.bore_diameter.value_or(request.driver.cutout_diameter).mm() / 2.0;
    const double cutout = request.driver.cutout_diameter.mm() / 2.0;
    const double c = std::cos(request.tilt.rad()), s = std::sin(request.tilt.rad());
    const bool is_square = request.bore == RingRequest::Bore::Seat;
    const Vec3 axis = is_square ? Vec3{0, 0, 1} : Vec3{s, 0, c};  // seat's frame
    shape.has_round_bore = !request.bore_outline && request.bore != RingRequest::Bore::Opening;
    if (shape.has_round_bore && radius < cutout - kSame_mm)
        return bad(fmt::format("the bore's diameter is {} mm, the driver's cut-out wants {}",
                               plain_number(2.0 * radius), plain_number(2.0 * cutout)),
                   "leave the bore's diameter out: it is then that of the cut-out", shape.rest.point);
    const double height = shape.seat.to_local(shape.rest.point).z / axis.z;  // along the axis
    if (height <= 0.0)
        return impossible(fmt::format("ring: the recess of {} mm for the flange leaves nothing over the seat, wanted "
                                      "more than 0 on the driver's axis",
                                      plain_number(shape.recess_mm)),
                          "more height, or less recess", shape.rest.point);
    const double wide = request.bore_outline ? reach(*request.bore_outline, kChord_mm) : radius;
    shape.bore = {.name = "the bore",
                  .line = bolt_line(shape.rest.point, shape.seat.dir_to_parent(axis), {}),
                  .radius_mm = shape.has_round_bore ? radius : 0.0,
                  .from_mm = 0.0,
                  .to_mm = height};
    shape.bore.tool_from_mm = -wide * shape.slope - kPast_mm - shape.recess_mm / axis.z;
    shape.bore.tool_to_mm = height + wide * shape.slope + kPast_mm + shape.below_mm / axis.z;
    shape.mouth = shape.bore.line.at(height);
    shape.mouth_mm = is_square ? wide : wide / c;
    return Done{};
}

/// A bore keeps its wall at both its mouths where it and the outside are cylinders; the flange lies on the front, and
/// covers the bore's mouth.
Status hold_bore(const RingRequest& request, RingShape& shape, Webs& webs) {
    const double wall = least_wall(request.make.method).mm(), radius = shape.bore.radius_mm;
    const double flange = request.driver.flange_diameter.mm() / 2.0;
    const double c = std::cos(request.tilt.rad()), s = std::sin(request.tilt.rad());
    const bool on_driver = request.bore != RingRequest::Bore::Seat;
    const Point3 centre = shape.seat.to_local(shape.rest.point);
    if (shape.has_round_bore && shape.outside_mm > 0.0) {
        const Vec3 axis = shape.seat.dir_to_local(-shape.bore.line.up);
        const Vec3 along = on_driver ? Vec3{c, 0, -s} : Vec3{1, 0, 0};
        const auto side = [&](double a) {
            return centre + along * (radius * std::cos(a)) + Vec3{0, radius * std::sin(a), 0};
        };
        const auto in_seat = [&](double a) {
            const Point3 p = side(a);
            return p - axis * (p.z / axis.z);
        };
        const auto in_front = [&](double a) {
            const Point3 p = side(a);
            return p - axis * ((p.z - shape.front_over(p)) / (axis.z + axis.x * shape.slope));
        };
        const std::string hint = "a larger seat, a smaller bore or less shift";
        const auto [out_seat, at_seat] = farthest_out(in_seat);
        GAPWRIGHT_CHECK(webs.keep("the bore and the outside, at the seat,", shape.outside_mm - out_seat, wall,
                                  shape.seat.to_parent(at_seat), hint));
        const auto [out_front, at_front] = farthest_out(in_front);
        GAPWRIGHT_CHECK(webs.keep("the bore and the outside, at the front face,", shape.outside_mm - out_front, wall,
                                  shape.seat.to_parent(at_front), hint));
    }
    const std::string larger = "a larger seat, or the driver nearer to its middle";
    if (request.flange_outline) {
        const Outline edge = front_edge(request, shape);
        double least = 1e300;
        Point2 at;
        for (const Point2 p : loop_of(*request.flange_outline, kChord_mm))
            if (const double depth = edge.depth(p); depth < least) least = depth, at = p;
        GAPWRIGHT_CHECK(webs.keep("the flange's edge and the outside", least - 2.0 * kChord_mm, 0.0,
                                  shape.front_view.to_parent({at.x, 0.0, at.y}), larger));
    } else if (shape.outside_mm > 0.0 && shape.recess_mm <= 0.0) {
        const auto rim = [&](double a) {
            return centre + Vec3{c, 0, -s} * (flange * std::cos(a)) + Vec3{0, flange * std::sin(a), 0};
        };
        const auto [out_flange, at_flange] = farthest_out(rim);
        GAPWRIGHT_CHECK(webs.keep("the flange's edge and the outside", shape.outside_mm - out_flange, 0.0,
                                  shape.seat.to_parent(at_flange), larger));
    } else {
        const Outline edge = front_edge(request, shape);
        const bool is_let_in = shape.recess_mm > 0.0;
        const double left = edge.depth({0, 0}) - kChord_mm - (is_let_in ? shape.recess_radius_mm : flange);
        const Point2 at = edge.nearest({0, 0}).at;
        GAPWRIGHT_CHECK(
            webs.keep(is_let_in ? "the flange's recess and the outside" : "the flange's edge and the outside", left,
                      is_let_in ? wall : 0.0, shape.front_view.to_parent({at.x, 0.0, at.y}), larger));
    }
    if (!shape.has_round_bore) return Done{};
    // The mouth of a bore square to the seat is longer down the slope.
    const double mouth = on_driver ? radius : radius / c;
    return webs.keep("the flange's edge and the bore's mouth", flange - mouth, kCover_mm, shape.rest.point,
                     on_driver ? "a smaller bore" : "bore = \"driver\", whose mouth is round, or less tilt");
}

/// Radius of the bore, flared, at a height over the seat.
double open_radius(const RingShape& shape, double flare_mm, const RingFlare& flare, double over_seat) {
    const double r = shape.bore.radius_mm;
    if (flare_mm <= 0.0) return r;
    if (flare.kind == RingFlare::Kind::Chamfer)
        return r + std::max(0.0, flare_mm - over_seat * std::tan(flare.from_axis.rad()));
    const double in = std::min(over_seat, flare_mm);
    return r + flare_mm - std::sqrt(std::max(0.0, flare_mm * flare_mm - (flare_mm - in) * (flare_mm - in)));
}

/// Where the way for the air is narrowest, with a flare of this size.
FreeArea free_area(const RingRequest& request, const RingShape& shape, double flare_mm, const RingFlare& flare) {
    constexpr int kPlaces = 64;
    const double cone = request.driver.sd->mm2();
    const auto& profile = shape.body->profile;
    const double basket = profile[0][0], magnet_at = profile[1][1];
    const auto body_radius = [&](double depth) {
        for (std::size_t i = 0; i + 2 < profile.size(); ++i)
            if (depth >= profile[i][1] && depth <= profile[i + 1][1] && profile[i + 1][1] > profile[i][1])
                return profile[i][0] + (depth - profile[i][1]) / (profile[i + 1][1] - profile[i][1]) *
                                           (profile[i + 1][0] - profile[i][0]);
        return depth > profile[2][1] ? 0.0 : basket;
    };
    FreeArea least{.share = 1e300};
    const double height = shape.bore.to_mm;  // along the bore, of which the driver's axis leaves by the tilt at most
    for (int i = 1; i <= kPlaces; ++i) {
        const double depth = height * i / kPlaces, rb = body_radius(depth);
        const double r = open_radius(shape, flare_mm, flare, height - depth);
        const double before = depth >= magnet_at ? 1.0 : 1.0 - rb * rb / (basket * basket);
        if (before < 0.02) continue;  // next to nothing of the cone lies before it
        const double open = std::numbers::pi * (r * r - rb * rb);
        if (const double share = open / (before * cone); share < least.share)
            least = {open, before * cone, share, shape.rest.point - shape.rest.outward * depth};
    }
    if (request.seat.opening) {
        const double open = area_mm2(*request.seat.opening) - std::numbers::pi * std::pow(body_radius(height), 2);
        if (open / cone < least.share && height >= magnet_at) least = {open, cone, open / cone, shape.mouth};
    }
    return least;
}

/// The flare as asked, or as wide as the asked free area wants it.
Status lay_flare(const RingRequest& request, RingShape& shape) {
    RingFlare flare = request.flare.value_or(RingFlare{});
    double size = request.flare ? flare.size.mm() : 0.0;
    const bool can_tell = request.driver.sd && shape.body && shape.has_round_bore;
    if (request.free_area && !can_tell)
        return bad("free_area is asked, and what the driver's file gives does not say how open its way is",
                   "give the driver's sd and mounting_depth, and a round bore, or leave free_area out");
    if (can_tell) {
        FreeArea area = free_area(request, shape, size, flare);
        if (request.free_area && !request.flare)
            while (area.share < *request.free_area && size < kMostFlare_mm &&
                   shape.bore.radius_mm + size < shape.seat.to_local(shape.rest.point).z + shape.bore.radius_mm) {
                size += kFlareStep_mm;
                area = free_area(request, shape, size, flare);
            }
        if (request.free_area && area.share < *request.free_area - kSame_mm)
            return impossible(fmt::format("ring: behind the cone {:.0f} % of its area stay open{}, wanted {:.0f} %",
                                          100.0 * area.share,
                                          size > 0.0 ? fmt::format(" with a chamfer of {} mm", plain_number(size)) : "",
                                          100.0 * *request.free_area),
                              "a larger bore_diameter, a lower ring, or a driver with a smaller magnet", area.at);
        if (area.share < 1e299) shape.free_area = area;
        if (size > 0.0 && !request.flare)
            shape.notes.push_back(
                fmt::format("bore: its back edge is chamfered by {} mm, so that {:.0f} % of the cone's "
                            "area stay open behind it",
                            plain_number(size), 100.0 * area.share));
    } else if (shape.has_round_bore) {
        shape.notes.push_back(
            "bore: the driver's sd or mounting_depth is not given: how open the way behind the cone is "
            "was not judged");
    }
    shape.flare_mm = size;
    if (size <= 0.0) return Done{};
    if (flare.kind == RingFlare::Kind::Round) {
        shape.flare_round_mm = size;
    } else {
        const double t = std::tan(flare.from_axis.rad()), wide = shape.mouth_mm + size;
        // From the seat inward until it has gone into the bore on every side.
        const double inner = shape.bore.radius_mm * 0.9, depth = (wide - inner) / t;
        if (!(t > 0.05 && t < 20.0))
            return bad(fmt::format("the chamfer stands {} deg from the axis, wanted 5 to 85",
                                   plain_number(flare.from_axis.deg())),
                       "45 deg is usual");
        shape.flare = RingCut{.name = "the chamfer",
                              .line = bolt_line(shape.mouth, shape.seat.z, {}),
                              .radius_mm = wide,
                              .from_mm = -depth,
                              .to_mm = 0.0,
                              .tool_from_mm = -depth,
                              .tool_to_mm = kPast_mm,
                              .cone_mm = inner};
    }
    shape.mouth_mm += size;
    return Done{};
}

}  // namespace

Result<RingShape> plan_ring_shape(const RingRequest& request) {
    GAPWRIGHT_CHECK(check_numbers(request));
    RingShape shape;
    GAPWRIGHT_TRY(seat, seat_frame(request));
    shape.seat = seat;
    shape.view = space::box_frame({seat.origin, seat.z}, request.up);
    shape.below_mm = behind_seat(request);
    lay_front(request, shape);
    shape.body = driver_body({.driver = request.driver, .centre = shape.rest.point, .turn = {}}, shape.rest, 0.0);

    Webs webs;
    const double wall = least_wall(request.make.method).mm();
    const Point3 thin =
        seat.origin + seat.x * extent(request.seat.outside, seen(shape.view, seat.x)) + seat.z * request.height.mm();
    const double skin = request.foot ? std::max(0.0, request.foot_highest_mm) : 0.0;
    GAPWRIGHT_CHECK(webs.keep("the front face and the seat, on the thin side,", request.height.mm() - skin, wall, thin,
                              "give more height"));
    GAPWRIGHT_CHECK(lay_bore(request, shape));
    GAPWRIGHT_CHECK(hold_bore(request, shape, webs));
    if (!shape.body)
        shape.notes.push_back("driver: mounting_depth is not given: its body was not held against the bore");
    else if (shape.has_round_bore)
        GAPWRIGHT_CHECK(hold_body(request, shape, webs));
    if (shape.body && (request.bore_outline || request.flange_outline))
        shape.notes.push_back(
            fmt::format("driver: its body is taken as round, {:.0f} mm across at the flange; look at "
                        "the long ends of an oval one yourself",
                        2.0 * shape.body->profile[0][0]));
    GAPWRIGHT_CHECK(lay_flare(request, shape));
    shape.webs = std::move(webs.kept);
    return shape;
}

}  // namespace geom::parts
