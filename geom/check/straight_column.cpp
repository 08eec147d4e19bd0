#include "geom/check/internal/straight_column.h"

#include <algorithm>
#include <cmath>

namespace geom::check {

StraightColumn StraightColumn::on(const parts::DuctPath::Place& place, const parts::DuctSection& section,
                                  bool is_against, double height_mm) {
    const double c = std::cos(section.turn_rad), s = std::sin(section.turn_rad);
    StraightColumn column;
    column.base = place.at;
    column.out = is_against ? -place.along : place.along;
    column.wide = place.right * c + place.up * s;
    column.high = place.up * c - place.right * s;
    column.half_width_mm = section.half_width_mm, column.half_height_mm = section.half_height_mm;
    column.corner_mm = section.corner_mm;
    column.height_mm = height_mm;
    return column;
}

measure::Sloped StraightColumn::at(Point3 p) const {
    const Vec3 d = p - base;
    const double x = dot(d, wide), y = dot(d, high), h = dot(d, out);
    const double a = std::abs(x) - (half_width_mm - corner_mm), b = std::abs(y) - (half_height_mm - corner_mm);
    const Vec3 over_x = x < 0.0 ? -wide : wide, over_y = y < 0.0 ? -high : high;
    measure::Sloped beside;
    if (a > 0.0 && b > 0.0) {
        const double far = std::hypot(a, b);
        beside = {far - corner_mm, over_x * (a / far) + over_y * (b / far)};
    } else {
        beside = a > b ? measure::Sloped{a - corner_mm, over_x} : measure::Sloped{b - corner_mm, over_y};
    }
    const measure::Sloped beyond = -h > h - height_mm ? measure::Sloped{-h, -out} : measure::Sloped{h - height_mm, out};
    if (beside.value <= 0.0 || beyond.value <= 0.0) return beside.value > beyond.value ? beside : beyond;
    const double far = std::hypot(beside.value, beyond.value);
    return {far, beside.slope * (beside.value / far) + beyond.slope * (beyond.value / far)};
}

Point3 StraightColumn::farthest(Vec3 way) const {
    const double x = dot(way, wide), y = dot(way, high), across = std::hypot(x, y);
    Point3 p =
        base + wide * std::copysign(half_width_mm - corner_mm, x) + high * std::copysign(half_height_mm - corner_mm, y);
    if (across > 1e-9) p += (wide * x + high * y) * (corner_mm / across);
    return dot(way, out) > 0.0 ? p + out * height_mm : p;
}

}  // namespace geom::check
