// Keep-outs in closed form are convex: along a straight path their distance is too, and its least is found by sections.
// A turn is gone through pose by pose. A meshed keep-out is seen from the part, past which its triangles travel.
#include "geom/check/internal/along_moves.h"
#include "geom/check/internal/least_along.h"

#include "geom/check/internal/keep_out_distance.h"
#include "geom/measure/moving_clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kSlack_mm = 0.02, kTurnSlack_mm = 0.05;
constexpr double kBefore_mm = 4000.0;  // that the first slide is carried on backwards

/// The turn is gone through angle by angle: the part's least distance in a pose changes by no more than the farthest
/// place of the part travels, so that steps are as long as what a pose has more than the least so far.
LeastInMove least_in_turn(const TriMesh& part, const space::KeepOutShape& shape, const space::WayIn& way,
                          std::size_t move, double bound) {
    const auto& turn = std::get<space::Turn>(way.move(move));
    double reach = 1e-9;
    for (const Point3& p : part.vertices)
        reach = std::max(reach, space::PathBack(turn, way.after(move).to_parent(p)).length_mm());
    LeastInMove found;
    found.least.value = bound;
    TriMesh posed = part;
    const auto ask = [&](double share) {
        const Frame pose = way.during(move, share);
        for (std::size_t v = 0; v < posed.vertices.size(); ++v) posed.vertices[v] = pose.to_parent(part.vertices[v]);
        const measure::LeastOnMesh here = measure::least_on_mesh(
            posed, [&](Point3 p) { return distance_to(shape, p); }, kSlack_mm, measure::DistanceKind::Convex);
        if (here.value < found.least.value) found = {{here.value, pose.to_local(here.at)}, share};
        return here.value;
    };
    constexpr int kFirst = 16;
    for (int n = 0; n <= kFirst; ++n) ask(static_cast<double>(n) / kFirst);
    for (double s_mm = 0.0; s_mm < reach;) s_mm += std::max(2.0 * kTurnSlack_mm, ask(s_mm / reach) - found.least.value);
    return found;
}

/// What of a mesh lies not farther than `out_mm` beyond any of the planes: each triangle cut along them (Sutherland and
/// Hodgman 1974), for what is asked of its two sides is not the same.
TriMesh up_to(const TriMesh& mesh, const std::vector<Plane>& planes, double out_mm) {
    TriMesh kept;
    for (const auto& t : mesh.triangles) {
        std::vector<Point3> corners{mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]};
        for (const Plane& plane : planes) {
            std::vector<Point3> left;
            for (std::size_t i = 0; i < corners.size(); ++i) {
                const Point3 a = corners[i], b = corners[(i + 1) % corners.size()];
                const double at_a = plane.height(a) - out_mm, at_b = plane.height(b) - out_mm;
                if (at_a <= 0.0) left.push_back(a);
                if ((at_a < 0.0 && at_b > 0.0) || (at_a > 0.0 && at_b < 0.0))
                    left.push_back(a + (b - a) * (at_a / (at_a - at_b)));
            }
            corners = std::move(left);
        }
        if (corners.size() < 3) continue;
        const auto first = static_cast<std::uint32_t>(kept.vertices.size());
        kept.vertices.insert(kept.vertices.end(), corners.begin(), corners.end());
        for (std::uint32_t i = 2; i < corners.size(); ++i) kept.triangles.push_back({first, first + i - 1, first + i});
    }
    return kept;
}

}  // namespace

std::string how_far(const space::Move& move, double share) {
    const auto* slide = std::get_if<space::Slide>(&move);
    const double whole = slide != nullptr ? norm(slide->by_mm)
                                          : std::abs(std::get<space::Turn>(move).angle_rad) * 180.0 / std::numbers::pi;
    const char* unit = slide != nullptr ? "mm" : "deg";
    if (share < 0.0) return fmt::format("{:.1f} {} before it begins", -share * whole, unit);
    return fmt::format("{:.1f} {} of {:.1f} {} done", share * whole, unit, whole, unit);
}

LeastInMove least_in_move(const TriMesh& part, const space::KeepOutShape& shape, const space::WayIn& way,
                          std::size_t move, const std::vector<Plane>& open, double bound_mm) {
    const bool goes_on = move == 0 && way.begins_with_slide();
    LeastInMove found;
    if (const auto* mesh = std::get_if<TriMesh>(&shape)) {
        const measure::TriangleTree tree(part);
        const measure::MoveSeen seen(way, move);
        const auto on_path = [&](Point3 p, double more, double within, double* at) {
            const space::PathBack path = seen.path(p);
            return std::pair{measure::nearest_on_path(tree, path, path.length_mm() + more, within, at),
                             path.length_mm()};
        };
        const auto least_with = [&](const TriMesh& asked, double more) {
            return measure::least_on_mesh(asked,
                                          [&](Point3 p) { return on_path(p, more, 1e9, nullptr).first.distance_mm; });
        };
        // Not all of the keep-out is passed by what comes in before the first move: what of it is, is asked for itself,
        // so that the distance is steady over each triangle.
        double more = 0.0;
        found.least = least_with(*mesh, 0.0);
        if (goes_on) {
            const TriMesh passed = up_to(*mesh, open, space::kCarriedOn_mm);
            const measure::LeastOnMesh before = least_with(passed, kBefore_mm);
            if (before.value < found.least.value) found.least = before, more = kBefore_mm;
        }
        double at = 0.0;
        const double length = on_path(found.least.at, more, found.least.value + 0.01, &at).second;
        found.share = space::share_done(at, length);
        return found;
    }
    if (std::holds_alternative<space::Turn>(way.move(move))) return least_in_turn(part, shape, way, move, bound_mm);
    const Frame& after = way.after(move);
    const auto on_path = [&](Point3 x) {
        const space::PathBack path(way.move(move), after.to_parent(x));
        double length = path.length_mm();
        if (goes_on) length += space::carried_on_mm(open, path.at(length), path.at(1.0) - path.at(0.0));
        const LeastAlong least =
            least_along([&](double s) { return distance_to(shape, path.at(s)); }, 0.0, length, kSlack_mm);
        return std::pair{std::pair{least.value, least.at}, path.length_mm()};
    };
    found.least = measure::least_on_mesh(
        part, [&](Point3 x) { return on_path(x).first.first; }, kSlack_mm, measure::DistanceKind::Convex);
    const auto [least, length] = on_path(found.least.at);
    found.share = space::share_done(least.second, length);
    return found;
}

}  // namespace geom::check
