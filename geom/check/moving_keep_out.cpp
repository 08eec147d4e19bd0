// Marching: in a pose after `run` of the motion the part is f away from the keep-out, and nothing of it moves faster
// than v. So no pose before run + (f - least + slack) / v can be nearer than least - slack: go on from there.
#include "geom/check/internal/moving_keep_out.h"

#include "geom/check/internal/keep_out_distance.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
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
LeastOfMotion marched(const space::KeepOut& keep_out, double slack_mm, Ask&& ask) {
    const double end = length_of(keep_out.motion), speed = speed_of(keep_out.shape, keep_out.motion);
    LeastOfMotion found;
    const auto take = [&](double run) {
        const measure::LeastOnMesh here = ask(run, found.least.value);
        if (here.value < found.least.value) found = {here, run};
        return here.value;
    };
    // A few poses first: on the way down to a least that is not known yet all steps would be short.
    for (int i = 0; i <= kFirst; ++i) take(end * i / kFirst);
    for (double run = 0.0; run < end;) run += (take(run) - found.least.value + slack_mm) / speed;
    found.least.value -= slack_mm;
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

LeastOfMotion least_swept(const PartDistance& part, const space::KeepOut& keep_out) {
    const DrawnShape drawn(keep_out.shape, std::holds_alternative<space::Swing>(keep_out.motion));
    return marched(keep_out, kStandingSlack_mm, [&](double run, double least) {
        return part.to(drawn, pose_at(keep_out.motion, run), least + kFar_mm);
    });
}

LeastOfMotion least_over_motion(const space::KeepOut& keep_out,
                                const std::function<measure::LeastOnMesh(const Frame&)>& ask, double slack_mm) {
    return marched(keep_out, slack_mm, [&](double run, double) { return ask(pose_at(keep_out.motion, run)); });
}

measure::LeastOnMesh least_of_poses(const space::KeepOut& keep_out,
                                    const std::function<measure::LeastOnMesh(const KeepOutShape&)>& ask,
                                    double slack_mm) {
    return marched(keep_out, slack_mm,
                   [&](double run, double) { return ask(posed(keep_out.shape, keep_out.motion, run)); })
        .least;
}

}  // namespace geom::check
