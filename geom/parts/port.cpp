// The port planned by the request alone, modelled, and put into words.
#include "geom/parts/port.h"

#include "geom/core/text.h"
#include "geom/parts/internal/duct_faces.h"
#include "geom/parts/internal/port_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kLigament_mm = 1.0;  // of the baffle behind a rounded mouth
constexpr double kLeastWall_mm = 0.8;
constexpr double kLeastFlareCorner_mm = 0.5;
constexpr double kOpening_mm = 0.1;  // an opening is looked for this much beyond its border

/// What lets the tube be made with the baffle, as a hint.
std::string made_with_baffle(const EnclosureRequest& request, bool is_board) {
    const std::string printed = "[make] method = \"print\"";
    const std::string material = request.baffle.separate && request.baffle.material ? "baffle.material" : "material";
    if (!is_board) return printed;
    const std::string no_board = "[enclosure] " + material + " that prints, such as \"ASA\"";
    return request.make.method == Method::Print ? no_board : printed + " and " + no_board;
}

/// What a tube of its own, cut from a bought pipe, cannot be.
Status check_glued_in(const Site& site, Point3 at) {
    const Port& port = *site.request.port;
    if (port.slot || port.bend)
        return impossible(
            fmt::format("port: {} in a baffle of board or one that is milled, wanted a straight round tube that is "
                        "glued in",
                        port.slot ? (port.bend ? "a slot with a bend" : "a slot") : "a tube with a bend"),
            fmt::format("{}, or give {}",
                        port.slot ? port.bend ? "give [enclosure] port.diameter instead of slot and bend"
                                              : "give [enclosure] port.diameter instead of slot"
                                  : "leave [enclosure] port.bend out",
                        made_with_baffle(site.request, site.baffle_material().is_board)),
            at);
    if (port.mouth.mm() > 0.0)
        return impossible(fmt::format("port: a mouth rounded by {} mm on a tube that is glued in flush, wanted none",
                                      plain_number(port.mouth.mm())),
                          "leave [enclosure] port.mouth out, and round the edge by hand", at);
    return Done{};
}

/// No more than the room that the box lies in.
FaceSize face_of(const Site& site) {
    const space::GridSpec& g = site.room.outer.grid;
    return {.width_mm = (g.nx - 1) * g.h_mm, .height_mm = (g.nz - 1) * g.h_mm};
}

std::string mm_text(double mm) {
    return plain_number(rounded(mm, 1)) + " mm";
}

}  // namespace

double PortPlan::way_mm(Point3 p, double long_mm) const {
    return path.way_on(long_mm).distance_to(inside, 0.0, long_mm, p);
}

double PortPlan::keeps_free_mm(Point3 p) const {
    const double solid = solid_mm(p);
    return free_way_mm > 0.0 ? std::min(solid, way_mm(p, free_way_mm)) : solid;
}

Result<PortPlan> port_plan(const Site& site) {
    const Port& port = *site.request.port;
    const Method method = site.request.make.method;
    PortPlan plan;
    plan.centre = site.flat(port.at);
    const Point3 at = site.at(plan.centre, 0.0);
    // What cannot be made at all comes before any of its sizes.
    plan.is_glued_in = method == Method::Cnc || site.baffle_material().is_board;
    if (plan.is_glued_in) GAPWRIGHT_CHECK(check_glued_in(site, at));
    GAPWRIGHT_CHECK(check_port_form(site.request));
    const bool is_solved = port.length && port.tuning_hz > 0.0;
    GAPWRIGHT_TRY(length, is_solved ? Result<Length>(*port.length)
                                    : port_length(site.request, site.request.net_volume, face_of(site)));
    plan.inside = port_inside(port);
    plan.outside = plan.inside.grown(port.wall.mm());
    plan.path = port_path(site.request, site.plane(0.0), length);
    plan.mouth_mm = port.mouth.mm();
    plan.back_mm = site.thickness_mm();
    plan.free_way_mm = port.free_way.value_or(Length::mm(plan.inside.hydraulic_mm())).mm();
    if (method == Method::Layup && !site.request.baffle.separate)
        return Fault{FaultCode::MethodRefused,
                     "port: a tube that stands on the inner face of a laid-up baffle, wanted a printed or a sawn one",
                     "give [enclosure] baffle.made = \"separate\"", at, "part"};
    if (port.wall.mm() < kLeastWall_mm)
        return impossible(fmt::format("port: a wall of {} mm, wanted at least {} mm", plain_number(port.wall.mm()),
                                      plain_number(kLeastWall_mm)),
                          "give [enclosure] port.wall 2 to 4 mm", at);
    if (plan.mouth_mm > plan.back_mm - kLigament_mm)
        return impossible(fmt::format("port: a mouth rounded by {} mm in a baffle of {} mm, wanted at most {} mm",
                                      plain_number(plan.mouth_mm), plain_number(plan.back_mm),
                                      plain_number(plan.back_mm - kLigament_mm)),
                          "make the baffle thicker or the mouth's rounding smaller", at);
    if (plan.mouth_mm > 0.0 && plan.inside.corner_mm < kLeastFlareCorner_mm)
        return impossible(fmt::format("port: a rounded mouth on a slot whose corners have a radius of {} mm, wanted {} "
                                      "mm at least",
                                      plain_number(plan.inside.corner_mm), plain_number(kLeastFlareCorner_mm)),
                          "give [enclosure] port.corner_radius, or leave port.mouth out", at);
    return plan;
}

Result<PortFaces> port_faces(const PortPlan& plan) {
    std::vector<TopoDS_Face> solid;
    TopoDS_Wire mouth, bore_from;
    if (plan.mouth_mm > 0.0) {
        GAPWRIGHT_TRY(rounded_mouth, flare(plan.path, plan.inside, plan.mouth_mm));
        solid = rounded_mouth.faces;
        mouth = rounded_mouth.from, bore_from = rounded_mouth.to;
    } else {
        mouth = bore_from = border_wire(plan.path, plan.inside, 0.0);
    }
    const Swept bore = swept(plan.path, bore_from, plan.mouth_mm, plan.length_mm());
    const Swept tube =
        swept(plan.path, border_wire(plan.path, plan.outside, plan.back_mm), plan.back_mm, plan.length_mm());
    const Plane end = port_opening(plan).plane;
    const TopoDS_Face rim = with_holes(disc(end, tube.to), {bore.to});
    PortFaces made{.mouth = mouth, .foot = tube.from, .solid = std::move(solid), .air = tube.faces};
    made.solid.insert(made.solid.end(), bore.faces.begin(), bore.faces.end());
    made.solid.insert(made.solid.end(), tube.faces.begin(), tube.faces.end());
    made.solid.push_back(rim);
    made.air.push_back(rim);
    made.air.push_back(disc(end, bore.to));
    return made;
}

Result<TopoDS_Solid> without_port(const PortPlan& plan, const TopoDS_Solid& air, const TopoDS_Face& front) {
    return guard_occt("port", [&]() -> Result<TopoDS_Solid> {
        const Swept tube =
            swept(plan.path, border_wire(plan.path, plan.outside, plan.back_mm), plan.back_mm, plan.length_mm());
        std::vector<TopoDS_Face> faces = replaced(faces_of(air), front, with_holes(front, {tube.from}));
        faces.insert(faces.end(), tube.faces.begin(), tube.faces.end());
        faces.push_back(disc(port_opening(plan).plane, tube.to));
        return solid_of_faces("port", faces);
    });
}

measure::Opening port_opening(const PortPlan& plan) {
    const DuctPath::Place end = plan.path.end();
    const DuctSection& s = plan.inside;
    measure::Opening opening{
        .name = "port", .plane = {end.at, -end.along}, .radius_mm = s.farthest_mm() + kOpening_mm, .joins = false};
    if (s.is_round()) return opening;
    // The circle round a slot holds more than the slot: what stands beside it is no part of it.
    const bool is_wide = s.half_width_mm >= s.half_height_mm;
    const double turn = s.turn_rad + (is_wide ? 0.0 : std::numbers::pi / 2.0);
    opening.along = end.right * std::cos(turn) + end.up * std::sin(turn);
    opening.half_width_mm = std::min(s.half_width_mm, s.half_height_mm) + kOpening_mm;
    return opening;
}

PortMade port_made(const PortPlan& plan, const Port& asked) {
    return {.is_glued_in = plan.is_glued_in,
            .mouth = plan.path.start,
            .inward = plan.path.along,
            .diameter_mm = plan.inside.is_round() ? 2.0 * plan.inside.half_width_mm : 0.0,
            .wall_mm = plan.outside.half_width_mm - plan.inside.half_width_mm,
            .mouth_radius_mm = plan.mouth_mm,
            .length_mm = plan.length_mm(),
            .behind_mm = plan.length_mm() - plan.back_mm,
            .tube_mm3 = plan.tube_volume_mm3(),
            .free_way_mm = plan.free_way_mm,
            .asked_hz = asked.tuning_hz,
            .inside = plan.inside,
            .path = plan.path};
}

std::string port_note(const PortPlan& plan) {
    if (plan.is_glued_in)
        return fmt::format(
            "port: glue in a tube {} across outside and {} inside, {:.1f} mm long, flush with the outer "
            "face, in a hole of its outside; seal it all round",
            size_text(plan.outside), size_text(plan.inside), plan.length_mm());
    std::string note = fmt::format(
        "port: a {} of {} with a wall of {} stands on the baffle's inner face; {:.1f} mm from the outer "
        "face to its inner end",
        plan.inside.is_round() ? "tube" : "slot", size_text(plan.inside),
        mm_text(plan.outside.half_width_mm - plan.inside.half_width_mm), plan.length_mm());
    if (!plan.path.is_straight())
        note += fmt::format(
            " along its middle: straight for {}, a bend of {} degrees about a radius of {}, straight "
            "for {}",
            mm_text(plan.path.before_mm), plain_number(rounded(Angle::rad(plan.path.angle_rad).deg(), 1)),
            mm_text(plan.path.radius_mm), mm_text(plan.length_mm() - plan.path.bend_end_mm()));
    if (plan.mouth_mm > 0.0) note += ", its mouth rounded by " + mm_text(plan.mouth_mm);
    return note;
}

void draw_port(FlatDrawing& drawing, const PortPlan& plan) {
    const DuctSection hole = plan.is_glued_in ? plan.outside : plan.inside;
    if (hole.is_round()) {
        drawing.circles.push_back({Operation::ThroughHole, plan.centre.x, plan.centre.y, hole.half_width_mm});
        return;
    }
    // Counter-clockwise from the lower end of the right side; a corner's quarter is one arc.
    const double w = hole.half_width_mm, h = hole.half_height_mm, r = hole.corner_mm;
    const double c = std::cos(hole.turn_rad), s = std::sin(hole.turn_rad);
    const double bulge = r > 0.0 ? bulge_of(std::numbers::pi / 2.0) : 0.0;
    FlatPath path{Operation::ThroughHole, {}, true};
    const auto add = [&](double x, double y, double b) {
        const FlatPoint p{plan.centre.x + c * x - s * y, plan.centre.y + s * x + c * y, b};
        // Sides of no length leave one point, from which the arc goes on.
        if (!path.points.empty() && std::hypot(p.x - path.points.back().x, p.y - path.points.back().y) < 1e-9)
            path.points.back().bulge = b;
        else
            path.points.push_back(p);
    };
    add(w, -h + r, 0.0), add(w, h - r, bulge);
    add(w - r, h, 0.0), add(-w + r, h, bulge);
    add(-w, h - r, 0.0), add(-w, -h + r, bulge);
    add(-w + r, -h, 0.0), add(w - r, -h, bulge);
    if (r <= 0.0) path.points.pop_back();  // where it began
    drawing.paths.push_back(std::move(path));
}

std::vector<std::string> port_lines(const PortPlan& plan) {
    std::vector<std::string> lines{fmt::format("port: a {} {} across outside stands {} mm out of the plate behind{}",
                                               plan.inside.is_round() ? "tube" : "slot", size_text(plan.outside),
                                               tenths(plan.length_mm() - plan.back_mm),
                                               plan.path.is_straight() ? "" : ", along its bent middle")};
    if (plan.mouth_mm > 0.0)
        lines.push_back(fmt::format("port: its edge in front rounded by {} mm", plain_number(plan.mouth_mm)));
    return lines;
}

}  // namespace geom::parts
