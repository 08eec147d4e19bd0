// Marching: in a pose after `run` of the motion the part is f away from the keep-out, and nothing of it moves faster
// than v. So no pose before run + (f - least + slack) / v can be nearer than least - slack: go on from there.
#include "geom/check/internal/moving_keep_out.h"

#include "geom/check/internal/keep_out_distance.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

namespace geom::check {
namespace {

using space::KeepOutShape;

constexpr double kStandingSlack_mm = 0.1;
constexpr int kFirst = 24;
constexpr double kFar_mm = 40.0;  // beyond the least, that distances need not be known

/// vehicle_from_drawn after `run`.
Frame pose_at(const space::Motion& motion, double run) {
    Frame pose;
    if (const auto* slide = std::get_if<space::Travel>(&motion)) {
        pose.origin = slide->path.front();
        for (std::size_t i = 1; i < slide->path.size(); ++i) {
            const Vec3 leg = slide->path[i] - slide->path[i - 1];
            const double gone = std::min(run, norm(leg));
            if (gone > 0.0) pose.origin += unit(leg) * gone;
            run -= gone;
        }
    } else if (const auto* swing = std::get_if<space::Swing>(&motion)) {
        // Rows of the rotation matrix about k: 1 + sin K + (1 - cos) K^2, applied to the axes.
        const double angle = swing->from.rad() + std::copysign(run, swing->to.rad() - swing->from.rad());
        const Vec3 k = unit(swing->axis);
        const auto turned = [&](Vec3 e) {
            return e + cross(k, e) * std::sin(angle) + cross(k, cross(k, e)) * (1.0 - std::cos(angle));
        };
        pose.x = turned({1, 0, 0}), pose.y = turned({0, 1, 0}), pose.z = turned({0, 0, 1});
        pose.origin = swing->hinge - pose.dir_to_parent(swing->hinge);
    }
    return pose;
}

double length_of(const space::Motion& motion) {
    if (const auto* swing = std::get_if<space::Swing>(&motion)) return std::abs(swing->to.rad() - swing->from.rad());
    double mm = 0.0;
    if (const auto* slide = std::get_if<space::Travel>(&motion))
        for (std::size_t i = 1; i < slide->path.size(); ++i) mm += distance(slide->path[i], slide->path[i - 1]);
    return mm;
}

std::vector<Point3> outermost(const KeepOutShape& shape) {
    if (const auto* mesh = std::get_if<TriMesh>(&shape)) return mesh->vertices;
    if (const auto* box = std::get_if<space::BoxShape>(&shape)) return mesh_of(*box).vertices;
    std::vector<Point3> points;
    const auto about = [&](Point3 p, double r) {
        for (const double s : {-r, r})
            for (const Vec3 e : {Vec3{s, 0, 0}, Vec3{0, s, 0}, Vec3{0, 0, s}}) points.push_back(p + e * std::sqrt(3.0));
    };
    if (const auto* ball = std::get_if<space::SphereShape>(&shape))
        about(ball->centre, ball->radius_mm);
    else if (const auto* rod = std::get_if<space::CylinderShape>(&shape))
        about(rod->from, rod->radius_mm), about(rod->to, rod->radius_mm);
    return points;
}

/// How fast the shape's fastest place moves.
double speed_of(const KeepOutShape& shape, const space::Motion& motion) {
    const auto* swing = std::get_if<space::Swing>(&motion);
    if (swing == nullptr) return 1.0;
    double radius = 1e-6;
    for (const Point3 p : outermost(shape)) radius = std::max(radius, norm(cross(unit(swing->axis), p - swing->hinge)));
    return radius;
}

/// The least of ask(run, least so far) over the motion, less what lies between the runs asked.
template <class Ask>
LeastOfMotion marched(const space::KeepOut& keep_out, double slack_mm, double wanted_mm, Ask&& ask) {
    constexpr double kOfLeft = 0.1;
    const double end = length_of(keep_out.motion), speed = speed_of(keep_out.shape, keep_out.motion);
    LeastOfMotion found;
    const auto take = [&](double run) {
        const measure::LeastOnMesh here = ask(run, found.least.value);
        if (here.value < found.least.value) found = {here, run};
        return here.value;
    };
    // What is told, least less slack, falls with the least: earlier and wider steps passed nothing nearer.
    const auto slack = [&] { return std::max(slack_mm, kOfLeft * (found.least.value - wanted_mm)); };
    // A few poses first: on the way down to a least that is not known yet all steps would be short.
    for (int i = 0; i <= kFirst; ++i) take(end * i / kFirst);
    for (double run = 0.0; run < end;) {
        const double here = take(run);
        run += (here - found.least.value + slack()) / speed;
    }
    found.least.value -= slack();
    return found;
}

/// What a mesh's edges pass on a straight way, and the mesh at both ends of it: all that bounds what the mesh sweeps.
TriMesh swept_surface(const TriMesh& drawn, Point3 from, Vec3 leg) {
    TriMesh swept;
    const auto n = static_cast<std::uint32_t>(drawn.vertices.size());
    for (const Vec3 by : {Vec3(from), from + leg})
        for (const Point3& p : drawn.vertices) swept.vertices.push_back(p + by);
    for (const auto& t : drawn.triangles) {
        swept.triangles.push_back(t);
        swept.triangles.push_back({t[0] + n, t[1] + n, t[2] + n});
    }
    for (const auto& [a, b] : edges_of(drawn)) {
        swept.triangles.push_back({a, b, b + n});
        swept.triangles.push_back({a, b + n, a + n});
    }
    return swept;
}

/// A mesh on a slide, where the part keeps out of all that it sweeps; none where it does not.
std::optional<LeastOfMotion> clear_of_slide(const PartDistance& part, const space::KeepOut& keep_out,
                                            const space::Travel& slide) {
    const auto& drawn = std::get<TriMesh>(keep_out.shape);
    LeastOfMotion found;
    if (const DrawnShape whole(keep_out.shape);
        part.to(whole, {.origin = slide.path.front()}, kStandingSlack_mm).value <= 0.0)
        return std::nullopt;
    const measure::TriangleTree tree(drawn);
    for (std::size_t i = 1; i < slide.path.size(); ++i) {
        const Point3 from = slide.path[i - 1];
        const Vec3 leg = slide.path[i] - from, back = -unit(leg);
        const double length = norm(leg);
        if (length <= 0.0) continue;
        const measure::LeastOnMesh least =
            part.to(DrawnShape::sheet(swept_surface(drawn, from, leg)), {}, found.least.value);
        if (least.value <= 0.0) return std::nullopt;
        // Clear of that surface the part may still lie in what a face sweeps.
        for (const Point3& p : part.vertices())
            if (tree.first_hit(p - from, back) <= length) return std::nullopt;
        if (least.value < found.least.value) found.least = least;
    }
    // The place of the part is known; where the keep-out is then is found for it alone.
    found.run = marched(keep_out, kStandingSlack_mm, kNotRelaxed, [&](double run, double) {
                    const Point3 local = pose_at(keep_out.motion, run).to_local(found.least.at);
                    return measure::LeastOnMesh{tree.nearest(local).distance_mm, found.least.at};
                }).run;
    return found;
}

/// A shape of numbers on a slide.
LeastOfMotion least_on_slide(const PartDistance& part, const KeepOutShape& shape, const space::Travel& slide) {
    LeastOfMotion found;
    double before = 0.0;
    for (std::size_t i = 1; i < slide.path.size(); ++i) {
        const Point3 from = slide.path[i - 1];
        const Vec3 leg = slide.path[i] - from;
        double share = 0.0;
        const measure::LeastOnMesh least = part.on_way(shape, from, leg, share);
        if (least.value < found.least.value) found = {least, before + share * norm(leg)};
        before += norm(leg);
    }
    return found;
}

}  // namespace

bool is_sheet(const KeepOutShape& shape) {
    const auto* mesh = std::get_if<TriMesh>(&shape);
    if (mesh == nullptr) return false;
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> runs;
    for (const auto& t : mesh->triangles)
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = t[c], b = t[(c + 1) % 3];
            runs[{std::min(a, b), std::max(a, b)}] += a < b ? 1 : -1;
        }
    return std::any_of(runs.begin(), runs.end(), [](const auto& r) { return r.second != 0; });
}

KeepOutShape posed(const KeepOutShape& drawn, const space::Motion& motion, double run) {
    return placed(drawn, pose_at(motion, run));
}

LeastOfMotion least_swept(const PartDistance& part, const space::KeepOut& keep_out, double wanted_mm) {
    constexpr double kReachesIn = 200.0;  // poses that are looked at for how far
    const auto in_pose = [&](const DrawnShape& drawn) {
        return [&](double run, double least) { return part.to(drawn, pose_at(keep_out.motion, run), least + kFar_mm); };
    };
    if (const auto* slide = std::get_if<space::Travel>(&keep_out.motion)) {
        if (!std::holds_alternative<TriMesh>(keep_out.shape)) return least_on_slide(part, keep_out.shape, *slide);
        if (const auto clear = clear_of_slide(part, keep_out, *slide)) return *clear;
        const double step = std::max(kStandingSlack_mm, length_of(keep_out.motion) / kReachesIn);
        LeastOfMotion found = marched(keep_out, step, kNotRelaxed, in_pose(DrawnShape(keep_out.shape)));
        found.least.value = std::min(0.0, found.least.value + step);
        return found;
    }
    return marched(keep_out, kStandingSlack_mm, wanted_mm, in_pose(DrawnShape(keep_out.shape, true)));
}

LeastOfMotion least_over_motion(const space::KeepOut& keep_out,
                                const std::function<measure::LeastOnMesh(const Frame&)>& ask, double slack_mm,
                                double wanted_mm) {
    return marched(keep_out, slack_mm, wanted_mm,
                   [&](double run, double) { return ask(pose_at(keep_out.motion, run)); });
}

measure::LeastOnMesh least_of_poses(const space::KeepOut& keep_out,
                                    const std::function<measure::LeastOnMesh(const KeepOutShape&)>& ask,
                                    double slack_mm) {
    return marched(keep_out, slack_mm, kNotRelaxed,
                   [&](double run, double) { return ask(posed(keep_out.shape, keep_out.motion, run)); })
        .least;
}

}  // namespace geom::check
