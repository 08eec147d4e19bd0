// Keep-outs, limits and the scan are met by the column before the seat as stands_round.h says; of the part itself what
// stands before its own front counts. The part may reach into the column, the column into a keep-out, or lie in it as a
// whole.
//
// How much farther in the baffle would have to lie: moving it by s changes no distance by more than s, so that it may
// always be moved by what is missing without passing the first place that is free.
//
// A driver that is turned round has its magnet there: its body is met piece by piece, and the column is as high as it.
#include "geom/check/internal/case.h"
#include "geom/check/internal/driver_solid.h"
#include "geom/check/internal/front_room.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

constexpr double kFront_mm = 0.1;  // of the part: what stands no farther before its front is the front

}  // namespace

std::vector<Standing> stands_before(const Case& c) {
    std::vector<Standing> round;
    for (const space::KeepOut& k : c.request.room.keep_outs) round.emplace_back(k);
    for (const space::Limit& l : c.request.room.limits) round.emplace_back(l);
    round.emplace_back(c.surface, c.surface.points.size());
    return round;
}

TriMesh before_own_front(const Case& c) {
    const parts::Enclosure& e = c.enclosure();
    const double before = e.seat && e.seat->face_mm < 0.0 ? -e.seat->face_mm : 0.0;
    const auto is_before = [&](std::uint32_t v) {
        return e.baffle_plane.height(c.part.vertices[v]) > before + kFront_mm;
    };
    TriMesh own{c.part.vertices, {}};
    for (const auto& t : c.part.triangles)
        if (std::any_of(t.begin(), t.end(), is_before)) own.triangles.push_back(t);
    return own;
}

namespace {

/// What stands before a driver's seat.
struct Before {
    Point3 base;             ///< on its axis, where it begins
    parts::ConeNeeds needs;  ///< from there on
    Length across;
    std::string name;  ///< "the cone's travel"
};

Before before_of(const Case& c, const parts::DriverMount& mount, const Plane& seat,
                 const std::optional<parts::DriverBody>& magnet) {
    const Point3 on_seat = mount.centre - seat.outward * seat.height(mount.centre);
    const parts::ConeNeeds cone = parts::cone_needs(mount.driver);
    Before before{on_seat, cone, mount.driver.flange_diameter, "the cone's travel"};
    const double in_baffle = c.enclosure().baffle_plane.height(on_seat) * -1.0;
    if (mount.is_turned) {
        before.name = "the magnet and air behind it";
        const double end = magnet ? seat.height(magnet->seat) + magnet->depth_mm() : 0.0;
        before.needs = {end + parts::kBehindMagnet_mm,
                        fmt::format("its rear {:.1f} mm before the plane on which its flange rests, {:.0f} mm of air",
                                    end, parts::kBehindMagnet_mm),
                        !magnet};
        if (!magnet) before.needs.how += "; mounting_depth not given";
    } else if (mount.from_behind) {
        // Its flange's front face lies on the seat; what does not stand out of the hole needs nothing.
        const double before_seat = cone.mm - mount.driver.flange_thickness->mm();
        before.needs.mm = std::max(0.0, before_seat - in_baffle);
        before.needs.how += fmt::format("; its flange lies {:.1f} mm behind the outer face", in_baffle);
    }
    if (mount.from_behind) {
        before.base = on_seat + seat.outward * in_baffle;
        before.across = mount.driver.cutout_diameter;
        if (mount.is_turned) before.needs.mm = std::max(0.0, before.needs.mm - in_baffle);
    }
    return before;
}

/// A magnet before the box: whether it stands free, and whether its vent does.
void check_magnet_outside(const std::optional<parts::DriverBody>& body, const std::vector<Standing>& all,
                          const std::string& who, Verdict& verdict) {
    const std::string magnet = who + ", its magnet before the box";
    if (!body) {
        verdict.lines.push_back({magnet, Kind::Fit, true, 0.0, parts::kBesideDriver_mm, "mm",
                                 "not judged: the driver file gives no mounting_depth"});
        verdict.lines.back().is_judged = false;
        return;
    }
    const auto judge = [&](const std::string& name, const Met& least, double wanted, const std::string& how) {
        CheckLine line = at_least(name, Kind::Fit, least.told_mm(), wanted, "mm",
                                  fmt::format("{}; {}, beyond the clearance that limits and keep-outs ask for; limit "
                                              "is common practice",
                                              least.where(), how));
        if (!line.ok) line.place = least.at;
        verdict.lines.push_back(std::move(line));
    };
    judge(magnet, DriverSolid(*body).least_left(all), parts::kBesideDriver_mm,
          "flange, frustum and magnet against what stands round them");
    judge(who + ", air behind its magnet",
          least_left(all, Turned::cylinder(body->seat + body->backward * body->depth_mm(), body->backward,
                                           body->magnet_radius_mm(), parts::kBehindMagnet_mm)),
          0.0,
          fmt::format("left beside {:.0f} mm of air straight behind the rear face, for the vent in the pole piece",
                      parts::kBehindMagnet_mm));
}

void check_front_of(const Case& c, std::size_t index, const std::vector<Standing>& vehicle,
                    const std::vector<Standing>& all, Verdict& verdict) {
    const parts::Enclosure& e = c.enclosure();
    const parts::DriverMount mount = c.request.drivers()[index];
    const std::string of_which = index == 0 ? "" : ", " + parts::driver_title(index);
    const std::optional<parts::GrilleRoom>& asked = c.request.baffle.grille_room;
    const Plane& seat = e.driver_seats[index];
    const Vec3 out = seat.outward;
    const auto magnet = bodies_before_box(c)[index];
    const Before before = before_of(c, mount, seat, magnet);
    const Turned column = front_column(before.base, out, std::max(before.needs.mm, kFront_mm), before.across, asked);

    const double radius = column.circles.front().radius_mm, height = column.circles.back().height_mm;
    FrontFit front = told_front(all, column, before.needs);
    front.is_magnet = mount.is_turned;
    front.before_baffle_mm = height + e.baffle_plane.height(column.base);
    // Of several the one with the least before it is told.
    const auto tell = [&] {
        FrontFit& told = verdict.driver_fit.front;
        if (told.diameter_mm <= 0.0 || front.free_mm < told.free_mm) told = front;
    };
    if (mount.is_turned) check_magnet_outside(magnet, all, parts::driver_title(index), verdict);
    if (!asked) return tell();

    front.asked_mm = height;
    Met least = least_left(all, column);
    // A grille wider than the dish's floor stands in its flank.
    if (e.seat && e.seat->face_mm > 0.0 && radius > e.seat->face_radius_mm)
        least.take({e.seat->face_radius_mm - radius, column.base, "the dish's own flank", {}});
    front.least_mm = least.told_mm();
    tell();
    CheckLine line = grille_room_line(column, least, c.surface.bound_mm);
    line.name += of_which;
    if (!line.ok) {
        const double most = std::max(0.0, e.baffle_t_mm - c.request.baffle.travel_lo_mm);
        const auto by = way_to_free([&](double way) { return least_left(vehicle, column.moved(-out * way)).mm; }, most);
        line.note += by ? fmt::format("; free with the baffle {:.1f} mm farther in", *by)
                        : std::string("; no place of the baffle farther in on its travel leaves it free");
    }
    verdict.lines.push_back(std::move(line));
    line = held_line(before.name, column, before.needs);
    line.name += of_which;
    verdict.lines.push_back(std::move(line));
}

}  // namespace

void check_front(const Case& c, Verdict& verdict) {
    const std::size_t count = c.request.drivers().size();
    if (count == 0) return;
    const std::vector<Standing> vehicle = stands_before(c);
    std::vector<Standing> all = stands_before(c);
    if (TriMesh own = before_own_front(c); !own.triangles.empty()) all.emplace_back(std::move(own), "the part itself");
    for (std::size_t i = 0; i < count; ++i) check_front_of(c, i, vehicle, all, verdict);
}

}  // namespace geom::check
