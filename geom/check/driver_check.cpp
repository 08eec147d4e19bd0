// The driver's body is a frustum from the basket at the seating plane to the magnet, then the magnet as a cylinder.
// Its distance to a point is that of the profile in the half-plane of radius and depth; the least over the inner
// surface's triangles is found by halving them. The baffle itself is left out: the body stands in its hole.
#include "geom/check/internal/case.h"

#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

/// Beside the body, so that nothing touches when the box bends [common practice].
constexpr double kSide_mm = 2.0;
/// Behind the magnet, for the vent in the pole piece [common practice].
constexpr double kRear_mm = 10.0;

struct Body {
    Point3 seat;                                     ///< on the axis, in the seating plane
    Vec3 backward;                                   ///< into the box
    double from_mm = 0.0;                            ///< depth at which the body leaves the baffle's hole
    std::array<std::array<double, 2>, 4> profile{};  ///< radius, depth: basket, magnet's front, magnet's rear, axis

    std::array<double, 2> flat(Point3 p) const {
        const Vec3 d = p - seat;
        const double depth = dot(d, backward);
        return {std::sqrt(std::max(0.0, norm2(d) - depth * depth)), depth};
    }

    /// Signed, negative inside.
    double distance_to(Point3 p) const {
        const auto [r, h] = flat(p);
        const std::array<std::array<double, 2>, 5> corner{
            {{0.0, from_mm}, profile[0], profile[1], profile[2], profile[3]}};
        double nearest = 1e300;
        for (std::size_t i = 0; i + 1 < corner.size(); ++i) {
            const double ax = corner[i][0], ay = corner[i][1], dx = corner[i + 1][0] - ax, dy = corner[i + 1][1] - ay;
            const double length2 = dx * dx + dy * dy;
            const double t = length2 > 0.0 ? std::clamp(((r - ax) * dx + (h - ay) * dy) / length2, 0.0, 1.0) : 0.0;
            nearest = std::min(nearest, std::hypot(r - ax - t * dx, h - ay - t * dy));
        }
        return is_inside(r, h) ? -nearest : nearest;
    }

private:
    bool is_inside(double r, double h) const {
        const auto &basket = profile[0], &front = profile[1], &rear = profile[2];
        if (h <= basket[1] || h >= rear[1]) return false;
        if (h >= front[1]) return r < rear[0];
        const double t = (h - basket[1]) / (front[1] - basket[1]);
        return r < basket[0] + t * (front[0] - basket[0]);
    }
};

std::optional<Body> body_of(const Case& c) {
    if (!c.request.driver) return std::nullopt;
    const parts::DriverMount& mount = *c.request.driver;
    if (!mount.driver.mounting_depth) return std::nullopt;
    const parts::Enclosure& e = c.enclosure();
    Body body;
    body.seat = mount.centre - e.seat_plane.outward * e.seat_plane.height(mount.centre);
    body.backward = -e.seat_plane.outward;
    const double depth = mount.driver.mounting_depth->mm();
    const double basket =
        mount.driver.basket_diameter.value_or(mount.driver.cutout_diameter - Length::mm(1)).mm() / 2.0;
    const double magnet = mount.driver.magnet_diameter ? mount.driver.magnet_diameter->mm() / 2.0 : basket;
    const double magnet_length = std::clamp(mount.driver.magnet_depth.value_or(Length::mm(0)).mm(), 0.0, depth);
    // Where the seat plane lies before the baffle's inner face.
    const double back = e.seat ? e.seat->back_mm : c.request.baffle.thickness.mm();
    const double front = back - e.seat_plane.height(e.baffle_plane.point);
    body.from_mm = std::clamp(front, 0.0, depth);
    const double slope_end = depth - magnet_length;
    double at_front = basket;
    if (slope_end > 0.0) at_front = basket + std::min(1.0, body.from_mm / slope_end) * (magnet - basket);
    if (slope_end <= body.from_mm) at_front = magnet;
    body.profile = {
        {{at_front, body.from_mm}, {magnet, std::max(slope_end, body.from_mm)}, {magnet, depth}, {0.0, depth}}};
    return body;
}

/// Air straight behind the magnet's rear face: along lines spread over the disc, and at vertices behind it.
double rear_gap(const TriMesh& wall, const Body& body, Point3& at) {
    const measure::TriangleTree tree(wall);
    const double radius = body.profile[2][0], depth = body.profile[2][1];
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

void check_driver(const Case& c, Verdict& verdict) {
    if (!c.request.driver) return;
    verdict.driver_fit.has_driver = true;
    verdict.driver_fit.rear_gap_wanted_mm = kRear_mm;
    const std::optional<Body> body = body_of(c);
    if (!body) {
        verdict.lines.push_back({"driver, body against the wall", Kind::Fit, true, 0.0, kSide_mm, "mm",
                                 "not judged: the driver file gives no mounting_depth"});
        return;
    }
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
    const measure::LeastOnMesh side = measure::least_on_mesh(wall, [&](Point3 p) { return body->distance_to(p); });
    Point3 rear_at;
    const double rear = rear_gap(wall, *body, rear_at);
    verdict.driver_fit.wall_gap_mm = side.value;
    verdict.driver_fit.rear_gap_mm = rear;
    verdict.driver_fit.at = side.value - kSide_mm < rear - kRear_mm ? side.at : rear_at;  // the tighter of the two
    verdict.lines.push_back(at_least(
        "driver, body against the wall", Kind::Fit, side.value, kSide_mm, "mm",
        place(side.at) + "; frustum and magnet against the inner surface, baffle left out; limit is common practice"));
    verdict.lines.push_back(at_least(
        "driver, air behind the magnet", Kind::Fit, rear, kRear_mm, "mm",
        place(rear_at) + "; straight behind the rear face, for the vent in the pole piece; limit is common practice"));
}

}  // namespace geom::check
