#include "geom/job/places.h"

#include "geom/space/keep_out_distance.h"

#include <fmt/format.h>

namespace geom::job {

std::vector<scan::NamedPlace> places_of(const Job& job) {
    std::vector<scan::NamedPlace> places;
    if (job.ring) {
        const parts::RingRequest& ring = job.ring->request;
        const Point3 centre = ring.seat.plane.point;
        places.push_back({"the ring's seat", {centre, centre}, false});
        for (const parts::RingBolt& bolt : ring.bolts)
            places.push_back({fmt::format("vehicle bolt \"{}\"", bolt.name), {bolt.point, bolt.point}, true});
    } else {
        const Point3 air = job.enclosure.room.air;
        places.push_back({"air", {air, air}, false});
    }
    for (const parts::Foot& foot : job.enclosure.feet)
        places.push_back({fmt::format("fixing \"{}\"", foot.name), {foot.point, foot.point}, true});
    for (const parts::Sleeve& sleeve : job.enclosure.sleeves)
        places.push_back({fmt::format("fixing \"{}\"", sleeve.name), {sleeve.point, sleeve.point}, true});
    for (const parts::MountPlate& plate : job.enclosure.plates) {
        std::vector<Point3> points = plate.points;
        if (plate.bend) points.insert(points.end(), plate.bend->points.begin(), plate.bend->points.end());
        for (const Point3& point : points)
            places.push_back({fmt::format("fixing \"{}\"", plate.name), {point, point}, true});
    }
    for (const space::KeepOut& keep_out : job.enclosure.room.keep_outs)
        places.push_back({fmt::format("keep-out \"{}\"", keep_out.name), space::reach_of(keep_out), false});
    return places;
}

}  // namespace geom::job
