// A limit for each plate is all that the room needs to know of it.
#include "geom/parts/mount_plate.h"

#include "geom/core/text.h"
#include "geom/fixings/bolt.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kOnePlane_mm = 0.5;
constexpr double kHeadRoom_mm = 1.0;  // between a vehicle bolt's head and the box
constexpr double kOverRoom_mm = 1.0;  // of the box's face over what the clearance asks, so that it is plane all over
constexpr double kLeastStand_mm = 0.5;
constexpr double kLeastBend_deg = 5.0, kMostBend_deg = 120.0;

std::string limit_name(const MountPlate& plate) {
    return "plate " + plate.name;
}

/// The part beyond the bend, and whether its bolts lie on it.
Result<TurnedPlace> turned_place(const MountPlate& plate, const PlatePlace& place) {
    const Bend& bend = *plate.bend;
    const std::string name = "fixing \"" + plate.name + "\" bend";
    const auto wrong = [&](std::string what, std::string hint, Point3 where) {
        return Fault{FaultCode::BadJob, name + " " + what, std::move(hint), where, "part"};
    };
    if (!material_of(plate).is_metal)
        return wrong(fmt::format("is asked of {}, wanted sheet metal", material_of(plate).name),
                     "give the plate a metal, or make it flat", bend.at.point);
    if (std::abs(bend.by.deg()) < kLeastBend_deg || std::abs(bend.by.deg()) > kMostBend_deg)
        return wrong(fmt::format("is by {} deg, wanted {} to {} either way", plain_number(bend.by.deg()),
                                 plain_number(kLeastBend_deg), plain_number(kMostBend_deg)),
                     "towards the box is positive", bend.at.point);
    if (bend.points.empty() && !bend.length)
        return wrong("has neither bolts nor a length, wanted one of them",
                     "give its points (hole centres of the vehicle's bolts in the turned part) or its length",
                     bend.at.point);
    TurnedPlace turned;
    const Vec3 n = unit(bend.at.outward), z = place.frame.z;
    const Vec3 in_plate = n - z * dot(n, z);
    if (norm(in_plate) < 0.1)
        return wrong("lies along the plate, wanted a plane across it",
                     "its outward points in the plate to what is turned", bend.at.point);
    turned.out = unit(in_plate);
    turned.line_mm = dot(bend.at.point - place.frame.origin, n) / norm(in_plate);
    turned.radians = bend.by.rad();
    turned.inner_mm = bend.inner_radius ? bend.inner_radius->mm() : place.thickness_mm;
    const double t = place.thickness_mm, a = turned.radians, up = a > 0.0 ? 1.0 : -1.0;
    turned.allowance_mm = std::abs(a) * (turned.inner_mm + bend.k_factor * t);
    // The axis lies over the upper face, or under the lower one; the lower face is the outer one, or the inner one.
    turned.centre =
        place.frame.origin + turned.out * turned.line_mm + z * (up > 0.0 ? t + turned.inner_mm : -turned.inner_mm);
    const double lower_mm = up > 0.0 ? turned.inner_mm + t : turned.inner_mm;
    turned.frame.z = z * std::cos(a) - turned.out * std::sin(a);
    turned.frame.y = turned.out * std::cos(a) + z * std::sin(a);
    turned.frame.x = cross(turned.frame.y, turned.frame.z);
    turned.frame.origin = turned.centre - turned.frame.z * (up * lower_mm);
    for (const Point3& p : bend.points) {
        const double off = dot(p - turned.frame.origin, turned.frame.z);
        if (std::abs(off) > kOnePlane_mm)
            return wrong(
                fmt::format("turns the plate to where a bolt of it lies {:.1f} mm off its face, wanted within {}",
                            std::abs(off), plain_number(kOnePlane_mm)),
                fmt::format("move its `at` by {:.1f} mm along its outward, or check angle and bolts",
                            -off / std::sin(a)),
                p);
    }
    return turned;
}

/// Where the box stops at the bend itself: a chord over its inside, or farther off where the box stands off the plate.
Plane bend_plane(const PlatePlace& place) {
    const TurnedPlace& turned = *place.turned;
    const double half = turned.radians / 2.0;
    const Vec3 to_middle = turned.out * std::sin(half) - place.frame.z * std::cos(half);
    const double off = std::max(place.stand_mm, turned.inner_mm * (1.0 - std::cos(half)));
    return {turned.centre + to_middle * (turned.inner_mm - off), to_middle};
}

}  // namespace

Material material_of(const MountPlate& plate) {
    return plate.material ? *plate.material : *find_material("aluminium 5754");
}

Result<PlatePlace> plate_place(const MountPlate& plate, const EnclosureRequest& request) {
    EXPECTS(plate.points.size() >= 2);
    const std::string name = "fixing \"" + plate.name + "\"";
    PlatePlace place;
    place.thickness_mm = plate.thickness.mm();
    place.frame.z = -unit(plate.axis);
    Point3 middle;
    for (const Point3& p : plate.points) middle += p / static_cast<double>(plate.points.size());
    double off = 0.0;
    Point3 where, farthest = plate.points.front();
    for (const Point3& p : plate.points) {
        if (const double h = std::abs(dot(p - middle, place.frame.z)); h > off) off = h, where = p;
        if (distance(p, plate.points.front()) > distance(farthest, plate.points.front())) farthest = p;
    }
    if (off > kOnePlane_mm)
        return Fault{
            FaultCode::BadJob,
            fmt::format("{}: its points lie up to {:.1f} mm off one plane square to its axis, wanted within {}", name,
                        off, plain_number(kOnePlane_mm)),
            "check points and axis: the plate lies flat on the vehicle", where, "part"};
    const Vec3 way = farthest - plate.points.front();
    const Vec3 along = way - place.frame.z * dot(way, place.frame.z);
    if (norm(along) < 1.0)
        return Fault{FaultCode::BadJob, name + ": its points fall together, wanted bolts apart",
                     "give the hole centres of two bolts or more", plate.points.front(), "part"};
    place.frame.origin = middle;
    place.frame.x = unit(along);
    place.frame.y = cross(place.frame.z, place.frame.x);

    GAPWRIGHT_TRY(thread, fixings::find_thread(plate.thread, request.own_threads));
    GAPWRIGHT_TRY(hole, fixings::hole_for(thread, plate.use, true));
    const double clear = request.room.clearance.mm() + request.room.covering.mm();
    double stand = clear + kOverRoom_mm - place.thickness_mm;
    if (hole.sink_mm > 0.0) {
        const double deep = (hole.sink_mm - hole.hole_mm) / 2.0;
        if (deep > place.thickness_mm)
            return Fault{FaultCode::Impossible,
                         fmt::format("{}: a countersunk {} wants a cone {:.1f} mm deep, and the plate has {} mm", name,
                                     plate.thread, deep, plain_number(place.thickness_mm)),
                         "make the plate thicker, take a smaller thread, or another head", plate.points.front(),
                         "part"};
    } else {
        stand = std::max(stand, hole.recess_depth_mm + kHeadRoom_mm);
    }
    place.stand_mm = stand > 0.0 ? std::max(stand, kLeastStand_mm) : 0.0;
    if (plate.bend) {
        GAPWRIGHT_TRY(turned, turned_place(plate, place));
        place.turned = turned;
    }
    return place;
}

Result<EnclosureRequest> with_plate_limits(const EnclosureRequest& request) {
    EnclosureRequest more = request;
    for (const MountPlate& plate : request.plates) {
        GAPWRIGHT_TRY(place, plate_place(plate, request));
        const auto add = [&](const std::string& what, const Plane& plane) {
            more.room.limits.push_back({.name = what, .plane = plane, .clearance = {}, .covering = false});
        };
        add(limit_name(plate), place.plane(place.face_mm()));
        if (!place.turned || place.turned->radians < 0.0) continue;
        add(limit_name(plate) + ", turned part", place.turned->plane(place.face_mm()));
        add(limit_name(plate) + ", bend", bend_plane(place));
    }
    return more;
}

void limits_at_plates(EnclosureRequest& request) {
    for (const MountPlate& plate : request.plates)
        if (const auto place = plate_place(plate, request))
            for (space::Limit& limit : request.room.limits)
                if (limit.name == limit_name(plate)) limit.plane = place->plane(place->thickness_mm);
}

Volume plate_screws_volume(const EnclosureRequest& request) {
    double mm3 = 0.0;
    for (const MountPlate& plate : request.plates) {
        const auto thread = fixings::find_thread(plate.screw_thread, request.own_threads);
        if (plate.through != MountPlate::Through::Back || !thread) continue;
        const auto disc = [](double across, double hole, double high) {
            return std::numbers::pi / 4.0 * (across * across - hole * hole) * high;
        };
        mm3 += plate.screws * (disc(thread->socket.diameter_mm, 0.0, thread->socket.height_mm) +
                               disc(thread->washer_outside_mm, thread->washer_hole_mm, thread->washer_thickness_mm) +
                               disc(thread->d_mm, 0.0, thread->washer_thickness_mm));
    }
    return Volume::mm3(mm3);
}

}  // namespace geom::parts
