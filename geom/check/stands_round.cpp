#include "geom/check/internal/stands_round.h"

#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/least_along.h"
#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace geom::check {

namespace {

constexpr double kPosedSlack_mm = 0.05;              // in one of many poses, between which it moves farther
constexpr double kMoved_mm = 0.01;                   // within which a way is found
const Vec3 kAskew = unit({0.5773, 0.4142, 0.7071});  // met by no face of a drawn box edge on

/// A place on its way from `p` along `leg`: its least distance to the solid, which is convex in `p`, and where, as a
/// share. The slope is a mean of those before and behind the least place, level along the way unless that ends there.
struct OnWay {
    measure::Sloped least;
    double share = 0.0;
};
OnWay nearest_on_way(const Convex& solid, Point3 p, Vec3 leg) {
    constexpr double kWay_mm = 1e-4;
    const LeastAlong found = least_along([&](double share) { return solid.distance_to(p + leg * share); }, 0.0, 1.0,
                                         kWay_mm / std::max(norm(leg), kWay_mm));
    const measure::Sloped before = solid.at(p + leg * found.lo), behind = solid.at(p + leg * found.hi);
    const double falls = -dot(before.slope, leg), rises = dot(behind.slope, leg);
    double share = falls + rises > 0.0 ? falls / (falls + rises) : 0.5;
    if (found.lo <= 0.0 && falls < 0.0) share = 0.0;
    if (found.hi >= 1.0 && rises < 0.0) share = 1.0;
    share = std::clamp(share, 0.0, 1.0);
    return {{found.value, before.slope * (1.0 - share) + behind.slope * share}, found.at};
}

}  // namespace

std::string Met::where() const {
    return mm > told_mm() ? fmt::format("nothing within {:.0f} mm", told_mm()) : place(at) + ": " + what;
}

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

Standing::Standing(const scan::Surface& surface, std::size_t end, double asked_mm)
    : what_("the scanned surface"),
      asked_mm_(asked_mm),
      samples_(&surface.points),
      end_(std::min(end, surface.points.size())) {}

Standing::Standing(TriMesh surface, std::string what) : what_(std::move(what)), mesh_(std::move(surface)) {}

Met Standing::to(const Convex& solid, Care care) const {
    if (samples_ != nullptr) return to_samples(solid);
    if (limit_ != nullptr) {
        const Point3 at = solid.farthest(limit_->plane.outward);
        return {-limit_->plane.height(at), at, what_, {}};
    }
    if (moving_ == nullptr) return to_shape(solid, {}, care.slack_mm);
    LeastOfMotion found;
    if (const auto* slide = std::get_if<space::Travel>(&moving_->motion))
        found = over_slide(solid, *slide, care.slack_mm);
    else
        found = least_over_motion(
            *moving_,
            [&](const Frame& pose) {
                const Met here = to_shape(solid, pose, kPosedSlack_mm);
                return measure::LeastOnMesh{here.mm, here.at};
            },
            care.poses_mm, asked_mm_);
    return {found.least.value, found.least.at, what_ + ", wherever it has moved",
            space::pose_text(moving_->motion, found.run)};
}

LeastOfMotion Standing::over_slide(const Convex& solid, const space::Travel& slide, double slack_mm) const {
    LeastOfMotion found;
    double before = 0.0;
    for (std::size_t i = 1; i < slide.path.size(); ++i) {
        const Point3 from = slide.path[i - 1];
        const Vec3 leg = slide.path[i] - from;
        const auto nearest = [&](Point3 drawn) { return nearest_on_way(solid, drawn + from, leg); };
        measure::LeastOnMesh least;
        if (ball_)
            least = {nearest(ball_->centre).least.value - ball_->radius_mm, ball_->centre};
        else
            least = measure::least_convex_on_mesh(
                mesh_, [&](Point3 p) { return nearest(p).least; }, slack_mm);
        if (least.value < found.least.value) {
            const double share = nearest(least.at).share;
            found = {{least.value, least.at + from + leg * share}, before + share * norm(leg)};
        }
        before += norm(leg);
    }
    // Surfaces that never meet keep what lies within what.
    if (found.least.value > 0.0)
        if (const Met start = to_shape(solid, {.origin = slide.path.front()}, slack_mm); start.mm <= 0.0)
            return {{start.mm, start.at}, 0.0};
    return found;
}

Met Standing::to_shape(const Convex& solid, const Frame& pose, double slack_mm) const {
    if (ball_) {
        const Point3 centre = pose.to_parent(ball_->centre);
        return {solid.distance_to(centre) - ball_->radius_mm, centre, what_, {}};
    }
    const measure::LeastOnMesh least = measure::least_convex_on_mesh(
        mesh_,
        [&](Point3 p) {
            const measure::Sloped here = solid.at(pose.to_parent(p));
            return measure::Sloped{here.value, pose.dir_to_local(here.slope)};
        },
        slack_mm);
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

Met least_left(const std::vector<Standing>& round, const Convex& solid, Care care) {
    Met least;
    for (const Standing& thing : round) {
        Met met = thing.to(solid, care);
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
