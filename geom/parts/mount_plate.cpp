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

std::string limit_name(const MountPlate& plate) {
    return "plate " + plate.name;
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
    return place;
}

Result<EnclosureRequest> with_plate_limits(const EnclosureRequest& request) {
    EnclosureRequest more = request;
    for (const MountPlate& plate : request.plates) {
        GAPWRIGHT_TRY(place, plate_place(plate, request));
        more.room.limits.push_back(
            {.name = limit_name(plate), .plane = place.plane(place.face_mm()), .clearance = {}, .covering = false});
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
