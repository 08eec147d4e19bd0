// Keep-outs, limits and the scan are met by the column before the seat as stands_round.h says; of the part itself what
// stands before its own front counts. The part may reach into the column, the column into a keep-out, or lie in it as a
// whole.
//
// How much farther in the baffle would have to lie: moving it by s changes no distance by more than s, so that it may
// always be moved by what is missing without passing the first place that is free.
#include "geom/check/internal/case.h"
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

void check_front_of(const Case& c, const parts::DriverMount& mount, const std::string& of_which,
                    const std::vector<Standing>& vehicle, const std::vector<Standing>& all, Verdict& verdict) {
    const parts::Enclosure& e = c.enclosure();
    const std::optional<parts::GrilleRoom>& asked = c.request.baffle.grille_room;
    const ConeNeeds cone = cone_needs(mount.driver);
    const Vec3 out = e.seat_plane.outward;
    const Turned column =
        front_column(mount.centre - out * e.seat_plane.height(mount.centre), out, mount.driver, asked);

    const double radius = column.circles.front().radius_mm, height = column.circles.back().height_mm;
    FrontFit front = told_front(all, column, cone);
    front.before_baffle_mm = height + e.baffle_plane.height(column.base);
    // Of several the one with the least before it is told.
    const auto tell = [&] {
        FrontFit& told = verdict.driver_fit.front;
        if (told.diameter_mm <= 0.0 || front.free_mm < told.free_mm) told = front;
    };
    if (!asked) return tell();

    front.asked_mm = height;
    Met least = least_left(all, column);
    // A grille wider than the dish's floor stands in its flank.
    if (e.seat && e.seat->face_mm > 0.0 && radius > e.seat->face_radius_mm)
        least.take({e.seat->face_radius_mm - radius, column.base, "the dish's own flank", {}});
    front.least_mm = least.mm;
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
    if (of_which.empty()) verdict.lines.push_back(cone_travel_line(column, cone));
}

}  // namespace

void check_front(const Case& c, Verdict& verdict) {
    const std::vector<parts::DriverMount> mounts = c.request.drivers();
    if (mounts.empty()) return;
    const std::vector<Standing> vehicle = stands_before(c);
    std::vector<Standing> all = stands_before(c);
    if (TriMesh own = before_own_front(c); !own.triangles.empty()) all.emplace_back(std::move(own), "the part itself");
    for (std::size_t i = 0; i < mounts.size(); ++i)
        check_front_of(c, mounts[i], i == 0 ? "" : ", " + parts::driver_title(i), vehicle, all, verdict);
}

}  // namespace geom::check
