#include "geom/space/motion.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::space {
namespace {

constexpr double kFullTurn_rad = 2.0 * std::numbers::pi, kLeastTurn_rad = 1e-6, kLeastPath_mm = 1e-3;

double length_of(const Travel& slide) {
    double mm = 0.0;
    for (std::size_t i = 1; i < slide.path.size(); ++i) mm += distance(slide.path[i - 1], slide.path[i]);
    return mm;
}

/// The shift after `mm` of the path.
Vec3 shift_at(const Travel& slide, double mm) {
    for (std::size_t i = 1; i < slide.path.size(); ++i) {
        const double length = distance(slide.path[i - 1], slide.path[i]);
        if (mm <= length || i + 1 == slide.path.size())
            return slide.path[i - 1] + (slide.path[i] - slide.path[i - 1]) * (length > 0.0 ? mm / length : 0.0);
        mm -= length;
    }
    return slide.path.empty() ? Vec3{} : slide.path.front();
}

/// The box of a place's arc from `run` 0 to its end.
Aabb box_of_arc(const Swing& swing, Point3 p) {
    const Motion motion = swing;
    const double run = run_of(motion), sense = swing.to.rad() < swing.from.rad() ? -1.0 : 1.0;
    Aabb box;
    box.grow(moved(motion, 0.0, p));
    box.grow(moved(motion, run, p));
    const Vec3 axis = unit(swing.axis), d = p - swing.hinge, u = d - axis * dot(d, axis), w = cross(axis, u);
    for (std::size_t a = 0; a < 3; ++a)
        for (const double half_turn : {0.0, std::numbers::pi}) {
            // Farthest along the axis a at this angle, and at all whole turns from it.
            const double angle = std::atan2(w[a], u[a]) + half_turn;
            for (int turn = -3; turn <= 3; ++turn) {
                const double at = sense * (angle + turn * 2.0 * std::numbers::pi - swing.from.rad());
                if (at > 0.0 && at < run) box.grow(moved(motion, at, p));
            }
        }
    return box;
}

double angle_at(const Swing& swing, double run) {
    return swing.from.rad() + (swing.to.rad() < swing.from.rad() ? -run : run);
}

}  // namespace

double run_of(const Motion& motion) {
    if (const auto* swing = std::get_if<Swing>(&motion)) return std::abs(swing->to.rad() - swing->from.rad());
    if (const auto* slide = std::get_if<Travel>(&motion)) return length_of(*slide);
    return 0.0;
}

Point3 moved(const Motion& motion, double run, Point3 p) {
    if (const auto* slide = std::get_if<Travel>(&motion)) return p + shift_at(*slide, run);
    const auto* swing = std::get_if<Swing>(&motion);
    if (swing == nullptr) return p;
    const Vec3 axis = unit(swing->axis), d = p - swing->hinge, along = axis * dot(d, axis), aside = d - along;
    const double angle = angle_at(*swing, run);
    return swing->hinge + along + aside * std::cos(angle) + cross(axis, aside) * std::sin(angle);
}

std::string pose_text(const Motion& motion, double run) {
    if (const auto* slide = std::get_if<Travel>(&motion)) {
        const Vec3 shift = shift_at(*slide, run);
        return fmt::format("slid by {:.1f} mm to ({:.1f}, {:.1f}, {:.1f})", run, shift.x, shift.y, shift.z);
    }
    if (const auto* swing = std::get_if<Swing>(&motion))
        return fmt::format("swung to {:.1f} deg", Angle::rad(angle_at(*swing, run)).deg());
    return {};
}

Aabb swept_box(const Motion& motion, const Aabb& drawn) {
    Aabb box;
    for (int c = 0; c < 8; ++c) {
        const Point3 corner{(c & 1) ? drawn.hi.x : drawn.lo.x, (c & 2) ? drawn.hi.y : drawn.lo.y,
                            (c & 4) ? drawn.hi.z : drawn.lo.z};
        if (const auto* swing = std::get_if<Swing>(&motion)) {
            const Aabb arc = box_of_arc(*swing, corner);
            box.grow(arc.lo);
            box.grow(arc.hi);
        } else if (const auto* travel = std::get_if<Travel>(&motion)) {
            for (const Point3 shift : travel->path) box.grow(corner + shift);
        } else {
            box.grow(corner);
        }
    }
    return box;
}

Status check_motion(const std::string& of, const Motion& motion) {
    const auto bad = [&](std::string found, std::string wanted) {
        return Fault{FaultCode::BadJob,
                     fmt::format("keep-out '{}': {}, wanted {}", of, found, wanted),
                     "correct its motion in the job file",
                     {},
                     "space"};
    };
    if (const auto* swing = std::get_if<Swing>(&motion)) {
        if (!(norm(swing->axis) > 0.0)) return bad("a swing about an axis of no length", "a direction");
        const double turn = run_of(motion), slack = 1e-9;
        if (turn < kLeastTurn_rad)
            return bad(fmt::format("a swing from {:g} deg to the same angle", swing->from.deg()), "two angles");
        if (turn > kFullTurn_rad + slack)
            return bad(fmt::format("a swing through {:g} deg", Angle::rad(turn).deg()), "at most a full turn");
        for (const Angle a : {swing->from, swing->to})
            if (std::abs(a.rad()) > kFullTurn_rad + slack)
                return bad(fmt::format("a swing to {:g} deg", a.deg()), "-360 to 360 deg");
    }
    if (const auto* slide = std::get_if<Travel>(&motion)) {
        if (slide->path.size() < 2) return bad(fmt::format("a path of {} points", slide->path.size()), "at least two");
        if (length_of(*slide) < kLeastPath_mm) return bad("a path that goes nowhere", "two places apart");
    }
    return Done{};
}

}  // namespace geom::space
