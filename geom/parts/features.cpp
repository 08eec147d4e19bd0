// Plans first, so that what cannot be is said before it is modelled; outer body and air apart until the last step:
//
//   filler pad: the air behind a plane                             boolean with a plane
//   sleeves: pads onto the outer body, bores out of it             boolean, all at once, and the same on
//   sleeves and braces out of the air                              the air
//   separate baffle: outer body and air split by planes            boolean with a plane
//   feet onto the outer body, or onto what is behind the plate     boolean, all at once
//   baffle's holes, recess, ring, dish, flange, pilots             plane faces joined by walls, no boolean
//   shell = outer faces + air faces, joined by the cut-out or by the flange; otherwise the air is a void
//   terminal hole across the wall                                  boolean
//   rim: what is before its back, replaced by a plate              boolean with a plane
//   screws through the back into a plate, and pads round them      plane faces joined by walls, no boolean
#include "geom/parts/features.h"

#include "geom/core/text.h"
#include "geom/parts/internal/air_cut.h"
#include "geom/parts/internal/baffle.h"
#include "geom/parts/internal/baffle_drawing.h"
#include "geom/parts/internal/plug.h"
#include "geom/parts/internal/screws.h"
#include "geom/parts/internal/terminal.h"
#include "geom/parts/internal/work.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Copy.hxx>
#include <TopoDS.hxx>

namespace geom::parts {
namespace {

constexpr double kCableRoom_mm = 20.0;  // before a terminal, free of feet
constexpr double kFacesBaffle = 0.5;    // cosine, of a plate that is reached through the cut-out
constexpr double kRootBehind_mm = 1.0;  // a foot's root stays this far behind the plate or the rounded rim

/// How near the baffle what stands in the box and on it may come.
Result<BaffleRoom> baffle_room(const Work& work, double outside_mm) {
    const EnclosureRequest& request = work.site.request;
    BaffleRoom room;
    room.outside_mm = outside_mm;
    room.air_mm = work.site.thickness_mm() + kLeastAirGap_mm;
    if (request.baffle.separate) {
        GAPWRIGHT_TRY(size, rim_flange(request));
        room.air_mm += size.thickness_mm;
    }
    if (request.driver) {
        const BaffleForm form = baffle_form_or_flat(request);
        for (const DriverMount& mount : request.drivers()) {
            const double seat_mm = seat_depth_mm(mount, form);
            if (const auto body = driver_body(mount, work.site.plane(seat_mm), form.back_mm - seat_mm))
                room.drivers.push_back(*body);
            room.driver_centres.push_back(work.site.flat(mount.centre));
            room.driver_front_mm = std::max(room.driver_front_mm, front_radius_mm(mount, form));
        }
    }
    if (work.port) room.port_mm = [&work](Point3 p) { return work.port->keeps_free_mm(p); };
    return room;
}

/// Sleeves through the outer body, and what stands in the air taken from it.
Status put_sleeves_and_braces(Work& work, double outside_mm) {
    const Site& site = work.site;
    if (site.request.sleeves.empty() && site.request.braces.empty() && site.request.braces_to_place == 0) return Done{};
    GAPWRIGHT_TRY(room, baffle_room(work, outside_mm));
    for (const Sleeve& sleeve : site.request.sleeves) {
        GAPWRIGHT_TRY(plan, plan_sleeve(site, sleeve, work.outer, room));
        if (work.pad && site.request.adjust.fill == Adjust::Fill::Separate)
            for (double h = plan.enters_mm; h <= plan.leaves_mm; h += 2.0)
                if (const Point3 p = plan.line.at(h); site.depth(p) + plan.solid_radius_mm(h) > work.pad->from_mm)
                    return impossible(
                        fmt::format("fixing \"{}\": its tube runs through the filler pad, wanted before it", plan.name),
                        "move the point, or set [enclosure] fill.made = \"integral\"", p);
        work.sleeves.push_back(plan);
    }
    GAPWRIGHT_CHECK(check_apart(work.sleeves, work.feet));
    GAPWRIGHT_TRY(outer, drill_sleeves(work.sleeves, work.outer));
    work.outer = outer;
    std::vector<AirTool> tools;
    for (const SleevePlan& sleeve : work.sleeves) {
        GAPWRIGHT_TRY(tool, air_tool(sleeve));
        tools.push_back({fmt::format("sleeve \"{}\"", sleeve.name), tool});
        work.note(sleeve.notes);
    }
    for (const Brace& brace : site.request.braces) {
        GAPWRIGHT_TRY(plan, plan_brace(site, brace, room, work.sleeves, work.braces));
        work.braces.push_back(plan);
    }
    GAPWRIGHT_TRY(braces, place_braces(site, site.request.braces_to_place, room, work.sleeves, work.braces));
    work.braces = braces;
    for (const BracePlan& brace : work.braces) {
        if (work.pad && site.request.adjust.fill == Adjust::Fill::Separate)
            for (const double s : {brace.from_mm, brace.to_mm})
                if (const Point3 p = brace.line.at(s); site.depth(p) + brace.radius_mm > work.pad->from_mm)
                    return impossible(
                        fmt::format("brace \"{}\": runs into the filler pad, wanted before it", brace.name),
                        "move it, or set [enclosure] fill.made = \"integral\"", p);
        tools.push_back({fmt::format("brace \"{}\"", brace.name), air_tool(brace)});
    }
    GAPWRIGHT_TRY(made, cut_air(work.air, tools));
    work.air = made.air;
    for (std::size_t i = 0; i < work.braces.size(); ++i) {
        const std::size_t tool = work.sleeves.size() + i;
        if (made.mm3[tool] <= 0.0)
            return Fault{FaultCode::Internal, tools[tool].name + ": does not meet the air", {}, {}, "part"};
        work.made.braces.push_back(brace_made(work.braces[i], made.pieces[tool], made.mm3[tool]));
    }
    work.sleeves_mm3.assign(made.mm3.begin(), made.mm3.begin() + static_cast<std::ptrdiff_t>(work.sleeves.size()));
    return Done{};
}

Status put_terminal(Work& work) {
    if (!work.site.request.terminal) return Done{};
    double least_depth_mm = work.site.thickness_mm();
    if (work.site.request.baffle.separate) {
        GAPWRIGHT_TRY(size, rim_flange(work.site.request));
        least_depth_mm += size.thickness_mm;
    }
    GAPWRIGHT_TRY(plan, plan_terminal(work.site, work.air, least_depth_mm));
    if (work.pad && work.site.depth(plan.at) + plan.radius_mm > work.pad->from_mm)
        return impossible(
            fmt::format("terminal: its hole at {} lies behind the front of the filler pad", place_text(plan.at)),
            "move [enclosure] terminal.at nearer to the baffle", plan.at);
    for (const FootPlan& foot : work.feet)
        for (double out = 0.0; out <= kCableRoom_mm; out += 2.0)
            if (distance_to(foot, plan.at + plan.outward * out) < plan.radius_mm + kCapOver_mm + 2.0)
                return impossible(
                    fmt::format("terminal: its hole at {} meets the foot \"{}\", wanted {} mm free before it",
                                place_text(plan.at), foot.name, plain_number(kCableRoom_mm)),
                    "move [enclosure] terminal.at or the fixing", plan.at);
    for (const BracePlan& brace : work.braces)
        for (double in = 0.0; in <= kCableRoom_mm; in += 2.0)
            if (distance_to(brace, plan.at - plan.outward * in) < plan.radius_mm + kCapOver_mm + 2.0)
                return impossible(
                    fmt::format("terminal: its hole at {} meets the brace \"{}\", wanted {} mm free behind it",
                                place_text(plan.at), brace.name, plain_number(kCableRoom_mm)),
                    "move [enclosure] terminal.at or the brace", plan.at);
    for (const SleevePlan& sleeve : work.sleeves)
        for (double out = -kCableRoom_mm; out <= kCableRoom_mm; out += 2.0)
            if (distance_to(sleeve, plan.at + plan.outward * out) < plan.radius_mm + kCapOver_mm + 2.0)
                return impossible(
                    fmt::format(
                        "terminal: its hole at {} meets the sleeve \"{}\", wanted {} mm free before and behind it",
                        place_text(plan.at), sleeve.name, plain_number(kCableRoom_mm)),
                    "move [enclosure] terminal.at or the fixing", plan.at);
    if (work.port)
        for (double in = 0.0; in <= kCableRoom_mm; in += 2.0)
            if (work.port->keeps_free_mm(plan.at - plan.outward * in) < plan.radius_mm + kCapOver_mm + 2.0)
                return impossible(fmt::format("terminal: its hole at {} meets the port or the way before its inner "
                                              "end, wanted {} mm free behind it",
                                              place_text(plan.at), plain_number(kCableRoom_mm)),
                                  "move [enclosure] terminal.at or port.at", plan.at);
    GAPWRIGHT_TRY(cut, cut_terminal(plan, work.shell));
    work.shell = cut.solid;
    work.terminal_hole_mm3 = cut.hole_mm3;
    work.made.air_pieces.front().openings.push_back(opening("terminal", cut.cap, plan.radius_mm));
    work.note({fmt::format("terminal: hole of {} mm at {}", plain_number(2.0 * plan.radius_mm), place_text(plan.at))});
    return Done{};
}

/// How much wider than asked the straight way from a place in the air along `up` is: out of the shell's mouth, or out
/// of the driver's cut-out.
double straight_way_mm(const Work& work, Point3 at, Vec3 up, double radius_mm) {
    const Site& site = work.site;
    const double rate = dot(up, site.outward());
    const auto through = [&](double depth_mm) { return site.flat(at + up * ((site.depth(at) - depth_mm) / rate)); };
    if (work.mouth) {
        const Outline mouth(*work.mouth);
        return std::min(mouth.depth(through(work.mouth_mm)), mouth.depth(through(work.mouth_back_mm))) -
               radius_mm / rate;
    }
    const DriverPlan& driver = *work.driver;
    return driver.cutout_radius_mm - radius_mm / rate -
           std::max(distance(through(driver.form.back_mm), driver.centre),
                    distance(through(driver.seat_depth_mm), driver.centre));
}

/// Screws from inside the box through its wall into a plate.
Status put_back_screws(Work& work, PlatePlan& plan) {
    const Site& site = work.site;
    const double wall_mm = site.request.wall.mm();
    if (dot(plan.place.frame.z, site.outward()) < kFacesBaffle || (!work.mouth && !work.driver))
        return impossible(plan.title() +
                              ": its face does not look at the baffle's cut-out, through which its screws "
                              "would be reached",
                          "use through = \"rim\", whose screws stand beside the box", plan.place.frame.origin);
    const Plane outer_plane = plan.place.plane(plan.place.face_mm());
    const Plane inner_plane{plan.place.at(0, 0, plan.place.face_mm() + wall_mm), plan.place.frame.z};
    const auto outer = face_in_plane("shell", work.shell, outer_plane);
    const auto inner = face_in_plane("shell", work.shell, inner_plane);
    if (!outer || !inner)
        return impossible(plan.title() + ": the box has no plane wall over it, wanted one that its screws go through",
                          "let the box reach the plate, or use through = \"rim\"", plan.place.frame.origin);
    GAPWRIGHT_CHECK(place_back_screws(site, plan, *outer, *inner, [&](Point3 at, Vec3 up, double radius_mm) {
        return straight_way_mm(work, at, up, radius_mm);
    }));
    GAPWRIGHT_TRY(shell, with_back_screws(plan, work.shell, *outer, *inner, wall_mm));
    work.shell = shell;
    const fixings::ToolRoom tool = fixings::tool_room(plan.screw_thread, {.head = fixings::HeadKind::Socket});
    for (std::size_t i = 0; i < plan.screws.size(); ++i) {
        const Point3 seat = plan.at(plan.screws[i], plan.place.face_mm() + wall_mm);
        work.made.air_pieces.front().openings.push_back(
            opening(fmt::format("screw {} of plate \"{}\"", i + 1, plan.asked->name), Plane{seat, -plan.place.frame.z},
                    plan.screw_hole.hole_mm / 2.0));
        work.made.screws.push_back({.name = fmt::format("screw {} into plate \"{}\"", i + 1, plan.asked->name),
                                    .thread = plan.asked->screw_thread,
                                    .head_seat = seat,
                                    .axis = -plan.place.frame.z,
                                    .hole = plan.screw_hole,
                                    .tool = tool,
                                    .step = Step::BoxOnPlate,
                                    .product = "shell",
                                    .reach_mm = plan.place.face_mm() + wall_mm});
        work.made.seats.push_back({.at = plan.at(plan.screws[i], plan.place.thickness_mm),
                                   .axis = -plan.place.frame.z,
                                   .radius_mm = plan.pad_radius_mm,
                                   .over_mm = plan.place.thickness_mm});
    }
    return Done{};
}

/// The screws of the lugs that stand on a plate.
void note_lugs(Work& work, const PlatePlan& plan) {
    for (const FootPlan& lug : work.feet) {
        if (!lug.on_plate || std::none_of(plan.screws.begin(), plan.screws.end(), [&](Point2 p) {
                return distance(plan.at(p, plan.place.thickness_mm), lug.point) < 1e-9;
            }))
            continue;
        work.made.screws.push_back({.name = lug.name,
                                    .thread = lug.thread,
                                    .head_seat = lug.point + lug.up * lug.pad_mm,
                                    .axis = -lug.up,
                                    .hole = plan.screw_hole,
                                    .tool = {Length::mm(2.0 * lug.access_radius_mm), Length::mm(lug.access_height_mm)},
                                    .step = Step::BoxOnPlate,
                                    .product = "shell",
                                    .reach_mm = lug.pad_mm + plan.place.thickness_mm});
        work.made.seats.push_back(
            {.at = lug.point, .axis = -lug.up, .radius_mm = lug.pad_radius_mm, .over_mm = plan.place.thickness_mm});
    }
}

/// Lugs are held to what feet are held to.
Status check_lugs(const std::vector<FixingMade>& lugs) {
    for (const FixingMade& lug : lugs)
        if (lug.web_section_mm2 < lug.web_wanted_mm2 * (1.0 - 1e-6))
            return impossible(fmt::format("{}: {:.0f} mm2 of its arm hold on to the shell, wanted {:.0f}", lug.name,
                                          lug.web_section_mm2, lug.web_wanted_mm2),
                              "give the box more room beside it, or take a smaller screw_thread", lug.point);
    return Done{};
}

Status put_plates(Work& work) {
    for (PlatePlan& plan : work.plates) {
        if (plan.asked->through == MountPlate::Through::Back)
            GAPWRIGHT_CHECK(put_back_screws(work, plan));
        else
            note_lugs(work, plan);
        GAPWRIGHT_CHECK(close_outline(work.site, plan));
        work.note(plan.notes);
    }
    return Done{};
}

/// The plates as products of their own, with their drawings and the vehicle's bolts.
Status make_plates(Work& work) {
    for (const PlatePlan& plan : work.plates) {
        GAPWRIGHT_TRY(solid, plate_solid(plan));
        GAPWRIGHT_TRY(bolts, measure_plate(plan, solid));
        work.made.fixings.insert(work.made.fixings.end(), bolts.begin(), bolts.end());
        work.made.flats.push_back(plate_drawing(plan));
        work.made.products.push_back({.name = plan.asked->name,
                                      .solid = to_brep(solid),
                                      .material = plan.material,
                                      .colour = {0.60f, 0.62f, 0.66f},
                                      .on_vehicle = true});
    }
    return Done{};
}

/// The tube out of the air that is kept for the checks, and what was made.
Status finish_port(Work& work) {
    if (!work.port) return Done{};
    const PortPlan& plan = *work.port;
    GAPWRIGHT_TRY(face, face_in_plane("cavity", work.air, work.site.plane(plan.back_mm)));
    GAPWRIGHT_TRY(air, without_port(plan, work.air, face));
    work.air = air;
    work.made.port = port_made(plan, *work.site.request.port);
    work.note({port_note(plan)});
    return Done{};
}

/// What is kept of ring and dish for the checks and for a plug: the two filled bodies get them too.
Status finish_form(Work& work) {
    if (!work.driver) return Done{};
    const Site& site = work.site;
    const DriverPlan& driver = *work.driver;
    const BaffleForm& form = driver.form;
    work.made.seat = DriverSeat{.centre = site.at(driver.centre, 0.0),
                                .face_mm = form.face_mm,
                                .face_radius_mm = form.face_radius_mm,
                                .foot_radius_mm = form.foot_radius_mm(),
                                .back_mm = form.back_mm,
                                .boss_radius_mm = form.boss_radius_mm()};
    if (!form.front.empty()) {
        GAPWRIGHT_TRY(face, face_in_plane("baffle", work.outer, site.plane(0.0)));
        GAPWRIGHT_TRY(outer, shaped("baffle", site, driver.centre, form.front, work.outer, face));
        work.outer = outer;
    }
    if (!form.back.empty()) {
        GAPWRIGHT_TRY(face, face_in_plane("cavity", work.air, site.plane(site.thickness_mm())));
        GAPWRIGHT_TRY(air, shaped("cavity", site, driver.centre, form.back, work.air, face));
        work.air = air;
    }
    if (form.face_mm < 0.0)
        work.note(
            {fmt::format("baffle: a ring of {} mm, {} mm high, its edge chamfered by {} mm; the driver sits on it",
                         plain_number(2.0 * form.foot_radius_mm()), plain_number(-form.face_mm),
                         plain_number(form.foot_radius_mm() - form.face_radius_mm))});
    if (!form.back.empty())
        work.note({fmt::format(
            "baffle: a dish {} mm deep, {} mm across at the outer face, {} mm at its floor, on which "
            "the driver sits; its back stands {} mm into the box, {} mm across",
            plain_number(form.face_mm), tenths(2.0 * form.foot_radius_mm()), tenths(2.0 * form.face_radius_mm),
            plain_number(form.face_mm), tenths(2.0 * form.boss_radius_mm()))});
    return Done{};
}

Status put_products(Work& work) {
    const EnclosureRequest& request = work.site.request;
    work.made.products.push_back({.name = "shell", .solid = to_brep(work.shell), .material = request.material});
    if (!work.plate.IsNull())
        work.made.products.push_back({.name = "baffle",
                                      .solid = to_brep(work.plate),
                                      .material = work.site.baffle_material(),
                                      .colour = {0.55f, 0.50f, 0.44f}});
    if (work.pad && request.adjust.fill == Adjust::Fill::Separate)
        for (std::size_t i = 0; i < work.pad->solids.size(); ++i)
            work.made.products.push_back({.name = work.pad->solids.size() == 1 ? "pad" : fmt::format("pad {}", i + 1),
                                          .solid = to_brep(BRepBuilderAPI_Copy(work.pad->solids[i]).Shape()),
                                          .material = request.material,
                                          .colour = {0.62f, 0.66f, 0.60f},
                                          .stands_in_air = true});
    for (const Product& product : work.made.products)
        GAPWRIGHT_CHECK(check_solid(product.name, to_occt(product.solid)));
    if (request.make.method == Method::Layup) {
        work.made.products.push_back(plug(request.make, to_brep(work.outer), to_brep(work.air)));
        work.note({std::string("plug: the ") + (request.make.plug == Make::Plug::Inner ? "inner" : "outer") +
                   " form; its draft is not checked yet: see that it comes out of the laid-up shell"});
    }
    return Done{};
}

}  // namespace

Result<Enclosure> add_features(const BareBodies& bodies, const space::Room& room, const EnclosureRequest& request,
                               const Context& context, const scan::Surface* surface) {
    EXPECTS(!bodies.outer.is_null() && !bodies.air.is_null());
    if (request.make.method == Method::Cnc && !request.baffle.separate)
        return Fault{
            FaultCode::MethodRefused,
            "method 'cnc': a closed hollow shell with an integral baffle cannot be milled, wanted a separate baffle",
            "set [enclosure] baffle.made = \"separate\", or [make] method = \"print\"", bodies.baffle_plane.point,
            "part"};
    if (const auto form = baffle_form(request); !form) return form.error();
    GAPWRIGHT_CHECK(check_stances(request));
    return guard_occt("part", [&]() -> Result<Enclosure> {
        Work work(Site(bodies, room, request, context, surface));
        work.outer = TopoDS::Solid(to_occt(bodies.outer));
        work.air = TopoDS::Solid(to_occt(bodies.air));
        work.bare_mm3 = volume_mm3(work.air);
        work.made.sharp_edges = bodies.sharp_edges;
        for (const SharpEdgeMade& edge : bodies.sharp_edges) work.note({edge.note});
        if (bodies.pad_plane) {
            const Stage stage(context, "part/pad");
            GAPWRIGHT_TRY(pad, part_pad(work.site, work.air, *bodies.pad_plane));
            work.air = pad.air;
            work.pad = pad.pad;
            work.made.pad_plane = bodies.pad_plane;
        }

        if (request.port) {
            GAPWRIGHT_TRY(plan, port_plan(work.site));
            work.port = plan;
        }

        double behind =
            std::max(request.baffle.separate ? work.site.thickness_mm() : 0.0, request.baffle.rim_radius.mm());
        if (request.panel_rim) {
            const Stage stage(context, "part/rim");
            GAPWRIGHT_TRY(rim, with_rim(work.site, *request.panel_rim, work.outer));
            work.outer = rim.outer;
            work.rim = rim.plan;
            work.note(rim.plan.notes);
            behind = std::max(behind, rim.plan.thickness_mm);
        }
        for (const MountPlate& plate : request.plates) {
            GAPWRIGHT_TRY(plan, plan_plate(work.site, plate));
            work.plates.push_back(plan);
        }
        GAPWRIGHT_TRY(feet, plan_feet(work.site, behind + kRootBehind_mm));
        work.feet = feet;
        for (PlatePlan& plan : work.plates)
            if (plan.asked->through == MountPlate::Through::Rim) {
                GAPWRIGHT_TRY(lugs, place_lugs(work.site, plan, behind + kRootBehind_mm, work.feet));
                work.feet.insert(work.feet.end(), lugs.begin(), lugs.end());
            }
        {
            const Stage stage(context, "part/sleeves");
            GAPWRIGHT_CHECK(put_sleeves_and_braces(work, behind + kRootBehind_mm));
        }
        if (context.is_cancelled()) return Context::interrupted();
        {
            const Stage stage(context, "part/baffle");
            GAPWRIGHT_CHECK(request.baffle.separate ? put_separate_baffle(work) : put_integral_baffle(work));
        }
        for (const DriverPlan* driver : work.drivers()) {
            work.note(driver->notes);
            work.made.joints.push_back(driver->joint);
            GAPWRIGHT_TRY(screws, driver_screws(work.site, *driver));
            work.made.screws.insert(work.made.screws.end(), screws.begin(), screws.end());
        }
        GAPWRIGHT_CHECK(finish_form(work));
        GAPWRIGHT_CHECK(finish_port(work));
        {
            const Stage stage(context, "part/terminal");
            GAPWRIGHT_CHECK(put_terminal(work));
            GAPWRIGHT_CHECK(put_plates(work));
        }
        if (context.is_cancelled()) return Context::interrupted();
        GAPWRIGHT_CHECK(put_products(work));
        GAPWRIGHT_TRY(fixings, measure_feet(work.feet, work.shell));
        const auto lugs_from = fixings.begin() + static_cast<std::ptrdiff_t>(request.feet.size());
        GAPWRIGHT_CHECK(check_lugs({lugs_from, fixings.end()}));
        work.made.fixings.assign(fixings.begin(), lugs_from);
        for (std::size_t i = 0; i < request.feet.size(); ++i)
            GAPWRIGHT_CHECK(put_bolt(work.site, request.feet[i], work.feet[i], work.made.fixings[i]));
        for (std::size_t i = 0; i < work.sleeves.size(); ++i) {
            GAPWRIGHT_TRY(made, measure_sleeve(work.sleeves[i], request.sleeves[i], work.shell, work.sleeves_mm3[i]));
            work.made.fixings.push_back(made);
        }
        GAPWRIGHT_CHECK(make_plates(work));
        if (work.rim)
            GAPWRIGHT_CHECK(request.baffle.separate ? note_rim(work.site, *work.rim, work.plate, "baffle", work.made)
                                                    : note_rim(work.site, *work.rim, work.shell, "shell", work.made));
        work.made.outer_body = to_brep(work.outer);
        work.made.air_body = to_brep(work.air);
        work.made.baffle_plane = bodies.baffle_plane;
        work.made.seat_plane = work.site.plane(work.driver ? work.driver->seat_depth_mm : 0.0);
        for (const DriverPlan* driver : work.drivers())
            work.made.driver_seats.push_back(work.site.plane(driver->seat_depth_mm, driver->centre));
        GAPWRIGHT_CHECK(sum_up(work));
        return std::move(work.made);
    });
}

}  // namespace geom::parts
