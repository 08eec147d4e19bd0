// Nearest point on a triangle by its regions (geom/core/triangle.h). Inside or outside by how often the mesh runs round
// the place, counted on one ray: triangles crossed upwards less those crossed downwards, which for a closed mesh is the
// winding number. Whether the ray passes a triangle is decided edge by edge with a rule that gives the two triangles of
// an edge the same answer, so that a ray through an edge or a corner is counted once.
#include "geom/space/internal/mesh_distance.h"

#include "geom/core/checks.h"
#include "geom/core/triangle.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

namespace geom::space::internal {
namespace {

constexpr std::size_t kLeaf = 4;

double distance2(const Aabb& b, Point3 p) {
    double d2 = 0.0;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max({b.lo[a] - p[a], 0.0, p[a] - b.hi[a]});
        d2 += d * d;
    }
    return d2;
}

/// Whether the half-line from p towards +x crosses the edge, seen along z; the same for the edge turned round.
bool crosses(Point3 a, Point3 b, Point3 p) {
    if ((a.y > p.y) == (b.y > p.y)) return false;
    if (a.y > b.y) std::swap(a, b);
    return (p.x - a.x) * (b.y - a.y) < (b.x - a.x) * (p.y - a.y);
}

}  // namespace

MeshDistance::MeshDistance(const TriMesh& mesh, Kind kind) : kind_(kind), box_(bounds(mesh)) {
    EXPECTS(!mesh.triangles.empty());
    frame_.origin = box_.lo + box_.size() * 0.5;
    frame_.z = unit({0.5773, 0.4142, 0.7071});
    frame_.x = any_perpendicular(frame_.z);
    frame_.y = cross(frame_.z, frame_.x);
    triangles_.reserve(mesh.triangles.size());
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        triangles_.push_back({frame_.to_local(mesh.corner(t, 0)), frame_.to_local(mesh.corner(t, 1)),
                              frame_.to_local(mesh.corner(t, 2))});
    build(0, triangles_.size());
}

void MeshDistance::build(std::size_t begin, std::size_t end) {
    const std::size_t self = nodes_.size();
    nodes_.emplace_back();
    const auto middle = [](const Triangle& t) { return t.a + t.b + t.c; };
    Aabb box, middles;
    for (std::size_t q = begin; q < end; ++q) {
        const Triangle& t = triangles_[q];
        box.grow(t.a), box.grow(t.b), box.grow(t.c);
        middles.grow(middle(t));
    }
    nodes_[self].box = box;
    if (end - begin <= kLeaf) {
        nodes_[self].first = static_cast<std::uint32_t>(begin);
        nodes_[self].count = static_cast<std::uint32_t>(end - begin);
        return;
    }
    const Vec3 size = middles.size();
    const std::size_t axis = size.x >= size.y && size.x >= size.z ? 0
                             : size.y >= size.z                   ? 1
                                                                  : 2,
                      half = begin + (end - begin) / 2;
    const auto it = [&](std::size_t q) { return triangles_.begin() + static_cast<std::ptrdiff_t>(q); };
    std::nth_element(it(begin), it(half), it(end),
                     [&](const Triangle& s, const Triangle& t) { return middle(s)[axis] < middle(t)[axis]; });
    build(begin, half);
    nodes_[self].first = static_cast<std::uint32_t>(nodes_.size());
    build(half, end);
}

void MeshDistance::nearest(std::size_t node, Point3 p, double d2, double& best2) const {
    const Node& n = nodes_[node];
    if (d2 >= best2) return;
    if (n.count > 0) {
        for (std::size_t q = n.first; q < n.first + n.count; ++q)
            best2 =
                std::min(best2, norm2(p - closest_on_triangle(p, triangles_[q].a, triangles_[q].b, triangles_[q].c)));
        return;
    }
    const std::size_t left = node + 1, right = n.first;
    const double l = distance2(nodes_[left].box, p), r = distance2(nodes_[right].box, p);
    if (l <= r) {
        nearest(left, p, l, best2);
        nearest(right, p, r, best2);
    } else {
        nearest(right, p, r, best2);
        nearest(left, p, l, best2);
    }
}

bool MeshDistance::is_inside(Point3 p) const {
    int turns = 0;
    std::array<std::uint32_t, 64> open;
    std::size_t top = 0;
    open[top++] = 0;
    while (top > 0) {
        const std::uint32_t at = open[--top];
        const Node& n = nodes_[at];
        if (p.x < n.box.lo.x || p.x > n.box.hi.x || p.y < n.box.lo.y || p.y > n.box.hi.y || p.z > n.box.hi.z) continue;
        if (n.count == 0) {
            open[top++] = at + 1;
            open[top++] = n.first;
            continue;
        }
        for (std::size_t q = n.first; q < n.first + n.count; ++q) {
            const auto& [a, b, c] = triangles_[q];
            const int passed = (crosses(a, b, p) ? 1 : 0) + (crosses(b, c, p) ? 1 : 0) + (crosses(c, a, p) ? 1 : 0);
            if (passed % 2 == 0) continue;
            const Vec3 normal = cross(b - a, c - a);
            if (normal.z == 0.0) continue;
            const double z = std::clamp(a.z - ((p.x - a.x) * normal.x + (p.y - a.y) * normal.y) / normal.z,
                                        std::min({a.z, b.z, c.z}), std::max({a.z, b.z, c.z}));
            if (z > p.z) turns += normal.z > 0.0 ? 1 : -1;
        }
    }
    return turns != 0;
}

double MeshDistance::at_most(Point3 vehicle, double limit_mm) const {
    const Point3 p = frame_.to_local(vehicle);
    const bool inside = kind_ == Kind::Closed && is_inside(p),
               is_limited = !inside && limit_mm > 0.0 && limit_mm < 1e150;
    double best2 = is_limited ? limit_mm * limit_mm : 1e300;
    nearest(0, p, distance2(nodes_[0].box, p), best2);
    return inside ? -std::sqrt(best2) : std::sqrt(best2);
}

std::size_t open_edges(const TriMesh& mesh) {
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> balance;
    for (const auto& t : mesh.triangles)
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = t[c], b = t[(c + 1) % 3];
            balance[{std::min(a, b), std::max(a, b)}] += a < b ? 1 : -1;
        }
    return static_cast<std::size_t>(
        std::count_if(balance.begin(), balance.end(), [](const auto& e) { return e.second != 0; }));
}

}  // namespace geom::space::internal
