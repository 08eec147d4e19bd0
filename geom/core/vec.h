// Points and directions in millimetres; frames and planes. A frame's name says which numbers it takes to which:
// `vehicle_from_box` has its origin and axes in vehicle numbers, to_parent() takes box numbers to vehicle numbers.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace geom {

struct Vec3 {
    double x = 0.0, y = 0.0, z = 0.0;

    constexpr double& operator[](std::size_t i) { return i == 0 ? x : i == 1 ? y : z; }
    constexpr double operator[](std::size_t i) const { return i == 0 ? x : i == 1 ? y : z; }
    friend constexpr Vec3 operator+(Vec3 a, Vec3 b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
    friend constexpr Vec3 operator-(Vec3 a, Vec3 b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
    friend constexpr Vec3 operator-(Vec3 a) { return {-a.x, -a.y, -a.z}; }
    friend constexpr Vec3 operator*(Vec3 a, double s) { return {a.x * s, a.y * s, a.z * s}; }
    friend constexpr Vec3 operator*(double s, Vec3 a) { return a * s; }
    friend constexpr Vec3 operator/(Vec3 a, double s) { return {a.x / s, a.y / s, a.z / s}; }
    constexpr Vec3& operator+=(Vec3 b) { return *this = *this + b; }
    constexpr Vec3& operator-=(Vec3 b) { return *this = *this - b; }
    friend constexpr bool operator==(Vec3, Vec3) = default;
};

/// A place, in millimetres; which frame is said where it is used, the vehicle frame unless stated.
using Point3 = Vec3;

constexpr double dot(Vec3 a, Vec3 b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
constexpr Vec3 cross(Vec3 a, Vec3 b) {
    return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
constexpr double norm2(Vec3 a) {
    return dot(a, a);
}
inline double norm(Vec3 a) {
    return std::sqrt(dot(a, a));
}
inline double distance(Point3 a, Point3 b) {
    return norm(a - b);
}
/// Unit vector along `a`; zero stays zero.
inline Vec3 unit(Vec3 a) {
    const double n = norm(a);
    return n > 0.0 ? a / n : a;
}
inline bool is_finite(Vec3 a) {
    return std::isfinite(a.x) && std::isfinite(a.y) && std::isfinite(a.z);
}
/// Some unit vector at right angles to the unit vector `n`; the same one for the same `n`.
inline Vec3 any_perpendicular(Vec3 n) {
    const Vec3 a = std::abs(n.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
    return unit(cross(n, a));
}

/// Right-handed orthonormal axes at an origin, all in the numbers of the parent frame.
struct Frame {
    Point3 origin;
    Vec3 x{1, 0, 0}, y{0, 1, 0}, z{0, 0, 1};

    constexpr Point3 to_parent(Point3 p) const { return origin + x * p.x + y * p.y + z * p.z; }
    constexpr Point3 to_local(Point3 p) const {
        const Vec3 d = p - origin;
        return {dot(d, x), dot(d, y), dot(d, z)};
    }
    constexpr Vec3 dir_to_parent(Vec3 v) const { return x * v.x + y * v.y + z * v.z; }
    constexpr Vec3 dir_to_local(Vec3 v) const { return {dot(v, x), dot(v, y), dot(v, z)}; }
};

/// An oriented plane: `outward` is a unit vector away from the side that is kept.
struct Plane {
    Point3 point;
    Vec3 outward{0, 0, 1};

    /// Signed distance, positive on the outward side.
    constexpr double height(Point3 p) const { return dot(p - point, outward); }
};

/// An axis-aligned box; empty until grown.
struct Aabb {
    Point3 lo{1e300, 1e300, 1e300}, hi{-1e300, -1e300, -1e300};

    constexpr bool is_empty() const { return lo.x > hi.x; }
    constexpr void grow(Point3 p) {
        for (std::size_t a = 0; a < 3; ++a) {
            if (p[a] < lo[a]) lo[a] = p[a];
            if (p[a] > hi[a]) hi[a] = p[a];
        }
    }
    constexpr Vec3 size() const { return is_empty() ? Vec3{} : hi - lo; }
};

}  // namespace geom
