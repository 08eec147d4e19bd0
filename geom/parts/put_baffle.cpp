// The baffle's holes, recess, ring, dish and flange are plane faces joined by walls, without a boolean; the shell is
// the outer faces and those of the air, joined by the cut-out or by the flange, otherwise the air is a void. A separate
// baffle is split off by a plane first.
#include "geom/parts/internal/work.h"

#include "geom/fixings/threads.h"
#include "geom/parts/internal/baffle.h"
#include "geom/parts/internal/baffle_drawing.h"
#include "geom/parts/internal/screws.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Copy.hxx>
#include <TopoDS.hxx>

#include <iterator>

namespace geom::parts {
namespace {

/// The air up to the driver's seat: `front` closes `sides` in the plane the cut-out comes out of.
Result<TopoDS_Solid> air_to_seat(const Drilled& drilled, const std::optional<PortFaces>& port, const TopoDS_Face& front,
                                 const std::vector<TopoDS_Face>& sides) {
    std::vector<TopoDS_Face> faces{front};
    faces.insert(faces.end(), sides.begin(), sides.end());
    if (port) {
        faces.front() = with_holes(front, {port->foot});
        faces.insert(faces.end(), port->air.begin(), port->air.end());
    }
    if (!drilled.out_of_back.empty()) faces.front() = with_holes(faces.front(), drilled.out_of_back);
    faces.insert(faces.end(), drilled.air_side.begin(), drilled.air_side.end());
    return solid_of_faces("air", faces);
}

std::vector<TopoDS_Face> without(std::vector<TopoDS_Face> faces, const TopoDS_Face& face) {
    std::erase_if(faces, [&](const TopoDS_Face& f) { return f.IsSame(face); });
    return faces;
}

/// Where the air is certainly found: the middle of the cut-out, or just behind the deepest place of the outline.
Point3 point_of_air(const Work& work, const Outline& front, double front_depth_mm) {
    // Inside the port's bore the air is not the box's.
    if (!work.driver && work.port) return work.port->path.at(work.port->length_mm() + 1.0).at;
    const Point2 deepest = greatest([&](Point2 p) { return front.depth(p); }, front.lo(), front.hi()).at;
    return work.site.at(work.driver ? work.driver->centre : deepest, front_depth_mm + 1.0);
}

measure::Opening driver_opening(const Site& site, const DriverPlan& driver) {
    return opening(driver.joint.name, site.plane(driver.seat_depth_mm, driver.centre), driver.cutout_radius_mm);
}

/// The drivers' places, once they are known to fit.
Status plan_all_drivers(Work& work, const Outline& flat, const Outline& back, const std::string& back_name,
                        const MoreRoom& more = {}) {
    if (!work.site.request.driver) return Done{};
    GAPWRIGHT_TRY(plans, plan_drivers(work.site, flat, back, back_name, more));
    work.driver = std::move(plans.front());
    work.more_drivers.assign(std::make_move_iterator(plans.begin() + 1), std::make_move_iterator(plans.end()));
    return check_boss_room(work.site, work.driver->form, work.driver->centre, work.air);
}

/// The port through the baffle as drilled, once it is known to fit; none without a port.
Result<std::optional<PortFaces>> put_port(Work& work, Drilled& drilled, const Outline& flat, const Outline& back,
                                          const std::string& back_name, const Outline& inner,
                                          const std::vector<Hole>& screws) {
    if (!work.port) return std::optional<PortFaces>();
    GAPWRIGHT_CHECK(check_port(work.site, *work.port, flat, back, back_name, inner, work.drivers(), screws, work.air));
    GAPWRIGHT_TRY(port, port_faces(*work.port));
    drilled.front = with_holes(drilled.front, {port.mouth});
    drilled.back = with_holes(drilled.back, {port.foot});
    drilled.more.insert(drilled.more.end(), port.solid.begin(), port.solid.end());
    drilled.pierces = true;
    return std::optional<PortFaces>(std::move(port));
}

}  // namespace

Status put_integral_baffle(Work& work) {
    const Site& site = work.site;
    const double t = site.thickness_mm();
    GAPWRIGHT_TRY(outer, fuse_feet(work.feet, work.outer));
    work.outer = outer;
    GAPWRIGHT_TRY(front, face_in_plane("baffle", work.outer, site.plane(0.0)));
    GAPWRIGHT_TRY(back, face_in_plane("cavity", work.air, site.plane(t)));
    GAPWRIGHT_TRY(flat, outline_of(site, front));
    GAPWRIGHT_TRY(cavity_front, outline_of(site, back));
    GAPWRIGHT_CHECK(plan_all_drivers(work, flat, cavity_front, "cavity's front"));
    Drilled drilled = drill(site, front, back, t, work.drivers(), {});
    GAPWRIGHT_TRY(port, put_port(work, drilled, flat, cavity_front, "cavity's front", cavity_front, {}));
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
    GAPWRIGHT_TRY(finished, air_to_seat(drilled, port, back, without(faces_of(work.air), back)));
    work.finished_air = finished;

    const double back_mm = work.driver ? work.driver->form.back_mm : t;
    AirPiece piece{.product = "shell", .openings = {}, .at = point_of_air(work, cavity_front, back_mm)};
    for (const DriverPlan* driver : work.drivers()) {
        piece.openings.push_back(driver_opening(site, *driver));
        int number = 0;
        for (const Hole& bolt : driver->bolts) {
            ++number;
            if (bolt.is_through)
                piece.openings.push_back(opening(fmt::format("{} bolt {}", driver->joint.name, number),
                                                 site.plane(back_mm, bolt.centre), bolt.radius_mm));
        }
    }
    if (work.port) piece.openings.push_back(port_opening(*work.port));
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
    const auto flange_round = [&](const DriverPlans& drivers) {
        return plan_flange(site, size, flat, plate_back, air_front, air_behind, drivers);
    };
    const MoreRoom in_mouth{.room_mm =
                                [&](const DriverPlan& driver, Point2 p) {
                                    return std::min(air_front.depth(p), air_behind.depth(p)) - room_in_mouth_mm(driver);
                                },
                            .takes = [&](const DriverPlans& drivers) -> Status {
                                GAPWRIGHT_CHECK(flange_round(drivers));
                                return Done{};
                            }};
    GAPWRIGHT_CHECK(plan_all_drivers(work, flat, plate_back, "plate's back", in_mouth));
    GAPWRIGHT_TRY(flange, flange_round(work.drivers()));
    work.note(flange.notes);
    GAPWRIGHT_TRY(screws_made, baffle_screws(site, flange));
    work.made.screws = screws_made;
    work.made.joints.push_back(flange.joint);

    GAPWRIGHT_TRY(thread, fixings::find_thread(site.request.baffle.screw_thread, site.request.own_threads));
    std::vector<Hole> screws;
    for (const Point2 screw : flange.screws)
        screws.push_back(
            {.centre = screw, .radius_mm = thread.hole_medium_mm / 2.0, .depth_mm = 0.0, .is_through = true});
    work.made.flats.push_back(
        baffle_drawing(site, flat, plate_back, work.drivers(), work.port ? &*work.port : nullptr, screws));
    Drilled drilled = drill(site, front, back, t, work.drivers(), screws);
    GAPWRIGHT_TRY(port, put_port(work, drilled, flat, plate_back, "plate's back", Outline(flange.mouth), screws));
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
    GAPWRIGHT_TRY(finished, air_to_seat(drilled, port, joined.air_front, joined.air_faces));
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
    if (work.port) in_shell.filled_mm3 += work.port->tube_volume_mm3();
    work.made.air_pieces.push_back(std::move(in_shell));
    for (const DriverPlan* driver : work.drivers()) {
        if (driver->mount.from_behind) continue;  // the plate holds none of its air
        const double back_mm = driver->form.back_mm;
        AirPiece in_plate{.product = "baffle",
                          .openings = {driver_opening(site, *driver)},
                          .at = site.at(driver->centre, (back_mm + driver->seat_depth_mm) / 2.0)};
        in_plate.openings.push_back(opening(driver->joint.name + ", back",
                                            Plane{site.at(driver->centre, back_mm), -site.outward()},
                                            driver->cutout_radius_mm));
        work.made.air_pieces.push_back(std::move(in_plate));
    }
    return Done{};
}

}  // namespace geom::parts
