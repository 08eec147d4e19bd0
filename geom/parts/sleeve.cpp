// All heights are roots of the field along the bolt's line and along lines beside it: where the skin begins and ends
// over the pad, the tube, the head's recess and the solid round that. The kernel then gets cylinders only: pad onto the
// outer body, bore and recess out of it, tube and step out of the air.
//
// Seat    A plane face square to the bolt is the seat as it is. Anywhere else it is spot-faced, lower than the lowest
//         place of the skin under it by more than skin and field differ; head and washer are let in where they would
//         stand in the clearance.
// Sliver  Where tube or step stand nearer to a side wall than the tube is thick, or 4 mm, the air between is filled;
//         the profile goes on straight to within the wall. Walls on more than two sides, or opposite ones, are refused.
#include "geom/parts/internal/sleeve.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"
#include "geom/parts/internal/vehicle_face.h"

#include <fmt/format.h>
#include <BRepAdaptor_Surface.hxx>
#include <gp_Pln.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr double kFarthest_mm = 1500.0;
constexpr double kThroughBaffle = 0.866;  // cosine of the most that a bolt may lean in the baffle
constexpr double kLongestPad_d = 12.0;    // bolt diameters; a longer column is none
constexpr double kOver_mm = 0.5;          // of the pad over the edge distance
constexpr double kInside_mm = 1.0;        // of all the pad's end within the box
constexpr double kMostRise_mm = 30.0;     // from where the line meets the box to there
constexpr double kSpotFace_mm = 0.5;      // under the lowest place of a skin that is not plane
constexpr double kFlat_mm = 0.1;          // by the field, where the kernel has a plane
constexpr double kClearSlack_mm = 0.3;    // noise of samples on a face that is itself the clearance away
constexpr double kSmooth_rad = 0.35;      // a fill towards walls that turn by less is made towards their middle
constexpr double kMostTurn_rad = 1.95;    // between the walls of a corner that is filled
constexpr double kFillOver_mm = 0.3;      // of a fill's radius over the tube's, so that no two faces fall together
constexpr double kIntoWall_mm = 0.6;      // of a fill's end

std::string called(const std::string& name) {
    return "fixing \"" + name + "\"";
}

/// First height from `from` on at which `is_there`; none up to `to`.
template <class F>
std::optional<double> first_height(double from, double to, double step, F&& is_there) {
    double before = from;
    for (double h = from; h <= to; h += step) {
        if (is_there(h)) {
            if (h == from) return h;
            double lo = before, hi = h;
            for (int i = 0; i < 30; ++i) {
                const double mid = (lo + hi) / 2.0;
                (is_there(mid) ? hi : lo) = mid;
            }
            return hi;
        }
        before = h;
    }
    return std::nullopt;
}

/// The skin along lines beside the bolt's own.
class Skin {
public:
    Skin(const Site& site, const BoltLine& line) : site_(site), line_(line), step_(site.room.outer.grid.h_mm / 3.0) {}

    double body_mm(Vec3 offset, double height) const { return site_.body_mm(line_.at(height) + offset); }
    /// From where on the line is `inside_mm` within the body.
    std::optional<double> enters(Vec3 offset, double from, double to, double inside_mm = 0.0) const {
        return first_height(from, to, step_, [&](double h) { return body_mm(offset, h) < -inside_mm; });
    }
    /// `from` where the line is outside there.
    std::optional<double> leaves(Vec3 offset, double from, double to) const {
        return first_height(from, to, step_, [&](double h) { return body_mm(offset, h) > 0.0; });
    }

private:
    const Site& site_;
    const BoltLine& line_;
    double step_;
};

/// Rims from the line out to a radius.
std::vector<RimPlace> disc_of(const BoltLine& line, double radius_mm) {
    std::vector<RimPlace> places{{Vec3{}, line.along}};
    for (const double part : {1.0, 0.5})
        for (const RimPlace& p : rim_of(line, part * radius_mm)) places.push_back(p);
    return places;
}

Fault at_side(const std::string& name, const std::string& what, Point3 where) {
    return impossible(
        fmt::format("{}: {} leaves the box at its side, wanted inside it all the way", called(name), what),
        "move the point farther under the box, or turn the axis", where);
}

/// The plane face of the body that a line leaves by at about `height`, square to it.
std::optional<double> plane_exit(const TopoDS_Solid& outer, const BoltLine& line, double height) {
    for (const TopoDS_Face& face : faces_of(outer)) {
        const BRepAdaptor_Surface surface(face, false);
        if (surface.GetType() != GeomAbs_Plane) continue;
        const gp_Pln plane = surface.Plane();
        if (norm(cross(from_occt(plane.Axis().Direction()), line.up)) > 1e-6) continue;
        const double h = line.height(from_occt(plane.Location()));
        if (std::abs(h - height) < kFlat_mm + 0.2) return h;
    }
    return std::nullopt;
}

/// The line through the box: in at the vehicle's side, out at the far one, never in between.
Status find_way(const Site& site, const Skin& skin, SleevePlan& plan, double d_mm) {
    const std::string who = called(plan.name);
    const Point3 point = plan.line.point;
    if (const double inside = -site.body_mm(point); inside > 0.0)
        return impossible(
            fmt::format("{}: the point lies {:.1f} mm inside the box, wanted on the vehicle's face outside it", who,
                        inside),
            "check the fixing's point", point);
    const auto enters = skin.enters({}, 0.0, kFarthest_mm);
    if (!enters) {
        double nearest = 1e300, at = 0.0;
        for (double h = 0.0; h < kFarthest_mm; h += 2.0)
            if (const double b = skin.body_mm({}, h); b < nearest) nearest = b, at = h;
        return impossible(
            fmt::format("{}: its bolt passes the box {:.0f} mm beside it or more, wanted through it", who, nearest),
            "check point and axis: the axis is the way the bolt goes in, from the box to the vehicle",
            plan.line.at(at));
    }
    plan.enters_mm = *enters;
    if (const double most = kLongestPad_d * d_mm; plan.enters_mm > most)
        return impossible(fmt::format("{}: the box begins {:.0f} mm above the point, wanted at most {}", who,
                                      plan.enters_mm, plain_number(most)),
                          "check point and axis, or stand the box lower there", point);
    const auto leaves = skin.leaves({}, plan.enters_mm + 0.01, kFarthest_mm);
    if (!leaves) return Fault{FaultCode::Internal, who + ": its bolt does not come out of the box", {}, point, "part"};
    plan.leaves_mm = *leaves;
    const auto on_baffle = [&](double h) { return site.depth(plan.line.at(h)) < 0.05; };
    plan.leaves_by_baffle = on_baffle(plan.leaves_mm);
    if (on_baffle(plan.enters_mm))
        return impossible(who + ": its bolt comes out of the baffle towards the vehicle, wanted out of another wall",
                          "turn the axis, or take a foot", plan.line.at(plan.enters_mm));
    if (plan.leaves_by_baffle && site.request.baffle.separate)
        return impossible(who + ": its bolt runs through the separate baffle, wanted through two walls of the shell",
                          "turn the axis along the baffle, take a foot, or make the baffle integral",
                          plan.line.at(plan.leaves_mm));
    if (plan.leaves_by_baffle && dot(plan.line.up, site.outward()) < kThroughBaffle)
        return impossible(who + ": its bolt runs through the baffle at a slant, wanted within 30 degrees of square",
                          "turn the axis", plan.line.at(plan.leaves_mm));
    if (const auto again = skin.enters({}, plan.leaves_mm + 0.1, kFarthest_mm, 0.1))
        return impossible(who + ": its bolt leaves the box and enters it again, wanted one way through",
                          "move the point to where the box is in one piece along the bolt", plan.line.at(*again));
    return Done{};
}

Status plan_pad(const Skin& skin, SleevePlan& plan) {
    plan.pad_top_mm = plan.enters_mm + kInside_mm;
    for (const RimPlace& p : rim_of(plan.line, plan.pad_radius_mm)) {
        const auto inside = skin.enters(p.offset, 0.0, plan.enters_mm + kMostRise_mm, kInside_mm);
        if (!inside)
            return at_side(plan.name, fmt::format("its pad of {} mm", plain_number(2.0 * plan.pad_radius_mm)),
                           plan.line.at(plan.enters_mm) + p.offset);
        plan.pad_top_mm = std::max(plan.pad_top_mm, *inside);
    }
    return Done{};
}

/// Whether head and washer may stand on the skin: they keep the clearance there.
bool may_stand_proud(const Site& site, const SleevePlan& plan, const fixings::HoleShape& flush,
                     const std::vector<Point3>& samples, double seat_mm) {
    if (flush.recess_mm <= 0.0) return true;  // a countersunk head stands nowhere
    const double radius = flush.recess_mm / 2.0, top = seat_mm + flush.recess_depth_mm;
    const auto head = [&](Point3 p) {
        const double h = plan.line.height(p), beside = plan.line.beside(p) - radius;
        const double over = std::max(seat_mm - h, h - top);
        return std::hypot(std::max(beside, 0.0), std::max(over, 0.0)) + std::min(std::max(beside, over), 0.0);
    };
    std::vector<Point3> outside;
    for (const RimPlace& p : rim_of(plan.line, radius)) outside.push_back(plan.line.at(top) + p.offset);
    return tightest(site, samples, head, outside, nullptr).spare_mm > -kClearSlack_mm;
}

/// The seat, its recess and the solid round it.
Status plan_seat(const Site& site, const Skin& skin, const TopoDS_Solid& outer, const Sleeve& sleeve,
                 const fixings::HoleShape& flush, double tool_radius_mm, const std::vector<Point3>& samples,
                 SleevePlan& plan) {
    const std::string who = called(plan.name);
    const double wall = site.request.wall.mm();
    const double radius = std::max(
        {flush.recess_mm / 2.0, flush.sink_mm / 2.0 + kOver_mm, flush.seat_mm / 2.0 + kOver_mm, tool_radius_mm});
    const double start = std::max(plan.pad_top_mm, plan.leaves_mm - 3.0 * radius - 10.0);
    const double farthest = plan.leaves_mm + 3.0 * radius;
    double lowest = 1e300, highest = -1e300;
    for (const RimPlace& p : disc_of(plan.line, radius)) {
        const auto out = skin.leaves(p.offset, start, farthest);
        if (!out || *out <= start)
            return at_side(plan.name, fmt::format("its head's seat of {} mm", plain_number(2.0 * radius)),
                           plan.line.at(plan.leaves_mm) + p.offset);
        lowest = std::min(lowest, *out);
        highest = std::max(highest, *out);
    }
    std::optional<double> plane;
    if (highest - lowest < kFlat_mm) plane = plane_exit(outer, plan.line, (highest + lowest) / 2.0);
    if (plane) lowest = highest = *plane;
    double deep = std::max(plane ? 0.0 : kSpotFace_mm, sleeve.recess.mm());
    if (deep < flush.recess_depth_mm && !may_stand_proud(site, plan, flush, samples, lowest - deep)) {
        deep = flush.recess_depth_mm;
        plan.notes.push_back(fmt::format("{}: head and washer are let in by {} mm, they would stand in the clearance",
                                         who, tenths(deep)));
    }
    plan.seat_mm = lowest - deep;
    plan.air_to_mm = highest + kInside_mm;
    if (const double under = plan.seat_bottom_mm() - plan.enters_mm; under < wall)
        return impossible(fmt::format("{}: its seat leaves {:.1f} mm of the box under it, wanted at least {}", who,
                                      std::max(0.0, under), plain_number(wall)),
                          "make the recess less deep, or take a foot", plan.line.at(plan.seat_mm));
    if (deep > 0.0) {
        plan.recess_radius_mm = radius;
        plan.recess_to_mm = highest + kInside_mm;
        // Under its floor there is the wall all round; a lip that runs out on a slope is none.
        double least = 1e300;
        Point3 where;
        const double under = plan.seat_mm - wall / 2.0;
        for (const RimPlace& p : rim_of(plan.line, radius, 72)) {
            const auto side =
                first_height(0.0, wall, 0.5, [&](double g) { return skin.body_mm(p.offset + p.out * g, under) > 0.0; });
            if (side && *side < least) least = *side, where = plan.line.at(under) + p.offset;
        }
        if (least < wall - 0.2)
            return impossible(fmt::format("{}: its recess of {} mm leaves {:.1f} mm to the side of the box, wanted {}",
                                          who, plain_number(2.0 * radius), least, plain_number(wall)),
                              "move the point farther under the box", where);
    }
    if (deep > 0.0 || plan.bore.sink_mm > 0.0) {
        const double step = (deep > 0.0 ? radius : flush.sink_mm / 2.0) + wall;
        if (step > plan.tube_radius_mm + 0.1) {
            plan.step_radius_mm = step;
            plan.step_from_mm = plan.seat_bottom_mm() - wall;
            // Not in one plane with the baffle's inner face.
            if (std::abs(site.depth(plan.line.at(plan.step_from_mm)) - site.thickness_mm()) < 0.2)
                plan.step_from_mm -= 0.4;
        }
    }
    const double reach = std::max(plan.step_radius_mm, plan.tube_radius_mm);
    for (const RimPlace& p : rim_of(plan.line, reach))
        if (const auto out = skin.leaves(p.offset, start, farthest + reach); out && *out > start)
            plan.air_to_mm = std::max(plan.air_to_mm, *out + kInside_mm);
    for (const RimPlace& p : rim_of(plan.line, reach))
        if (const auto out = skin.leaves(p.offset, start, plan.air_to_mm))
            if (const auto again = skin.enters(p.offset, *out + 0.1, plan.air_to_mm, 0.1))
                return impossible(who + ": over its seat stands another part of the box, wanted nothing there",
                                  "move the point to where the box is in one piece along the bolt",
                                  plan.line.at(*again) + p.offset);
    return Done{};
}

/// All of the tube in the box, clear of baffle and driver.
Status check_tube(const Site& site, const Skin& skin, const BaffleRoom& baffle, const SleevePlan& plan) {
    const std::string who = called(plan.name);
    const double wall = site.request.wall.mm();
    for (double h = plan.pad_top_mm; h < plan.seat_bottom_mm() - wall / 2.0; h += 2.0)
        for (const RimPlace& p : rim_of(plan.line, plan.tube_radius_mm))
            if (skin.body_mm(p.offset, h) > 0.0)
                return at_side(plan.name, fmt::format("its tube of {} mm", plain_number(2.0 * plan.tube_radius_mm)),
                               plan.line.at(h) + p.offset);
    // What of pad, seat and tube is farthest forward.
    struct Forward {
        double depth_mm = 1e300;
        Point3 at;
        void take(const Site& where, Point3 p) {
            if (const double depth = where.depth(p); depth < depth_mm) depth_mm = depth, at = p;
        }
        Status judged(const std::string& what, double wanted) const {
            if (depth_mm >= wanted) return Done{};
            return impossible(fmt::format("{} comes to {:.1f} mm behind the baffle's face, wanted at least {}", what,
                                          depth_mm, plain_number(wanted)),
                              "move the point farther back", at);
        }
    };
    Forward pad, seat, tube;
    for (const RimPlace& p : rim_of(plan.line, plan.pad_radius_mm, 72))
        for (const double h : {0.0, plan.pad_top_mm}) pad.take(site, plan.line.at(h) + p.offset);
    if (plan.recess_radius_mm > 0.0)
        for (const RimPlace& p : rim_of(plan.line, plan.recess_radius_mm, 72))
            seat.take(site, plan.line.at(plan.seat_mm) + p.offset);
    double beside = 1e300, behind = 1e300;
    Point3 beside_at, behind_at;
    for (double h = plan.enters_mm; h <= plan.leaves_mm; h += 2.0)
        for (const RimPlace& p : rim_of(plan.line, plan.solid_radius_mm(h), 72)) {
            const Point3 q = plan.line.at(h) + p.offset;
            tube.take(site, q);
            for (const DriverBody& body : baffle.drivers) {
                if (const double left = body.distance_to(q); left < beside) beside = left, beside_at = q;
                const auto [r, depth] = body.flat(q);
                const double back = depth - body.depth_mm();
                if (r < body.magnet_radius_mm() && back > 0.0 && back < behind) behind = back, behind_at = q;
            }
        }
    GAPWRIGHT_CHECK(pad.judged(who + ": its pad", baffle.outside_mm));
    if (!plan.leaves_by_baffle) {
        GAPWRIGHT_CHECK(seat.judged(who + ": its head's seat", baffle.outside_mm));
        GAPWRIGHT_CHECK(tube.judged(who + ": its tube", baffle.air_mm));
    } else if (baffle.driver_front_mm > 0.0) {
        const double radius = std::max({plan.recess_radius_mm, plan.hole.seat_mm / 2.0, plan.tube_radius_mm});
        double least = 1e300;
        for (const RimPlace& p : rim_of(plan.line, radius, 72))
            for (const Point2 centre : baffle.driver_centres)
                least = std::min(least, distance(site.flat(plan.line.at(plan.leaves_mm) + p.offset), centre));
        if (const double left = least - baffle.driver_front_mm; left < kBesideDriver_mm)
            return impossible(
                fmt::format("{}: its seat or tube comes to {:.1f} mm of the driver's flange or what holds "
                            "it, wanted {}",
                            who, left, plain_number(kBesideDriver_mm)),
                "move the point or the driver", plan.line.at(plan.leaves_mm));
    }
    if (beside < kBesideDriver_mm)
        return impossible(
            fmt::format("{}: its tube {} the driver's body, wanted {} mm beside it", who,
                        beside < 0.0 ? std::string("runs through") : fmt::format("comes to {:.1f} mm of", beside),
                        plain_number(kBesideDriver_mm)),
            "move the point or the driver", beside_at);
    if (behind < kBehindMagnet_mm)
        return impossible(fmt::format("{}: its tube stands {:.1f} mm behind the driver's magnet, wanted {}", who,
                                      behind, plain_number(kBehindMagnet_mm)),
                          "move the point or the driver", behind_at);
    return Done{};
}

Status check_pad(const Site& site, const SleevePlan& plan, const std::vector<Point3>& samples) {
    const std::string who = called(plan.name);
    const double clear = site.request.room.clearance.mm() + site.request.room.covering.mm();
    const StandingSeat seat{plan.line.point, plan.line.up, plan.pad_radius_mm + plan.line.half_mm};
    GAPWRIGHT_CHECK(check_face(who, seat, samples, clear));
    const auto pad = [&](Point3 p) {
        const double h = plan.line.height(p), beside = plan.line.beside(p) - plan.pad_radius_mm;
        const double over = std::max(-h, h - plan.enters_mm);
        return std::hypot(std::max(beside, 0.0), std::max(over, 0.0)) + std::min(std::max(beside, over), 0.0);
    };
    std::vector<Point3> outside;
    for (const RimPlace& p : rim_of(plan.line, plan.pad_radius_mm))
        for (double h = 0.0; h <= plan.enters_mm; h += 2.0) outside.push_back(plan.line.at(h) + p.offset);
    if (const Tightest room = tightest(site, samples, pad, outside, &seat); room.spare_mm < -kClearSlack_mm)
        return impossible(
            fmt::format("{}: {} stands in the way of its pad of {} mm by {:.1f} mm, wanted {} mm clear of "
                        "it",
                        who, room.what, plain_number(2.0 * plan.pad_radius_mm), -room.spare_mm, plain_number(clear)),
            "move the point, or take a smaller thread", room.where);
    return Done{};
}

// Slivers ------------------------------------------------------------------------------------------------------------

/// A side wall that comes too near.
struct NearWall {
    double height_mm = 0.0, angle = 0.0;  ///< of its normal, about the line
};

Status plan_fill(const Site& site, SleevePlan& plan) {
    const space::Field& outer = site.room.outer;
    const double least = std::max(plan.tube_wall_mm, kLeastAirGap_mm);  // of air that may be left
    const double wall = site.request.wall.mm(), round = site.request.inner_radius.mm();
    const Vec3 along = plan.line.along, across = cross(plan.line.up, along);
    const auto in_air = [&](Point3 p) { return outer.at(p) + wall; };
    std::vector<NearWall> near;
    double radius = 0.0;
    const double bottom = plan.enters_mm + wall + round, top = plan.leaves_mm - wall - round;
    for (double h = bottom; h <= top; h += 2.0) {
        const double r = plan.solid_radius_mm(h);
        for (const RimPlace& p : rim_of(plan.line, r, 36))
            for (double gap = 0.0; gap < least; gap += 0.5) {
                const Point3 q = plan.line.at(h) + p.offset + p.out * gap;
                if (in_air(q) < 0.0) continue;
                const Frame& box = outer.grid.vehicle_from_box;
                const Vec3 n = unit(box.dir_to_parent(outer.gradient_box(box.to_local(q))));
                if (std::abs(dot(n, plan.line.up)) < 0.5) {
                    near.push_back({h, std::atan2(dot(n, across), dot(n, along))});
                    radius = std::max(radius, r);
                }
                break;
            }
    }
    if (near.empty()) return Done{};
    const Point3 where = plan.line.at(near.front().height_mm);
    const auto too_narrow = [&](const std::string& why) {
        return impossible(fmt::format("{}: its tube leaves less than {} mm of air beside it {}, wanted that or none",
                                      called(plan.name), plain_number(least), why),
                          "move the point farther from the walls, or nearer to one of them alone", where);
    };
    if (plan.line.half_mm > 0.0) return too_narrow("and its hole is a slot");
    // The arc of normals, begun after the widest gap between two.
    std::vector<double> angles;
    for (const NearWall& n : near) angles.push_back(n.angle);
    std::sort(angles.begin(), angles.end());
    std::size_t begin = 0;
    double widest = angles.front() + 2.0 * std::numbers::pi - angles.back();
    for (std::size_t i = 1; i < angles.size(); ++i)
        if (const double gap = angles[i] - angles[i - 1]; gap > widest) widest = gap, begin = i;
    const double span = 2.0 * std::numbers::pi - widest;
    if (span > kMostTurn_rad) return too_narrow("to more than one wall");
    double first = angles[begin], last = first + span;
    if (span < kSmooth_rad) first = last = (first + last) / 2.0;
    SleeveFill fill;
    fill.from_mm = 1e300;
    fill.to_mm = -1e300;
    fill.radius_mm = radius + kFillOver_mm;
    for (const NearWall& n : near) {
        fill.from_mm = std::min(fill.from_mm, n.height_mm - 2.0);
        fill.to_mm = std::max(fill.to_mm, n.height_mm + 2.0);
    }
    // No shelf of air is left at the ends.
    if (fill.from_mm < bottom + least) fill.from_mm = plan.enters_mm;
    if (fill.to_mm > top - least) fill.to_mm = plan.leaves_mm;
    const auto way = [&](double a) { return along * std::cos(a) + across * std::sin(a); };
    fill.first = way(first);
    fill.last = way(last);
    const auto within_wall = [&](double a) -> std::optional<double> {
        const Vec3 out = way(a), side = way(a + std::numbers::pi / 2.0);
        double most = 0.0;
        for (double h = std::max(fill.from_mm, bottom); h <= std::min(fill.to_mm, top); h += 2.0)
            for (const double s : {-1.0, -0.5, 0.0, 0.5, 1.0}) {
                const Point3 from = plan.line.at(h) + side * (s * fill.radius_mm);
                const auto end = first_height(0.0, fill.radius_mm + 4.0 * least, 0.5,
                                              [&](double g) { return in_air(from + out * g) > kIntoWall_mm; });
                if (!end) return std::nullopt;
                most = std::max(most, *end);
            }
        return most;
    };
    const auto first_mm = within_wall(first), last_mm = within_wall(last);
    if (!first_mm || !last_mm) return too_narrow("to a wall that bends away");
    fill.first_mm = *first_mm;
    fill.last_mm = *last_mm;
    plan.notes.push_back(
        fmt::format("{}: the air between its tube and the wall beside it would be narrower than {} mm "
                    "and is filled",
                    called(plan.name), plain_number(least)));
    plan.fill = fill;
    return Done{};
}

}  // namespace

Result<SleevePlan> plan_sleeve(const Site& site, const Sleeve& sleeve, const TopoDS_Solid& outer,
                               const BaffleRoom& baffle) {
    const EnclosureRequest& request = site.request;
    GAPWRIGHT_TRY(thread, fixings::find_thread(sleeve.thread, request.own_threads));
    GAPWRIGHT_TRY(flush, fixings::hole_for(thread, sleeve.use, true));
    SleevePlan plan;
    plan.name = sleeve.name;
    plan.thread = sleeve.thread;
    GAPWRIGHT_CHECK(check_slot(called(sleeve.name), sleeve.use, sleeve.axis, sleeve.point));
    plan.line = bolt_line(sleeve.point, sleeve.axis, sleeve.use.slot);
    plan.bore = bore_of(thread, sleeve.use, flush, request.material);
    plan.tube_wall_mm = sleeve.tube_wall.value_or(request.wall).mm();
    if (const double thinnest = least_wall(request.make.method).mm(); sleeve.tube_wall && plan.tube_wall_mm < thinnest)
        return impossible(fmt::format("{}: a tube's wall of {} mm is thinner than can be made, wanted at least {}",
                                      called(sleeve.name), plain_number(plan.tube_wall_mm), plain_number(thinnest)),
                          "make tube_wall thicker, or leave it out: then it is the shell's", sleeve.point);
    plan.tube_radius_mm = plan.bore.radius_mm + plan.tube_wall_mm;
    plan.edge_wanted_mm = fixings::least_edge_distance(thread, request.material.is_metal).mm();
    plan.pad_radius_mm =
        std::max({plan.edge_wanted_mm + kOver_mm, flush.seat_mm / 2.0 + 2.0, plan.tube_radius_mm + kOver_mm});

    const Skin skin(site, plan.line);
    GAPWRIGHT_CHECK(find_way(site, skin, plan, thread.d_mm));
    const std::vector<Point3> samples =
        samples_near(site, plan.line.at(plan.leaves_mm / 2.0), plan.leaves_mm / 2.0 + plan.pad_radius_mm + 80.0);
    GAPWRIGHT_CHECK(plan_pad(skin, plan));
    GAPWRIGHT_CHECK(check_pad(site, plan, samples));
    plan.tool = fixings::tool_room(thread, sleeve.use);
    GAPWRIGHT_CHECK(plan_seat(site, skin, outer, sleeve, flush, plan.tool.diameter.mm() / 2.0 + sleeve.use.play.mm(),
                              samples, plan));
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, sleeve.use, plan.recess_radius_mm > 0.0));
    plan.hole = hole;
    if (plan.recess_radius_mm > 0.0) {
        plan.hole.recess_mm = 2.0 * plan.recess_radius_mm;
        plan.hole.recess_depth_mm = plan.leaves_mm - plan.seat_mm;
    }
    GAPWRIGHT_CHECK(check_tube(site, skin, baffle, plan));
    GAPWRIGHT_CHECK(plan_fill(site, plan));
    return plan;
}

double distance_to(const SleevePlan& sleeve, Point3 p) {
    const double h = sleeve.line.height(p), beside = sleeve.line.beside(p);
    const auto cylinder = [&](double radius, double from) {
        const double side = beside - radius, end = std::max(from - h, h - sleeve.air_to_mm);
        return std::hypot(std::max(side, 0.0), std::max(end, 0.0)) + std::min(std::max(side, end), 0.0);
    };
    double least = cylinder(sleeve.tube_radius_mm, 0.0);
    if (sleeve.step_radius_mm > 0.0) least = std::min(least, cylinder(sleeve.step_radius_mm, sleeve.step_from_mm));
    if (sleeve.fill) {
        const Vec3 x = sleeve.line.along, y = cross(sleeve.line.up, x), d = p - sleeve.line.point;
        Loop loop;
        for (const Vec3& corner : corners_of(*sleeve.fill, sleeve.line.up))
            loop.push_back({dot(corner, x), dot(corner, y)});
        const double side = -Outline(loop).depth({dot(d, x), dot(d, y)});
        const double end = std::max(sleeve.fill->from_mm - h, h - sleeve.fill->to_mm);
        least =
            std::min(least, std::hypot(std::max(side, 0.0), std::max(end, 0.0)) + std::min(std::max(side, end), 0.0));
    }
    return least;
}

Status check_apart(const std::vector<SleevePlan>& sleeves, const std::vector<FootPlan>& feet) {
    for (std::size_t i = 0; i < sleeves.size(); ++i) {
        const SleevePlan& a = sleeves[i];
        const std::string who = called(a.name);
        for (std::size_t j = 0; j < i; ++j) {
            const SleevePlan& b = sleeves[j];
            double least = 1e300;
            Point3 where;
            for (double h = 0.0; h <= a.air_to_mm; h += 2.0) {
                std::vector<RimPlace> rim = rim_of(a.line, a.solid_radius_mm(h), 72);
                rim.push_back({Vec3{}, a.line.along});
                for (const RimPlace& p : rim)
                    if (const double left = distance_to(b, a.line.at(h) + p.offset); left < least)
                        least = left, where = a.line.at(h) + p.offset;
            }
            if (least < kLeastAirGap_mm)
                return impossible(fmt::format("{}: its tube comes to {:.1f} mm of that of \"{}\", wanted {}", who,
                                              std::max(least, 0.0), b.name, plain_number(kLeastAirGap_mm)),
                                  "move one of the two points", where);
        }
        for (const FootPlan& foot : feet) {
            const auto meets = [&](const std::string& what, Point3 where) {
                return impossible(fmt::format("{}: {} meets the foot \"{}\", wanted apart", who, what, foot.name),
                                  "move one of the two points", where);
            };
            // Its pad in the way of the foot's socket, the foot in the way of the bolt.
            for (double h = 0.0; h <= a.enters_mm; h += 2.0)
                for (const RimPlace& p : rim_of(a.line, a.pad_radius_mm)) {
                    const Point3 q = a.line.at(h) + p.offset;
                    const Vec3 d = q - foot.point;
                    const double up = dot(d, foot.up);
                    if (up > -1.0 && norm(d - foot.up * up) < foot.access_radius_mm) return meets("its pad", q);
                }
            for (double h = 0.0; h <= a.leaves_mm; h += 2.0) {
                const double r =
                    (h > a.seat_mm ? std::max(a.recess_radius_mm, a.bore.radius_mm) : a.bore.radius_mm) + 1.0;
                for (const RimPlace& p : rim_of(a.line, r)) {
                    const Point3 q = a.line.at(h) + p.offset;
                    const Vec3 d = q - foot.point;
                    const double along = dot(d, foot.along), aside = std::abs(dot(d, foot.across)),
                                 up = dot(d, foot.up);
                    const auto within = [&](double root, double width, double from, double to) {
                        return along > 0.0 && along < root + 1.0 && aside < width / 2.0 + 1.0 && up > from - 1.0 &&
                               up < to + 1.0;
                    };
                    const bool in_root =
                        within(foot.root_mm, foot.web_width_mm, foot.web_from_mm, foot.web_to_mm) ||
                        (foot.gusset && within(std::max(foot.gusset->root_mm, foot.gusset->top_root_mm),
                                               foot.gusset->width_mm, foot.gusset->base_mm, foot.gusset->top_mm));
                    if (in_root || distance_to(foot, q) < 0.5) return meets("its bolt", q);
                }
            }
        }
    }
    return Done{};
}

Result<FixingMade> measure_sleeve(const SleevePlan& plan, const Sleeve& sleeve, const TopoDS_Solid& solid,
                                  double tube_mm3) {
    FixingMade made{.name = plan.name,
                    .thread = plan.thread,
                    .point = plan.line.point,
                    .axis = -plan.line.up,
                    .hole_mm = 2.0 * plan.bore.radius_mm,
                    .edge_distance_mm = plan.pad_radius_mm,
                    .edge_wanted_mm = plan.edge_wanted_mm};
    made.kind = FixingKind::Sleeve;
    BoltMade& bolt = made.bolt;
    bolt.name = "\"" + plan.name + "\"";
    bolt.thread = plan.thread;
    bolt.head_seat = plan.line.at(plan.seat_mm);
    bolt.axis = -plan.line.up;
    bolt.hole = plan.hole;
    bolt.tool = plan.tool;
    bolt.step = Step::BoxOnVehicle;
    bolt.product = "shell";
    bolt.reach_mm = plan.seat_mm;
    made.use = sleeve.use;
    made.has_metal_sleeve = plan.bore.has_metal_sleeve;
    made.belongs_to = sleeve.belongs_to;
    made.grip_mm = plan.seat_mm;
    made.bears_mm = plan.pad_top_mm;
    made.seat_radius_mm = plan.pad_radius_mm + plan.line.half_mm;
    made.tube_mm3 = tube_mm3;
    GAPWRIGHT_TRY(hole,
                  measure_hole(called(plan.name), solid, plan.line, plan.bore.radius_mm, 0.0, plan.seat_bottom_mm()));
    made.measured_hole_mm = hole.diameter_mm;
    made.measured_off_axis_mm = hole.off_axis_mm;
    return made;
}

}  // namespace geom::parts
