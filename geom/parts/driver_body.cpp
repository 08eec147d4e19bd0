// Closed forms on a profile of three lines.
#include "geom/parts/driver_body.h"

#include <algorithm>
#include <cmath>

namespace geom::parts {

std::array<double, 2> DriverBody::flat(Point3 p) const {
    const Vec3 d = p - seat;
    const double depth = dot(d, backward);
    return {std::sqrt(std::max(0.0, norm2(d) - depth * depth)), depth};
}

double DriverBody::distance_to(Point3 p) const {
    const auto [r, h] = flat(p);
    const std::array<std::array<double, 2>, 5> corner{{{0.0, from_mm}, profile[0], profile[1], profile[2], profile[3]}};
    double nearest = 1e300;
    for (std::size_t i = 0; i + 1 < corner.size(); ++i) {
        const double ax = corner[i][0], ay = corner[i][1], dx = corner[i + 1][0] - ax, dy = corner[i + 1][1] - ay;
        const double length2 = dx * dx + dy * dy;
        const double t = length2 > 0.0 ? std::clamp(((r - ax) * dx + (h - ay) * dy) / length2, 0.0, 1.0) : 0.0;
        nearest = std::min(nearest, std::hypot(r - ax - t * dx, h - ay - t * dy));
    }
    const auto &basket = profile[0], &front = profile[1], &rear = profile[2];
    if (h <= basket[1] || h >= rear[1]) return nearest;
    const double t = h >= front[1] ? 1.0 : (h - basket[1]) / (front[1] - basket[1]);
    return r < basket[0] + t * (front[0] - basket[0]) ? -nearest : nearest;
}

std::optional<DriverBody> driver_body(const DriverMount& mount, const Plane& seat_plane, double back_mm) {
    const sound::Driver& driver = mount.driver;
    if (!driver.mounting_depth) return std::nullopt;
    DriverBody body;
    body.seat = mount.centre - seat_plane.outward * seat_plane.height(mount.centre);
    body.backward = -seat_plane.outward;
    const double depth = driver.mounting_depth->mm();
    const double basket = driver.basket_diameter.value_or(driver.cutout_diameter - Length::mm(1)).mm() / 2.0;
    const double magnet = driver.magnet_diameter ? driver.magnet_diameter->mm() / 2.0 : basket;
    const double magnet_length = std::clamp(driver.magnet_depth.value_or(Length::mm(0)).mm(), 0.0, depth);
    body.from_mm = std::clamp(back_mm, 0.0, depth);
    const double slope_end = depth - magnet_length;
    double at_front = basket;
    if (slope_end > 0.0) at_front = basket + std::min(1.0, body.from_mm / slope_end) * (magnet - basket);
    if (slope_end <= body.from_mm) at_front = magnet;
    body.profile = {
        {{at_front, body.from_mm}, {magnet, std::max(slope_end, body.from_mm)}, {magnet, depth}, {0.0, depth}}};
    return body;
}

}  // namespace geom::parts
