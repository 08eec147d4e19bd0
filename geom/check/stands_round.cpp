#include "geom/check/internal/stands_round.h"

#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"

#include <algorithm>
#include <utility>

namespace geom::check {

namespace {

constexpr double kSlack_mm = 0.005;                  // of a least distance
constexpr double kPosedSlack_mm = 0.05;              // the same in one of many poses, between which it moves farther
constexpr double kMoved_mm = 0.01;                   // within which a way is found
const Vec3 kAskew = unit({0.5773, 0.4142, 0.7071});  // met by no face of a drawn box edge on

}  // namespace

Standing::Standing(const space::Limit& limit)
    : what_("limit \"" + limit.name + "\""), asked_mm_(limit.clearance.mm()), limit_(&limit) {}

Standing::Standing(const space::KeepOut& keep_out)
    : what_("keep-out \"" + keep_out.name + "\""), asked_mm_(keep_out.clearance.mm()) {
    if (space::is_moving(keep_out.motion)) moving_ = &keep_out;
    const space::KeepOutShape& shape = keep_out.shape;
    if (const auto* ball = std::get_if<space::SphereShape>(&shape)) {
        ball_ = *ball;
        return;
    }
    if (const auto* box = std::get_if<space::BoxShape>(&shape))
        mesh_ = mesh_of(*box);
    else if (const auto* rod = std::get_if<space::CylinderShape>(&shape))
        mesh_ = mesh_of(*rod);
    else
        mesh_ = std::get<TriMesh>(shape);
    if (!is_sheet(shape)) tree_.emplace(mesh_);
}

Standing::Standing(const scan::Surface& surface, std::size_t end)
    : what_("the scanned surface"), samples_(&surface.points), end_(std::min(end, surface.points.size())) {}

Standing::Standing(TriMesh surface, std::string what) : what_(std::move(what)), mesh_(std::move(surface)) {}

Met Standing::to(const Convex& solid, double poses_mm) const {
    if (samples_ != nullptr) return to_samples(solid);
    if (limit_ != nullptr) {
        const Point3 at = solid.farthest(limit_->plane.outward);
        return {-limit_->plane.height(at), at, what_, {}};
    }
    if (moving_ == nullptr) return to_shape(solid, {}, kSlack_mm);
    const LeastOfMotion least = least_over_motion(
        *moving_,
        [&](const Frame& pose) {
            const Met here = to_shape(solid, pose, kPosedSlack_mm);
            return measure::LeastOnMesh{here.mm, here.at};
        },
        poses_mm);
    return {least.least.value, least.least.at, what_ + ", wherever it has moved",
            space::pose_text(moving_->motion, least.run)};
}

Met Standing::to_shape(const Convex& solid, const Frame& pose, double slack_mm) const {
    if (ball_) {
        const Point3 centre = pose.to_parent(ball_->centre);
        return {solid.distance_to(centre) - ball_->radius_mm, centre, what_, {}};
    }
    const measure::LeastOnMesh least = measure::least_on_mesh(
        mesh_, [&](Point3 p) { return solid.distance_to(pose.to_parent(p)); }, slack_mm, measure::DistanceKind::Convex);
    // The solid as a whole within it.
    const Point3 middle = pose.to_local(solid.middle());
    if (least.value > 0.0 && tree_ && tree_->crossings(middle, kAskew) % 2 == 1)
        return {-tree_->nearest(middle).distance_mm, solid.middle(), what_, {}};
    return {least.value, pose.to_parent(least.at), what_, {}};
}

Met Standing::to_samples(const Convex& solid) const {
    constexpr std::size_t kGrain = 8192;
    std::vector<Met> found((end_ + kGrain - 1) / kGrain);
    parallel_for(end_, kGrain, [&](std::size_t begin, std::size_t end) {
        Met& own = found[begin / kGrain];
        for (std::size_t i = begin; i < end; ++i)
            if (const double d = solid.distance_to((*samples_)[i]); d < own.mm) own.mm = d, own.at = (*samples_)[i];
    });
    Met least;
    for (const Met& f : found) least.take(f);
    least.what = what_;
    return least;
}

Met least_left(const std::vector<Standing>& round, const Convex& solid, double poses_mm) {
    Met least;
    for (const Standing& thing : round) {
        Met met = thing.to(solid, poses_mm);
        met.mm -= thing.asked_mm();
        least.take(met);
    }
    return least;
}

std::optional<double> way_to_free(const std::function<double(double)>& left, double most_mm) {
    for (double by = 0.0; by <= most_mm + kMoved_mm;) {
        const double here = left(by);
        if (here >= -kMoved_mm) return by;
        by += std::max(-here, kMoved_mm);
    }
    return std::nullopt;
}

}  // namespace geom::check
