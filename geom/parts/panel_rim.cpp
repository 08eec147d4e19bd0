// The body is split where the flange ends; what is before that plane is replaced by a plate drawn out along the outline
// that runs the flange's width outside the box's. The box's own border in that plane becomes the hole of the flange's
// back face: no boolean but with a plane.
//
// Its outline and the line of its screws are levels of the distance from the box's outline, seen from the front: no
// nearer than asked anywhere.
#include "geom/parts/internal/panel_rim.h"

#include "geom/core/text.h"
#include "geom/fixings/bolt.h"
#include "geom/parts/internal/baffle.h"
#include "geom/parts/internal/baffle_shape.h"
#include "geom/parts/internal/vehicle_face.h"

#include <fmt/format.h>
#include <BRepTools.hxx>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kOutlineStep_mm = 4.0;
constexpr double kUnderHead_mm = 2.0;     // of the flange under a countersunk head [common practice]
constexpr double kBesideHead_mm = 1.0;    // of the flange beside it [common practice]
constexpr double kSeatFlat_mm = 1.5;      // by which the panel may rise over the flange's back
constexpr double kThinner_mm = 1.0;       // than a separate baffle
constexpr double kDriver_mm = 100.0;      // straight room for a screwdriver [common practice]
constexpr double kDriverAcross_mm = 2.0;  // more than the head
constexpr double kDrawn_mm = 0.1;         // by which two smooth loops may come nearer than asked

/// Sizes of a wood screw or a countersunk one.
struct Screw {
    double d_mm = 0.0, head_mm = 0.0, hole_mm = 0.0, engages_mm = 0.0;
};
Result<Screw> screw_of(const PanelRim& rim, const std::vector<fixings::Thread>& own) {
    if (const auto wood = fixings::find_wood_screw(rim.screw))
        return Screw{wood->d_mm, wood->head_mm, wood->clear_mm, fixings::least_engagement(*wood).mm()};
    GAPWRIGHT_TRY(thread, fixings::find_thread(rim.screw, own));
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, {.head = fixings::HeadKind::Countersunk, .has_washer = false}, true));
    return Screw{thread.d_mm, hole.sink_mm, hole.hole_mm, thread.d_mm};
}

/// Distance outside the box's outlines, negative inside.
double outside_mm(const Outline& flat, const Outline& behind, Point2 p) {
    return -std::max(flat.depth(p), behind.depth(p));
}

/// The loop so far outside the box, drawn so that smoothing takes nothing of it.
std::optional<Loop> loop_outside(const Outline& flat, const Outline& behind, double mm) {
    const Point2 more{mm + 8.0, mm + 8.0};
    const Point2 lo{std::min(flat.lo().x, behind.lo().x), std::min(flat.lo().y, behind.lo().y)};
    const Point2 hi{std::max(flat.hi().x, behind.hi().x), std::max(flat.hi().y, behind.hi().y)};
    const auto loop =
        level_loop([&](Point2 p) { return -outside_mm(flat, behind, p); }, -mm, lo - more, hi + more, 2.0);
    if (!loop) return std::nullopt;
    return resampled(*loop, kOutlineStep_mm, 2);
}

Status check_room(const Site& site, const RimPlan& plan, const Outline& flat, const Outline& behind) {
    const Outline border(plan.outline);
    const double clear = site.request.room.clearance.mm() + site.request.room.covering.mm();
    const std::string name = "fixing \"" + plan.name + "\"";
    if (site.surface != nullptr)
        for (const Point3& sample : site.surface->points) {
            const Point2 p = site.flat(sample);
            const double depth = site.depth(sample), beyond = -border.depth(p);
            if (depth > plan.thickness_mm - kSeatFlat_mm || outside_mm(flat, behind, p) < 0.0) continue;
            const double before = std::max(-depth, 0.0), off = std::hypot(std::max(beyond, 0.0), before);
            if (off >= clear) continue;
            return impossible(
                fmt::format("{}: the vehicle stands {:.1f} mm before the face that its flange lies on and {:.1f} mm "
                            "from it, wanted {} mm clear of it",
                            name, plan.thickness_mm - depth, off, plain_number(clear)),
                "take a smaller width, or move the baffle so that the flange lies on the panel's face", sample);
        }
    std::vector<Point3> outside;
    for (const Point2 p : plan.outline)
        for (const double depth : {0.0, plan.thickness_mm / 2.0, plan.thickness_mm})
            outside.push_back(site.at(p, depth));
    const Tightest least = tightest(
        site, {}, [](Point3) { return 1e300; }, outside, nullptr);
    if (least.spare_mm < -0.02)
        return impossible(
            fmt::format("{}: {} stands in its flange's way by {:.1f} mm", name, least.what, -least.spare_mm),
            "take a smaller width or screw", least.where);
    return Done{};
}

}  // namespace

Result<double> rim_thickness(const Site& site, const PanelRim& rim) {
    const double baffle = site.thickness_mm();
    if (!site.request.baffle.separate) return rim.thickness ? rim.thickness->mm() : baffle;
    const double thickness = rim.thickness ? rim.thickness->mm() : baffle - kThinner_mm;
    if (thickness > baffle - kThinner_mm + 1e-9)
        return impossible(
            fmt::format("fixing \"{}\": a flange of {} mm on a separate baffle of {} mm, wanted {} mm less", rim.name,
                        plain_number(thickness), plain_number(baffle), plain_number(kThinner_mm)),
            "make the baffle thicker or the rim thinner", site.at({}, 0.0));
    return thickness;
}

Result<RimPlan> plan_rim(const Site& site, const PanelRim& rim, const Outline& flat, const Outline& behind,
                         double thickness_mm) {
    GAPWRIGHT_TRY(screw, screw_of(rim, site.request.own_threads));
    const std::string name = "fixing \"" + rim.name + "\"";
    RimPlan plan{.name = rim.name,
                 .screw = rim.screw,
                 .width_mm = 0.0,
                 .thickness_mm = thickness_mm,
                 .hole_mm = screw.hole_mm,
                 .sink_mm = screw.head_mm,
                 .centre_mm = 0.0,
                 .edge_wanted_mm = (site.baffle_material().is_metal ? 2.0 : 3.0) * screw.d_mm,
                 .outline = {},
                 .screws = {},
                 .gap_mm = 0.0,
                 .engages_mm = screw.engages_mm,
                 .tool_mm = screw.head_mm + kDriverAcross_mm,
                 .notes = {}};
    // The panel's opening is the clearance away from the box, and its edge holds a screw no better than the flange's.
    const double in_panel = std::max(3.0 * screw.d_mm, screw.head_mm / 2.0);
    const double least_centre = site.request.room.clearance.mm() + site.request.room.covering.mm() + in_panel;
    const double beyond = std::max(plan.edge_wanted_mm, screw.head_mm / 2.0 + kBesideHead_mm);
    plan.width_mm = rim.width ? rim.width->mm() : std::ceil(2.0 * (least_centre + beyond)) / 2.0;
    if (plan.width_mm < least_centre + beyond - 1e-9)
        return impossible(
            fmt::format("{}: a width of {} mm, wanted at least {} for {} screws: {} to the hole beside the panel's "
                        "opening and {} from it to the edge",
                        name, plain_number(plan.width_mm), tenths(least_centre + beyond), rim.screw,
                        tenths(least_centre), tenths(beyond)),
            "leave width out, or take a smaller screw", site.at(flat.lo(), 0.0));
    plan.centre_mm = plan.width_mm - beyond - kDrawn_mm;
    const double deep = (plan.sink_mm - plan.hole_mm) / 2.0;
    if (thickness_mm < deep + kUnderHead_mm - 1e-9)
        return impossible(fmt::format("{}: a flange of {} mm, wanted at least {} under the heads of {} screws", name,
                                      plain_number(thickness_mm), tenths(deep + kUnderHead_mm), rim.screw),
                          "make the rim thicker, or take a smaller screw", site.at(flat.lo(), 0.0));
    const auto outline = loop_outside(flat, behind, plan.width_mm);
    const auto line = loop_outside(flat, behind, plan.centre_mm);
    if (!outline || !line)
        return Fault{FaultCode::Internal, name + ": its outline could not be drawn", {}, site.at({}, 0.0), "part"};
    plan.outline = *outline;
    GAPWRIGHT_CHECK(check_room(site, plan, flat, behind));
    const double total = length(*line);
    const int n = std::max(4, static_cast<int>(std::ceil(total / rim.pitch.mm() - 1e-9)));
    for (int i = 0; i < n; ++i) plan.screws.push_back(along(*line, total * i / n));
    plan.gap_mm = total / n;
    if (plan.gap_mm < 2.0 * screw.head_mm)
        return impossible(fmt::format("{}: screws {:.1f} mm apart, wanted at least {} for their heads", name,
                                      plan.gap_mm, plain_number(2.0 * screw.head_mm)),
                          "allow a larger pitch", site.at(plan.screws.front(), 0.0));
    plan.notes.push_back(fmt::format(
        "rim \"{}\": {} countersunk {} screws, at most {:.0f} mm apart; flange {} mm wide, {} mm thick, its edges left "
        "sharp",
        rim.name, n, rim.screw, plan.gap_mm, plain_number(plan.width_mm), plain_number(thickness_mm)));
    return plan;
}

Result<RimOn> with_rim(const Site& site, const PanelRim& rim, const TopoDS_Solid& outer) {
    return guard_occt("rim", [&]() -> Result<RimOn> {
        GAPWRIGHT_TRY(thickness, rim_thickness(site, rim));
        GAPWRIGHT_TRY(front, face_in_plane("baffle", outer, site.plane(0.0)));
        GAPWRIGHT_TRY(bodies, split("rim's back", outer, site.plane(thickness)));
        GAPWRIGHT_TRY(section, face_in_plane("rim", bodies.behind, site.plane(thickness)));
        GAPWRIGHT_TRY(flat, outline_of(site, front));
        GAPWRIGHT_TRY(behind, outline_of(site, section));
        GAPWRIGHT_TRY(plan, plan_rim(site, rim, flat, behind, thickness));
        const Wall side = wall(smooth_wire(site, plan.outline, 0.0), -site.outward() * thickness);
        std::vector<TopoDS_Wire> in_front, in_back{BRepTools::OuterWire(section)};
        std::vector<TopoDS_Face> faces = side.faces;
        const double r = plan.hole_mm / 2.0, sink = plan.sink_mm / 2.0;
        for (const Point2 screw : plan.screws) {
            const Turned hole = turned(site, screw, {{sink, 0.0}, {r, sink - r}, {r, thickness}});
            in_front.push_back(hole.from);
            in_back.push_back(hole.to);
            faces.insert(faces.end(), hole.faces.begin(), hole.faces.end());
        }
        faces.insert(faces.begin(), with_holes(disc(site.plane(0.0), side.from), in_front));
        faces.push_back(with_holes(disc(Plane{site.plane(thickness).point, -site.outward()}, side.to), in_back));
        for (const TopoDS_Face& face : faces_of(bodies.behind))
            if (!face.IsSame(section)) faces.push_back(face);
        GAPWRIGHT_TRY(made, solid_of_faces("rim", faces));
        GAPWRIGHT_CHECK(check_solid("rim", made));
        return RimOn{made, plan};
    });
}

Status note_rim(const Site& site, const RimPlan& plan, const TopoDS_Solid& solid, const std::string& product,
                Enclosure& made) {
    const Outline border(plan.outline);
    for (std::size_t i = 0; i < plan.screws.size(); ++i) {
        const Point2 p = plan.screws[i];
        const BoltLine line = bolt_line(site.at(p, plan.thickness_mm), -site.outward(), std::nullopt);
        GAPWRIGHT_TRY(
            hole, measure_hole("rim \"" + plan.name + "\"", solid, line, plan.hole_mm / 2.0, 0.0, plan.thickness_mm));
        FixingMade fixing{.name = plan.name,
                          .thread = plan.screw,
                          .point = line.point,
                          .axis = -line.up,
                          .hole_mm = plan.hole_mm,
                          .edge_distance_mm = border.depth(p),
                          .edge_wanted_mm = plan.edge_wanted_mm};
        fixing.kind = FixingKind::Rim;
        fixing.bolt.name = fmt::format("screw {} of rim \"{}\"", i + 1, plan.name);
        fixing.bolt.thread = plan.screw;
        fixing.bolt.head_seat = site.at(p, 0.0);
        fixing.bolt.axis = -site.outward();
        fixing.bolt.hole.hole_mm = plan.hole_mm;
        fixing.bolt.hole.sink_mm = plan.sink_mm;
        fixing.bolt.hole.seat_mm = plan.sink_mm;
        fixing.bolt.tool = {Length::mm(plan.tool_mm), Length::mm(kDriver_mm)};
        fixing.bolt.product = product;
        fixing.bolt.reach_mm = plan.thickness_mm + plan.engages_mm;
        fixing.use.head = fixings::HeadKind::Countersunk;
        fixing.use.has_washer = false;
        fixing.grip_mm = plan.thickness_mm;
        fixing.bears_mm = plan.thickness_mm - (plan.sink_mm - plan.hole_mm) / 2.0;
        fixing.seat_radius_mm = plan.edge_wanted_mm;
        fixing.measured_hole_mm = hole.diameter_mm;
        fixing.measured_off_axis_mm = hole.off_axis_mm;
        made.fixings.push_back(fixing);
    }
    // The panel touches the flange's back all along it.
    for (const Point2 p : resampled(plan.outline, plan.width_mm / 2.0, 0))
        made.seats.push_back(
            {.at = site.at(p, plan.thickness_mm), .axis = -site.outward(), .radius_mm = plan.width_mm, .over_mm = 0.0});
    return Done{};
}

}  // namespace geom::parts
