// The least distance of the driver's body over the inner surface's triangles is found by halving them. The baffle
// itself is left out: the body stands in its hole.
#include "geom/check/internal/case.h"

#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"
#include "geom/parts/driver_body.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kSide_mm = parts::kBesideDriver_mm, kRear_mm = parts::kBehindMagnet_mm;

/// Air straight behind the magnet's rear face: along lines spread over the disc, and at vertices behind it.
double rear_gap(const TriMesh& wall, const parts::DriverBody& body, Point3& at) {
    const measure::TriangleTree tree(wall);
    const double radius = body.magnet_radius_mm(), depth = body.depth_mm();
    const Vec3 x = any_perpendicular(body.backward), y = cross(body.backward, x);
    double least = 1e300;
    for (int ring = 0; ring <= 8; ++ring)
        for (int k = 0; k < std::max(1, 6 * ring); ++k) {
            const double angle = 2.0 * std::numbers::pi * k / std::max(1, 6 * ring), r = radius * ring / 8.0;
            const Point3 from =
                body.seat + body.backward * depth + x * (r * std::cos(angle)) + y * (r * std::sin(angle));
            const double hit = tree.first_hit(from, body.backward);
            if (hit < least) {
                least = hit;
                at = from + body.backward * hit;
            }
        }
    for (const Point3& p : wall.vertices) {
        const auto [r, h] = body.flat(p);
        if (r <= radius && h >= depth && h - depth < least) {
            least = h - depth;
            at = p;
        }
    }
    return least;
}

}  // namespace

std::vector<std::optional<parts::DriverBody>> bodies_in_box(const Case& c) {
    const parts::Enclosure& e = c.enclosure();
    const std::vector<parts::DriverMount> mounts = c.request.drivers();
    // Where the cut-out comes out of the inner face.
    const double back = e.seat ? e.seat->back_mm : c.request.baffle.thickness.mm();
    std::vector<std::optional<parts::DriverBody>> bodies;
    for (std::size_t i = 0; i < mounts.size(); ++i) {
        const Plane& seat = e.driver_seats[i];
        bodies.push_back(parts::driver_body(mounts[i], seat, back - seat.height(e.baffle_plane.point)));
    }
    return bodies;
}

std::vector<std::optional<parts::DriverBody>> bodies_before_box(const Case& c) {
    const parts::Enclosure& e = c.enclosure();
    const std::vector<parts::DriverMount> mounts = c.request.drivers();
    std::vector<std::optional<parts::DriverBody>> bodies;
    for (std::size_t i = 0; i < mounts.size(); ++i)
        bodies.push_back(
            parts::driver_before_box(mounts[i], e.driver_seats[i], e.driver_seats[i].height(e.baffle_plane.point)));
    return bodies;
}

namespace {

/// Of a driver in the box: how near the wall comes beside and behind; and the least beyond what is wanted.
double judge_body(const TriMesh& wall, const parts::DriverBody& body, BodyFit& fit, Verdict& verdict) {
    const measure::LeastOnMesh side = measure::least_on_mesh(wall, [&](Point3 p) { return body.distance_to(p); });
    fit.wall_gap_mm = side.value, fit.at = side.at;
    if (body.is_cone) {
        verdict.lines.push_back(
            at_least(fit.who + ", its cone's room in the box", Kind::Fit, side.value, kSide_mm, "mm",
                     place(side.at) +
                         "; a cylinder as wide as the cut-out, as deep as its front comes at full travel, and a free "
                         "flange, against the inner surface, baffle left out; limit is common practice"));
        return side.value - kSide_mm;
    }
    Point3 rear_at = body.seat + body.backward * body.depth_mm();
    const double met = rear_gap(wall, body, rear_at);
    const bool is_in_air = met < 1e300;
    const double rear = is_in_air ? met : 0.0;
    fit.rear_gap_mm = rear;
    if (rear - kRear_mm < side.value - kSide_mm) fit.at = rear_at;
    verdict.lines.push_back(at_least(
        fit.who + ", body against the wall", Kind::Fit, side.value, kSide_mm, "mm",
        place(side.at) + "; frustum and magnet against the inner surface, baffle left out; limit is common practice"));
    verdict.lines.push_back(at_least(
        fit.who + ", air behind the magnet", Kind::Fit, rear, kRear_mm, "mm",
        place(rear_at) + (is_in_air
                              ? "; straight behind the rear face, for the vent in the pole piece; limit is common "
                                "practice"
                              : "; its rear face lies outside the box; limit is common practice")));
    return std::min(side.value - kSide_mm, rear - kRear_mm);
}

}  // namespace

void check_driver(const Case& c, Verdict& verdict) {
    if (!c.request.driver) return;
    DriverFit& fit = verdict.driver_fit;
    fit.has_driver = true;
    const std::vector<parts::DriverMount> mounts = c.request.drivers();
    fit.rear_gap_wanted_mm = kRear_mm;
    if (c.air_body.triangles.empty()) {
        verdict.lines.push_back({"driver, body against the wall", Kind::Fit, false, 0.0, kSide_mm, "mm",
                                 "no inner surface was kept to measure it on"});
        return;
    }
    // The inner surface without what lies in the baffle's inner face.
    TriMesh wall;
    wall.vertices = c.air_body.vertices;
    for (const auto& t : c.air_body.triangles)
        if (std::any_of(t.begin(), t.end(), [&](std::uint32_t v) { return !c.is_on_baffle(c.air_body.vertices[v]); }))
            wall.triangles.push_back(t);
    wall = measure::in_single_precision(wall);
    double tightest = 1e300;
    const auto bodies = bodies_in_box(c);
    for (std::size_t i = 0; i < bodies.size(); ++i) {
        const std::string who = parts::driver_title(i);
        if (bodies[i]) {
            BodyFit body{.who = who, .name = mounts[i].driver.name, .at = {}};
            const double left = judge_body(wall, *bodies[i], body, verdict);
            if (left < tightest) tightest = left, fit.tightest = fit.bodies.size();
            fit.bodies.push_back(std::move(body));
        } else if (!mounts[i].is_turned) {  // else nothing of it comes into the box
            verdict.lines.push_back({who + ", body against the wall", Kind::Fit, true, 0.0, kSide_mm, "mm",
                                     "not judged: the driver file gives no mounting_depth"});
            verdict.lines.back().is_judged = false;
        }
    }
}

}  // namespace geom::check
