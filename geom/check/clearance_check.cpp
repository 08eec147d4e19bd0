// Distances from the kept, levelled samples of the scan to the written triangles, standing and along the way in; raw
// points that are nearer are counted, no more. Samples of sharp edges and of closed holes are known less well than the
// others and are judged by bounds of their own. A foot touches the vehicle by intention, where it stands and wherever
// its seat slides on the way in: samples there are held against the part without the triangles that reach into a seat.
#include "geom/check/internal/along_moves.h"
#include "geom/check/internal/case.h"

#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"
#include "geom/measure/moving_clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace geom::check {

namespace {

/// Where a foot stands on the vehicle, as a flat cylinder about its hole.
struct Seat {
    Point3 at;
    Vec3 axis;
    double radius_mm = 0.0, height_mm = 0.0;

    bool holds(Point3 p) const { return meets(p, {}); }

    /// Whether p + s way lies in the cylinder for some s from 0 to `most` (with no way: whether p does).
    bool meets(Point3 p, Vec3 way, double most = 1e9) const {
        const Vec3 d = p - at;
        const double h = dot(d, axis), rise = dot(way, axis);
        double from = 0.0, to = most;
        if (std::abs(rise) < 1e-9) {
            if (std::abs(h) > height_mm) return false;
        } else {
            const double a = (-height_mm - h) / rise, b = (height_mm - h) / rise;
            from = std::max(0.0, std::min(a, b));
            to = std::min(most, std::max(a, b));
            if (to < from) return false;
        }
        const Vec3 side = d - axis * h, run = way - axis * rise;
        const double run2 = norm2(run);
        const double s = run2 > 0.0 ? std::clamp(-dot(side, run) / run2, from, to) : from;
        return norm2(side + run * s) <= radius_mm * radius_mm;
    }
};

/// What lies this near a seat's plane is the seat's face, or a side of the pad that ends in it.
constexpr double kSeatFace_mm = 1.0;
/// More samples than this do not stand alone.
constexpr std::size_t kMostAlone = 32;

std::vector<Seat> seats_of(const Case& c) {
    std::vector<Seat> seats;
    for (const parts::SeatMade& made : c.enclosure().seats)
        seats.push_back({made.at, unit(made.axis), made.radius_mm + c.wanted_distance_mm() + 1.0,
                         made.over_mm + c.wanted_distance_mm() + 1.0});
    for (const parts::FixingMade& f : c.enclosure().fixings) {
        if (f.kind == parts::FixingKind::Plate || f.kind == parts::FixingKind::Rim)
            continue;  // have seats of their own
        Seat seat;
        seat.at = f.point;
        seat.axis = unit(f.axis);
        // The pad reaches as far as the edge distance; the clearance round it is the pad's too.
        seat.radius_mm =
            std::max({f.edge_distance_mm, f.edge_wanted_mm, f.seat_radius_mm}) + c.wanted_distance_mm() + 1.0;
        seat.height_mm = c.wanted_distance_mm() + 1.0;
        seats.push_back(seat);
    }
    return seats;
}

/// What the samples pass on the way in by moves.
struct Moving {
    space::WayIn way;
    std::vector<measure::MoveSeen> seen;
    std::vector<Plane> open;

    explicit Moving(const Case& c) : way(c.request.room.moves), open(c.open_planes()) {
        for (std::size_t m = 0; m < way.size(); ++m) seen.emplace_back(way, m);
    }
    /// How far a first slide goes on for what stands at `p`: until all of the part is past it, but what stands farther
    /// in front of the mouth than the slide is carried on is not in its way.
    double carried_on(std::size_t move, Point3 p) const {
        constexpr double kPast_mm = 4000.0;
        if (move > 0 || !way.begins_with_slide()) return 0.0;
        const bool counts =
            std::all_of(open.begin(), open.end(), [&](const Plane& o) { return o.height(p) <= space::kCarriedOn_mm; });
        return counts ? kPast_mm : 0.0;
    }
    measure::MovingClearance least(std::size_t move, const measure::TriangleTree& tree,
                                   const std::vector<Point3>& points,
                                   const std::function<bool(std::size_t)>& counts) const {
        return measure::least_clearance_moving(
            tree, seen[move], points, std::numeric_limits<double>::infinity(),
            [&](Point3 p) { return carried_on(move, p); }, counts);
    }
    /// Whether the seat passes what stands at `p`, by chords of the path that it leaves by no more than its margin.
    bool meets(const Seat& seat, Point3 p) const {
        constexpr double kSlack_mm = 0.5;
        for (std::size_t m = 0; m < seen.size(); ++m) {
            const space::PathBack path = seen[m].path(p);
            const double length = path.length_mm() + carried_on(m, p);
            if (path.is_straight()) {
                if (seat.meets(path.at(0.0), path.at(1.0) - path.at(0.0), length)) return true;
                continue;
            }
            const int pieces =
                std::max(1, static_cast<int>(std::ceil(length / std::sqrt(8.0 * path.radius_mm() * kSlack_mm))));
            for (int n = 0; n < pieces; ++n) {
                const Point3 a = path.at(length * n / pieces), b = path.at(length * (n + 1) / pieces);
                if (seat.meets(a, unit(b - a), distance(a, b))) return true;
            }
        }
        return false;
    }
    std::string how_text(const measure::MovingClearance& least) const {
        return fmt::format("in {} move{}, within {} mm; least in move {} ({}), {}", way.size(),
                           way.size() == 1 ? "" : "s", 2.0 * measure::kSagitta_mm, least.move + 1,
                           space::text_of(way.move(least.move)), how_far(way.move(least.move), least.share));
    }
};

/// Samples that are known equally well.
struct SampleKind {
    std::string where, what;  ///< in the check's name, and in its note
    std::size_t begin = 0, end = 0;
    double bound_mm = 0.0;
};

/// The plain ones first, always; then those on sharp edges and on the patches of closed holes, where there are any.
std::vector<SampleKind> kinds_of(const Case& c) {
    const scan::Surface& s = c.surface;
    const bool has_edges = s.edge_end > s.edge_begin;
    const std::size_t plain = has_edges ? s.edge_begin : s.edge_end > 0 ? s.edge_end : s.points.size();
    std::vector<SampleKind> kinds{{"", "levelled samples", 0, plain, c.clearance_bound_mm()}};
    if (has_edges)
        kinds.push_back(
            {", at sharp edges", "samples of sharp edges", s.edge_begin, s.edge_end, c.edge_clearance_bound_mm()});
    if (plain < s.points.size() && s.edge_end < s.points.size())
        kinds.push_back({", at closed holes", "samples of closed holes", std::max(plain, s.edge_end), s.points.size(),
                         c.hole_clearance_bound_mm()});
    return kinds;
}

}  // namespace

void check_clearance(const Case& c, Verdict& verdict) {
    const double covering = c.request.room.covering.mm(), asked = c.request.room.clearance.mm();
    const double asked_in = c.request.room.insert_clearance.value_or(c.request.room.clearance).mm();
    const double bound = c.clearance_bound_mm();
    verdict.clearance.asked_mm = asked;
    verdict.clearance.bound_mm = bound;
    verdict.clearance.edge_bound_mm = c.edge_clearance_bound_mm();
    const std::vector<Point3>& points = c.surface.points;
    if (points.empty() || c.part.triangles.empty()) {
        verdict.lines.push_back({"clearance, standing", Kind::Fit, false, 0.0, asked - bound, "mm",
                                 "there is no scan or no mesh to measure between"});
        return;
    }
    const std::vector<Seat> seats = seats_of(c);
    const Vec3 insert = c.insert();
    std::optional<Moving> moving;
    if (!c.request.room.moves.empty()) moving.emplace(c);
    const auto on_seat = [&](Point3 p) {
        return std::any_of(seats.begin(), seats.end(), [&](const Seat& s) { return s.holds(p); });
    };
    std::vector<char> under_foot(points.size(), 0), slid_over(points.size(), 0);
    if (!seats.empty())
        parallel_for(points.size(), 4096, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i)
                for (const Seat& s : seats) {
                    if (s.holds(points[i])) under_foot[i] = 1;
                    if (moving ? moving->meets(s, points[i]) : s.meets(points[i], insert)) slid_over[i] = 1;
                }
        });
    const auto under_feet = std::count(under_foot.begin(), under_foot.end(), 1);
    TriMesh without_seats = c.part;
    if (!seats.empty()) {
        std::vector<char> reaches(c.part.vertices.size(), 0);
        for (std::size_t v = 0; v < reaches.size(); ++v) {
            const Point3 p = c.part.vertices[v];
            reaches[v] =
                std::any_of(seats.begin(), seats.end(),
                            [&](const Seat& s) { return s.holds(p) && std::abs(dot(p - s.at, s.axis)) < kSeatFace_mm; })
                    ? 1
                    : 0;
        }
        std::erase_if(without_seats.triangles,
                      [&](const auto& t) { return reaches[t[0]] != 0 || reaches[t[1]] != 0 || reaches[t[2]] != 0; });
    }

    // Beyond an open plane nothing was scanned that a straight way in must keep off.
    const std::vector<Plane> open = c.open_planes();
    const auto beyond_mouth = [&](std::size_t i) {
        return std::any_of(open.begin(), open.end(), [&](const Plane& o) { return o.height(points[i]) > 0.0; });
    };
    const auto nearer_of = [](const measure::Clearance& a, const measure::Clearance& b) {
        return b.least_mm < a.least_mm ? b : a;
    };

    const measure::TriangleTree tree(c.part);
    const measure::TriangleTree filled(c.outer_body.triangles.empty() ? c.part : c.outer_body);
    std::optional<measure::RayTree> way, seatless_way;
    if (!moving) way.emplace(c.part, insert);
    std::optional<measure::TriangleTree> seatless;
    if (!seats.empty()) {
        seatless.emplace(without_seats);
        if (!moving) seatless_way.emplace(without_seats, insert);
    }
    struct Least {
        measure::Clearance standing, going_in;
        std::vector<measure::MovingClearance> moves;  ///< each by itself; `going_in` is the least of them
        std::size_t move = 0;
    };
    std::vector<char> stands_alone(points.size(), 0);
    const auto least_of = [&](const SampleKind& kind) {
        const auto is_of = [&](std::size_t i) { return i >= kind.begin && i < kind.end && stands_alone[i] == 0; };
        Least least;
        least.standing =
            measure::least_clearance(tree, points, [&](std::size_t i) { return is_of(i) && under_foot[i] == 0; });
        if (moving)
            for (std::size_t m = 0; m < moving->way.size(); ++m)
                least.moves.push_back(
                    moving->least(m, tree, points, [&](std::size_t i) { return is_of(i) && slid_over[i] == 0; }));
        else
            least.going_in = measure::least_clearance_going_in(
                *way, points, least.standing.least_mm,
                [&](std::size_t i) { return is_of(i) && slid_over[i] == 0 && !beyond_mouth(i); });
        if (seatless) {
            least.standing = nearer_of(least.standing, measure::least_clearance(*seatless, points, [&](std::size_t i) {
                                           return is_of(i) && under_foot[i] != 0;
                                       }));
            for (measure::MovingClearance& one : least.moves) {
                const auto other = moving->least(one.move, *seatless, points,
                                                 [&](std::size_t i) { return is_of(i) && slid_over[i] != 0; });
                if (other.nearest.least_mm < one.nearest.least_mm) one = other;
            }
            if (!moving)
                least.going_in =
                    nearer_of(least.going_in,
                              measure::least_clearance_going_in(
                                  *seatless_way, points, std::min(least.standing.least_mm, least.going_in.least_mm),
                                  [&](std::size_t i) { return is_of(i) && slid_over[i] != 0 && !beyond_mouth(i); }));
        }
        for (const measure::MovingClearance& one : least.moves)
            if (one.nearest.least_mm < least.going_in.least_mm) least.going_in = one.nearest, least.move = one.move;
        if (least.going_in.least_mm > least.standing.least_mm) {
            least.going_in = least.standing;
            if (moving) least.move = moving->way.size() - 1, least.moves.back() = {least.standing, least.move, 1.0};
        }
        if (least.going_in.least_mm <= 0.0) {
            // A point stands in the way or in the part itself: which of the two is worth the longer search.
            const auto inside = measure::points_nearer(tree, filled, points, 1e-9,
                                                       [&](std::size_t i) { return is_of(i) && under_foot[i] == 0; });
            if (!inside.empty()) {
                least.standing.least_mm = inside.front().distance_mm;
                least.standing.point = points[inside.front().index];
            }
        }
        return least;
    };
    const std::string seat_note =
        under_feet > 0
            ? fmt::format("; {} samples under the fixings' seats measured to the rest of the part", under_feet)
            : "";
    const auto raw = measure::points_nearer(tree, filled, c.surface.raw, asked + covering,
                                            [&](std::size_t i) { return !on_seat(c.surface.raw[i]); });
    verdict.clearance.raw_points_nearer = raw.size();
    std::string raw_note;
    if (!raw.empty())
        raw_note = fmt::format(
            "; {} of {} raw points lie nearer than asked, the nearest {}: noise or dropped, no failed check",
            raw.size(), c.surface.raw.size(), place(c.surface.raw[raw.front().index]));

    // One levelled sample in thousands stands out of the surface round it by up to half a bound more (surface.h), and
    // the part keeps off the surface, not off every sample: one that fails by no more than that is held against the
    // surface blended from all samples there.
    std::optional<scan::SurfaceDistance> blended;
    const auto is_alone = [&](const measure::Clearance& nearest, bool on_way, const measure::MovingClearance& move,
                              double limit_mm) {
        if (!(nearest.least_mm < limit_mm) || nearest.least_mm < limit_mm - 0.5 * c.surface.bound_mm) return false;
        if (!blended) blended.emplace(c.surface);
        if (on_way && moving)
            return blended->at(moving->way.during(move.move, move.share).to_parent(nearest.part_at)) >= limit_mm;
        const double back = on_way ? std::max(0.0, dot(nearest.part_at - nearest.point, insert)) : 0.0;
        return blended->at(nearest.part_at - insert * back) >= limit_mm;
    };

    measure::Clearance standing, going_in;
    std::vector<measure::MovingClearance> all_moves;
    for (const SampleKind& kind : kinds_of(c)) {
        Least least = least_of(kind);
        std::size_t alone = 0;
        for (bool again = true; again && alone < kMostAlone; least = again ? least_of(kind) : least) {
            again = false;
            for (const bool on_way : {false, true}) {
                const measure::Clearance& nearest = on_way ? least.going_in : least.standing;
                if (!is_alone(nearest, on_way, moving ? least.moves[least.move] : measure::MovingClearance{},
                              (on_way ? asked_in : asked) + covering - kind.bound_mm))
                    continue;
                if (stands_alone[nearest.index] == 0) ++alone;
                stands_alone[nearest.index] = 1;
                again = true;
            }
        }
        const std::string alone_note =
            alone > 0 ? fmt::format("; {} that stand out of the surface round them held against that surface", alone)
                      : "";
        standing = nearer_of(standing, least.standing);
        going_in = nearer_of(going_in, least.going_in);
        for (std::size_t m = 0; m < least.moves.size(); ++m)
            if (m == all_moves.size())
                all_moves.push_back(least.moves[m]);
            else if (least.moves[m].nearest.least_mm < all_moves[m].nearest.least_mm)
                all_moves[m] = least.moves[m];
        verdict.lines.push_back(at_least(
            "clearance, standing" + kind.where, Kind::Fit, least.standing.least_mm - covering, asked - kind.bound_mm,
            "mm",
            fmt::format("{}; {} {} to the written triangles, less {:.2f} mm of covering; {:.2f} mm asked with a stated "
                        "bound of {:.2f} mm{}{}{}",
                        place(least.standing.point), kind.end - kind.begin, kind.what, covering, asked, kind.bound_mm,
                        alone_note, seat_note, raw_note)));
        verdict.lines.push_back(
            at_least("clearance, going in" + kind.where, Kind::Fit, least.going_in.least_mm - covering,
                     asked_in - kind.bound_mm, "mm",
                     fmt::format("{}; {} {} against all that passes them {}; {:.2f} mm asked with a "
                                 "stated bound of {:.2f} mm{}{}",
                                 place(least.going_in.point), kind.end - kind.begin, kind.what,
                                 moving ? moving->how_text(least.moves[least.move]) : "on the straight way in, exact",
                                 asked_in, kind.bound_mm, alone_note, seat_note)));
        raw_note.clear();
    }
    verdict.clearance.min_mm = standing.least_mm - covering;
    verdict.clearance.at = standing.point;
    verdict.clearance.along_insertion_min_mm = going_in.least_mm - covering;
    verdict.clearance.along_insertion_at = going_in.point;
    for (const measure::MovingClearance& m : all_moves) {
        MoveClearance figures;
        figures.move = space::text_of(moving->way.move(m.move));
        figures.least_mm = m.nearest.least_mm - covering;
        figures.at = m.nearest.point;
        figures.share = m.share;
        figures.how_far = how_far(moving->way.move(m.move), m.share);
        if (figures.least_mm < verdict.clearance.along_insertion_min_mm + 1e-12)
            verdict.clearance.along_insertion_move = m.move + 1;
        verdict.clearance.moves.push_back(std::move(figures));
    }
}

}  // namespace geom::check
