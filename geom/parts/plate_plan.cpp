// All of a plate is planned in its own plane: distances to bolts, edges and outlines are circles and lines there.
// Screws stand where all of these leave room, as far apart as a regular star of them about the middle of that room
// allows.
#include "geom/parts/internal/plate_plan.h"

#include "geom/core/text.h"
#include "geom/fixings/bolt.h"
#include "geom/parts/internal/vehicle_face.h"
#include "geom/space/keep_out_distance.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepTools.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <GCPnts_QuasiUniformDeflection.hxx>
#include <TopoDS.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kBesideHead_mm = 1.0;   // between a vehicle bolt's head and a pad of the box
constexpr double kPadOverSeat_mm = 1.5;  // radius of a pad beyond the screw's washer
constexpr double kFlatEdge_mm = 0.5;     // of what stands on a plane face, from its border
constexpr double kPitch_d = 3.0;         // of two screws [common practice]
constexpr double kRise_mm = 1.5;         // of the vehicle's face over the plate's lower face
constexpr double kFromBend_t = 2.0;      // from the start of a bend to a hole's edge, in thicknesses [common practice]
constexpr double kLeastCorner_mm = 3.0;  // radius of a stiffener's corners
constexpr double kGrid_mm = 2.0;
constexpr int kTurns = 36;
constexpr int kRays = 24;  // out of the box's middle, on which lugs are tried
constexpr double kBodyGrid_mm = 4.0;
constexpr double kFarthestLug_mm = 600.0;

Result<Outline> outline_in(const PlatePlace& place, const TopoDS_Face& face) {
    return guard_occt("plate", [&]() -> Result<Outline> {
        Loop loop;
        for (BRepTools_WireExplorer e(BRepTools::OuterWire(face)); e.More(); e.Next()) {
            const BRepAdaptor_Curve curve(e.Current());
            GCPnts_QuasiUniformDeflection points(curve, 0.01);
            const int n = points.NbPoints();
            for (int i = 1; i < n; ++i) {
                const Point3 p =
                    place.frame.to_local(from_occt(points.Value(e.Orientation() == TopAbs_FORWARD ? i : n + 1 - i)));
                loop.push_back({p.x, p.y});
            }
        }
        if (loop.size() < 3)
            return Fault{FaultCode::Internal, "plate: the box's face over it has no border", {}, {}, "part"};
        if (signed_area(loop) < 0.0) std::reverse(loop.begin(), loop.end());
        return Outline(std::move(loop));
    });
}

/// What a disc of one of a plate's flats keeps to a floating edge more than its gap: the worse of the two faces.
double left_to_edge(const PlatePlan& plan, const FloatingEdge& edge, const Frame& flat, Point2 p, double radius_mm) {
    const Vec3 n = unit(edge.plane.outward);
    const double in_plane = std::hypot(dot(n, flat.x), dot(n, flat.y));
    const auto over = [&](double height) { return dot(flat.to_parent({p.x, p.y, height}) - edge.plane.point, n); };
    return -std::max(over(0.0), over(plan.place.thickness_mm)) - in_plane * radius_mm - edge.gap.mm();
}

/// What a disc round a hole keeps to the start of the bend more than it must; of the flat that is bolted first, or of
/// what is turned.
double left_to_bend(const PlatePlan& plan, bool is_turned, Point2 p, double radius_mm, double hole_mm) {
    if (!plan.place.turned) return 1e300;
    const double away = is_turned ? p.y : plan.place.turned->line_mm - dot(p, plan.out_of_bend());
    return away - std::max(radius_mm, hole_mm / 2.0 + kFromBend_t * plan.place.thickness_mm);
}

/// A star of n places that have room, about the middle of all such; as far apart as can be. Empty: none.
std::vector<Point2> star(const std::vector<Point2>& room, int n) {
    Point2 middle;
    for (const Point2 p : room) middle = middle + p * (1.0 / static_cast<double>(room.size()));
    std::vector<Point2> best;
    double widest = -1.0;
    for (int turn = 0; turn < kTurns; ++turn) {
        std::vector<Point2> set;
        double least = 1e300;
        for (int k = 0; k < n; ++k) {
            const double a = 2.0 * std::numbers::pi * (static_cast<double>(turn) / kTurns + k) / n;
            const Point2 out{std::cos(a), std::sin(a)};
            double farthest = -1e300;
            Point2 place;
            for (const Point2 p : room) {
                const Point2 d = p - middle;
                const double value = dot(d, out) - std::abs(cross(d, out));
                if (value > farthest + 1e-9) farthest = value, place = p;
            }
            for (const Point2 other : set) least = std::min(least, distance(other, place));
            set.push_back(place);
        }
        if (least > widest + 1e-9) widest = least, best = set;
    }
    return best;
}

/// The box's middle as the plate's plane shows it, at the heights of lugs; none where no box is.
std::optional<Point2> middle_of_body(const Site& site, const PlatePlan& plan) {
    Point2 sum;
    std::size_t count = 0;
    const double height = plan.place.face_mm() + 2.0 * site.request.wall.mm();
    for (double x = -kFarthestLug_mm; x <= kFarthestLug_mm; x += kBodyGrid_mm)
        for (double y = -kFarthestLug_mm; y <= kFarthestLug_mm; y += kBodyGrid_mm)
            if (site.body_mm(plan.at({x, y}, height)) < 0.0) {
                sum = sum + Point2{x, y};
                ++count;
            }
    if (count == 0) return std::nullopt;
    return sum * (1.0 / static_cast<double>(count));
}

}  // namespace

std::vector<const PlateFlat*> PlatePlan::flats() const {
    std::vector<const PlateFlat*> both{&flat};
    if (turned) both.push_back(&*turned);
    return both;
}

Point2 PlatePlan::out_of_bend() const {
    const Vec3 out = place.frame.dir_to_local(place.turned->out);
    return {out.x, out.y};
}

Point2 PlatePlan::along_bend() const {
    const Vec3 along = place.frame.dir_to_local(place.turned->frame.x);
    return {along.x, along.y};
}

Point2 PlatePlan::in_blank(Point2 of_turned) const {
    const TurnedPlace& bend = *place.turned;
    const Point3 start = place.frame.to_local(bend.frame.origin);
    const double across = dot({start.x, start.y}, along_bend());
    return along_bend() * (across + of_turned.x) + out_of_bend() * (bend.line_mm + bend.allowance_mm + of_turned.y);
}

namespace {

/// The vehicle's bolts in one flat and what the outline keeps round them.
Status plan_bolts(const Site& site, const PlatePlan& plan, const std::vector<Point3>& points, PlateFlat& flat) {
    const MountPlate& plate = *plan.asked;
    const bool is_turned = &flat != &plan.flat;
    const double clear = site.request.room.clearance.mm() + site.request.room.covering.mm();
    for (const Point3& p : points) {
        const Point3 q = flat.frame.to_local(p);
        const Point2 at{q.x, q.y};
        flat.bolts.push_back(at);
        const StandingSeat seat{flat.frame.to_parent({at.x, at.y, 0.0}), flat.frame.z, plan.bolt_edge_mm};
        GAPWRIGHT_CHECK(check_face(plan.title(), seat, samples_near(site, seat.at, plan.bolt_edge_mm + 30.0), clear));
        const BoltLine line = flat.bolt_line_at(at, plate.use.slot);
        for (const double end : line.half_mm > 0.0 ? std::vector{-1.0, 1.0} : std::vector{0.0}) {
            const Point3 centre = flat.frame.to_local(line.point + line.along * (end * line.half_mm));
            flat.discs.push_back(
                {{centre.x, centre.y},
                 std::max(plan.bolt_edge_mm + plate.use.play.mm(), plan.head_radius_mm + kFlatEdge_mm)});
        }
    }
    for (const Disc& disc : flat.discs) {
        const Point3 where = flat.frame.to_parent({disc.centre.x, disc.centre.y, 0.0});
        for (const FloatingEdge& edge : plate.floating)
            if (const double left = left_to_edge(plan, edge, flat.frame, disc.centre, disc.radius_mm); left < -1e-9)
                return impossible(
                    fmt::format("{}: the floating edge \"{}\" with its gap of {} mm leaves a bolt {:.1f} mm to the "
                                "plate's edge, wanted {:.1f}",
                                plan.title(), edge.name, plain_number(edge.gap.mm()), disc.radius_mm + left,
                                disc.radius_mm),
                    "take a smaller gap or thread, or another bolt of the vehicle", where);
        if (const double left = left_to_bend(plan, is_turned, disc.centre, disc.radius_mm, plan.bolt_hole.hole_mm);
            left < -1e-9)
            return impossible(fmt::format("{}: a bolt {} the bend is {:.1f} mm too near to where it {}", plan.title(),
                                          is_turned ? "beyond" : "before", -left, is_turned ? "ends" : "begins"),
                              "move the bend, or take a smaller inner_radius, thread or head", where);
    }
    return Done{};
}

/// How far discs reach along a direction.
std::pair<double, double> extent_along(const std::vector<Disc>& discs, Point2 direction) {
    double lo = 1e300, hi = -1e300;
    for (const Disc& d : discs) {
        lo = std::min(lo, dot(d.centre, direction) - d.radius_mm);
        hi = std::max(hi, dot(d.centre, direction) + d.radius_mm);
    }
    return {lo, hi};
}

/// The turned part's corners, and the bend's, in both flats: the outlines run straight over the bend between them. A
/// bend is as wide as what is bolted beyond it, a stiffener as what is bolted before it.
void close_bend(PlatePlan& plan) {
    const TurnedPlace& bend = *plan.place.turned;
    const Point3 start = plan.place.frame.to_local(bend.frame.origin);
    const double across = dot({start.x, start.y}, plan.along_bend());
    PlateFlat& turned = *plan.turned;
    auto [lo, hi] = turned.bolts.empty() ? extent_along(plan.flat.discs, plan.along_bend())
                                         : extent_along(turned.discs, {1.0, 0.0});
    if (turned.bolts.empty()) lo -= across, hi -= across;
    plan.bend_from_mm = lo;
    plan.bend_to_mm = hi;
    if (const auto& length = plan.asked->bend->length) {
        const double r = std::min({std::max(kLeastCorner_mm, plan.place.thickness_mm), length->mm(), (hi - lo) / 2.0});
        turned.discs.push_back({{lo + r, length->mm() - r}, r});
        turned.discs.push_back({{hi - r, length->mm() - r}, r});
    }
    for (const double x : {lo, hi}) {
        turned.discs.push_back({{x, 0.0}, 0.0});
        plan.flat.discs.push_back({plan.along_bend() * (across + x) + plan.out_of_bend() * bend.line_mm, 0.0});
    }
}

/// What stands in one flat of the plate, whose outline is closed: the vehicle, or a keep-out.
Status check_flat(const Site& site, const PlatePlan& plan, const PlateFlat& flat) {
    const double t = plan.place.thickness_mm;
    if (site.surface != nullptr)
        for (const Point3& sample : site.surface->points) {
            const Point3 q = flat.frame.to_local(sample);
            if (q.z < kRise_mm || q.z > t + plan.place.stand_mm) continue;
            if (depth_in_hull(flat.discs, {q.x, q.y}) < 0.0) continue;
            return impossible(fmt::format("{}: the vehicle rises {:.1f} mm into the plate, wanted at most {} under it",
                                          plan.title(), q.z, plain_number(kRise_mm)),
                              "move what of the plate lies there: other bolts, or fewer or nearer screws", sample);
        }
    const auto [lo_x, hi_x] = extent_along(flat.discs, {1.0, 0.0});
    const auto [lo_y, hi_y] = extent_along(flat.discs, {0.0, 1.0});
    for (const space::KeepOut& keep : site.request.room.keep_outs) {
        const auto distance = space::KeepOutDistance::of(keep);
        if (!distance) continue;
        for (double x = lo_x; x <= hi_x; x += kGrid_mm)
            for (double y = lo_y; y <= hi_y; y += kGrid_mm) {
                if (depth_in_hull(flat.discs, {x, y}) < 0.0) continue;
                for (const double h : {0.0, t}) {
                    const Point3 p = flat.frame.to_parent({x, y, h});
                    const double left = distance->at_most(p, keep.clearance.mm() + 10.0) - keep.clearance.mm();
                    if (left < -0.02)
                        return impossible(fmt::format("{}: keep-out \"{}\" stands {:.1f} mm in the plate's way",
                                                      plan.title(), keep.name, -left),
                                          "take other bolts or fewer screws, or give the plate a floating edge there",
                                          p);
                }
            }
    }
    return Done{};
}

/// The same of the bend between the flats.
Status check_bend(const Site& site, const PlatePlan& plan) {
    const TurnedPlace& bend = *plan.place.turned;
    const double t = plan.place.thickness_mm, a = std::abs(bend.radians);
    const bool is_towards = bend.radians > 0.0;
    // From the axis to where the bend begins, and on to where it ends.
    const Vec3 first = plan.place.frame.z * (is_towards ? -1.0 : 1.0);
    const auto at = [&](double x, double angle, double radius) {
        return bend.centre + bend.frame.x * x + (first * std::cos(angle) + bend.out * std::sin(angle)) * radius;
    };
    if (site.surface != nullptr)
        for (const Point3& sample : site.surface->points) {
            const Vec3 d = sample - bend.centre;
            const double x = dot(d, bend.frame.x), radius = norm(d - bend.frame.x * x);
            const double angle = std::atan2(dot(d, bend.out), dot(d, first));
            const double rise = is_towards ? bend.inner_mm + t - radius : radius - bend.inner_mm;
            if (x < plan.bend_from_mm || x > plan.bend_to_mm || angle < 0.0 || angle > a) continue;
            if (rise < kRise_mm || rise > t + plan.place.stand_mm) continue;
            return impossible(fmt::format("{}: the vehicle rises {:.1f} mm into the bend, wanted at most {}",
                                          plan.title(), rise, plain_number(kRise_mm)),
                              "move the bend, or give it another inner_radius", sample);
        }
    for (const space::KeepOut& keep : site.request.room.keep_outs) {
        const auto distance = space::KeepOutDistance::of(keep);
        if (!distance) continue;
        for (double x = plan.bend_from_mm; x <= plan.bend_to_mm; x += kGrid_mm)
            for (const double part : {0.25, 0.5, 0.75})
                for (const double radius : {bend.inner_mm, bend.inner_mm + t}) {
                    const Point3 p = at(x, part * a, radius);
                    const double left = distance->at_most(p, keep.clearance.mm() + 10.0) - keep.clearance.mm();
                    if (left < -0.02)
                        return impossible(fmt::format("{}: keep-out \"{}\" stands {:.1f} mm in the bend's way",
                                                      plan.title(), keep.name, -left),
                                          "move the bend", p);
                }
    }
    // The gaps of floating edges: a bend's farthest places are on its outside.
    for (const FloatingEdge& edge : plan.asked->floating)
        for (const PlateFlat* flat : plan.flats())
            for (const Disc& disc : flat->discs)
                if (const double left = left_to_edge(plan, edge, flat->frame, disc.centre, disc.radius_mm);
                    left < -1e-9)
                    return impossible(fmt::format("{}: the floating edge \"{}\" with its gap of {} mm cuts {:.1f} mm "
                                                  "off the bend or the part beyond it",
                                                  plan.title(), edge.name, plain_number(edge.gap.mm()), -left),
                                      "move the bend, or take a shorter length or a smaller gap",
                                      flat->frame.to_parent({disc.centre.x, disc.centre.y, 0.0}));
    return Done{};
}

}  // namespace

Result<PlatePlan> plan_plate(const Site& site, const MountPlate& plate) {
    const EnclosureRequest& request = site.request;
    PlatePlan plan;
    plan.asked = &plate;
    GAPWRIGHT_TRY(place, plate_place(plate, request));
    plan.place = place;
    plan.material = material_of(plate);
    GAPWRIGHT_TRY(bolt, fixings::find_thread(plate.thread, request.own_threads));
    GAPWRIGHT_TRY(screw, fixings::find_thread(plate.screw_thread, request.own_threads));
    plan.bolt_thread = bolt;
    plan.screw_thread = screw;
    GAPWRIGHT_TRY(bolt_shape, fixings::hole_for(bolt, plate.use, false));
    GAPWRIGHT_TRY(screw_shape, fixings::hole_for(screw, {.head = fixings::HeadKind::Socket}, false));
    plan.bolt_hole = bolt_shape;
    plan.screw_hole = screw_shape;
    GAPWRIGHT_TRY(grip, grip_of(plate.screw_thread, plan.material, true, request.own_threads));
    plan.grip = grip;
    const bool is_metal = plan.material.is_metal;
    plan.bolt_edge_mm = fixings::least_edge_distance(bolt, is_metal).mm();
    plan.screw_edge_mm = fixings::least_edge_distance(screw, is_metal).mm();
    plan.pad_radius_mm = plan.screw_hole.seat_mm / 2.0 + kPadOverSeat_mm;
    plan.head_radius_mm = plan.bolt_hole.sink_mm > 0.0
                              ? plan.bolt_hole.sink_mm / 2.0
                              : std::max(plan.bolt_hole.seat_mm, bolt.hexagon.diameter_mm) / 2.0;

    plan.flat.frame = plan.place.frame;
    GAPWRIGHT_CHECK(plan_bolts(site, plan, plate.points, plan.flat));
    if (plan.place.turned) {
        PlateFlat turned{.frame = plan.place.turned->frame, .bolts = {}, .discs = {}};
        if (!plate.bend->points.empty()) {
            GAPWRIGHT_CHECK(check_slot(plan.title(), plate.use, -turned.frame.z, plate.bend->points.front()));
            GAPWRIGHT_CHECK(plan_bolts(site, plan, plate.bend->points, turned));
        }
        plan.turned = turned;
    }
    return plan;
}

double room_for_screw(const Site& site, const PlatePlan& plan, Point2 p) {
    double room = 1e300;
    const double d = std::max(plan.bolt_thread.d_mm, plan.screw_thread.d_mm);
    const double beside_bolt =
        std::max(plan.pad_radius_mm + plan.head_radius_mm + kBesideHead_mm,
                 (plan.grip.hole_mm + plan.bolt_hole.hole_mm) / 2.0 + plan.bolt_hole.slot_mm / 2.0 + d);
    for (const Point2 bolt : plan.flat.bolts) room = std::min(room, distance(p, bolt) - beside_bolt);
    for (const Point2 screw : plan.screws)
        room = std::min(room, distance(p, screw) - std::max(kPitch_d * plan.screw_thread.d_mm,
                                                            2.0 * plan.pad_radius_mm + kBesideHead_mm));
    const double radius = std::max(plan.screw_edge_mm, plan.pad_radius_mm);
    for (const FloatingEdge& edge : plan.asked->floating)
        room = std::min(room, left_to_edge(plan, edge, plan.place.frame, p, radius));
    room = std::min(room, left_to_bend(plan, false, p, radius, plan.grip.hole_mm));
    const Point3 under = plan.at(p, plan.place.thickness_mm);
    for (const space::KeepOut& keep : site.request.room.keep_outs)
        if (const auto distance = space::KeepOutDistance::of(keep))
            room = std::min(room, distance->at_most(under, 100.0) - keep.clearance.mm() - radius);
    return room;
}

Status place_back_screws(const Site& site, PlatePlan& plan, const TopoDS_Face& outer, const TopoDS_Face& inner,
                         const StraightWay& way) {
    GAPWRIGHT_TRY(outside, outline_in(plan.place, outer));
    GAPWRIGHT_TRY(inside, outline_in(plan.place, inner));
    const double wall = site.request.wall.mm(), seat = plan.screw_hole.seat_mm / 2.0;
    const fixings::ToolRoom tool = fixings::tool_room(plan.screw_thread, {.head = fixings::HeadKind::Socket});
    std::vector<Point2> flat, room;
    double nearest_way = -1e300;
    for (double x = inside.lo().x; x <= inside.hi().x; x += kGrid_mm)
        for (double y = inside.lo().y; y <= inside.hi().y; y += kGrid_mm) {
            const Point2 p{x, y};
            if (inside.depth(p) < seat + kFlatEdge_mm || outside.depth(p) < plan.pad_radius_mm + kFlatEdge_mm) continue;
            if (room_for_screw(site, plan, p) < 0.0) continue;
            flat.push_back(p);
            const double left =
                way(plan.at(p, plan.place.face_mm() + wall), plan.place.frame.z, tool.diameter.mm() / 2.0);
            nearest_way = std::max(nearest_way, left);
            if (left >= 0.0) room.push_back(p);
        }
    const std::string rim = "use through = \"rim\", whose screws stand beside the box";
    if (flat.empty())
        return impossible(
            fmt::format("{}: the box has no plane wall over it that takes a pad of {} mm beside the vehicle's bolts",
                        plan.title(), plain_number(2.0 * plan.pad_radius_mm)),
            "let the box lie on the plate with a larger face, or " + rim, plan.place.frame.origin);
    if (room.empty())
        return impossible(
            fmt::format("{}: no place of the box's wall over it is reached straight through the cut-out: a tool of {} "
                        "mm misses it by {:.1f} mm at best",
                        plan.title(), plain_number(tool.diameter.mm()), -nearest_way),
            rim, plan.place.frame.origin);
    const std::vector<Point2> places = star(room, plan.asked->screws);
    const double least = std::max(kPitch_d * plan.screw_thread.d_mm, 2.0 * plan.pad_radius_mm + kBesideHead_mm);
    for (std::size_t i = 0; i < places.size(); ++i)
        for (std::size_t j = 0; j < i; ++j)
            if (const double apart = distance(places[i], places[j]); apart < least)
                return impossible(fmt::format("{}: {} {} screws find places {:.1f} mm apart at best, wanted {:.1f}",
                                              plan.title(), plan.asked->screws, plan.asked->screw_thread, apart, least),
                                  "ask for fewer screws or a smaller screw_thread, or " + rim, plan.at(places[i], 0.0));
    plan.screws = places;
    return Done{};
}

Result<std::vector<FootPlan>> place_lugs(const Site& site, PlatePlan& plan, double least_depth_mm,
                                         std::vector<FootPlan> beside) {
    // Under lugs the box's own limit does not count: they go down to the plate.
    EnclosureRequest request = site.request;
    limits_at_plates(request);
    const Site around(site.bodies, site.room, request, site.context, site.surface);
    const auto middle = middle_of_body(around, plan);
    if (!middle)
        return impossible(plan.title() + ": there is no box over it", "let the box reach the plate",
                          plan.place.frame.origin);
    const auto screw_at = [&](Point2 p, std::size_t number) {
        Foot screw{.name = fmt::format("lug {} of {}", number, plan.asked->name),
                   .point = plan.at(p, plan.place.thickness_mm),
                   .axis = -plan.place.frame.z,
                   .thread = plan.asked->screw_thread};
        screw.use.head = fixings::HeadKind::Socket;
        screw.use.metal_sleeve = false;
        return screw;
    };
    std::optional<Fault> nearest_miss;
    std::vector<Point2> places;
    const double half_access =
        (std::max(plan.screw_thread.washer_outside_mm, plan.screw_thread.socket_outside_mm) + 2.0) / 2.0;
    for (int k = 0; k < kRays; ++k) {
        const double a = 2.0 * std::numbers::pi * (k + 0.5) / kRays;
        const Point2 out{std::cos(a), std::sin(a)};
        double edge = 0.0;
        for (double h = plan.place.face_mm(); h <= plan.place.face_mm() + 40.0; h += 4.0)
            for (double s = edge; s < kFarthestLug_mm; s += 2.0)
                if (around.body_mm(plan.at(*middle + out * s, h)) < 0.0) edge = s;
        for (const double beyond : {1.0, 7.0, 15.0}) {
            const Point2 p = *middle + out * (edge + half_access + beyond);
            if (room_for_screw(around, plan, p) < 0.0) continue;
            const auto lug = plan_lug(around, screw_at(p, 1), least_depth_mm, beside);
            if (lug) {
                places.push_back(p);
                break;
            }
            if (!nearest_miss) nearest_miss = lug.error();
        }
    }
    const auto wanted = static_cast<std::size_t>(plan.asked->screws);
    const std::string why = nearest_miss ? "; elsewhere, " + nearest_miss->what : "";
    const std::string hint =
        "ask for fewer screws or a smaller screw_thread, give the box more room beside it, or use "
        "through = \"back\"";
    if (places.size() < wanted)
        return impossible(fmt::format("{}: lugs for {} screws find {} places round the box, wanted {}{}", plan.title(),
                                      plan.asked->screw_thread, places.size(), wanted, why),
                          hint, plan.place.frame.origin);
    std::vector<FootPlan> lugs;
    for (const Point2 p : star(places, plan.asked->screws)) {
        const auto lug = room_for_screw(around, plan, p) < 0.0
                             ? Result<FootPlan>(impossible(plan.title() + ": two of its lugs fall together", hint,
                                                           plan.at(p, plan.place.thickness_mm)))
                             : plan_lug(around, screw_at(p, lugs.size() + 1), least_depth_mm, beside);
        if (!lug)
            return impossible(
                fmt::format("{}: lugs for {} screws find {} places round the box, wanted {}: {}", plan.title(),
                            plan.asked->screw_thread, lugs.size(), wanted, lug.error().what),
                hint, lug.error().where);
        plan.screws.push_back(p);
        lugs.push_back(*lug);
        beside.push_back(*lug);
    }
    plan.pad_radius_mm = lugs.front().pad_radius_mm;
    return lugs;
}

Status close_outline(const Site& site, PlatePlan& plan) {
    for (const Point2 screw : plan.screws)
        plan.flat.discs.push_back({screw, std::max(plan.screw_edge_mm, plan.pad_radius_mm)});
    if (plan.turned) close_bend(plan);
    for (const PlateFlat* flat : plan.flats()) GAPWRIGHT_CHECK(check_flat(site, plan, *flat));
    if (plan.turned) GAPWRIGHT_CHECK(check_bend(site, plan));
    const double t = plan.place.thickness_mm;
    if (plan.turned && plan.place.turned->inner_mm < t - 1e-9)
        plan.notes.push_back(
            fmt::format("plate \"{}\": its inside radius of {} mm is under its thickness of {} mm; many alloys crack "
                        "there, ask for "
                        "one that takes it [common practice]",
                        plan.asked->name, plain_number(plan.place.turned->inner_mm), plain_number(t)));
    const double engaged = std::min(t, plan.grip.depth_mm);
    plan.notes.push_back(fmt::format(
        "plate \"{}\": {} {} bolts to the vehicle, {} {} screws for the box, {} of {} mm in {} mm of {}{}",
        plan.asked->name, plan.flat.bolts.size() + (plan.turned ? plan.turned->bolts.size() : 0), plan.asked->thread,
        plan.screws.size(), plan.asked->screw_thread, plan.grip.has_insert ? "insert pilots" : "tap-drill holes",
        plain_number(plan.grip.hole_mm), plain_number(t), plan.material.name,
        plan.place.stand_mm > 0.0 ? fmt::format("; the box stands on pads of {} mm, {} mm over it",
                                                plain_number(2.0 * plan.pad_radius_mm), tenths(plan.place.stand_mm))
                                  : ""));
    if (engaged < plan.grip.depth_mm - 1e-9)
        plan.notes.push_back(fmt::format(
            "plate \"{}\": {} mm of thread engage, {} mm are wanted for all of a screw's strength: a thicker plate, a "
            "smaller screw_thread, or steel",
            plan.asked->name, plain_number(engaged), plain_number(plan.grip.depth_mm)));
    return Done{};
}

}  // namespace geom::parts
