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
#include "geom/fixings/threads.h"
#include "geom/parts/internal/air_cut.h"
#include "geom/parts/internal/baffle.h"
#include "geom/parts/internal/baffle_drawing.h"
#include "geom/parts/internal/brace.h"
#include "geom/parts/internal/foot.h"
#include "geom/parts/internal/pad.h"
#include "geom/parts/internal/panel_rim.h"
#include "geom/parts/internal/plate_plan.h"
#include "geom/parts/internal/plug.h"
#include "geom/parts/internal/screws.h"
#include "geom/parts/internal/sleeve.h"
#include "geom/parts/internal/terminal.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Copy.hxx>
#include <TopoDS.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr double kCapOver_mm = 0.1;     // an opening is looked for this much beyond its hole's radius
constexpr double kCableRoom_mm = 20.0;  // before a terminal, free of feet
constexpr double kFacesBaffle = 0.5;    // cosine, of a plate that is reached through the cut-out
constexpr double kRootBehind_mm = 1.0;  // a foot's root stays this far behind the plate or the rounded rim

/// What add_features() works on; each step reads what the ones before left.
struct Work {
    explicit Work(const Site& where) : site(where) {}

    Site site;
    Enclosure made;
    TopoDS_Solid outer, air;    ///< air: with the flange taken away, its front closed
    std::optional<Pad> pad;     ///< taken away from the air
    TopoDS_Solid shell, plate;  ///< plate: null when the baffle is integral
    TopoDS_Solid finished_air;  ///< the air with the cut-out, up to the seat
    std::optional<DriverPlan> driver;
    std::vector<FootPlan> feet;  ///< those of the job, then the lugs on plates
    std::vector<SleevePlan> sleeves;
    std::vector<double> sleeves_mm3;
    std::vector<BracePlan> braces;
    std::vector<PlatePlan> plates;
    std::optional<RimPlan> rim;
    std::optional<Loop> mouth;  ///< of the shell behind a separate baffle
    double mouth_mm = 0.0, mouth_back_mm = 0.0;
    double bare_mm3 = 0.0, terminal_hole_mm3 = 0.0;

    const DriverPlan* driver_or_null() const { return driver ? &*driver : nullptr; }
    /// Faces of the air as the shell has them: behind a pad that is a piece of its own they go on.
    std::vector<TopoDS_Face> for_shell(const std::vector<TopoDS_Face>& faces) const {
        return pad && site.request.adjust.fill == Adjust::Fill::Separate ? beyond_pad(faces, *pad) : faces;
    }
    void note(const std::vector<std::string>& lines) {
        made.notes.insert(made.notes.end(), lines.begin(), lines.end());
    }
};

double displacement_mm3(const sound::Driver& driver) {
    const auto displacement = sound::displacement_of(driver);
    return displacement ? displacement->volume.mm3() : 0.0;
}

/// A piece of the cut-out, `length_mm` long.
double cutout_mm3(const EnclosureRequest& request, double length_mm) {
    const double r = request.driver->driver.cutout_diameter.mm() / 2.0;
    return std::numbers::pi * r * r * length_mm;
}

/// What cut-out and form of the baffle add to the air and take from it.
std::vector<LedgerLine> baffle_lines(const EnclosureRequest& request) {
    if (!request.driver) return {};
    const sound::Driver& driver = request.driver->driver;
    const double recess = driver.recess ? driver.recess->mm() : 0.0;
    const BaffleForm form = baffle_form_or_flat(request);
    std::vector<LedgerLine> lines{
        {"cut-out behind the driver's seat", cutout_mm3(request, request.baffle.thickness.mm() - recess) / 1e6}};
    if (form.face_mm < 0.0) lines.push_back({"cut-out in the raised ring", cutout_mm3(request, -form.face_mm) / 1e6});
    if (!form.back.empty()) lines.push_back({"back of the dish", -form.boss_mm3() / 1e6});
    return lines;
}

/// What the terminal fills: as given, or its hole and no more.
double terminal_mm3(const Terminal& terminal, double hole_mm3) {
    return terminal.displacement ? terminal.displacement->mm3() : hole_mm3;
}

measure::Opening opening(std::string name, const Plane& plane, double radius_mm) {
    return {.name = std::move(name), .plane = plane, .radius_mm = radius_mm + kCapOver_mm};
}

/// The air up to the driver's seat: `front` closes `sides` in the plane the cut-out comes out of.
Result<TopoDS_Solid> air_to_seat(const Work& work, const Drilled& drilled, const TopoDS_Face& front,
                                 const std::vector<TopoDS_Face>& sides) {
    std::vector<TopoDS_Face> faces{front};
    faces.insert(faces.end(), sides.begin(), sides.end());
    if (work.driver) {
        faces.front() = with_holes(front, {drilled.out_of_back});
        faces.insert(faces.end(), drilled.air_side.begin(), drilled.air_side.end());
        faces.push_back(disc(work.site.plane(work.driver->seat_depth_mm, work.driver->centre), drilled.cutout_at_seat));
    }
    return solid_of_faces("air", faces);
}

std::vector<TopoDS_Face> without(std::vector<TopoDS_Face> faces, const TopoDS_Face& face) {
    std::erase_if(faces, [&](const TopoDS_Face& f) { return f.IsSame(face); });
    return faces;
}

/// Where the air is certainly found: the middle of the cut-out, or just behind the deepest place of the outline.
Point3 point_of_air(const Work& work, const Outline& front, double front_depth_mm) {
    const Point2 deepest = greatest([&](Point2 p) { return front.depth(p); }, front.lo(), front.hi()).at;
    return work.site.at(work.driver ? work.driver->centre : deepest, front_depth_mm + 1.0);
}

measure::Opening driver_opening(const Work& work) {
    return opening("driver", work.site.plane(work.driver->seat_depth_mm, work.driver->centre),
                   work.driver->cutout_radius_mm);
}

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
        const sound::Driver& driver = request.driver->driver;
        const double seat_mm = form.face_mm + (recess_radius_mm(driver) > 0.0 ? driver.recess->mm() : 0.0);
        room.driver = driver_body(*request.driver, work.site.plane(seat_mm), form.back_mm - seat_mm);
        room.driver_centre = work.site.flat(request.driver->centre);
        room.driver_front_mm =
            std::max({driver.flange_diameter.mm() / 2.0, recess_radius_mm(driver), form.foot_radius_mm()});
    }
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

Status put_integral_baffle(Work& work) {
    const Site& site = work.site;
    const double t = site.thickness_mm();
    GAPWRIGHT_TRY(outer, fuse_feet(work.feet, work.outer));
    work.outer = outer;
    GAPWRIGHT_TRY(front, face_in_plane("baffle", work.outer, site.plane(0.0)));
    GAPWRIGHT_TRY(back, face_in_plane("cavity", work.air, site.plane(t)));
    GAPWRIGHT_TRY(flat, outline_of(site, front));
    GAPWRIGHT_TRY(cavity_front, outline_of(site, back));
    if (site.request.driver) {
        GAPWRIGHT_TRY(plan, plan_driver(site, flat, cavity_front, "cavity's front"));
        work.driver = plan;
        GAPWRIGHT_CHECK(check_boss_room(site, plan.form, plan.centre, work.air));
    }
    const Drilled drilled = drill(site, front, back, t, work.driver_or_null(), {});
    std::vector<TopoDS_Face> faces = replaced(faces_of(work.outer), front, drilled.front);
    faces.insert(faces.end(), drilled.more.begin(), drilled.more.end());
    if (drilled.pierces) {
        for (const TopoDS_Face& face : work.for_shell(replaced(faces_of(work.air), back, drilled.back)))
            faces.push_back(face);
        GAPWRIGHT_TRY(shell, solid_of_faces("shell", faces));
        work.shell = shell;
    } else {
        GAPWRIGHT_TRY(shell, solid_of_faces("shell", faces));
        TopoDS_Solid hollow = work.air;
        if (work.pad) {
            GAPWRIGHT_TRY(with_pad, solid_of_faces("shell", work.for_shell(faces_of(work.air))));
            hollow = with_pad;
        }
        work.shell = solid_with_void(shell, hollow);
    }
    GAPWRIGHT_TRY(finished, air_to_seat(work, drilled, back, without(faces_of(work.air), back)));
    work.finished_air = finished;

    const double back_mm = work.driver ? work.driver->form.back_mm : t;
    AirPiece piece{.product = "shell", .openings = {}, .at = point_of_air(work, cavity_front, back_mm)};
    if (work.driver) {
        piece.openings.push_back(driver_opening(work));
        int number = 0;
        for (const Hole& bolt : work.driver->bolts) {
            ++number;
            if (bolt.is_through)
                piece.openings.push_back(
                    opening(fmt::format("driver bolt {}", number), site.plane(back_mm, bolt.centre), bolt.radius_mm));
        }
    }
    work.made.air_pieces.push_back(std::move(piece));
    return Done{};
}

Status put_separate_baffle(Work& work) {
    const Site& site = work.site;
    const double t = site.thickness_mm();
    GAPWRIGHT_TRY(size, rim_flange(site.request));
    GAPWRIGHT_TRY(bodies, split("baffle", work.outer, site.plane(t)));
    GAPWRIGHT_TRY(airs, split("rim flange", work.air, site.plane(t + size.thickness_mm)));
    GAPWRIGHT_TRY(front, face_in_plane("baffle", bodies.front, site.plane(0.0)));
    GAPWRIGHT_TRY(back, face_in_plane("baffle", bodies.front, Plane{site.plane(t).point, -site.outward()}));
    GAPWRIGHT_TRY(air_front_face, face_in_plane("cavity", work.air, site.plane(t)));
    GAPWRIGHT_TRY(air_behind_face, face_in_plane("cavity", airs.behind, site.plane(t + size.thickness_mm)));
    GAPWRIGHT_TRY(flat, outline_of(site, front));
    GAPWRIGHT_TRY(plate_back, outline_of(site, back));
    GAPWRIGHT_TRY(air_front, outline_of(site, air_front_face));
    GAPWRIGHT_TRY(air_behind, outline_of(site, air_behind_face));
    if (site.request.driver) {
        GAPWRIGHT_TRY(plan, plan_driver(site, flat, plate_back, "plate's back"));
        work.driver = plan;
        GAPWRIGHT_CHECK(check_boss_room(site, plan.form, plan.centre, work.air));
    }
    GAPWRIGHT_TRY(flange, plan_flange(site, size, flat, plate_back, air_front, air_behind, work.driver_or_null()));
    work.note(flange.notes);
    GAPWRIGHT_TRY(screws_made, baffle_screws(site, flange));
    work.made.screws = screws_made;
    work.made.joints.push_back(flange.joint);

    GAPWRIGHT_TRY(thread, fixings::find_thread(site.request.baffle.screw_thread, site.request.own_threads));
    std::vector<Hole> screws;
    for (const Point2 screw : flange.screws)
        screws.push_back(
            {.centre = screw, .radius_mm = thread.hole_medium_mm / 2.0, .depth_mm = 0.0, .is_through = true});
    work.made.flats.push_back(baffle_drawing(site, flat, plate_back, work.driver_or_null(), screws));
    const Drilled drilled = drill(site, front, back, t, work.driver_or_null(), screws);
    std::vector<TopoDS_Face> faces =
        replaced(replaced(faces_of(bodies.front), front, drilled.front), back, drilled.back);
    faces.insert(faces.end(), drilled.more.begin(), drilled.more.end());
    GAPWRIGHT_TRY(plate, solid_of_faces("baffle", faces));
    // Its own copy: the two products share no faces.
    work.plate = TopoDS::Solid(BRepBuilderAPI_Copy(plate).Shape());

    GAPWRIGHT_TRY(rest, fuse_feet(work.feet, bodies.behind));
    GAPWRIGHT_TRY(joined, flanged(site, flange, rest, airs.behind));
    GAPWRIGHT_TRY(shell, solid_of_faces("shell", work.for_shell(joined.shell_faces)));
    work.shell = shell;
    std::vector<TopoDS_Face> air_faces{joined.air_front};
    air_faces.insert(air_faces.end(), joined.air_faces.begin(), joined.air_faces.end());
    GAPWRIGHT_TRY(air, solid_of_faces("air", air_faces));
    work.air = air;
    GAPWRIGHT_TRY(finished, air_to_seat(work, drilled, joined.air_front, joined.air_faces));
    work.finished_air = finished;

    const Outline mouth(flange.mouth);
    work.mouth = flange.mouth;
    work.mouth_mm = t;
    work.mouth_back_mm = t + size.thickness_mm;
    if (work.pad && site.request.adjust.fill == Adjust::Fill::Separate)
        work.note({way_in_text(site, *work.pad, mouth)});
    const Point2 middle = (mouth.lo() + mouth.hi()) * 0.5;
    AirPiece in_shell{.product = "shell", .openings = {}, .at = point_of_air(work, mouth, t)};
    in_shell.openings.push_back(opening("mouth", site.plane(t, middle), distance(mouth.lo(), mouth.hi()) / 2.0));
    if (flange.size.is_through)
        for (std::size_t i = 0; i < flange.screws.size(); ++i)
            in_shell.openings.push_back(opening(fmt::format("baffle screw {}", i + 1),
                                                site.plane(t + flange.size.thickness_mm, flange.screws[i]),
                                                flange.size.hole_mm / 2.0));
    if (work.driver) in_shell.filled_mm3 = work.driver->form.boss_mm3();
    work.made.air_pieces.push_back(std::move(in_shell));
    if (work.driver) {
        const double back_mm = work.driver->form.back_mm;
        AirPiece in_plate{.product = "baffle",
                          .openings = {driver_opening(work)},
                          .at = site.at(work.driver->centre, (back_mm + work.driver->seat_depth_mm) / 2.0)};
        in_plate.openings.push_back(opening("cut-out, back",
                                            Plane{site.at(work.driver->centre, back_mm), -site.outward()},
                                            work.driver->cutout_radius_mm));
        work.made.air_pieces.push_back(std::move(in_plate));
    }
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

Status sum_up(Work& work) {
    const EnclosureRequest& request = work.site.request;
    const double finished_mm3 = volume_mm3(work.finished_air);
    std::vector<LedgerLine>& ledger = work.made.ledger;
    const auto line = [&](std::string name, double mm3) { ledger.push_back({std::move(name), mm3 / 1e6}); };
    double solids_mm3 = 0.0;
    line("air behind the baffle", work.bare_mm3);
    const double pad_mm3 = work.pad ? work.pad->mm3 : 0.0;
    work.made.pad_by_brep = Volume::mm3(pad_mm3);
    if (work.pad) line("filler pad", -pad_mm3);
    const std::vector<LedgerLine> of_baffle = baffle_lines(request);
    double known_mm3 = work.bare_mm3 - pad_mm3;
    for (std::size_t i = 0; i < work.sleeves.size(); ++i) {
        line(fmt::format("sleeve \"{}\"", work.sleeves[i].name), -work.sleeves_mm3[i]);
        known_mm3 -= work.sleeves_mm3[i];
    }
    for (const BraceMade& brace : work.made.braces) {
        line(fmt::format("brace \"{}\"", brace.name), -brace.volume_mm3);
        known_mm3 -= brace.volume_mm3;
    }
    for (const LedgerLine& l : of_baffle) known_mm3 += l.litres * 1e6;
    if (request.baffle.separate) line("rim flange", finished_mm3 - known_mm3);
    ledger.insert(ledger.end(), of_baffle.begin(), of_baffle.end());
    if (work.driver) {
        const double displaced = displacement_mm3(request.driver->driver);
        line("driver", -displaced);
        solids_mm3 += displaced;
        const auto displacement = sound::displacement_of(request.driver->driver);
        if (!displacement)
            work.note({"driver: neither displacement nor the lengths to estimate it are given: counted as nothing"});
        else if (displacement->is_estimated)
            work.note({fmt::format("driver: displacement of {:.3f} L estimated as frustum and magnet, within {:.0f} %",
                                   displacement->volume.litres(), 100.0 * displacement->spread_rel)});
    }
    if (const double screws = plate_screws_volume(request).mm3(); screws > 0.0) {
        line("heads of the screws into plates", -screws);
        solids_mm3 += screws;
    }
    if (request.terminal) {
        const double filled = terminal_mm3(*request.terminal, work.terminal_hole_mm3);
        line("terminal hole", work.terminal_hole_mm3);
        line("terminal", -filled);
        solids_mm3 += filled;
    }
    work.made.solids_in_air = Volume::mm3(solids_mm3);
    work.made.net_by_brep = Volume::mm3(finished_mm3 + work.terminal_hole_mm3 - solids_mm3);
    for (const AirPiece& piece : work.made.air_pieces)
        work.made.openings.insert(work.made.openings.end(), piece.openings.begin(), piece.openings.end());
    return Done{};
}

}  // namespace

std::vector<LedgerLine> features_ledger(const EnclosureRequest& request) {
    std::vector<LedgerLine> ledger = baffle_lines(request);
    const auto line = [&](const char* name, double mm3) { ledger.push_back({name, mm3 / 1e6}); };
    if (request.driver) line("driver", -displacement_mm3(request.driver->driver));
    if (const double screws = plate_screws_volume(request).mm3(); screws > 0.0)
        line("heads of the screws into plates", -screws);
    if (request.terminal) {
        const double r = request.terminal->diameter.mm() / 2.0;
        const double hole = std::numbers::pi * r * r * request.wall.mm();
        line("terminal hole", hole);
        line("terminal", -terminal_mm3(*request.terminal, hole));
    }
    return ledger;
}

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
    return guard_occt("part", [&]() -> Result<Enclosure> {
        Work work(Site(bodies, room, request, context, surface));
        work.outer = TopoDS::Solid(to_occt(bodies.outer));
        work.air = TopoDS::Solid(to_occt(bodies.air));
        work.bare_mm3 = volume_mm3(work.air);
        if (bodies.pad_plane) {
            const Stage stage(context, "part/pad");
            GAPWRIGHT_TRY(pad, part_pad(work.site, work.air, *bodies.pad_plane));
            work.air = pad.air;
            work.pad = pad.pad;
            work.made.pad_plane = bodies.pad_plane;
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
        if (work.driver) {
            work.note(work.driver->notes);
            work.made.joints.push_back(work.driver->joint);
            GAPWRIGHT_TRY(screws, driver_screws(work.site, *work.driver));
            work.made.screws.insert(work.made.screws.end(), screws.begin(), screws.end());
        }
        GAPWRIGHT_CHECK(finish_form(work));
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
        GAPWRIGHT_CHECK(sum_up(work));
        return std::move(work.made);
    });
}

}  // namespace geom::parts
