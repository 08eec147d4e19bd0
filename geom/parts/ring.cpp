// A cylinder cut by a plane, then two booleans: the bore, and all other holes at once. Every tool is one solid of
// cylinders that run past the faces they go through, so that no two faces fall together.
#include "geom/parts/ring.h"

#include "geom/core/text.h"
#include "geom/parts/internal/ring_plan.h"

#include <fmt/format.h>
#include <BRepPrimAPI_MakeCylinder.hxx>

#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;  // of the cylinder past the highest place of a tilted face

TopoDS_Shape tool_of(const RingCut& cut) {
    return prism(cut.line, cut.radius_mm, cut.tool_from_mm, cut.tool_to_mm);
}

Result<TopoDS_Shape> body_of(const RingPlan& plan) {
    const BoltLine axis{.point = plan.seat.origin, .up = plan.seat.z, .along = plan.seat.x};
    if (plan.slope <= 0.0) return prism(axis, plan.outside_mm, 0.0, plan.most_mm);
    GAPWRIGHT_TRY(halves,
                  split("ring: front face", prism(axis, plan.outside_mm, 0.0, plan.most_mm + kPast_mm), plan.front));
    return TopoDS_Shape(halves.behind);
}

/// The least that a hole takes of the ring; the most is that of its tool.
double least_mm3(const RingCut& cut) {
    return 0.5 * std::numbers::pi * cut.radius_mm * cut.radius_mm * (cut.to_mm - cut.from_mm);
}

Result<TopoDS_Shape> drilled(const RingPlan& plan, const TopoDS_Shape& bored) {
    TopTools_ListOfShape tools;
    double least = 0.0, most = 0.0;
    const auto take = [&](const TopoDS_Shape& tool) {
        tools.Append(tool);
        most += volume_mm3(tool);
    };
    for (const RingCut& screw : plan.screws) {
        take(tool_of(screw));
        least += least_mm3(screw);
    }
    for (const auto& bolt : plan.bolts) {
        std::vector<TopoDS_Shape> pieces;
        for (const RingCut& cut : bolt) {
            pieces.push_back(tool_of(cut));
            least += least_mm3(cut);
        }
        GAPWRIGHT_TRY(tool, joined(bolt.front().name, pieces));
        take(tool);
    }
    if (tools.IsEmpty()) return bored;
    // A bolt's hole runs into its head's recess: the two are counted twice by no more than that.
    GAPWRIGHT_TRY(made, cut("ring: holes", bored, tools, least, most));
    return TopoDS_Shape(made.solid);
}

/// Another turn of the driver's bolt circle that keeps every rule, the nearest to the asked one.
std::optional<double> turn_that_fits(RingRequest request) {
    if (request.driver.bolt_count <= 0) return std::nullopt;
    RingRequest without = request;
    without.driver.bolt_count = 0;
    if (!plan_ring(without)) return std::nullopt;  // no turn would help
    const double asked = request.turn.deg(), pitch = 360.0 / request.driver.bolt_count;
    for (double by = 1.0; by <= pitch / 2.0; by += 1.0)
        for (const double way : {1.0, -1.0}) {
            request.turn = Angle::deg(asked + way * by);
            if (plan_ring(request)) return asked + way * by;
        }
    return std::nullopt;
}

Result<RingPlan> planned(const RingRequest& request) {
    auto plan = plan_ring(request);
    if (plan || plan.error().code != FaultCode::Impossible) return plan;
    Fault fault = std::move(plan).error();
    if (const auto turn = turn_that_fits(request))
        fault.hint = fmt::format("turn the driver's bolt circle to {} deg: every rule is kept there; or {}",
                                 plain_number(*turn), fault.hint);
    return fault;
}

Result<std::vector<RingHole>> measured(const RingPlan& plan, const TopoDS_Shape& solid) {
    std::vector<RingCut> cuts{plan.bore};
    cuts.insert(cuts.end(), plan.screws.begin(), plan.screws.end());
    for (const auto& bolt : plan.bolts) cuts.insert(cuts.end(), bolt.begin(), bolt.end());
    std::vector<RingHole> holes;
    for (const RingCut& cut : cuts) {
        GAPWRIGHT_TRY(hole, measure_hole("ring: " + cut.name, solid, cut.line, cut.radius_mm, cut.from_mm, cut.to_mm));
        holes.push_back({.name = cut.name,
                         .from = cut.line.at(cut.from_mm),
                         .way = cut.line.up,
                         .depth_mm = cut.to_mm - cut.from_mm,
                         .diameter_mm = 2.0 * cut.radius_mm,
                         .made_mm = hole.diameter_mm,
                         .off_axis_mm = hole.off_axis_mm});
    }
    return holes;
}

}  // namespace

Result<Ring> make_ring(const RingRequest& request, const Context& context) {
    const Stage stage(context, "part");
    GAPWRIGHT_TRY(plan, planned(request));
    if (context.is_cancelled()) return Context::interrupted();
    return guard_occt("part", [&]() -> Result<Ring> {
        GAPWRIGHT_TRY(body, body_of(plan));
        TopTools_ListOfShape bore;
        bore.Append(tool_of(plan.bore));
        GAPWRIGHT_TRY(bored, cut("ring: bore", body, bore, 0.999999 * plan.bore_mm3, 1.000001 * plan.bore_mm3));
        GAPWRIGHT_TRY(solid, drilled(plan, bored.solid));
        GAPWRIGHT_CHECK(check_solid("ring", solid));
        GAPWRIGHT_TRY(holes, measured(plan, solid));
        Ring ring{.product = {.name = "ring", .solid = to_brep(solid), .material = request.material},
                  .front = plan.front,
                  .most_height = Length::mm(plan.most_mm),
                  .least_height = request.height,
                  .volume = Volume::mm3(volume_mm3(solid)),
                  .holes = std::move(holes),
                  .webs = plan.webs,
                  .notes = plan.notes};
        return ring;
    });
}

}  // namespace geom::parts
