// Closed forms on a profile of three lines.
#include "geom/parts/driver_body.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/cone_needs.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {

namespace {

/// Signed distance to a cylinder in the half-plane of radius and depth.
double to_cylinder(double r, double h, double radius, double from, double to) {
    const double out = r - radius, along = std::max(from - h, h - to);
    return out > 0.0 && along > 0.0 ? std::hypot(out, along) : std::max(out, along);
}

Point3 axis_at_seat(const DriverMount& mount, const Plane& seat_plane) {
    return mount.centre - seat_plane.outward * seat_plane.height(mount.centre);
}

double flange_mm(const DriverMount& mount) {
    EXPECTS(mount.driver.flange_thickness.has_value() || (!mount.from_behind && !mount.is_turned));
    return mount.driver.flange_thickness.value_or(Length::mm(0)).mm();
}

/// How far before the seat plane the flange's rear face lies, outward positive.
double rear_face_mm(const DriverMount& mount) {
    if (mount.from_behind) return mount.is_turned ? 0.0 : -flange_mm(mount);
    return mount.is_turned ? flange_mm(mount) : 0.0;
}

/// Basket, magnet's front, rear and axis, from where it comes out of a hole of `from_mm`.
void set_profile(const sound::Driver& driver, double from_mm, DriverBody& body) {
    const double depth = driver.mounting_depth->mm();
    const double basket = driver.basket_diameter.value_or(driver.cutout_diameter - Length::mm(1)).mm() / 2.0;
    const double magnet = driver.magnet_diameter ? driver.magnet_diameter->mm() / 2.0 : basket;
    const double magnet_length = std::clamp(driver.magnet_depth.value_or(Length::mm(0)).mm(), 0.0, depth);
    body.from_mm = std::clamp(from_mm, 0.0, depth);
    const double slope_end = depth - magnet_length;
    double at_front = basket;
    if (slope_end > 0.0) at_front = basket + std::min(1.0, body.from_mm / slope_end) * (magnet - basket);
    if (slope_end <= body.from_mm) at_front = magnet;
    body.profile = {
        {{at_front, body.from_mm}, {magnet, std::max(slope_end, body.from_mm)}, {magnet, depth}, {0.0, depth}}};
}

}  // namespace

std::array<double, 2> DriverBody::flat(Point3 p) const {
    const Vec3 d = p - seat;
    const double depth = dot(d, backward);
    return {std::sqrt(std::max(0.0, norm2(d) - depth * depth)), depth};
}

double DriverBody::distance_to(Point3 p) const {
    const auto [r, h] = flat(p);
    const double to_flange = flange_radius_mm > 0.0 ? to_cylinder(r, h, flange_radius_mm, -flange_mm, 0.0) : 1e300;
    const std::array<std::array<double, 2>, 5> corner{{{0.0, from_mm}, profile[0], profile[1], profile[2], profile[3]}};
    double nearest = 1e300;
    for (std::size_t i = 0; i + 1 < corner.size(); ++i) {
        const double ax = corner[i][0], ay = corner[i][1], dx = corner[i + 1][0] - ax, dy = corner[i + 1][1] - ay;
        const double length2 = dx * dx + dy * dy;
        const double t = length2 > 0.0 ? std::clamp(((r - ax) * dx + (h - ay) * dy) / length2, 0.0, 1.0) : 0.0;
        nearest = std::min(nearest, std::hypot(r - ax - t * dx, h - ay - t * dy));
    }
    const auto &basket = profile[0], &front = profile[1], &rear = profile[2];
    if (h <= basket[1] || h >= rear[1]) return std::min(nearest, to_flange);
    const double t = h >= front[1] ? 1.0 : (h - basket[1]) / (front[1] - basket[1]);
    return std::min(to_flange, r < basket[0] + t * (front[0] - basket[0]) ? -nearest : nearest);
}

std::optional<DriverBody> driver_body(const DriverMount& mount, const Plane& seat_plane, double back_mm) {
    const sound::Driver& driver = mount.driver;
    if (!mount.is_turned && !driver.mounting_depth) return std::nullopt;
    DriverBody body;
    body.backward = -seat_plane.outward;
    body.seat = axis_at_seat(mount, seat_plane);
    if (mount.from_behind) {
        body.seat += body.backward * flange_mm(mount);
        body.flange_radius_mm = driver.flange_diameter.mm() / 2.0;
        body.flange_mm = flange_mm(mount);
    }
    if (!mount.is_turned) {
        set_profile(driver, mount.from_behind ? 0.0 : back_mm, body);
        return body;
    }
    body.is_cone = true;
    body.from_mm = mount.from_behind ? 0.0 : back_mm;
    const double radius = driver.cutout_diameter.mm() / 2.0, reach = cone_needs(driver).mm - flange_mm(mount);
    if (reach <= body.from_mm && !mount.from_behind) return std::nullopt;
    const double to = std::max(body.from_mm, reach);
    body.profile = {{{radius, body.from_mm}, {radius, body.from_mm}, {radius, to}, {0.0, to}}};
    return body;
}

std::optional<DriverBody> driver_before_box(const DriverMount& mount, const Plane& seat_plane, double front_mm) {
    if (!mount.is_turned || !mount.driver.mounting_depth) return std::nullopt;
    DriverBody body;
    body.backward = seat_plane.outward;
    body.seat = axis_at_seat(mount, seat_plane) + body.backward * rear_face_mm(mount);
    set_profile(mount.driver, front_mm - rear_face_mm(mount), body);
    if (!mount.from_behind) {
        body.flange_radius_mm = mount.driver.flange_diameter.mm() / 2.0;
        body.flange_mm = flange_mm(mount);
    }
    return body;
}

std::optional<double> depth_behind_seat_mm(const DriverMount& mount) {
    const auto body = driver_body(mount, Plane{mount.centre, {0, 0, 1}}, 0.0);
    if (!body) return std::nullopt;
    return body->depth_mm() + distance(body->seat, mount.centre);
}

Point3 mass_centre(const DriverMount& mount, const Plane& seat_plane) {
    const sound::Driver& driver = mount.driver;
    const double depth = driver.mounting_depth.value_or(Length::mm(0)).mm();
    const double behind = driver.magnet_depth ? depth - 0.5 * driver.magnet_depth->mm() : 2.0 / 3.0 * depth;
    return axis_at_seat(mount, seat_plane) +
           seat_plane.outward * (rear_face_mm(mount) + (mount.is_turned ? behind : -behind));
}

std::optional<DriverAir> driver_air(const DriverMount& mount) {
    const sound::Driver& driver = mount.driver;
    const double flange_r = driver.flange_diameter.mm() / 2.0;
    const double flange = mount.from_behind ? std::numbers::pi * flange_r * flange_r * flange_mm(mount) : 0.0;
    DriverAir air;
    if (mount.is_turned) {
        const sound::Displacement front = sound::front_volume_of(driver);
        air = {.taken = Volume::mm3(flange) - front.volume,
               .spread_mm3 = std::abs(front.volume.mm3()) * front.spread_rel};
        if (front.is_estimated)
            air.how = fmt::format(
                "{:.3f} L in front of its cone, estimated of its diameter, within {:.0f} % (front_volume of its file)",
                front.volume.litres(), 100.0 * front.spread_rel);
        return air;
    }
    const auto behind = sound::displacement_of(driver);
    if (!behind) return std::nullopt;
    air = {.taken = Volume::mm3(flange) + behind->volume, .spread_mm3 = behind->volume.mm3() * behind->spread_rel};
    if (behind->is_estimated)
        air.how = fmt::format("displacement of {:.3f} L estimated as frustum and magnet, within {:.0f} %",
                              behind->volume.litres(), 100.0 * behind->spread_rel);
    return air;
}

}  // namespace geom::parts
