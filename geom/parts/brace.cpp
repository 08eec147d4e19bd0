// The inner wall is where the outer field is a wall deep, the baffle's inner face apart; the kernel gets one cylinder a
// brace, whose ends lie in the walls all round.
#include "geom/parts/internal/brace.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRep_Builder.hxx>
#include <IntCurvesFace_ShapeIntersector.hxx>
#include <TopoDS_Compound.hxx>
#include <gp_Lin.hxx>

namespace geom::parts {
namespace {

constexpr double kFarthest_mm = 1500.0;
constexpr double kIntoWall_mm = 0.5;  // of all of an end
constexpr double kStep_mm = 0.5;

std::string called(const std::string& name) {
    return "brace \"" + name + "\"";
}

/// From `from` on along the line, the first place at which `is_there`; none within `most`.
template <class F>
std::optional<double> first_along(double from, double direction, double most, F&& is_there) {
    double before = 0.0;
    for (double s = 0.0; s <= most; s += kStep_mm) {
        if (is_there(from + direction * s)) {
            double lo = before, hi = s;
            for (int i = 0; i < 25 && s > 0.0; ++i) {
                const double mid = (lo + hi) / 2.0;
                (is_there(from + direction * mid) ? hi : lo) = mid;
            }
            return from + direction * hi;
        }
        before = s;
    }
    return std::nullopt;
}

/// Where an end of the brace lies in the wall with all of its disc.
Result<double> end_in_wall(const Site& site, const BracePlan& plan, double end, double direction) {
    const double most = 2.0 * plan.radius_mm + site.request.wall.mm();
    std::vector<RimPlace> disc = rim_of(plan.line, plan.radius_mm);
    for (const RimPlace& p : rim_of(plan.line, plan.radius_mm / 2.0)) disc.push_back(p);
    disc.push_back({Vec3{}, plan.line.along});
    double farthest = end;
    const auto at_edge = [&](Point3 where) {
        return impossible(fmt::format("{}: its end of {} mm meets the inner wall at an edge, wanted on one wall",
                                      called(plan.name), plain_number(2.0 * plan.radius_mm)),
                          "move [enclosure] braces at, or turn the axis square to the wall", where);
    };
    for (const RimPlace& p : disc) {
        const auto is_in = [&](double s) { return site.air_mm(plan.line.at(s) + p.offset) > kIntoWall_mm; };
        // A slanting wall is met before the axis meets it, or after.
        const auto in = first_along(end - direction * plan.radius_mm, direction, plan.radius_mm + most, is_in);
        if (!in) return at_edge(plan.line.at(end) + p.offset);
        if (direction * (*in - farthest) > 0.0) farthest = *in;
    }
    for (const RimPlace& p : disc)
        if (site.air_mm(plan.line.at(farthest) + p.offset) < 0.3 * kIntoWall_mm)
            return at_edge(plan.line.at(farthest) + p.offset);
    return farthest;
}

/// What a brace must keep off.
Status check_free(const Site& site, const BracePlan& plan, const BaffleRoom& baffle,
                  const std::vector<SleevePlan>& sleeves, const std::vector<BracePlan>& others) {
    const std::string who = called(plan.name);
    const space::Field& outer = site.room.outer;
    const Frame& box = outer.grid.vehicle_from_box;
    const std::string move = "move [enclosure] braces at, or turn the axis";
    struct Nearest {
        double mm = 1e300;
        Point3 at;
        std::string what;
        void take(double distance, Point3 where, const std::string& whom = {}) {
            if (distance < mm) mm = distance, at = where, what = whom;
        }
    };
    Nearest driver, magnet, side, solid, front;
    for (double s = plan.from_mm; s <= plan.to_mm; s += 2.0) {
        std::vector<RimPlace> rim = rim_of(plan.line, plan.radius_mm, 36);
        for (const RimPlace& p : rim) {
            const Point3 q = plan.line.at(s) + p.offset;
            front.take(site.depth(q), q);
            if (const double gap = -site.within_walls_mm(q); gap < kLeastAirGap_mm) {
                // Which wall: those it stands on do not count.
                const Vec3 n = unit(box.dir_to_parent(outer.gradient_box(box.to_local(q))));
                if (std::abs(dot(n, plan.line.up)) < 0.5) side.take(gap, q);
            }
            for (const DriverBody& body : baffle.drivers) {
                driver.take(body.distance_to(q), q);
                const auto [r, depth] = body.flat(q);
                const double behind = depth - body.depth_mm();
                if (r < body.magnet_radius_mm() && behind > 0.0) magnet.take(behind, q);
            }
        }
        rim.push_back({Vec3{}, plan.line.along});
        for (const RimPlace& p : rim) {
            const Point3 q = plan.line.at(s) + p.offset;
            for (const SleevePlan& sleeve : sleeves)
                solid.take(distance_to(sleeve, q), q, "sleeve \"" + sleeve.name + "\"");
            if (baffle.port_mm) solid.take(baffle.port_mm(q), q, "the port, or the way before its inner end");
            for (const BracePlan& other : others) solid.take(distance_to(other, q), q, called(other.name));
        }
    }
    if (driver.mm < kBesideDriver_mm)
        return impossible(
            fmt::format("{}: it {} the driver's body, wanted {} mm beside it", who,
                        driver.mm < 0.0 ? std::string("runs through") : fmt::format("comes to {:.1f} mm of", driver.mm),
                        plain_number(kBesideDriver_mm)),
            move, driver.at);
    if (magnet.mm < kBehindMagnet_mm)
        return impossible(fmt::format("{}: it stands {:.1f} mm behind the driver's magnet, wanted {}", who, magnet.mm,
                                      plain_number(kBehindMagnet_mm)),
                          move, magnet.at);
    if (side.mm < kLeastAirGap_mm)
        return impossible(fmt::format("{}: it leaves {:.1f} mm of air to a wall beside it, wanted {}", who,
                                      std::max(side.mm, 0.0), plain_number(kLeastAirGap_mm)),
                          move, side.at);
    if (solid.mm < kLeastAirGap_mm)
        return impossible(fmt::format("{}: it comes to {:.1f} mm of {}, wanted {}", who, std::max(solid.mm, 0.0),
                                      solid.what, plain_number(kLeastAirGap_mm)),
                          move, solid.at);
    // One that stands on the baffle keeps off all that the driver has there.
    const bool on_baffle = front.mm < site.thickness_mm() + 0.05 && std::abs(dot(plan.line.up, site.outward())) > 0.5;
    if (on_baffle && site.request.baffle.separate)
        return impossible(who + ": it would stand on the separate baffle, wanted from wall to wall of the shell", move,
                          front.at);
    for (const DriverMount& mount : site.request.drivers()) {
        if (!on_baffle) break;
        const double beside =
            distance(site.flat(front.at), site.flat(mount.centre)) - mount.driver.flange_diameter.mm() / 2.0;
        if (beside < kBesideDriver_mm)
            return impossible(who + ": it would stand on the baffle where the driver is, wanted beside its flange",
                              move, front.at);
    }
    if (!on_baffle && front.mm < baffle.air_mm)
        return impossible(fmt::format("{}: it comes to {:.1f} mm behind the baffle's face, wanted at least {}", who,
                                      front.mm, plain_number(baffle.air_mm)),
                          move, front.at);
    return Done{};
}

}  // namespace

Result<BracePlan> plan_brace(const Site& site, const Brace& brace, const BaffleRoom& baffle,
                             const std::vector<SleevePlan>& sleeves, const std::vector<BracePlan>& others) {
    BracePlan plan{.name = brace.name,
                   .line = bolt_line(brace.at, -1.0 * brace.axis, std::nullopt),
                   .radius_mm = brace.thickness.mm() / 2.0};
    const auto in_air = [&](double s) { return site.air_mm(plan.line.at(s)) < 0.0; };
    const auto in_wall = [&](double s) { return site.air_mm(plan.line.at(s)) > 0.0; };
    // The stretch of air that holds `at`, or the one nearest to it.
    double within = 0.0;
    if (!in_air(0.0)) {
        const auto ahead = first_along(0.0, 1.0, kFarthest_mm, in_air),
                   back = first_along(0.0, -1.0, kFarthest_mm, in_air);
        if (!ahead && !back)
            return impossible(called(brace.name) + ": its axis misses the air of the box, wanted through it",
                              "check [enclosure] braces at and axis", brace.at);
        within = !back || (ahead && *ahead < -*back) ? *ahead + 1e-3 : *back - 1e-3;
    }
    const auto from = first_along(within, -1.0, kFarthest_mm, in_wall),
               to = first_along(within, 1.0, kFarthest_mm, in_wall);
    if (!from || !to)
        return Fault{FaultCode::Internal, called(brace.name) + ": its ends were not found", {}, brace.at, "part"};
    plan.from_mm = *from;
    plan.to_mm = *to;
    if (const double length = plan.to_mm - plan.from_mm; length < kLeastAirGap_mm)
        return impossible(
            fmt::format("{}: it would be {:.1f} mm long, wanted a post from wall to wall", called(brace.name), length),
            "check [enclosure] braces at and axis", brace.at);
    GAPWRIGHT_TRY(tool_from, end_in_wall(site, plan, plan.from_mm, -1.0));
    GAPWRIGHT_TRY(tool_to, end_in_wall(site, plan, plan.to_mm, 1.0));
    plan.tool_from_mm = tool_from;
    plan.tool_to_mm = tool_to;
    GAPWRIGHT_CHECK(check_free(site, plan, baffle, sleeves, others));
    return plan;
}

double distance_to(const BracePlan& brace, Point3 p) {
    const double s = brace.line.height(p), beside = brace.line.beside(p) - brace.radius_mm;
    const double end = std::max(brace.tool_from_mm - s, s - brace.tool_to_mm);
    return std::hypot(std::max(beside, 0.0), std::max(end, 0.0)) + std::min(std::max(beside, end), 0.0);
}

TopoDS_Shape air_tool(const BracePlan& brace) {
    return prism(brace.line, brace.radius_mm, brace.tool_from_mm, brace.tool_to_mm);
}

BraceMade brace_made(const BracePlan& brace, const std::vector<TopoDS_Shape>& pieces, double mm3) {
    BraceMade made{.name = brace.name,
                   .from = brace.line.at(brace.from_mm),
                   .to = brace.line.at(brace.to_mm),
                   .thickness_mm = 2.0 * brace.radius_mm,
                   .volume_mm3 = mm3};
    BRep_Builder builder;
    TopoDS_Compound all;
    builder.MakeCompound(all);
    for (const TopoDS_Shape& piece : pieces) builder.Add(all, piece);
    IntCurvesFace_ShapeIntersector lines;
    lines.Load(all, 1e-6);
    const double start = brace.tool_from_mm - 1.0;
    lines.Perform(gp_Lin(to_occt(brace.line.at(start)), to_occt_dir(brace.line.up)), 0.0,
                  brace.tool_to_mm - start + 1.0);
    double least = 1e300, most = -1e300;
    for (int i = 1; i <= lines.NbPnt(); ++i) {
        least = std::min(least, start + lines.WParameter(i));
        most = std::max(most, start + lines.WParameter(i));
    }
    if (most > least) {
        made.from = brace.line.at(least);
        made.to = brace.line.at(most);
    }
    return made;
}

}  // namespace geom::parts
