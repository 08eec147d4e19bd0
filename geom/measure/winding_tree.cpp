#include "geom/measure/winding_tree.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::measure {

namespace {

constexpr double kFar = 6.0;
constexpr std::uint32_t kLeaf = 16;

double half_solid_angle(Vec3 a, Vec3 b, Vec3 c) {
    const double la = norm(a), lb = norm(b), lc = norm(c);
    return std::atan2(dot(a, cross(b, c)), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb);
}

}  // namespace

WindingTree::WindingTree(const TriMesh& mesh) {
    triangles_.reserve(mesh.triangles.size());
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        triangles_.push_back({mesh.corner(t, 0), mesh.corner(t, 1), mesh.corner(t, 2)});
    if (!triangles_.empty()) build(0, static_cast<std::uint32_t>(triangles_.size()));
}

std::uint32_t WindingTree::build(std::uint32_t begin, std::uint32_t end) {
    const auto name = static_cast<std::uint32_t>(nodes_.size());
    nodes_.emplace_back();
    Node node;
    node.first = begin;
    node.count = end - begin;
    Aabb middles;
    double weight = 0.0;
    for (std::uint32_t i = begin; i < end; ++i) {
        const Corners& t = triangles_[i];
        const Point3 m = (t.a + t.b + t.c) / 3.0;
        middles.grow(m);
        const Vec3 area = cross(t.b - t.a, t.c - t.a) * 0.5;
        node.area += area;
        node.middle += m * norm(area);
        weight += norm(area);
    }
    node.middle = weight > 0.0 ? node.middle / weight : (middles.lo + middles.hi) * 0.5;
    for (std::uint32_t i = begin; i < end; ++i)
        for (const Point3& p : {triangles_[i].a, triangles_[i].b, triangles_[i].c})
            node.reach2 = std::max(node.reach2, norm2(p - node.middle));
    if (end - begin > kLeaf) {
        const Vec3 size = middles.size();
        const std::size_t axis = size.x >= size.y && size.x >= size.z ? 0 : size.y >= size.z ? 1 : 2;
        const std::uint32_t half = begin + (end - begin) / 2;
        std::nth_element(triangles_.begin() + begin, triangles_.begin() + half, triangles_.begin() + end,
                         [axis](const Corners& a, const Corners& b) {
                             return a.a[axis] + a.b[axis] + a.c[axis] < b.a[axis] + b.b[axis] + b.c[axis];
                         });
        build(begin, half);
        node.right = build(half, end);
    }
    nodes_[name] = node;
    return name;
}

double WindingTree::at(Point3 p) const {
    if (nodes_.empty()) return 0.0;
    double dipoles = 0.0, angles = 0.0;
    std::uint32_t stack[64];
    int top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t name = stack[--top];
        const Node& node = nodes_[name];
        const Vec3 away = node.middle - p;
        const double far2 = norm2(away);
        if (far2 > kFar * kFar * node.reach2) {
            dipoles += dot(away, node.area) / (far2 * std::sqrt(far2));
        } else if (node.right == 0) {
            for (std::uint32_t i = node.first; i < node.first + node.count; ++i) {
                const Corners& t = triangles_[i];
                angles += 2.0 * half_solid_angle(t.a - p, t.b - p, t.c - p);
            }
        } else {
            stack[top++] = node.right;
            stack[top++] = name + 1;
        }
    }
    return (dipoles + angles) / (4.0 * std::numbers::pi);
}

}  // namespace geom::measure
