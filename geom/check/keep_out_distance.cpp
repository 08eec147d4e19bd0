#include "geom/check/internal/keep_out_distance.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kChord_mm = 0.01;  // of a cylinder's mesh

double distance_to(const space::BoxShape& s, Point3 p) {
    double outside2 = 0.0, inside = -1e300;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max(s.min[a] - p[a], p[a] - s.max[a]);
        outside2 += d > 0.0 ? d * d : 0.0;
        inside = std::max(inside, d);
    }
    return outside2 > 0.0 ? std::sqrt(outside2) : inside;
}

double distance_to(const space::SphereShape& s, Point3 p) {
    return distance(p, s.centre) - s.radius_mm;
}

double distance_to(const space::CylinderShape& s, Point3 p) {
    const Vec3 axis = unit(s.to - s.from);
    const double length = distance(s.to, s.from), along = dot(p - s.from, axis);
    const double side = std::sqrt(std::max(0.0, norm2(p - s.from) - along * along)) - s.radius_mm;
    const double end = std::max(-along, along - length);
    if (side > 0.0 && end > 0.0) return std::hypot(side, end);
    return std::max(side, end);
}

}  // namespace

double distance_to(const space::KeepOutShape& shape, Point3 p) {
    if (const auto* box = std::get_if<space::BoxShape>(&shape)) return distance_to(*box, p);
    if (const auto* ball = std::get_if<space::SphereShape>(&shape)) return distance_to(*ball, p);
    return distance_to(std::get<space::CylinderShape>(shape), p);
}

TriMesh mesh_of(const space::BoxShape& box) {
    TriMesh mesh;
    for (int i = 0; i < 8; ++i)
        mesh.vertices.push_back({(i & 1) != 0 ? box.max.x : box.min.x, (i & 2) != 0 ? box.max.y : box.min.y,
                                 (i & 4) != 0 ? box.max.z : box.min.z});
    mesh.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                      {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    return mesh;
}

TriMesh mesh_of(const space::CylinderShape& rod) {
    const Vec3 axis = unit(rod.to - rod.from), x = any_perpendicular(axis), y = cross(axis, x);
    const int n = std::clamp(
        static_cast<int>(std::ceil(std::numbers::pi / std::acos(1.0 - std::min(0.5, kChord_mm / rod.radius_mm)))), 12,
        4000);
    // Half of the chord's error outside, half inside.
    const double r = rod.radius_mm + 0.5 * kChord_mm;
    TriMesh mesh;
    mesh.vertices = {rod.from, rod.to};
    for (int i = 0; i < n; ++i) {
        const double a = 2.0 * std::numbers::pi * i / n;
        const Vec3 d = (x * std::cos(a) + y * std::sin(a)) * r;
        mesh.vertices.push_back(rod.from + d);
        mesh.vertices.push_back(rod.to + d);
    }
    for (int i = 0; i < n; ++i) {
        const auto a = static_cast<std::uint32_t>(2 + 2 * i), b = static_cast<std::uint32_t>(2 + 2 * ((i + 1) % n));
        mesh.triangles.push_back({a, b, a + 1});
        mesh.triangles.push_back({b, b + 1, a + 1});
        mesh.triangles.push_back({0, b, a});
        mesh.triangles.push_back({1, a + 1, b + 1});
    }
    return mesh;
}

space::KeepOutShape placed(const space::KeepOutShape& drawn, const Frame& pose) {
    if (const auto* ball = std::get_if<space::SphereShape>(&drawn))
        return space::SphereShape{pose.to_parent(ball->centre), ball->radius_mm};
    if (const auto* rod = std::get_if<space::CylinderShape>(&drawn))
        return space::CylinderShape{pose.to_parent(rod->from), pose.to_parent(rod->to), rod->radius_mm};
    const auto* box = std::get_if<space::BoxShape>(&drawn);
    const bool is_turned = pose.x != Vec3{1, 0, 0} || pose.y != Vec3{0, 1, 0};
    if (box != nullptr && !is_turned) return space::BoxShape{pose.to_parent(box->min), pose.to_parent(box->max)};
    TriMesh mesh = box != nullptr ? mesh_of(*box) : std::get<TriMesh>(drawn);
    for (Point3& p : mesh.vertices) p = pose.to_parent(p);
    return mesh;
}

}  // namespace geom::check
