#include "geom/parts/duct.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPi = std::numbers::pi;

/// To a prism of the section from a place on, the distance along it and that beside it taken together.
double to_prism(const DuctSection& section, const DuctPath::Place& from, double long_mm, Point3 p) {
    const Vec3 d = p - from.at;
    const double h = dot(d, from.along), beside = section.distance_to(dot(d, from.right), dot(d, from.up));
    const double beyond = std::max(-h, h - long_mm);
    return beside > 0.0 && beyond > 0.0 ? std::hypot(beside, beyond) : std::max(beside, beyond);
}

/// `v`, which turns from `from` to `to` (square to one another) by the angle.
Vec3 turned(Vec3 v, Vec3 from, Vec3 to, double angle) {
    const double a = dot(v, from), b = dot(v, to), c = std::cos(angle), s = std::sin(angle);
    return v + from * (a * c - b * s - a) + to * (a * s + b * c - b);
}

}  // namespace

DuctSection DuctSection::round(double diameter_mm) {
    return {diameter_mm / 2.0, diameter_mm / 2.0, diameter_mm / 2.0, 0.0};
}

DuctSection DuctSection::grown(double by_mm) const {
    return {half_width_mm + by_mm, half_height_mm + by_mm, corner_mm + by_mm, turn_rad};
}

DuctSection DuctSection::scaled(double times) const {
    return {half_width_mm * times, half_height_mm * times, corner_mm * times, turn_rad};
}

double DuctSection::area_mm2() const {
    return 4.0 * half_width_mm * half_height_mm - (4.0 - kPi) * corner_mm * corner_mm;
}

double DuctSection::border_mm() const {
    return 4.0 * (half_width_mm + half_height_mm) - (8.0 - 2.0 * kPi) * corner_mm;
}

double DuctSection::hydraulic_mm() const {
    return 4.0 * area_mm2() / border_mm();
}

double DuctSection::reach_mm(double x, double y) const {
    const double c = std::cos(turn_rad), s = std::sin(turn_rad);
    return std::abs(c * x + s * y) * (half_width_mm - corner_mm) +
           std::abs(c * y - s * x) * (half_height_mm - corner_mm) + corner_mm;
}

double DuctSection::farthest_mm() const {
    return std::hypot(half_width_mm - corner_mm, half_height_mm - corner_mm) + corner_mm;
}

double DuctSection::distance_to(double x, double y) const {
    const double c = std::cos(turn_rad), s = std::sin(turn_rad);
    const double a = std::abs(c * x + s * y) - (half_width_mm - corner_mm);
    const double b = std::abs(c * y - s * x) - (half_height_mm - corner_mm);
    return std::hypot(std::max(a, 0.0), std::max(b, 0.0)) + std::min(std::max(a, b), 0.0) - corner_mm;
}

std::vector<std::array<double, 2>> DuctSection::border(double step_mm) const {
    const double w = half_width_mm - corner_mm, h = half_height_mm - corner_mm;
    const double c = std::cos(turn_rad), s = std::sin(turn_rad);
    std::vector<std::array<double, 2>> places;
    const auto add = [&](double x, double y) { places.push_back({c * x - s * y, s * x + c * y}); };
    const auto parts = [&](double long_mm) { return std::max(1, static_cast<int>(std::ceil(long_mm / step_mm))); };
    const double middles[4][2] = {{w, -h}, {w, h}, {-w, h}, {-w, -h}};
    for (int corner = 0; corner < 4; ++corner) {
        // The corner, from the side before it to the side behind it, and then that side.
        const double from = (corner - 1) * kPi / 2.0;
        const double *m = middles[corner], *next = middles[(corner + 1) % 4];
        const int n = parts(corner_mm * kPi / 2.0);
        for (int i = 0; i < n; ++i) {
            const double t = from + kPi / 2.0 * i / n;
            add(m[0] + corner_mm * std::cos(t), m[1] + corner_mm * std::sin(t));
        }
        const double t = from + kPi / 2.0, ox = corner_mm * std::cos(t), oy = corner_mm * std::sin(t);
        const int k = parts(std::hypot(next[0] - m[0], next[1] - m[1]));
        for (int i = 0; i < k; ++i) add(m[0] + (next[0] - m[0]) * i / k + ox, m[1] + (next[1] - m[1]) * i / k + oy);
    }
    return places;
}

DuctPath::Place DuctPath::at(double station_mm) const {
    if (is_straight() || station_mm <= before_mm) return {start + along * station_mm, along, right, up};
    const double angle = std::min((station_mm - before_mm) / radius_mm, angle_rad);
    const auto swung = [&](Vec3 v) { return turned(v, along, towards, angle); };
    const Point3 middle = start + along * before_mm + towards * radius_mm;
    const double on = std::max(0.0, station_mm - bend_end_mm());
    return {middle - swung(towards) * radius_mm + swung(along) * on, swung(along), swung(right), swung(up)};
}

DuctPath DuctPath::way_on(double length_mm_on) const {
    const Place from = end();
    DuctPath way;
    way.start = from.at, way.along = from.along, way.right = from.right, way.up = from.up;
    way.length_mm = length_mm_on;
    return way;
}

double DuctPath::distance_to(const DuctSection& section, double from_mm, double to_mm, Point3 p) const {
    EXPECTS(from_mm < to_mm);
    if (is_straight()) return to_prism(section, at(from_mm), to_mm - from_mm, p);
    EXPECTS(from_mm <= before_mm && to_mm >= bend_end_mm());
    const Vec3 across = cross(along, towards);
    // To the piece of revolution: in its half-plane the section's own, else that of the end which is turned to it.
    const auto to_bend = [&] {
        const Vec3 d = p - start;
        const double in = dot(d, along) - before_mm, out = radius_mm - dot(d, towards);
        const double angle = std::atan2(in, out), turn = angle < 0.0 ? angle + 2.0 * kPi : angle;
        if (turn <= angle_rad) {
            const Vec3 flat = towards * (radius_mm - std::hypot(in, out)) + across * dot(d, across);
            return section.distance_to(dot(flat, right), dot(flat, up));
        }
        const Place end = at(turn - angle_rad < 2.0 * kPi - turn ? bend_end_mm() : before_mm);
        const Vec3 e = p - end.at;
        return std::hypot(dot(e, end.along), std::max(0.0, section.distance_to(dot(e, end.right), dot(e, end.up))));
    };
    const double first = to_prism(section, at(from_mm), before_mm - from_mm, p), bend = to_bend();
    const double last = to_prism(section, at(bend_end_mm()), to_mm - bend_end_mm(), p);
    const double nearest = std::min({first, bend, last});
    if (nearest > 0.0) return nearest;
    // Inside: where two pieces meet there is no border, so only that beside it and the two ends count.
    double beside = bend;
    const auto beside_of = [&](const Place& place) {
        const Vec3 d = p - place.at;
        return section.distance_to(dot(d, place.right), dot(d, place.up));
    };
    if (first <= 0.0) beside = beside_of(at(from_mm));
    if (last <= 0.0) beside = beside_of(at(to_mm));
    const Place begin = at(from_mm), end = at(to_mm);
    return std::max({beside, dot(begin.at - p, begin.along), dot(p - end.at, end.along)});
}

}  // namespace geom::parts
