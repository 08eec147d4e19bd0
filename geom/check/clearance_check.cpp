// Distances from the kept, levelled samples of the scan to the written triangles, standing and along the way in; raw
// points that are nearer are counted, no more. Samples under a foot's seat touch by intention and are left out.
#include "geom/check/internal/case.h"

#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

/// Where a foot stands on the vehicle: no clearance is asked there.
struct Seat {
    Point3 at;
    Vec3 axis;
    double radius_mm = 0.0, height_mm = 0.0;
    bool holds(Point3 p) const {
        const Vec3 d = p - at;
        const double h = dot(d, axis);
        return std::abs(h) <= height_mm && norm2(d) - h * h <= radius_mm * radius_mm;
    }
};

std::vector<Seat> seats_of(const Case& c) {
    std::vector<Seat> seats;
    for (const parts::FixingMade& f : c.enclosure().fixings) {
        Seat seat;
        seat.at = f.point;
        seat.axis = unit(f.axis);
        // The pad reaches as far as the edge distance; the clearance round it is the pad's too.
        seat.radius_mm = std::max(f.edge_distance_mm, f.edge_wanted_mm) + c.wanted_distance_mm() + 1.0;
        seat.height_mm = c.wanted_distance_mm() + 1.0;
        seats.push_back(seat);
    }
    return seats;
}

}  // namespace

void check_clearance(const Case& c, Verdict& verdict) {
    const double covering = c.request.room.covering.mm(), asked = c.request.room.clearance.mm();
    const double asked_in = c.request.room.insert_clearance.value_or(c.request.room.clearance).mm();
    const double bound = c.clearance_bound_mm();
    verdict.clearance.asked_mm = asked;
    verdict.clearance.bound_mm = bound;
    const std::vector<Point3>& points = c.surface.points;
    if (points.empty() || c.part.triangles.empty()) {
        verdict.lines.push_back({"clearance, standing", Kind::Fit, false, 0.0, asked - bound, "mm", "there is no scan or no mesh to measure between"});
        return;
    }
    const std::vector<Seat> seats = seats_of(c);
    const auto on_seat = [&](Point3 p) { return std::any_of(seats.begin(), seats.end(), [&](const Seat& s) { return s.holds(p); }); };
    std::vector<char> left_out(points.size(), 0);
    std::size_t under_feet = 0;
    for (std::size_t i = 0; i < points.size(); ++i)
        if (on_seat(points[i])) {
            left_out[i] = 1;
            ++under_feet;
        }

    // Beyond an open plane nothing was scanned that the way in must keep off.
    std::vector<Plane> open;
    for (const space::OpenPlane& o : c.request.room.open) open.push_back(o.plane);
    if (open.empty()) {
        Plane mouth = c.request.baffle.plane;
        mouth.point += mouth.outward * c.request.baffle.travel_hi_mm;
        open.push_back(mouth);
    }

    const measure::TriangleTree tree(c.part);
    measure::Clearance standing = measure::least_clearance(tree, points, [&](std::size_t i) { return left_out[i] == 0; });
    const measure::RayTree way(c.part, c.insert());
    measure::Clearance going_in = measure::least_clearance_going_in(way, points, standing.least_mm, [&](std::size_t i) {
        return left_out[i] == 0 && std::none_of(open.begin(), open.end(), [&](const Plane& o) { return o.height(points[i]) > 0.0; });
    });
    if (going_in.least_mm > standing.least_mm) going_in = standing;
    if (going_in.least_mm <= 0.0) {
        // A point stands in the way or in the part itself: which of the two is worth the longer search.
        const auto inside = measure::points_nearer(tree, points, 1e-9, [&](std::size_t i) { return left_out[i] == 0; });
        if (!inside.empty()) {
            standing.least_mm = inside.front().distance_mm;
            standing.point = points[inside.front().index];
        }
    }
    verdict.clearance.min_mm = standing.least_mm - covering;
    verdict.clearance.at = standing.point;
    verdict.clearance.along_insertion_min_mm = going_in.least_mm - covering;
    verdict.clearance.along_insertion_at = going_in.point;
    const auto raw = measure::points_nearer(tree, c.surface.raw, asked + covering, [&](std::size_t i) { return !on_seat(c.surface.raw[i]); });
    verdict.clearance.raw_points_nearer = raw.size();

    const std::string seat_note = under_feet > 0 ? fmt::format("; {} samples under the feet's seats left out", under_feet) : "";
    std::string raw_note;
    if (!raw.empty())
        raw_note = fmt::format("; {} of {} raw points lie nearer than asked, the nearest {}: noise or dropped, no failed check", raw.size(),
                               c.surface.raw.size(), place(c.surface.raw[raw.front().index]));
    verdict.lines.push_back(at_least("clearance, standing", Kind::Fit, verdict.clearance.min_mm, asked - bound, "mm",
                                     fmt::format("{}; {} levelled samples to the written triangles, less {:.2f} mm of covering; {:.2f} mm asked "
                                                 "with a stated bound of {:.2f} mm{}{}",
                                                 place(standing.point), points.size(), covering, asked, bound, seat_note, raw_note)));
    verdict.lines.push_back(at_least("clearance, going in", Kind::Fit, verdict.clearance.along_insertion_min_mm, asked_in - bound, "mm",
                                     fmt::format("{}; every sample against all that passes it on the straight way in, exact; {:.2f} mm asked with "
                                                 "a stated bound of {:.2f} mm{}",
                                                 place(going_in.point), asked_in, bound, seat_note)));
}

}  // namespace geom::check
