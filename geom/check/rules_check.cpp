// Limits by the farthest vertex of the written meshes (a plane is met at a vertex first). Keep-outs by the least of
// their distance functions over the triangles: standing, and over all places a triangle passes on the straight way in.
// A meshed keep-out on the way in is seen from the part, past which its own triangles travel. One that moves is judged
// in all its poses standing, and on the way in as the job says it stands then.
#include "geom/check/internal/along_moves.h"
#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/least_along.h"
#include "geom/check/internal/moving_keep_out.h"

#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

constexpr double kSlack_mm = 0.02;
constexpr double kWaySlack_mm = 0.2;  // of a mesh on the way in: a face that runs alongside is cut up as finely as this
constexpr double kTouch_mm = 0.15;    // a sheet has no inside to reach into: nearer than this is taken for touched

/// From where to where the shape reaches along the unit `out`.
std::pair<double, double> reach_along(const space::KeepOutShape& shape, Vec3 out) {
    const auto about = [](double a, double b, double more) {
        return std::pair{std::min(a, b) - more, std::max(a, b) + more};
    };
    if (const auto* box = std::get_if<space::BoxShape>(&shape)) {
        double lo = 0.0, hi = 0.0;
        for (std::size_t a = 0; a < 3; ++a) {
            lo += std::min(box->min[a] * out[a], box->max[a] * out[a]);
            hi += std::max(box->min[a] * out[a], box->max[a] * out[a]);
        }
        return {lo, hi};
    }
    if (const auto* ball = std::get_if<space::SphereShape>(&shape))
        return about(dot(ball->centre, out), dot(ball->centre, out), ball->radius_mm);
    const auto& rod = std::get<space::CylinderShape>(shape);
    const double along = dot(unit(rod.to - rod.from), out);
    return about(dot(rod.from, out), dot(rod.to, out), rod.radius_mm * std::sqrt(std::max(0.0, 1.0 - along * along)));
}

/// Least distance on the half-line from `p` along the unit `out`. The shapes are convex, so along a line their distance
/// is too, and it is least beside the shape, within its `reach` along the line.
double least_on_way(const space::KeepOutShape& shape, Point3 p, Vec3 out, std::pair<double, double> reach) {
    const double from = std::max(0.0, reach.first - dot(p, out)), to = reach.second - dot(p, out);
    if (to <= from) return distance_to(shape, p);
    return least_along([&](double way) { return distance_to(shape, p + out * way); }, from, to, 0.02).value;
}

/// On the straight way in, no farther than `standing`; a mesh may come 0.2 mm nearer than told.
measure::LeastOnMesh least_distance_going_in(const TriMesh& part, const space::KeepOutShape& shape, Vec3 insert,
                                             const measure::LeastOnMesh& standing) {
    measure::LeastOnMesh least;
    if (const auto* mesh = std::get_if<TriMesh>(&shape)) {
        const measure::RayTree way(part, insert);
        least = measure::least_on_mesh(
            *mesh,
            [&](Point3 p) {
                return std::min(standing.value, way.nearest(p, std::max(standing.value, 0.0)).distance_mm);
            },
            kWaySlack_mm);
    } else {
        const auto reach = reach_along(shape, -insert);
        least = measure::least_on_mesh(
            part, [&](Point3 p) { return least_on_way(shape, p, -insert, reach); }, kSlack_mm,
            measure::DistanceKind::Convex);
    }
    return least.value < standing.value ? least : standing;
}

/// The part's whole way in, straight or by moves.
class WayOfPart {
public:
    explicit WayOfPart(const Case& c) : case_(c) {}

    struct Least {
        measure::LeastOnMesh distance;
        std::string how;  ///< "all along the straight way in", or in which move and how far along
    };
    /// To a shape that stays where it is, no farther than `standing`.
    Least least(const space::KeepOutShape& shape, const measure::LeastOnMesh& standing) const {
        if (case_.request.room.moves.empty())
            return {least_distance_going_in(case_.part, shape, case_.insert(), standing),
                    "all along the straight way in"};
        const space::WayIn way(case_.request.room.moves);
        LeastInMove found{standing, 1.0};
        std::size_t move = way.size() - 1;
        for (std::size_t m = 0; m < way.size(); ++m)
            if (const LeastInMove one =
                    least_in_move(case_.part, shape, way, m, case_.open_planes(), found.least.value);
                one.least.value < found.least.value)
                found = one, move = m;
        found.least.at = way.during(move, found.share).to_parent(found.least.at);
        return {found.least, fmt::format("least in move {} of {} ({}), {}", move + 1, way.size(),
                                         space::text_of(way.move(move)), how_far(way.move(move), found.share))};
    }

private:
    const Case& case_;
};

}  // namespace

void check_rules(const Case& c, Verdict& verdict) {
    const double bound = c.rule_bound_mm();
    const double covering = c.request.room.covering.mm();
    const WayOfPart way(c);
    const PartDistance part(c.part);
    for (const space::Limit& limit : c.request.room.limits) {
        double highest = -1e300;
        Point3 at;
        for (const Point3& p : c.part.vertices)
            if (const double h = limit.plane.height(p); h > highest) {
                highest = h;
                at = p;
            }
        const double left = -highest - (limit.covering ? covering : 0.0);
        verdict.lines.push_back(at_least(
            "limit \"" + limit.name + "\"", Kind::Fit, left, limit.clearance.mm() - bound, "mm",
            fmt::format(
                "{}; left between the covered part and the plane, {:.2f} mm asked with a stated bound of {:.2f} mm",
                place(at), limit.clearance.mm(), bound)));
    }
    for (const space::KeepOut& keep_out : c.request.room.keep_outs) {
        const double limit = std::max(keep_out.clearance.mm() - bound, is_sheet(keep_out.shape) ? kTouch_mm : -1e300);
        const auto judge = [&](const char* when, const measure::LeastOnMesh& least, const std::string& how) {
            verdict.lines.push_back(
                at_least("keep-out \"" + keep_out.name + "\", " + when, Kind::Fit,
                         least.value - (keep_out.covering ? covering : 0.0), limit, "mm",
                         fmt::format("{}; left between the covered part and the keep-out, {}, {:.2f} mm asked with a "
                                     "stated bound of {:.2f} mm",
                                     place(least.at), how, keep_out.clearance.mm(), bound)));
        };
        if (space::is_moving(keep_out.motion)) {
            const LeastOfMotion swept = least_swept(part, keep_out);
            judge("standing", swept.least,
                  "all along its motion, nearest when " + space::pose_text(keep_out.motion, swept.run));
            if (keep_out.on_way_in == space::OnWayIn::None) continue;
            if (keep_out.on_way_in == space::OnWayIn::Swept) {
                const auto least_in_pose = [&](const space::KeepOutShape& shape) {
                    return way.least(shape, part.to(DrawnShape(shape))).distance;
                };
                judge("going in", least_of_poses(keep_out, least_in_pose),
                      "all along the way in, wherever it has moved");
                continue;
            }
            const double run = keep_out.on_way_in == space::OnWayIn::From ? 0.0 : space::run_of(keep_out.motion);
            const space::KeepOutShape shape = posed(keep_out.shape, keep_out.motion, run);
            const WayOfPart::Least least = way.least(shape, part.to(DrawnShape(shape)));
            judge("going in", least.distance, least.how + ", while it stays " + space::pose_text(keep_out.motion, run));
            continue;
        }
        const measure::LeastOnMesh standing = part.to(DrawnShape(keep_out.shape));
        judge("standing", standing, "as the part stands");
        const WayOfPart::Least least = way.least(keep_out.shape, standing);
        judge("going in", least.distance, least.how);
    }
}

}  // namespace geom::check
