// Driver and baffle are held by socket screws without washers unless the job says otherwise [common practice]. A
// driver's flange of unknown thickness is taken to lie flush in its recess; without a recess its screws' heads are
// taken to sit on the seat itself.
#include "geom/parts/internal/screws.h"

#include "geom/fixings/threads.h"

#include <fmt/format.h>

namespace geom::parts {
namespace {

constexpr fixings::BoltUse kScrew{.head = fixings::HeadKind::Socket, .has_washer = false};

}  // namespace

Result<std::vector<BoltMade>> driver_screws(const Site& site, const DriverPlan& plan) {
    std::vector<BoltMade> screws;
    if (plan.bolts.empty()) return screws;
    const DriverMount& mount = plan.mount;
    const sound::Driver& driver = mount.driver;
    GAPWRIGHT_TRY(thread, fixings::find_thread(driver.bolt_thread, site.request.own_threads));
    fixings::BoltUse use = kScrew;
    use.tool = mount.tool;
    const double flange =
        driver.flange_thickness ? driver.flange_thickness->mm() : (driver.recess ? driver.recess->mm() : 0.0);
    for (const Hole& bolt : plan.bolts) {
        BoltMade screw;
        screw.name = fmt::format("{} screw {}", plan.joint.name, screws.size() + 1);
        screw.thread = driver.bolt_thread;
        screw.head_seat = site.at(bolt.centre, plan.seat_depth_mm + (mount.from_behind ? flange : -flange));
        screw.axis = mount.from_behind ? site.outward() : -site.outward();
        screw.hole.hole_mm = 2.0 * bolt.radius_mm;
        screw.hole.seat_mm = thread.socket.diameter_mm;
        screw.tool = fixings::tool_room(thread, use);
        screw.step = mount.from_behind ? Step::DriverBehindBaffle : Step::DriverOnBaffle;
        screw.product = site.request.baffle.separate ? "baffle" : "shell";
        screw.reach_mm = flange + (bolt.is_through ? plan.under_seat_mm : bolt.depth_mm);
        screw.clamps_mm = flange;
        screws.push_back(screw);
    }
    return screws;
}

Result<std::vector<BoltMade>> baffle_screws(const Site& site, const FlangePlan& plan) {
    std::vector<BoltMade> screws;
    const Baffle& baffle = site.request.baffle;
    GAPWRIGHT_TRY(thread, fixings::find_thread(baffle.screw_thread, site.request.own_threads));
    fixings::BoltUse use = kScrew;
    use.has_washer = true;  // the plate may be of board
    use.tool = baffle.tool;
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, use, false));
    for (const Point2 at : plan.screws) {
        BoltMade screw;
        screw.name = fmt::format("baffle screw {}", screws.size() + 1);
        screw.thread = baffle.screw_thread;
        screw.head_seat = site.at(at, 0.0);
        screw.axis = -site.outward();
        screw.hole = hole;
        screw.tool = fixings::tool_room(thread, use);
        screw.step = Step::BaffleOnBox;
        screw.product = "baffle";
        screw.reach_mm =
            site.thickness_mm() + (plan.size.is_through ? plan.size.thickness_mm : plan.size.hole_depth_mm);
        screws.push_back(screw);
    }
    return screws;
}

Status put_bolt(const Site& site, const Foot& foot, const FootPlan& plan, FixingMade& made) {
    GAPWRIGHT_TRY(thread, fixings::find_thread(foot.thread, site.request.own_threads));
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, foot.use, false));
    made.use = foot.use;
    made.belongs_to = foot.belongs_to;
    made.grip_mm = plan.pad_mm;
    made.bears_mm = plan.pad_mm;
    made.seat_radius_mm = plan.pad_radius_mm;
    BoltMade& bolt = made.bolt;
    bolt.name = "\"" + foot.name + "\"";
    bolt.thread = foot.thread;
    bolt.head_seat = plan.point + plan.up * plan.pad_mm;
    bolt.axis = -plan.up;
    bolt.hole = hole;
    bolt.tool = fixings::tool_room(thread, foot.use);
    bolt.step = Step::BoxOnVehicle;
    bolt.product = "shell";
    bolt.reach_mm = plan.pad_mm;
    return Done{};
}

}  // namespace geom::parts
