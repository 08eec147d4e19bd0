// Marching: after `run` of the motion a place x of the part is f away from the body, and nothing of either moves faster
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

constexpr double kMarchSlack_mm = 0.02, kMeshSlack_mm = 0.05, kPoseSlack_mm = 0.25;
constexpr std::size_t kCoarse = 16;

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
        const auto turned = [&](Vec3 e) { return e + cross(k, e) * std::sin(angle) + cross(k, cross(k, e)) * (1.0 - std::cos(angle)); };
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

TriMesh mesh_of(const space::BoxShape& box) {
    TriMesh mesh;
    for (int c = 0; c < 8; ++c)
        mesh.vertices.push_back({(c & 1) ? box.max.x : box.min.x, (c & 2) ? box.max.y : box.min.y, (c & 4) ? box.max.z : box.min.z});
    mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4}, {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    return mesh;
}

std::vector<Point3> outermost(const KeepOutShape& shape) {
    if (const auto* mesh = std::get_if<TriMesh>(&shape)) return mesh->vertices;
    if (const auto* box = std::get_if<space::BoxShape>(&shape)) return mesh_of(*box).vertices;
    std::vector<Point3> points;
    const auto about = [&](Point3 p, double r) {
        for (const double s : {-r, r})
            for (const Vec3 e : {Vec3{s, 0, 0}, Vec3{0, s, 0}, Vec3{0, 0, s}}) points.push_back(p + e * std::sqrt(3.0));
    };
    if (const auto* ball = std::get_if<space::SphereShape>(&shape)) about(ball->centre, ball->radius_mm);
    else if (const auto* rod = std::get_if<space::CylinderShape>(&shape)) about(rod->from, rod->radius_mm), about(rod->to, rod->radius_mm);
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

/// Signed distance to the drawn shape.
class Drawn {
public:
    explicit Drawn(const KeepOutShape& shape) : shape_(shape), is_sheet_(is_sheet(shape)) {
        if (const auto* mesh = std::get_if<TriMesh>(&shape)) tree_.emplace(*mesh);
    }
    double at(Point3 p) const {
        if (!tree_) return distance_to(shape_, p);
        const double d = tree_->nearest(p).distance_mm;
        return !is_sheet_ && tree_->crossings(p, unit({0.5773, 0.4142, 0.7071})) % 2 == 1 ? -d : d;
    }

private:
    const KeepOutShape& shape_;
    bool is_sheet_;
    std::optional<measure::TriangleTree> tree_;
};

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
    const Frame pose = pose_at(motion, run);
    if (const auto* ball = std::get_if<space::SphereShape>(&drawn)) return space::SphereShape{pose.to_parent(ball->centre), ball->radius_mm};
    if (const auto* rod = std::get_if<space::CylinderShape>(&drawn))
        return space::CylinderShape{pose.to_parent(rod->from), pose.to_parent(rod->to), rod->radius_mm};
    if (const auto* box = std::get_if<space::BoxShape>(&drawn); box != nullptr && std::holds_alternative<space::Travel>(motion))
        return space::BoxShape{pose.to_parent(box->min), pose.to_parent(box->max)};
    TriMesh mesh = std::holds_alternative<TriMesh>(drawn) ? std::get<TriMesh>(drawn) : mesh_of(std::get<space::BoxShape>(drawn));
    for (Point3& p : mesh.vertices) p = pose.to_parent(p);
    return mesh;
}

LeastOfMotion least_swept(const TriMesh& part, const space::KeepOut& keep_out) {
    const Drawn drawn(keep_out.shape);
    const double end = length_of(keep_out.motion), fastest = speed_of(keep_out.shape, keep_out.motion);
    const auto* swing = std::get_if<space::Swing>(&keep_out.motion);
    double enough = std::numeric_limits<double>::infinity();  // greater distances are of no interest
    const auto march = [&](Point3 p, double& at_run) {
        const double speed = swing == nullptr ? 1.0 : std::clamp(norm(cross(unit(swing->axis), p - swing->hinge)), 1e-6, fastest);
        double least = enough;
        for (double run = 0.0;;) {
            const double d = drawn.at(pose_at(keep_out.motion, run).to_local(p));
            if (d < least) least = d, at_run = run;
            if (run >= end) return least;
            run = std::min(end, run + (d - least + kMarchSlack_mm) / speed);
        }
    };
    double run = 0.0;
    for (std::size_t v = 0; v < part.vertices.size(); v += kCoarse) enough = std::min(enough, march(part.vertices[v], run));
    enough += 1e-3;
    LeastOfMotion found;
    found.least = measure::least_on_mesh(
        part,
        [&](Point3 p) {
            double at_run = 0.0;
            return march(p, at_run);
        },
        kMeshSlack_mm);
    enough = std::numeric_limits<double>::infinity();
    march(found.least.at, found.run);
    return found;
}

measure::LeastOnMesh least_of_poses(const space::KeepOut& keep_out, const std::function<measure::LeastOnMesh(const KeepOutShape&)>& ask) {
    const double end = length_of(keep_out.motion), speed = speed_of(keep_out.shape, keep_out.motion);
    measure::LeastOnMesh least;
    for (double run = 0.0;;) {
        const measure::LeastOnMesh here = ask(posed(keep_out.shape, keep_out.motion, run));
        if (here.value < least.value) least = here;
        if (run >= end) break;
        run = std::min(end, run + (here.value - least.value + kPoseSlack_mm) / speed);
    }
    least.value -= kPoseSlack_mm;
    return least;
}

}  // namespace geom::check
