// All holes of a driver run square across a plate, so they are judged in the plane by distances to the outlines of its
// two faces, and modelled without booleans; so are ring and dish, which meet the plate in circles. A driver from behind
// is one in front of a baffle that is seen from its other side: a site with the same right and up, whose depth grows
// the other way, and whose outer face is the inner one.
#include "geom/parts/internal/driver_mount.h"

#include "geom/core/text.h"

#include <fmt/format.h>

namespace geom::parts {
namespace {

constexpr double kUnderRecess_mm = 3.0;  // solid under the recess floor, at least
constexpr double kEdge_mm = 0.3;         // between a hole and the edge of the face it comes out of
constexpr double kLigament_mm = 1.0;     // between a bolt hole and the cut-out or another, at least
constexpr double kRounding_mm = 0.15;    // more than a place moves when its numbers are told to a tenth

/// How far a circle reaches past an outline (negative: room to spare), and which way.
struct Past {
    double mm = 0.0;
    Point2 way;
    Point2 at;
};
Past past(const Outline& outline, Point2 centre, double radius) {
    const Nearest edge = outline.nearest(centre);
    const bool inside = outline.contains(centre);
    return {radius - (inside ? edge.distance_mm : -edge.distance_mm), inside ? edge.at - centre : centre - edge.at,
            edge.at};
}

/// The baffle seen from its other side.
Site seen_from_behind(const Site& site) {
    Site other = site;
    other.frame.origin = site.at({}, site.thickness_mm());
    other.frame.y = -site.frame.y;
    return other;
}

/// A face that holes start in or come out of.
struct Side {
    const Outline& outline;
    std::string name;         ///< "flat of the baffle"
    double rounded_mm = 0.0;  ///< solid beyond the outline, that rounds its edge
};

/// "reaches 2.3 mm past", or "lies 0.2 mm inside" where that is not enough.
std::string past_text(double over_mm, const char* reaches = "reaches") {
    if (over_mm <= 0.0) return fmt::format("lies {} mm inside", plain_number(std::floor(-over_mm * 100.0) / 100.0));
    return over_mm < 0.1 ? fmt::format("{} {} mm past", reaches, plain_number(std::ceil(over_mm * 100.0) / 100.0))
                         : fmt::format("{} {:.1f} mm past", reaches, over_mm);
}

/// "leave 0.4 mm to", or "reach 2 mm into" what they meet.
std::string left_text(double left_mm) {
    return left_mm < 0.0 ? fmt::format("reach {:.1f} mm into", -left_mm) : fmt::format("leave {:.1f} mm to", left_mm);
}

/// What the bolt holes ask of the baffle.
struct BoltNeeds {
    Grip grip;
    double radius_mm = 0.0, circle_radius_mm = 0.0;
    double beside_mm = 0.0;  ///< solid beside a hole
    bool is_through = false;
    std::vector<Point2> at;  ///< from the driver's axis
};

/// None where the driver's file does not give them.
Result<std::optional<BoltNeeds>> bolt_needs(const Site& site, const DriverPlan& plan) {
    const sound::Driver& driver = plan.mount.driver;
    if (!driver.bolt_circle || driver.bolt_count <= 0 || driver.bolt_thread.empty()) return std::optional<BoltNeeds>();
    GAPWRIGHT_TRY(grip, grip_of(driver.bolt_thread, site.baffle_material(), site.request.baffle.inserts,
                                site.request.own_threads));
    GAPWRIGHT_TRY(thread, fixings::find_thread(driver.bolt_thread, site.request.own_threads));
    BoltNeeds needs{.grip = grip, .at = {}};
    needs.radius_mm = grip.hole_mm / 2.0, needs.circle_radius_mm = driver.bolt_circle->mm() / 2.0;
    needs.is_through = plan.under_seat_mm < grip.depth_mm + kUnderBlindHole_mm - 1e-9;
    // Solid beside a hole: an insert wants its own [common practice].
    needs.beside_mm = grip.has_insert ? std::max(kLigament_mm, thread.insert_wall_mm) : kLigament_mm;
    for (int i = 0; i < driver.bolt_count; ++i) {
        const double angle = plan.mount.turn.rad() + 2.0 * std::numbers::pi * i / driver.bolt_count;
        needs.at.push_back(Point2{std::sin(angle), std::cos(angle)} * needs.circle_radius_mm);
    }
    return std::optional<BoltNeeds>(std::move(needs));
}

Status plan_bolts(const Site& site, const Side& near, const Side& far, DriverPlan& plan) {
    const DriverMount& mount = plan.mount;
    const sound::Driver& driver = mount.driver;
    GAPWRIGHT_TRY(needs, bolt_needs(site, plan));
    if (!needs) {
        plan.notes.push_back("driver: bolt_circle, bolt_count or bolt_thread is not given: no bolt holes were made");
        return Done{};
    }
    const Grip& grip = needs->grip;
    const double r = needs->radius_mm, circle_radius = needs->circle_radius_mm, beside = needs->beside_mm;
    const double under_seat = plan.under_seat_mm;
    const bool is_through = needs->is_through;
    const std::string of_what = grip.has_insert ? " beside an insert" : "";
    if (const double left = circle_radius - r - plan.cutout_radius_mm; left < beside - 1e-9)
        return impossible(
            fmt::format("driver: bolt holes of {} mm on a circle of {} mm {} the cut-out, wanted {}{}",
                        plain_number(grip.hole_mm), plain_number(2.0 * circle_radius), left_text(left),
                        plain_number(beside), left < 0.0 && of_what.empty() ? " between" : of_what),
            grip.has_insert
                ? "check bolt_circle, cutout_diameter and bolt_thread of the driver; tapped holes want less: "
                  "[enclosure] baffle.inserts = false"
                : "check bolt_circle, cutout_diameter and bolt_thread of the driver",
            site.at(plan.centre, 0.0));
    if (const double left = 2.0 * (circle_radius * std::sin(std::numbers::pi / driver.bolt_count) - r);
        driver.bolt_count > 1 && left < beside - 1e-9)
        return impossible(
            fmt::format("driver: {} bolt holes of {} mm on a circle of {} mm leave {:.1f} mm between two, wanted {}{}",
                        driver.bolt_count, plain_number(grip.hole_mm), plain_number(2.0 * circle_radius), left,
                        plain_number(beside), of_what),
            fmt::format(
                "at most {} fit; check bolt_count, bolt_circle and bolt_thread of the driver",
                static_cast<int>(std::numbers::pi / std::asin(std::min(1.0, (r + beside / 2.0) / circle_radius)))),
            site.at(plan.centre, 0.0));
    if (const double left = plan.flange_radius_mm - circle_radius - r; left < 0.0)
        return impossible(
            fmt::format("driver: bolt holes of {} mm on a circle of {} mm reach {:.1f} mm past the flange, "
                        "wanted under it",
                        plain_number(grip.hole_mm), plain_number(2.0 * circle_radius), -left),
            "check bolt_circle and flange_diameter of the driver", site.at(plan.centre, 0.0));

    for (int i = 0; i < driver.bolt_count; ++i) {
        const Hole hole{.centre = plan.centre + needs->at[static_cast<std::size_t>(i)],
                        .radius_mm = r,
                        .depth_mm = grip.depth_mm,
                        .is_through = is_through};
        const std::string name = fmt::format("driver: bolt hole {} of {}", i + 1, driver.bolt_count);
        // On a ring or in a dish the flange covers its holes, and the face holds the flange.
        if (const Past over = past(near.outline, hole.centre, r); plan.form.front.empty() && over.mm > -kEdge_mm)
            return impossible(fmt::format("{} {} the {} ({}), wanted {} inside it", name, past_text(over.mm), near.name,
                                          direction_words(over.way), plain_number(kEdge_mm)),
                              "turn the bolt circle ([driver] turn) or move the driver", site.at(hole.centre, 0.0));
        if (const Past over = past(near.outline, hole.centre, r);
            plan.form.front.empty() && over.mm > near.rounded_mm - beside)
            return impossible(
                fmt::format("{} leaves {:.1f} mm to the side of the baffle ({}), wanted {}{}", name,
                            near.rounded_mm - over.mm, direction_words(over.way), plain_number(beside), of_what),
                "turn the bolt circle ([driver] turn) or move the driver", site.at(hole.centre, 0.0));
        if (is_through && plan.form.back.empty())
            if (const Past over = past(far.outline, hole.centre, r); over.mm > -kEdge_mm)
                return impossible(
                    fmt::format("{} {} the edge of the {} ({}), wanted {} inside it", name,
                                past_text(over.mm, "comes out"), far.name, direction_words(over.way),
                                plain_number(kEdge_mm)),
                    fmt::format(
                        "turn the bolt circle ([driver] turn), or give the baffle {} mm: the holes are blind then",
                        plain_number(site.thickness_mm() - under_seat + grip.depth_mm + kUnderBlindHole_mm)),
                    site.at(hole.centre, site.thickness_mm()));
        plan.bolts.push_back(hole);
    }
    plan.notes.push_back(fmt::format(
        "driver: {} {} {}, {}", driver.bolt_count, driver.bolt_thread,
        grip.has_insert ? fmt::format("heat-set insert pilots of {} mm", plain_number(grip.hole_mm))
                        : fmt::format("tap-drill pilots of {} mm", plain_number(grip.hole_mm)),
        is_through ? "through the baffle (too thin for blind ones: " +
                         plain_number(grip.depth_mm + kUnderBlindHole_mm) + " mm wanted under the seat); seal them"
                   : "blind, " + plain_number(grip.depth_mm) + " mm deep"));
    return Done{};
}

/// A round groove in the seat: between cut-out and bolt holes, or where that is too narrow outside them.
Status plan_groove(const Site& site, const GrooveSize& groove, double press_radius, DriverPlan& plan) {
    const Point3 at = site.at(plan.centre, 0.0);
    const bool has_bolts = !plan.bolts.empty();
    const double bolts = has_bolts ? distance(plan.bolts.front().centre, plan.centre) : press_radius;
    const double hole = has_bolts ? plan.bolts.front().radius_mm : 0.0;
    // Outside the bolts the groove would not close holes that go through.
    const double inside = bolts - hole - plan.cutout_radius_mm;
    const double outside = has_bolts && !plan.bolts.front().is_through ? press_radius - bolts - hole : 0.0;
    const double wanted = groove.width_mm + 2.0 * kBesideGroove_mm;
    if (std::max(inside, outside) < wanted - 1e-9) {
        const double most = thickest_cord_mm(std::max(inside, outside));
        return impossible(
            fmt::format("driver: a groove for a cord of {} mm wants {} mm of flat, found {:.1f} mm between cut-out and "
                        "{} and {:.1f} mm outside them",
                        plain_number(groove.cord_mm), plain_number(wanted), inside,
                        has_bolts ? "bolt holes" : "the flange's edge", std::max(0.0, outside)),
            most >= 1.0 ? fmt::format("a cord of {} mm fits, or [driver] seal = \"tape\"", plain_number(most))
                        : "no cord fits there: leave [driver] seal at \"tape\"",
            at);
    }
    const double under = plan.under_seat_mm - groove.depth_mm;
    if (under < kUnderBlindHole_mm - 1e-9)
        return impossible(fmt::format("driver: a groove of {} mm leaves {:.1f} mm of the baffle under it, wanted {}",
                                      plain_number(groove.depth_mm), under, plain_number(kUnderBlindHole_mm)),
                          "make the baffle thicker or take a thinner cord", at);
    const bool is_inside = inside >= wanted - 1e-9;
    const double from = is_inside ? plan.cutout_radius_mm : bolts + hole, room = is_inside ? inside : outside;
    plan.groove_radius_mm = from + (room - groove.width_mm) / 2.0;
    plan.joint.cord_mm = groove.cord_mm;
    plan.joint.groove_mm = groove.width_mm;
    plan.joint.groove_depth_mm = groove.depth_mm;
    plan.joint.left_mm = (room - groove.width_mm) / 2.0;
    plan.notes.push_back(
        fmt::format("driver: a groove {} mm wide and {} mm deep under its flange for a round cord of {} mm, {} mm "
                    "across its middle",
                    plain_number(groove.width_mm), plain_number(groove.depth_mm), plain_number(groove.cord_mm),
                    tenths(2.0 * plan.groove_radius_mm + groove.width_mm)));
    return Done{};
}

/// Its screws, and what makes it tight.
Status plan_joint(const Site& site, DriverPlan& plan) {
    const int n = static_cast<int>(plan.bolts.size());
    const double circle_radius = n > 0 ? distance(plan.bolts.front().centre, plan.centre) : 0.0;
    const double press = plan.form.face_radius_mm > 0.0 ? std::min(plan.form.face_radius_mm, plan.flange_radius_mm)
                                                        : plan.flange_radius_mm;
    plan.joint = {.name = "driver",
                  .screws = n,
                  .pitch_mm = n > 0 ? 2.0 * std::numbers::pi * circle_radius / n : 0.0,
                  .land_mm = press - plan.cutout_radius_mm};
    if (const auto groove = groove_of(plan.mount.seal)) return plan_groove(site, *groove, press, plan);
    plan.notes.push_back(
        fmt::format("driver: tape under its flange, which presses on {:.1f} mm of flat", plan.joint.land_mm));
    return Done{};
}

void note_stance(DriverPlan& plan) {
    const DriverMount& mount = plan.mount;
    if (mount.from_behind)
        plan.notes.push_back(
            "driver: its flange rests on the baffle's inner face; screw it to the baffle before the baffle goes on" +
            std::string(mount.driver.recess ? "; the recess of its file is left out there" : ""));
    if (mount.is_turned)
        plan.notes.push_back(
            "driver: turned round, its magnet outside and its cone looking into the box: cover what moves, keep the "
            "vent in the pole piece free, and change its two leads where others play beside it");
}

const char* front_name(const DriverPlan& plan, BaffleShape shape) {
    return shape == BaffleShape::Ring    ? "ring"
           : shape == BaffleShape::Dish  ? "dish"
           : plan.recess_radius_mm > 0.0 ? "recess"
                                         : "flange";
}

/// What it takes of the face that it rests on, and of the other one.
double near_radius_mm(const Site& site, const DriverPlan& plan) {
    const bool is_flat = site.request.baffle.shape == BaffleShape::Flat;
    return plan.mount.from_behind ? plan.back_radius_mm() : plan.front_radius_mm() + (is_flat ? 0.0 : kEdge_mm);
}
double far_radius_mm(const DriverPlan& plan) {
    return plan.mount.from_behind ? plan.front_radius_mm() : plan.back_radius_mm();
}

/// All of a driver that does not depend on where it stands. `site`: seen from the side on which its flange rests.
Result<DriverPlan> without_place(const Site& site, const DriverMount& mount) {
    const sound::Driver& driver = mount.driver;
    DriverPlan plan;
    plan.mount = mount;
    plan.centre = site.flat(mount.centre);
    plan.cutout_radius_mm = driver.cutout_diameter.mm() / 2.0;
    plan.flange_radius_mm = driver.flange_diameter.mm() / 2.0;
    const double basket = driver.basket_diameter ? driver.basket_diameter->mm() / 2.0 : plan.cutout_radius_mm - 0.5;
    plan.basket_radius_mm = mount.is_turned ? 0.0 : basket;
    plan.recess_radius_mm = recess_radius_mm(mount);
    const Point3 at = site.at(plan.centre, 0.0);

    if (plan.cutout_radius_mm <= 0.0 || plan.flange_radius_mm <= plan.cutout_radius_mm)
        return Fault{
            FaultCode::BadJob,
            fmt::format("driver: cut-out of {} mm and flange of {} mm, wanted a flange larger than the cut-out",
                        plain_number(driver.cutout_diameter.mm()), plain_number(driver.flange_diameter.mm())),
            "both are diameters", at, "part"};
    // One of the two ways round, the basket stays on the side that it comes from.
    if (mount.from_behind == mount.is_turned && basket > plan.cutout_radius_mm)
        return impossible(fmt::format("driver: basket of {} mm does not go through the cut-out of {} mm",
                                      plain_number(2.0 * basket), plain_number(2.0 * plan.cutout_radius_mm)),
                          "check basket_diameter and cutout_diameter of the driver", at);
    GAPWRIGHT_TRY(form, baffle_form(site.request));
    plan.form = form;
    plan.seat_depth_mm = seat_depth_mm(mount, form);
    plan.under_seat_mm = mount.from_behind ? form.back_mm : form.back_mm - plan.seat_depth_mm;
    return plan;
}

/// `near`: the face on which its flange rests. A fault of its place among the edges has no hint yet.
Result<DriverPlan> plan_driver(const Site& site, const DriverMount& mount, const Side& near, const Side& far) {
    GAPWRIGHT_TRY(plan, without_place(site, mount));
    const sound::Driver& driver = mount.driver;
    const BaffleForm& form = plan.form;
    const double front_radius = near_radius_mm(site, plan), back_radius = far_radius_mm(plan);
    const std::string back_of = form.back.empty() ? "cut-out" : "back of the dish";
    if (const Past over = past(near.outline, plan.centre, front_radius); over.mm > 0.0)
        return impossible(fmt::format("driver: {} of {} mm {} the {} ({}, seen from the front), wanted inside it",
                                      front_name(plan, site.request.baffle.shape), tenths(2.0 * front_radius),
                                      past_text(over.mm), near.name, direction_words(over.way)),
                          {}, site.at(over.at, 0.0));
    if (const Past over = past(far.outline, plan.centre, back_radius); over.mm > -kEdge_mm)
        return impossible(
            fmt::format("driver: {} of {} mm {} the edge of the {} ({}, seen from the front), wanted {} inside it",
                        back_of, tenths(2.0 * back_radius), past_text(over.mm, "comes out"), far.name,
                        direction_words(over.way), plain_number(kEdge_mm)),
            {}, site.at(over.at, site.thickness_mm()));
    if (const double under = plan.under_seat_mm; plan.recess_radius_mm > 0.0 && under < kUnderRecess_mm)
        return impossible(fmt::format("driver: a recess of {} mm leaves {} mm of the baffle's {}, wanted at least {}",
                                      plain_number(driver.recess->mm()), plain_number(under),
                                      plain_number(form.back_mm - form.face_mm), plain_number(kUnderRecess_mm)),
                          "make the baffle thicker or the recess shallower", site.at(plan.centre, 0.0));
    GAPWRIGHT_CHECK(plan_bolts(site, near, far, plan));
    GAPWRIGHT_CHECK(plan_joint(site, plan));
    note_stance(plan);
    return plan;
}

/// As place_text() tells it.
Point3 told_place(Point3 p) {
    return {rounded(p.x, 1), rounded(p.y, 1), rounded(p.z, 1)};
}

/// Between all that two have on either face, the first standing at `at`.
double left_between(const DriverPlan& plan, Point2 at, const DriverPlan& other) {
    return distance(at, other.centre) -
           std::max(plan.front_radius_mm() + other.front_radius_mm(), plan.back_radius_mm() + other.back_radius_mm());
}

/// Where the driver would fit, as a hint. The others keep their places.
std::string nearest_fit(const Site& site, const DriverMount& mount, const Side& near, const Side& far,
                        const std::vector<DriverPlan>& others, const MoreRoom& more) {
    const auto plan = without_place(site, mount);
    if (!plan) return plan.error().hint;
    const double near_radius = near_radius_mm(site, *plan), far_radius = far_radius_mm(*plan);
    const auto needs = bolt_needs(site, *plan);
    const auto room = [&](Point2 p) {
        double least = std::min(near.outline.depth(p) - near_radius, far.outline.depth(p) - far_radius - kEdge_mm);
        if (more.room_mm) least = std::min(least, more.room_mm(*plan, p));
        for (const DriverPlan& other : others) least = std::min(least, left_between(*plan, p, other) - kLigament_mm);
        if (!needs || !*needs) return least;
        for (const Point2 bolt : (*needs)->at) {
            const double r = (*needs)->radius_mm;
            if (plan->form.front.empty())
                least = std::min(least, near.outline.depth(p + bolt) - r -
                                            std::max(kEdge_mm, (*needs)->beside_mm - near.rounded_mm));
            if ((*needs)->is_through && plan->form.back.empty())
                least = std::min(least, far.outline.depth(p + bolt) - r - kEdge_mm);
        }
        return least;
    };
    const Best best = greatest(room, near.outline.lo(), near.outline.hi());
    const std::string best_text = place_text(site.at(best.at, 0.0));
    if (best.value < 0.0) {
        const double smaller = std::floor(2.0 * (near_radius + best.value) * 10.0) / 10.0;
        return fmt::format(
            "the baffle takes a {} of {} mm at most, at {}: take a smaller driver, more travel or a "
            "thinner wall",
            front_name(*plan, site.request.baffle.shape), plain_number(std::max(0.0, smaller)), best_text);
    }
    // As little of a move as does it: back from the best place towards the asked one, with what rounding takes to
    // spare.
    double lo = 0.0, hi = 1.0;
    for (int i = 0; i < 30; ++i) {
        const double mid = (lo + hi) / 2.0;
        (room(best.at + (plan->centre - best.at) * mid) >= kRounding_mm ? lo : hi) = mid;
    }
    DriverPlans all;
    for (const DriverPlan& other : others) all.push_back(&other);
    if (more.takes && !more.takes(all)) all.clear();  // a fault of theirs, not of this one
    all.push_back(nullptr);
    // The room is not all: screws round the rim ask for places of their own. What is told has stood all checks.
    Fault fault;
    for (const double share : {1.0, 0.9, 0.7, 0.4, 0.0}) {
        DriverMount there = mount;
        there.centre = told_place(site.at(best.at + (plan->centre - best.at) * (lo * share), 0.0));
        auto other = plan_driver(site, there, near, far);
        if (other) all.back() = &*other;
        const Status stands = !other ? Status(std::move(other).error()) : more.takes ? more.takes(all) : Status(Done{});
        if (stands) return "it fits with [driver] centre at " + place_text(there.centre);
        fault = stands.error();
    }
    return fmt::format("take a smaller driver: even at {}, where it has most room, \"{}\"", best_text, fault.what);
}

/// All drivers but one, as far as they can be said to stand somewhere.
std::vector<DriverPlan> others_of(const Site& site, const std::vector<DriverMount>& mounts, std::size_t one) {
    std::vector<DriverPlan> others;
    for (std::size_t i = 0; i < mounts.size(); ++i)
        if (auto other = i == one ? Result<DriverPlan>(Fault{}) : without_place(site, mounts[i]))
            others.push_back(std::move(*other));
    return others;
}

/// That all they have on either face stands beside one another.
Status check_apart(const Site& site, const std::vector<DriverPlan>& plans) {
    for (std::size_t i = 0; i < plans.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) {
            const double left = left_between(plans[i], plans[i].centre, plans[j]);
            if (left < kLigament_mm)
                return impossible(
                    fmt::format("{}: its flange {} that of {}, wanted {}{}", driver_title(i),
                                left < 0.0 ? fmt::format("reaches {:.1f} mm into", -left)
                                           : fmt::format("leaves {:.1f} mm to", left),
                                driver_title(j), plain_number(kLigament_mm), left < 0.0 ? " between them" : ""),
                    "move one of them, or take smaller drivers", site.at(plans[i].centre, 0.0));
        }
    return Done{};
}

/// What is said of one is true of all, or is said of each by its name.
void name_notes(std::vector<DriverPlan>& plans) {
    const auto is_as_first = [&](const DriverPlan& plan) { return plan.notes == plans.front().notes; };
    if (plans.size() > 1 && std::all_of(plans.begin(), plans.end(), is_as_first)) {
        for (std::size_t i = 1; i < plans.size(); ++i) plans[i].notes.clear();
        plans.back().notes.push_back(fmt::format("driver: {} of them, all as said", plans.size()));
        return;
    }
    for (std::size_t i = 1; i < plans.size(); ++i)
        for (std::string& note : plans[i].notes) note = driver_title(i) + note.substr(driver_title(0).size());
}

}  // namespace

Status check_stances(const EnclosureRequest& request) {
    const Baffle& baffle = request.baffle;
    for (const DriverMount& mount : request.drivers()) {
        if ((mount.from_behind || mount.is_turned) && !mount.driver.flange_thickness)
            return Fault{FaultCode::BadJob,
                         fmt::format("driver: {}, and its file gives no flange_thickness, wanted it: its depth counts "
                                     "from the other face of the flange then",
                                     mount.from_behind ? "mounted from behind" : "turned round"),
                         "measure the flange and give flange_thickness", mount.centre, "part"};
        if (mount.from_behind && !baffle.separate)
            return impossible(
                "driver: mounted from behind a baffle that is one piece with the shell, where no hand gets it in",
                "give [enclosure] baffle.made = \"separate\": the driver is screwed to it on the bench", mount.centre);
        if (mount.from_behind && baffle.shape != BaffleShape::Flat)
            return Fault{FaultCode::NotBuilt,
                         "driver: mounted from behind a baffle with a ring or a dish is not built yet",
                         "give [enclosure] baffle.shape = \"flat\"", mount.centre, "part"};
    }
    return Done{};
}

Result<std::vector<DriverPlan>> plan_drivers(const Site& site, const Outline& flat, const Outline& back,
                                             const std::string& back_name, const MoreRoom& more) {
    const std::vector<DriverMount> mounts = site.request.drivers();
    if (mounts.size() > 1 && site.request.baffle.shape != BaffleShape::Flat)
        return Fault{FaultCode::NotBuilt, "driver: several of them on a ring or in a dish are not built yet",
                     "give [enclosure] baffle.shape = \"flat\"", site.request.baffle.plane.point, "part"};
    const Side outer{flat, "flat of the baffle", site.request.baffle.rim_radius.mm()}, inner{back, back_name, 0.0};
    const Site behind = seen_from_behind(site);
    std::vector<DriverPlan> plans;
    for (std::size_t i = 0; i < mounts.size(); ++i) {
        const bool is_behind = mounts[i].from_behind;
        const Site& seen = is_behind ? behind : site;
        const Side &near = is_behind ? inner : outer, &far = is_behind ? outer : inner;
        auto plan = plan_driver(seen, mounts[i], near, far);
        if (!plan) {
            Fault fault = std::move(plan).error();
            if (fault.hint.empty())
                fault.hint = nearest_fit(seen, mounts[i], near, far, others_of(site, mounts, i), more);
            if (const std::string first = driver_title(0) + ":"; fault.what.starts_with(first))
                fault.what = driver_title(i) + fault.what.substr(first.size() - 1);
            // Several of them are given as a list.
            if (const std::size_t at = fault.hint.find("[driver]"); mounts.size() > 1 && at != std::string::npos)
                fault.hint.replace(at, 8, "[[driver]]");
            return fault;
        }
        plan->joint.name = driver_title(i);
        plans.push_back(std::move(*plan));
    }
    GAPWRIGHT_CHECK(check_apart(site, plans));
    name_notes(plans);
    return plans;
}

Drilled drill(const Site& site, const TopoDS_Face& front, const TopoDS_Face& back, double back_depth_mm,
              const DriverPlans& drivers, const std::vector<Hole>& screws) {
    Drilled made;
    std::vector<TopoDS_Wire> in_front, in_back;
    // A hole from `depth` of a side on: its wall, and its bottom or its way out.
    const auto bore = [&](const Site& seen, const Hole& hole, double depth_mm, std::vector<TopoDS_Wire>& start,
                          double out_mm, std::vector<TopoDS_Wire>& out) {
        const double length = hole.is_through ? out_mm - depth_mm : hole.depth_mm;
        const Wall side = wall(circle(seen.plane(depth_mm, hole.centre), hole.radius_mm), -seen.outward() * length);
        start.push_back(side.from);
        made.more.insert(made.more.end(), side.faces.begin(), side.faces.end());
        if (hole.is_through)
            out.push_back(side.to);
        else
            made.more.push_back(disc(seen.plane(depth_mm + length, hole.centre), side.to));
        made.pierces |= hole.is_through;
        return side;
    };
    for (const Hole& screw : screws) bore(site, screw, 0.0, in_front, back_depth_mm, in_back);
    const Site behind = seen_from_behind(site);
    for (const DriverPlan* driver : drivers) {
        const bool is_behind = driver->mount.from_behind;
        const Site& seen = is_behind ? behind : site;
        const double seat_mm = is_behind ? 0.0 : driver->seat_depth_mm;
        std::vector<TopoDS_Wire> in_face, in_seat, in_boss;
        const BaffleForm& form = driver->form;
        const bool has_recess = driver->recess_radius_mm > 0.0;
        std::vector<TopoDS_Wire>& near = is_behind ? in_back : in_front;
        std::vector<TopoDS_Wire>& far = is_behind ? in_front : in_back;
        std::vector<TopoDS_Wire>& on_face = form.front.empty() ? near : in_face;
        std::vector<TopoDS_Wire>& start = has_recess ? in_seat : on_face;
        std::vector<TopoDS_Wire>& out = form.back.empty() ? far : in_boss;
        // A groove in the seat leaves an island of it within: there what lies inside starts.
        const bool has_groove = driver->groove_radius_mm > 0.0;
        std::vector<TopoDS_Wire> in_island;
        const auto starts_in = [&](double radius) -> std::vector<TopoDS_Wire>& {
            return has_groove && radius < driver->groove_radius_mm ? in_island : start;
        };
        const Wall cutout =
            bore(seen,
                 {.centre = driver->centre, .radius_mm = driver->cutout_radius_mm, .depth_mm = 0.0, .is_through = true},
                 seat_mm, starts_in(driver->cutout_radius_mm), form.back_mm, out);
        if (!is_behind) {
            made.out_of_back.push_back(cutout.to);
            made.air_side.insert(made.air_side.end(), cutout.faces.begin(), cutout.faces.end());
            made.air_side.push_back(disc(site.plane(seat_mm, driver->centre), cutout.from));
        }
        for (const Hole& bolt : driver->bolts)
            bore(seen, bolt, seat_mm, starts_in(distance(bolt.centre, driver->centre)), form.back_mm, out);
        if (has_groove) {
            const Plane seat = seen.plane(seat_mm, driver->centre);
            const Vec3 down = -seen.outward() * driver->joint.groove_depth_mm;
            const Wall outside = wall(circle(seat, driver->groove_radius_mm + driver->joint.groove_mm), down),
                       inside = wall(circle(seat, driver->groove_radius_mm), down);
            start.push_back(outside.from);
            for (const Wall* side : {&outside, &inside})
                made.more.insert(made.more.end(), side->faces.begin(), side->faces.end());
            const Plane floor = seen.plane(seat_mm + driver->joint.groove_depth_mm, driver->centre);
            made.more.push_back(with_holes(disc(floor, outside.to), {inside.to}));
            made.more.push_back(with_holes(disc(seat, inside.from), in_island));
        }
        if (has_recess) {
            const Wall side = wall(circle(site.plane(form.face_mm, driver->centre), driver->recess_radius_mm),
                                   -site.outward() * (seat_mm - form.face_mm));
            on_face.push_back(side.from);
            made.more.insert(made.more.end(), side.faces.begin(), side.faces.end());
            made.more.push_back(with_holes(disc(site.plane(seat_mm, driver->centre), side.to), in_seat));
        }
        if (!form.front.empty()) {
            const Turned flank = turned(site, driver->centre, form.front);
            in_front.push_back(flank.from);
            made.more.insert(made.more.end(), flank.faces.begin(), flank.faces.end());
            made.more.push_back(with_holes(disc(site.plane(form.face_mm, driver->centre), flank.to), in_face));
        }
        if (!form.back.empty()) {
            const Turned flank = turned(site, driver->centre, form.back);
            const TopoDS_Face floor = disc(site.plane(form.back_mm, driver->centre), flank.to);
            in_back.push_back(flank.from);
            made.more.insert(made.more.end(), flank.faces.begin(), flank.faces.end());
            made.more.push_back(with_holes(floor, in_boss));
            made.out_of_back.back() = flank.from;
            made.air_side.insert(made.air_side.end(), flank.faces.begin(), flank.faces.end());
            made.air_side.push_back(with_holes(floor, {cutout.to}));
        }
    }
    made.front = in_front.empty() ? front : with_holes(front, in_front);
    made.back = in_back.empty() ? back : with_holes(back, in_back);
    return made;
}

}  // namespace geom::parts
