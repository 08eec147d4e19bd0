// From the filled outside to the finished ring: foot, lip, bore, flare, recess, grooves, then all holes at once. Every
// tool runs past the faces it goes through, so that no two faces fall together.
#include "geom/parts/ring.h"

#include "geom/core/text.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/ring_body.h"

#include <fmt/format.h>
#include <BRepAlgoAPI_Common.hxx>

#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kTurnStep_deg = 1.0;

/// The walls that holes keep from. Cylinders where they are; the bore's wall is that of what it takes out of the ring.
Result<RingSides> sides_of(const RingShape& shape, const TopoDS_Shape& filled, const TopoDS_Shape& bore,
                           const Context& context) {
    RingSides sides;
    const Plane seat{shape.seat.origin, shape.seat.z};
    if (shape.outside_mm > 0.0)
        sides.outside = RingSide::cylinder(bolt_line(seat.point, seat.outward, {}), shape.outside_mm, true);
    else {
        GAPWRIGHT_TRY(side, RingSide::of(filled, {seat, shape.front}, true, context));
        sides.outside = side;
    }
    if (shape.has_round_bore && shape.outside_mm > 0.0) {
        sides.bore = RingSide::cylinder(shape.bore.line, shape.bore.radius_mm, false);
        return sides;
    }
    BRepAlgoAPI_Common plug(filled, bore);
    if (!plug.IsDone())
        return Fault{FaultCode::Internal, "ring: bore and outside were not cut", {}, seat.point, "part"};
    GAPWRIGHT_TRY(side, RingSide::of(plug.Shape(), {seat, shape.front, shape.rest}, false, context));
    sides.bore = side;
    return sides;
}

Status hold_walls(const RingRequest& request, const RingShape& shape, const RingSides& sides, Webs& webs) {
    const double wall = least_wall(request.make.method).mm();
    if (!sides.bore.is_cylinder()) {
        const Nearness near = wall_between(sides.bore, sides.outside);
        GAPWRIGHT_CHECK(webs.keep("the bore and the outside", near.mm, wall, near.at,
                                  "a larger seat, a smaller bore or less shift"));
    }
    const auto in_outline = [&](const char* what, double radius, const std::string& hint) -> Status {
        RingCut mouth{.name = what,
                      .line = bolt_line(shape.mouth, -shape.seat.z, {}),
                      .radius_mm = radius,
                      .from_mm = 0.0,
                      .to_mm = 0.2,
                      .tool_from_mm = 0.0,
                      .tool_to_mm = 0.2};
        return webs.keep(mouth, sides.outside, "the outside", wall, hint);
    };
    if (shape.flare_mm > 0.0)
        GAPWRIGHT_CHECK(in_outline("the bore's flared mouth", shape.mouth_mm, "a smaller flare, or a larger seat"));
    if (request.seat.opening && (request.lip || request.rain_lip)) {
        const Outline opening(loop_of(*request.seat.opening, 0.005));
        const Point3 mouth = shape.view.to_local(shape.mouth);
        const double room = opening.depth({mouth.x, mouth.z}) - 0.005;
        if (request.lip)
            GAPWRIGHT_CHECK(webs.keep("the bore and the lip's outside", room - request.lip->play.mm() - shape.mouth_mm,
                                      wall, shape.mouth, "a smaller bore, or no lip"));
        if (request.rain_lip)
            GAPWRIGHT_CHECK(webs.keep("the rain lip and the opening's edge",
                                      room - shape.mouth_mm - request.rain_lip->wall.mm(), 0.0, shape.mouth,
                                      "a thinner wall of the rain lip, or none"));
    }
    return Done{};
}

/// The least that a hole takes of the ring; the most is that of its tool.
double least_mm3(const RingCut& cut) {
    const double r = cut.is_cone() ? cut.cone_mm : cut.radius_mm;
    return 0.5 * std::numbers::pi * r * r * (cut.to_mm - cut.from_mm);
}

Result<TopoDS_Shape> drilled(const RingHoles& holes, const TopoDS_Shape& bored) {
    TopTools_ListOfShape tools;
    double least = 0.0, most = 0.0;
    const auto take = [&](const TopoDS_Shape& tool) {
        tools.Append(tool);
        most += volume_mm3(tool);
    };
    const auto take_pieces = [&](const std::vector<RingCut>& cuts) -> Status {
        std::vector<TopoDS_Shape> pieces;
        for (const RingCut& cut : cuts) {
            pieces.push_back(tool_of(cut));
            least += least_mm3(cut);
        }
        GAPWRIGHT_TRY(tool, joined(cuts.front().name, pieces));
        take(tool);
        return Done{};
    };
    for (std::size_t i = 0; i < holes.screws.size(); ++i) {
        std::vector<RingCut> cuts{holes.screws[i]};
        if (i < holes.nuts.size()) cuts.push_back(holes.nuts[i]);
        GAPWRIGHT_CHECK(take_pieces(cuts));
    }
    for (const auto& bolt : holes.bolts) GAPWRIGHT_CHECK(take_pieces(bolt));
    for (const RingGrooveCut& groove : holes.grooves) {
        const TopoDS_Shape tool = groove_tool(groove);
        take(tool);
        least += 0.5 * volume_mm3(tool) * groove.depth_mm / (groove.depth_mm + 1.0);
    }
    if (tools.IsEmpty()) return bored;
    // A bolt's hole runs into its head's recess: the two are counted twice by no more than that.
    GAPWRIGHT_TRY(made, cut("ring: holes", bored, tools, least, most));
    return TopoDS_Shape(made.solid);
}

/// At the asked turn, or where none is asked at the nearest to 0 that keeps every rule.
Result<RingHoles> placed(const RingRequest& request, const RingShape& shape, const RingSides& sides) {
    const double asked = request.turn.value_or(Angle()).deg();
    auto holes = plan_ring_holes(request, shape, sides, Angle::deg(asked));
    const bool can_turn = request.driver.bolt_count > 0 && request.screws_at.empty();
    if (holes || holes.error().code != FaultCode::Impossible || !can_turn) return holes;
    Fault fault = std::move(holes).error();
    RingRequest without = request;
    without.driver.bolt_count = 0;
    if (!plan_ring_holes(without, shape, sides, Angle::deg(asked))) return fault;  // no turn would help
    const double pitch = 360.0 / request.driver.bolt_count;
    for (double by = kTurnStep_deg; by <= pitch / 2.0; by += kTurnStep_deg)
        for (const double way : {1.0, -1.0}) {
            auto turned = plan_ring_holes(request, shape, sides, Angle::deg(asked + way * by));
            if (!turned) continue;
            if (request.turn) {
                fault.hint = fmt::format("turn the driver's bolt circle to {} deg: every rule is kept there; or {}",
                                         plain_number(asked + way * by), fault.hint);
                return fault;
            }
            turned->notes.push_back(fmt::format("driver: its bolt circle is turned by {} deg, since at 0 deg {}",
                                                plain_number(way * by), fault.what.substr(fault.what.find(' ') + 1)));
            return turned;
        }
    return fault;
}

Result<std::vector<RingHole>> measured(const RingShape& shape, const RingHoles& holes, const TopoDS_Shape& solid) {
    std::vector<RingCut> cuts;
    if (shape.has_round_bore) cuts.push_back(shape.bore);
    cuts.insert(cuts.end(), holes.screws.begin(), holes.screws.end());
    cuts.insert(cuts.end(), holes.nuts.begin(), holes.nuts.end());
    for (const auto& bolt : holes.bolts) cuts.insert(cuts.end(), bolt.begin(), bolt.end());
    std::vector<RingHole> out;
    for (const RingCut& cut : cuts) {
        if (cut.is_cone()) continue;
        GAPWRIGHT_TRY(hole, measure_hole("ring: " + cut.name, solid, cut.line, cut.radius_mm, cut.from_mm, cut.to_mm));
        out.push_back({.name = cut.name,
                       .from = cut.line.at(cut.from_mm),
                       .way = cut.line.up,
                       .depth_mm = cut.to_mm - cut.from_mm,
                       .diameter_mm = 2.0 * cut.radius_mm,
                       .made_mm = hole.diameter_mm,
                       .off_axis_mm = hole.off_axis_mm});
    }
    return out;
}

Result<TopoDS_Shape> one_cut(const char* what, const TopoDS_Shape& from, const TopoDS_Shape& tool, double least,
                             double most) {
    TopTools_ListOfShape tools;
    tools.Append(tool);
    GAPWRIGHT_TRY(made, cut(what, from, tools, least, most));
    return TopoDS_Shape(made.solid);
}

/// The bore, and what widens it behind.
Result<TopoDS_Shape> bored(const RingShape& shape, const TopoDS_Shape& body, const TopoDS_Shape& bore) {
    double most = volume_mm3(bore), least = 0.1 * most;
    if (shape.has_round_bore && shape.below_mm <= 0.0 && shape.recess_mm <= 0.0) {
        const double all = std::numbers::pi * shape.bore.radius_mm * shape.bore.radius_mm * shape.bore.to_mm;
        least = 0.999999 * all;
        most = 1.000001 * all;
    }
    GAPWRIGHT_TRY(solid, one_cut("ring: bore", body, bore, least, most));
    if (const auto flare = flare_tool(shape)) {
        GAPWRIGHT_TRY(flared, one_cut("ring: flare", solid, *flare, 0.0, volume_mm3(*flare)));
        solid = flared;
    }
    return solid;
}

/// The flange's recess.
Result<TopoDS_Shape> let_in(const RingRequest& request, const RingShape& shape, const TopoDS_Shape& solid) {
    if (shape.recess_mm <= 0.0 || request.flange_outline) return solid;
    const BoltLine line = bolt_line(shape.front.point, shape.front.outward, {});
    const TopoDS_Shape tool = prism(line, shape.recess_radius_mm, -1.0, shape.recess_mm);
    return one_cut("ring: recess", solid, tool, 0.0, volume_mm3(tool));
}

/// Of the bore with its flare, from the seat plane to where the flange rests; what a lip holds stands in the vehicle's
/// air.
Result<Volume> air_inside(const RingRequest& request, const RingShape& shape, const TopoDS_Shape& filled,
                          const TopoDS_Shape& bore) {
    TopoDS_Shape ring = filled;
    if (request.foot) {  // a ring on a scan: as if it stood on the seat plane
        RingRequest level = request;
        level.foot.reset();
        GAPWRIGHT_TRY(level_ring, raw_ring(level, shape));
        ring = level_ring;
    }
    GAPWRIGHT_TRY(seated, let_in(request, shape, ring));
    TopoDS_Shape tool = bore;
    if (const auto flare = flare_tool(shape)) {
        GAPWRIGHT_TRY(both, joined("ring: bore and flare", {bore, *flare}));
        tool = both;
    }
    BRepAlgoAPI_Common air(seated, tool);
    if (!air.IsDone()) return Fault{FaultCode::Internal, "ring: the air inside was not cut", {}, shape.mouth, "part"};
    return Volume::mm3(volume_mm3(air.Shape()));
}

/// With the air behind the seat, less the driver's body.
void add_air_behind(const RingRequest& request, Ring& ring) {
    if (!request.door_volume) return;
    const auto driver = sound::displacement_of(request.driver);
    ring.air_behind =
        Volume::mm3(request.door_volume->mm3() + ring.inside.mm3() - (driver ? driver->volume.mm3() : 0.0));
    if (!driver)
        ring.notes.push_back(
            "air behind the driver: its displacement is not given, nor the lengths to estimate it: "
            "counted as nothing");
    else if (driver->is_estimated)
        ring.notes.push_back(
            fmt::format("air behind the driver: its displacement of {:.3f} L is estimated as frustum "
                        "and magnet, within {:.0f} %",
                        driver->volume.litres(), 100.0 * driver->spread_rel));
}

/// With what stands behind the seat.
Result<TopoDS_Shape> with_lips(const RingRequest& request, const RingShape& shape, const TopoDS_Shape& filled) {
    std::vector<TopoDS_Shape> pieces{filled};
    GAPWRIGHT_TRY(lip, lip_of(request, shape));
    if (lip) pieces.push_back(*lip);
    if (const auto rain = rain_lip_of(request, shape)) pieces.push_back(*rain);
    return pieces.size() > 1 ? joined("ring: lip", pieces) : Result<TopoDS_Shape>(filled);
}

}  // namespace

namespace {

Status lay_in_sheets(const RingRequest& request, Ring& ring, const Context& context) {
    if (!request.layers) return Done{};
    EXPECTS(!request.foot && !request.rain_lip);
    GAPWRIGHT_TRY(made, make_sheet_layers({.name = request.name,
                                           .solid = ring.product.solid,
                                           .seat = request.seat.plane,
                                           .front = ring.front,
                                           .up = request.up,
                                           .sheets = *request.layers},
                                          context));
    ring.notes.insert(ring.notes.end(), made.notes.begin(), made.notes.end());
    ring.layers = std::move(made);
    return Done{};
}

}  // namespace

Result<Ring> make_ring(const RingRequest& request, const Context& context) {
    const Stage stage(context, "part");
    GAPWRIGHT_TRY(shape, plan_ring_shape(request));
    if (context.is_cancelled()) return Context::interrupted();
    return guard_occt("part", [&]() -> Result<Ring> {
        GAPWRIGHT_TRY(filled, raw_ring(request, shape));
        // Where nothing else asks for the scanned face, it is cut last: the other cuts are then of planes and
        // cylinders.
        const bool is_foot_last = shape.outside_mm > 0.0 && shape.has_round_bore && !request.lip && !request.rain_lip;
        if (!is_foot_last) {
            GAPWRIGHT_TRY(stood, stood_on_foot(request, shape, filled));
            filled = stood;
        }
        GAPWRIGHT_TRY(bore, bore_tool(request, shape));
        GAPWRIGHT_TRY(sides, sides_of(shape, filled, bore, context));
        Webs webs;
        GAPWRIGHT_CHECK(hold_walls(request, shape, sides, webs));
        GAPWRIGHT_TRY(holes, placed(request, shape, sides));
        if (context.is_cancelled()) return Context::interrupted();
        GAPWRIGHT_TRY(body, with_lips(request, shape, filled));
        GAPWRIGHT_TRY(open, bored(shape, body, bore));
        GAPWRIGHT_TRY(seated, let_in(request, shape, open));
        GAPWRIGHT_TRY(solid, drilled(holes, seated));
        if (is_foot_last) {
            GAPWRIGHT_TRY(stood, stood_on_foot(request, shape, solid));
            solid = stood;
        }
        GAPWRIGHT_CHECK(check_solid("ring", solid));
        GAPWRIGHT_TRY(made_holes, measured(shape, holes, solid));
        GAPWRIGHT_TRY(inside, air_inside(request, shape, filled, bore));
        Ring ring{.product = {.name = "ring", .solid = to_brep(solid), .material = request.material},
                  .front = shape.front,
                  .rest = shape.rest,
                  .most_height = Length::mm(shape.most_mm),
                  .least_height = request.height,
                  .volume = Volume::mm3(volume_mm3(solid)),
                  .inside = inside,
                  .turn = holes.turn,
                  .free_area = shape.free_area,
                  .flare_mm = shape.flare_mm,
                  .holes = std::move(made_holes),
                  .webs = shape.webs,
                  .notes = shape.notes};
        for (auto* more : {&webs.kept, &holes.webs}) ring.webs.insert(ring.webs.end(), more->begin(), more->end());
        ring.notes.insert(ring.notes.end(), holes.notes.begin(), holes.notes.end());
        add_air_behind(request, ring);
        GAPWRIGHT_CHECK(lay_in_sheets(request, ring, context));
        return ring;
    });
}

}  // namespace geom::parts
