// Outlines decide, planes split, circles and walls join.
//
// Let D(p) be the least of: the distance from p to the air's outline in the plate's back plane and in the flange's back
// plane, and the distance to the plate's own edge less what a hole must keep from it beyond its distance to the inner
// wall. D changes by at most 1 a millimetre, so its levels are at least as far apart as their values: the screws
// stand on {D = centre}, the mouth is {D = width}, and between them lies half a boss. Where the driver's basket needs
// more room, the mouth bulges towards the wall and the screws keep out of the bulge.
//
// The outer body is split at the plate's back, the air at the flange's back; everything between is walls square to the
// baffle. No body of splines enters a boolean with another one.
#include "geom/parts/internal/baffle.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <GeomAPI_Interpolate.hxx>
#include <Geom_BSplineCurve.hxx>
#include <TColgp_HArray1OfPnt.hxx>
#include <gp_Pnt.hxx>
#include <gp_Vec.hxx>

namespace geom::parts {
namespace {

constexpr double kBasketGap_mm = 2.5;    // round basket and cut-out, to the mouth
constexpr double kLeastLip_mm = 1.0;     // of flange left where the mouth bulges
constexpr double kMouthStep_mm = 4.0;    // between the points of the mouth's spline
constexpr double kHeadGap_mm = 0.5;      // between a screw's washer and the driver's flange
constexpr double kGrooveOver_mm = 0.15;  // beside a groove, over what is wanted: loops are traced and smoothed
constexpr double kCordBend_d = 3.0;      // least radius of a cord's way, in its diameter [common practice]
constexpr double kLeastBend_mm = 6.0;
constexpr double kWayStep_mm = 3.0;  // between the points of the cord's way

/// Screws along a loop, no two farther apart than `pitch`, standing only where allowed. None when there is no such set.
struct Screws {
    std::vector<double> at_mm;
    double longest_mm = 0.0;
};
std::optional<Screws> spread(const std::vector<double>& allowed, double total, double pitch, double least) {
    std::optional<Screws> best;
    const int n = std::max(4, static_cast<int>(std::ceil(total / pitch - 1e-9)));
    for (const double spacing : {total / n, total / (n + 1), (total / n + pitch) / 2.0, pitch}) {
        if (spacing > pitch + 1e-9) continue;
        const std::size_t starts = std::min<std::size_t>(allowed.size(), 24);
        for (std::size_t s = 0; s < starts; ++s) {
            const double first = allowed[s * allowed.size() / starts];
            Screws set{.at_mm = {first}, .longest_mm = 0.0};
            bool is_good = true;
            for (double at = first; first + total - at > pitch + 1e-9;) {
                // The farthest allowed place within the spacing, else the nearest one within the pitch.
                double far = 0.0, near = 1e300;
                for (const double a : allowed)
                    for (const double place : {a, a + total}) {
                        const double step = place - at;
                        if (step < least || place > first + total - least) continue;
                        if (step <= spacing + 1e-9)
                            far = std::max(far, step);
                        else
                            near = std::min(near, step);
                    }
                const double step = far > 0.0 ? far : near;
                if (step > pitch + 1e-9) {
                    is_good = false;
                    break;
                }
                at += step;
                set.at_mm.push_back(at);
            }
            if (!is_good) continue;
            for (std::size_t i = 0; i < set.at_mm.size(); ++i)
                set.longest_mm = std::max(set.longest_mm,
                                          (i + 1 < set.at_mm.size() ? set.at_mm[i + 1] : first + total) - set.at_mm[i]);
            const bool is_better = !best || set.at_mm.size() < best->at_mm.size() ||
                                   (set.at_mm.size() == best->at_mm.size() && set.longest_mm < best->longest_mm - 1e-9);
            if (is_better) best = std::move(set);
        }
    }
    return best;
}

/// The longest stretch of the loop without an allowed place.
struct Stretch {
    double from_mm = 0.0, length_mm = 0.0;
};
Stretch longest_stretch(const std::vector<double>& allowed, double total) {
    Stretch longest{0.0, allowed.empty() ? total : 0.0};
    for (std::size_t i = 0; i < allowed.size(); ++i) {
        const double to = i + 1 < allowed.size() ? allowed[i + 1] : allowed.front() + total;
        if (to - allowed[i] > longest.length_mm) longest = {allowed[i], to - allowed[i]};
    }
    return longest;
}

/// Room that the mouth leaves round a driver's axis: beside basket, cut-out, a flange behind the baffle or the back of
/// a dish.
double basket_room_mm(const DriverMount& mount, const BaffleForm& form) {
    const double basket =
        mount.driver.basket_diameter && !mount.is_turned ? mount.driver.basket_diameter->mm() / 2.0 : 0.0;
    return std::max(back_radius_mm(mount, form), basket) + kBasketGap_mm;
}

/// The field's section at a box y, as an outline of its largest piece.
std::optional<Outline> section_of(const space::Field& field, double y_mm) {
    const space::GridSpec& g = field.grid;
    const Point2 lo{g.lo.x, g.lo.z}, hi{g.lo.x + (g.nx - 1) * g.h_mm, g.lo.z + (g.nz - 1) * g.h_mm};
    auto loop = level_loop([&](Point2 p) { return -field.at_box({p.x, y_mm, p.y}); }, 0.0, lo, hi, g.h_mm);
    if (!loop || loop->size() < 3) return std::nullopt;
    return Outline(std::move(*loop));
}

/// A closed spline through points.
Handle(Geom_BSplineCurve) spline_through(const std::vector<Point3>& at) {
    Handle(TColgp_HArray1OfPnt) points = new TColgp_HArray1OfPnt(1, static_cast<int>(at.size()));
    for (std::size_t i = 0; i < at.size(); ++i) points->SetValue(static_cast<int>(i) + 1, to_occt(at[i]));
    GeomAPI_Interpolate through(points, true, 1e-7);
    through.Perform();
    return through.Curve();
}

/// The region within a loop moved out by `by_mm`, or in.
std::optional<Loop> grown(const Loop& loop, double by_mm) {
    const Outline outline(loop);
    const Point2 more{std::max(by_mm, 0.0) + 2.0, std::max(by_mm, 0.0) + 2.0};
    return level_loop([&](Point2 p) { return outline.depth(p) + by_mm; }, 0.0, outline.lo() - more, outline.hi() + more,
                      2.0);
}

/// The loop with no bend tighter than the radius, to either side: grown, shrunk by twice as much, and grown again.
std::optional<Loop> with_bends(const Loop& loop, double radius_mm) {
    auto out = grown(loop, radius_mm);
    if (out) out = grown(*out, -2.0 * radius_mm);
    if (out) out = grown(*out, radius_mm);
    return out;
}

/// A smooth closed way in the plane, and loops that run beside it at a constant distance.
class SmoothWay {
public:
    explicit SmoothWay(const Loop& through) {
        std::vector<Point3> at;
        for (const Point2 p : through) at.push_back({p.x, p.y, 0.0});
        curve_ = spline_through(at);
        places_ = 2 * through.size();
    }
    /// To the right of it when positive: outside, as the way runs counter-clockwise.
    Loop beside(double by_mm) const {
        Loop loop;
        const double first = curve_->FirstParameter(), last = curve_->LastParameter();
        for (std::size_t i = 0; i < places_; ++i) {
            gp_Pnt p;
            gp_Vec d;
            curve_->D1(first + (last - first) * static_cast<double>(i) / static_cast<double>(places_), p, d);
            const Point2 along{d.X(), d.Y()};
            const double n = norm(along);
            loop.push_back({p.X() + along.y / n * by_mm, p.Y() - along.x / n * by_mm});
        }
        return loop;
    }

private:
    Handle(Geom_BSplineCurve) curve_;
    std::size_t places_ = 0;
};

}  // namespace

Point2 along(const Loop& loop, double at_mm) {
    const double total = length(loop);
    at_mm = std::fmod(at_mm, total);
    for (std::size_t i = 0;; ++i) {
        const Point2 a = loop[i % loop.size()], b = loop[(i + 1) % loop.size()];
        const double d = distance(a, b);
        if (at_mm <= d || i >= loop.size()) return d > 0.0 ? a + (b - a) * (std::min(at_mm, d) / d) : a;
        at_mm -= d;
    }
}

TopoDS_Wire smooth_wire(const Site& site, const Loop& loop, double depth_mm) {
    std::vector<Point3> at;
    for (const Point2 p : loop) at.push_back(site.at(p, depth_mm));
    return BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(spline_through(at)).Edge()).Wire();
}

Result<RimFlange> rim_flange(const EnclosureRequest& request) {
    const Baffle& baffle = request.baffle;
    const Material& plate = baffle.material ? *baffle.material : request.material;
    GAPWRIGHT_TRY(thread, fixings::find_thread(baffle.screw_thread, request.own_threads));
    GAPWRIGHT_TRY(grip, grip_of(baffle.screw_thread, request.material, baffle.inserts, request.own_threads));
    const double edge = fixings::least_edge_distance(thread, plate.is_metal).mm();
    RimFlange size{.width_mm = 0.0,
                   .thickness_mm = 0.0,
                   .centre_mm = 0.0,
                   .boss_mm = grip.boss_mm,
                   .hole_mm = grip.hole_mm,
                   .hole_depth_mm = grip.depth_mm,
                   .has_inserts = grip.has_insert,
                   .is_through = false};
    // From the inner wall: the plate's edge distance and half a boss, both less the wall that is there already.
    const double least_centre = std::max({edge - request.wall.mm(), grip.boss_mm / 2.0 - request.wall.mm(), 0.0});
    double inside = grip.boss_mm / 2.0;  // of the flange, from the screws to the mouth
    const std::optional<GrooveSize> groove = groove_of(baffle.seal);
    if (groove) {
        size.groove_mm = groove->width_mm;
        size.groove_depth_mm = groove->depth_mm;
        inside = std::max(inside, grip.hole_mm / 2.0 + groove->width_mm + 2.0 * (kBesideGroove_mm + kGrooveOver_mm));
    }
    const double least_width = least_centre + inside;
    size.width_mm = baffle.flange_width ? baffle.flange_width->mm() : least_width;
    if (size.width_mm < least_width - 1e-9)
        return impossible(
            fmt::format("rim flange: a width of {} mm, wanted at least {} for {} {}{}", plain_number(size.width_mm),
                        plain_number(least_width), baffle.screw_thread,
                        grip.has_insert ? "heat-set inserts" : "tapped holes", groove ? " and a cord beside them" : ""),
            "leave flange_width out, or take a smaller screw_thread", baffle.plane.point);
    size.centre_mm = std::clamp(size.width_mm / 2.0, least_centre, size.width_mm - inside);
    const double blind = grip.depth_mm + kUnderBlindHole_mm;
    const double under_groove = groove ? groove->depth_mm + kUnderBlindHole_mm : 0.0;
    size.thickness_mm =
        baffle.flange_thickness ? baffle.flange_thickness->mm() : std::max({blind, request.wall.mm(), under_groove});
    if (size.thickness_mm < under_groove - 1e-9)
        return impossible(
            fmt::format("rim flange: a thickness of {} mm, wanted at least {} under a groove of {} mm",
                        plain_number(size.thickness_mm), plain_number(under_groove), plain_number(groove->depth_mm)),
            "leave flange_thickness out, or take a thinner cord", baffle.plane.point);
    size.is_through = size.thickness_mm < blind - 1e-9;
    return size;
}

Volume rim_flange_volume(const space::Field& air, double air_y_mm, const EnclosureRequest& request) {
    if (!request.baffle.separate) return Volume::mm3(0);
    const auto size = rim_flange(request);
    if (!size) return Volume::mm3(0);
    const auto front = section_of(air, air_y_mm), behind = section_of(air, air_y_mm + size->thickness_mm);
    if (!front || !behind) return Volume::mm3(0);
    const BaffleForm form = baffle_form_or_flat(request);
    const std::vector<DriverMount> mounts = request.drivers();
    const auto open = [&](Point2 p) {
        double most = std::min(front->depth(p), behind->depth(p)) - size->width_mm;
        for (const DriverMount& mount : mounts) {
            const Point3 centre = air.grid.vehicle_from_box.to_local(mount.centre);
            most = std::max(most, basket_room_mm(mount, form) - distance(p, {centre.x, centre.z}));
        }
        return most;
    };
    const auto mouth = level_loop(open, 0.0, front->lo(), front->hi(), 2.0);
    if (!mouth) return Volume::mm3(0);
    const double sections = (signed_area(front->loop()) + signed_area(behind->loop())) / 2.0;
    return Volume::mm3((sections - signed_area(resampled(*mouth, kMouthStep_mm, 2))) * size->thickness_mm);
}

namespace {

/// What the joint has: its screws, its land, and what is left beside a groove.
Status plan_joint(const Site& site, const Outline& plate_back, FlangePlan& plan) {
    const Baffle& baffle = site.request.baffle;
    JointMade& joint = plan.joint;
    joint = {.name = "baffle",
             .screws = static_cast<int>(plan.screws.size()),
             .pitch_mm = plan.screw_gap_mm,
             .pitch_asked_mm = baffle.screw_pitch.mm()};
    joint.land_mm = 1e300;
    for (const Point2 p : plan.mouth) joint.land_mm = std::min(joint.land_mm, plate_back.depth(p));
    if (!plan.groove) return Done{};
    joint.cord_mm = baffle.seal.cord->mm();
    joint.groove_mm = plan.size.groove_mm;
    joint.groove_depth_mm = plan.size.groove_depth_mm;
    const Outline outer(plan.groove->outer), mouth(plan.mouth);
    double to_edge = 1e300;
    Point2 at;
    for (const Point2 p : plan.groove->outer)
        if (const double d = plate_back.depth(p); d < to_edge) to_edge = d, at = p;
    if (to_edge < kBesideGroove_mm)
        return impossible(
            fmt::format("rim flange: a groove for a cord of {} mm comes within {:.1f} mm of the shell's edge ({}), "
                        "wanted {}",
                        plain_number(joint.cord_mm), to_edge, direction_words(plate_back.nearest(at).at - at),
                        plain_number(kBesideGroove_mm)),
            "move the driver, take a thinner cord, or seal = \"tape\"", site.at(at, site.thickness_mm()));
    joint.left_mm = to_edge;
    for (const Point2 p : plan.groove->inner) joint.left_mm = std::min(joint.left_mm, mouth.nearest(p).distance_mm);
    for (const Point2 screw : plan.screws)
        joint.left_mm = std::min(joint.left_mm, outer.nearest(screw).distance_mm - plan.size.hole_mm / 2.0);
    return Done{};
}

}  // namespace

double room_in_mouth_mm(const DriverPlan& driver) {
    return basket_room_mm(driver.mount, driver.form) + kLeastLip_mm;
}

Result<FlangePlan> plan_flange(const Site& site, const RimFlange& size, const Outline& flat, const Outline& plate_back,
                               const Outline& air_front, const Outline& air_behind, const DriverPlans& drivers) {
    const auto room_of = [](const DriverPlan& driver) { return basket_room_mm(driver.mount, driver.form); };
    // Of the drivers' rooms in the mouth, how deep a place lies in one; negative beside all.
    const auto in_basket = [&](Point2 p) {
        double most = -1e300;
        for (const DriverPlan* each : drivers) most = std::max(most, room_of(*each) - distance(p, each->centre));
        return most;
    };
    const Baffle& baffle = site.request.baffle;
    GAPWRIGHT_TRY(thread, fixings::find_thread(baffle.screw_thread, site.request.own_threads));
    const double edge = fixings::least_edge_distance(thread, site.baffle_material().is_metal).mm();
    const double beyond = std::max(0.0, edge - size.centre_mm);
    const auto depth = [&](Point2 p) {
        return std::min({air_front.depth(p), air_behind.depth(p), plate_back.depth(p) - beyond,
                         flat.depth(p) + baffle.rim_radius.mm() - beyond});
    };
    FlangePlan plan{.size = size, .mouth = {}, .screws = {}, .screw_gap_mm = 0.0, .notes = {}};

    const auto behind = [](const DriverPlan& driver) {
        return !driver.form.back.empty()  ? "basket and the back of the dish"
               : driver.mount.from_behind ? "flange and body of a driver from behind"
                                          : "basket and cut-out";
    };
    for (const DriverPlan* each : drivers) {
        const double left = std::min(air_front.depth(each->centre), air_behind.depth(each->centre)) - room_of(*each);
        if (left < kLeastLip_mm)
            return impossible(
                fmt::format(
                    "rim flange: {} {} the shell's inner wall ({}), wanted {} mm of flange at least", behind(*each),
                    left < 0.0
                        ? fmt::format("with {} mm round them reach {:.1f} mm past", plain_number(kBasketGap_mm), -left)
                        : fmt::format("leave {:.1f} mm of flange to", left),
                    direction_words(air_front.nearest(each->centre).at - each->centre), plain_number(kLeastLip_mm)),
                "move the driver, or take a smaller one",
                site.at(air_front.nearest(each->centre).at, site.thickness_mm()));
    }
    const auto open = [&](Point2 p) {
        const double ring = depth(p) - size.width_mm;
        return std::max(ring, in_basket(p));
    };
    const auto mouth = level_loop(open, 0.0, air_front.lo(), air_front.hi(), 2.0);
    if (!mouth)
        return impossible(fmt::format("rim flange: a width of {} mm leaves no opening in the shell's mouth",
                                      plain_number(size.width_mm)),
                          "take a smaller screw_thread, or more travel", site.at(air_front.lo(), site.thickness_mm()));
    plan.mouth = resampled(*mouth, kMouthStep_mm, 2);
    std::optional<Outline> cord_way;
    const double to_way = size.groove_mm / 2.0 + kBesideGroove_mm + kGrooveOver_mm;
    if (size.groove_mm > 0.0) {
        // The cord's way comes first, with no bend too tight for it; groove and mouth run beside it.
        const auto within = [&](Point2 p) {
            const double ring = depth(p) - size.width_mm + to_way;
            return std::max(ring, in_basket(p) + to_way);
        };
        auto way = level_loop(within, 0.0, air_front.lo(), air_front.hi(), 2.0);
        if (way) way = with_bends(*way, std::max(kCordBend_d * baffle.seal.cord->mm(), kLeastBend_mm));
        if (!way)
            return impossible(
                fmt::format("rim flange: there is no way for a cord of {} mm", plain_number(baffle.seal.cord->mm())),
                "take a thinner cord, or seal = \"tape\"", site.at(air_front.lo(), site.thickness_mm()));
        const SmoothWay smooth(resampled(*way, kWayStep_mm, 1));
        plan.groove =
            GrooveLoops{.inner = smooth.beside(-size.groove_mm / 2.0), .outer = smooth.beside(size.groove_mm / 2.0)};
        plan.mouth = smooth.beside(-to_way);
        cord_way.emplace(smooth.beside(0.0));
    }
    const Outline opening(plan.mouth);

    // Smoothing may only take a little; what matters is held to: the basket's circle, and room beside each screw.
    for (const DriverPlan* each : drivers) {
        const double left = opening.depth(each->centre) - room_of(*each);
        if (left >= -0.3) continue;
        return impossible(fmt::format("rim flange: its opening leaves {:.1f} mm round {}, wanted {}",
                                      left + kBasketGap_mm, behind(*each), plain_number(kBasketGap_mm)),
                          "move the driver, or take a smaller one", site.at(each->centre, site.thickness_mm()));
    }

    const auto locus = level_loop(depth, size.centre_mm, air_front.lo(), air_front.hi(), 2.0);
    if (!locus)
        return impossible("rim flange: there is no place for screws", "take a smaller screw_thread",
                          site.at(air_front.lo(), site.thickness_mm()));
    const double total = length(*locus);
    std::vector<double> allowed;
    const double washer = thread.washer_outside_mm / 2.0;
    for (double at = 0.0; at < total; at += 1.0) {
        const Point2 p = along(*locus, at);
        if (opening.contains(p) || opening.nearest(p).distance_mm < size.boss_mm / 2.0 - 0.3) continue;
        if (cord_way && (cord_way->contains(p) || cord_way->nearest(p).distance_mm <
                                                      size.groove_mm / 2.0 + kBesideGroove_mm + size.hole_mm / 2.0))
            continue;
        if (flat.depth(p) < washer) continue;
        if (std::any_of(drivers.begin(), drivers.end(), [&](const DriverPlan* each) {
                return distance(p, each->centre) < each->front_radius_mm() + washer + kHeadGap_mm;
            }))
            continue;
        allowed.push_back(at);
    }
    const double pitch = baffle.screw_pitch.mm();
    const auto set = spread(allowed, total, pitch, size.boss_mm);
    if (!set) {
        const Stretch stretch = longest_stretch(allowed, total);
        return impossible(
            fmt::format("rim flange: {:.0f} mm of the rim have no place for a screw, wanted one every {} mm "
                        "(screw_pitch)",
                        stretch.length_mm, plain_number(pitch)),
            !drivers.empty() ? "the driver's flange or basket takes the room: move it, take a smaller one, "
                               "or allow a larger screw_pitch"
                             : "take a smaller screw_thread, or allow a larger screw_pitch",
            site.at(along(*locus, stretch.from_mm + stretch.length_mm / 2.0), site.thickness_mm()));
    }
    for (const double at : set->at_mm) plan.screws.push_back(along(*locus, at));
    plan.screw_gap_mm = set->longest_mm;
    GAPWRIGHT_CHECK(plan_joint(site, plate_back, plan));
    plan.notes.push_back(fmt::format(
        "baffle: {} {} screws, at most {:.0f} mm apart along the rim; flange {} mm wide, {} mm thick; {} of {} mm, {}",
        plan.screws.size(), baffle.screw_thread, plan.screw_gap_mm, plain_number(size.width_mm),
        plain_number(size.thickness_mm), size.has_inserts ? "heat-set insert pilots" : "tap-drill pilots",
        plain_number(size.hole_mm),
        size.is_through ? "through the flange: seal them" : plain_number(size.hole_depth_mm) + " mm deep"));
    plan.notes.push_back(
        plan.groove
            ? fmt::format("baffle: a groove {} mm wide and {} mm deep in the flange for a round cord of {} mm, "
                          "{:.0f} mm long",
                          plain_number(size.groove_mm), plain_number(size.groove_depth_mm),
                          plain_number(baffle.seal.cord->mm()), length(cord_way->loop()))
            : fmt::format("baffle: tape on the flange, which is flat for {:.1f} mm at least", plan.joint.land_mm));
    return plan;
}

Result<Flanged> flanged(const Site& site, const FlangePlan& plan, const TopoDS_Solid& rest,
                        const TopoDS_Solid& air_rest) {
    return guard_occt("rim flange", [&]() -> Result<Flanged> {
        const double front_mm = site.thickness_mm(), back_mm = front_mm + plan.size.thickness_mm;
        GAPWRIGHT_TRY(front, face_in_plane("shell", rest, site.plane(front_mm)));
        GAPWRIGHT_TRY(back, face_in_plane("rim flange", air_rest, site.plane(back_mm)));
        Flanged made;
        std::vector<TopoDS_Wire> in_front, in_back;
        const Wall lip = wall(smooth_wire(site, plan.mouth, front_mm), -site.outward() * plan.size.thickness_mm);
        std::vector<TopoDS_Face> groove;
        if (plan.groove) {
            const Wall outside = wall(smooth_wire(site, plan.groove->outer, front_mm),
                                      -site.outward() * plan.size.groove_depth_mm),
                       inside = wall(smooth_wire(site, plan.groove->inner, front_mm),
                                     -site.outward() * plan.size.groove_depth_mm);
            in_front.push_back(outside.from);
            groove = outside.faces;
            groove.insert(groove.end(), inside.faces.begin(), inside.faces.end());
            groove.push_back(
                with_holes(disc(site.plane(front_mm + plan.size.groove_depth_mm), outside.to), {inside.to}));
            groove.push_back(with_holes(disc(site.plane(front_mm), inside.from), {lip.from}));
        } else {
            in_front.push_back(lip.from);
        }
        in_back.push_back(lip.to);
        made.air_front = disc(site.plane(front_mm), lip.from);
        made.air_faces = lip.faces;
        std::vector<TopoDS_Face> pilots;
        for (const Point2 screw : plan.screws) {
            const double length = plan.size.is_through ? plan.size.thickness_mm : plan.size.hole_depth_mm;
            const Wall side =
                wall(circle(site.plane(front_mm, screw), plan.size.hole_mm / 2.0), -site.outward() * length);
            in_front.push_back(side.from);
            pilots.insert(pilots.end(), side.faces.begin(), side.faces.end());
            if (plan.size.is_through)
                in_back.push_back(side.to);
            else
                pilots.push_back(disc(site.plane(front_mm + length, screw), side.to));
        }
        const TopoDS_Face pierced = with_holes(back, in_back);
        made.shell_faces = replaced(faces_of(rest), front, with_holes(front, in_front));
        for (const TopoDS_Face& face : replaced(faces_of(air_rest), back, pierced)) made.shell_faces.push_back(face);
        made.shell_faces.insert(made.shell_faces.end(), lip.faces.begin(), lip.faces.end());
        made.shell_faces.insert(made.shell_faces.end(), pilots.begin(), pilots.end());
        made.shell_faces.insert(made.shell_faces.end(), groove.begin(), groove.end());
        // The air ends where a screw closes its hole: at the flange's back.
        for (const TopoDS_Face& face : replaced(faces_of(air_rest), back, with_holes(back, {lip.to})))
            made.air_faces.push_back(face);
        return made;
    });
}

}  // namespace geom::parts
