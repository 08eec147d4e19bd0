// Box, cylinder and sphere in closed form. A closed mesh by a tree of boxes over its triangles: nearest point on a
// triangle by its regions (Ericson 2004), inside or outside by the solid angle the mesh fills (generalised winding
// number: Jacobson, Kavan, Sorkine-Hornung 2013), asked once for each query as meshes here are small. Cited from memory.
#include "geom/space/internal/keep_out.h"

#include "geom/core/triangle.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numbers>
#include <numeric>

namespace geom::space::internal {
namespace {

class BoxDistance final : public ShapeDistance {
public:
    explicit BoxDistance(const BoxShape& s) : middle_((s.min + s.max) * 0.5), half_((s.max - s.min) * 0.5) {}
    double at(Point3 p) const override {
        const Vec3 d = p - middle_;
        const Vec3 q{std::abs(d.x) - half_.x, std::abs(d.y) - half_.y, std::abs(d.z) - half_.z};
        const Vec3 out{std::max(q.x, 0.0), std::max(q.y, 0.0), std::max(q.z, 0.0)};
        return norm(out) + std::min(std::max({q.x, q.y, q.z}), 0.0);
    }
    Aabb box() const override { return {middle_ - half_, middle_ + half_}; }

private:
    Point3 middle_;
    Vec3 half_;
};

class CylinderDistance final : public ShapeDistance {
public:
    explicit CylinderDistance(const CylinderShape& s)
        : from_(s.from), axis_(unit(s.to - s.from)), length_(distance(s.from, s.to)), radius_(s.radius_mm) {}
    double at(Point3 p) const override {
        const Vec3 d = p - from_;
        const double along = dot(d, axis_);
        const double beyond = std::max(-along, along - length_);
        const double aside = norm(d - axis_ * along) - radius_;
        return std::hypot(std::max(beyond, 0.0), std::max(aside, 0.0)) + std::min(std::max(beyond, aside), 0.0);
    }
    Aabb box() const override {
        Aabb b;
        for (const Point3 end : {from_, from_ + axis_ * length_})
            for (const double s : {-radius_, radius_}) b.grow(end + Vec3{s, s, s});
        return b;
    }

private:
    Point3 from_;
    Vec3 axis_;
    double length_, radius_;
};

class SphereDistance final : public ShapeDistance {
public:
    explicit SphereDistance(const SphereShape& s) : shape_(s) {}
    double at(Point3 p) const override { return distance(p, shape_.centre) - shape_.radius_mm; }
    Aabb box() const override {
        const Vec3 r{shape_.radius_mm, shape_.radius_mm, shape_.radius_mm};
        return {shape_.centre - r, shape_.centre + r};
    }

private:
    SphereShape shape_;
};

class MeshDistance final : public ShapeDistance {
public:
    explicit MeshDistance(const TriMesh& mesh) : mesh_(mesh), order_(mesh.triangles.size()), box_(bounds(mesh)) {
        std::iota(order_.begin(), order_.end(), std::size_t{0});
        build(0, order_.size());
    }
    double at(Point3 p) const override {
        double best2 = 1e300;
        nearest(0, p, best2);
        double angle = 0.0;
        for (std::size_t t = 0; t < mesh_.triangles.size(); ++t) angle += solid_angle(p, t);
        const double d = std::sqrt(best2);
        return std::abs(angle) > 2.0 * std::numbers::pi ? -d : d;
    }
    Aabb box() const override { return box_; }
    bool is_convex() const override { return false; }

private:
    struct Node {
        Aabb box;
        std::size_t begin = 0, end = 0, right = 0;  // right == 0: a leaf
    };

    std::size_t build(std::size_t begin, std::size_t end) {
        const std::size_t self = nodes_.size();
        nodes_.emplace_back();
        Aabb box, middles;
        for (std::size_t q = begin; q < end; ++q) {
            for (int c = 0; c < 3; ++c) box.grow(mesh_.corner(order_[q], c));
            middles.grow(middle(order_[q]));
        }
        std::size_t right = 0;
        if (end - begin > 4) {
            const Vec3 size = middles.size();
            const std::size_t axis = size.x >= size.y && size.x >= size.z ? 0 : size.y >= size.z ? 1 : 2;
            const std::size_t half = begin + (end - begin) / 2;
            std::nth_element(order_.begin() + static_cast<std::ptrdiff_t>(begin), order_.begin() + static_cast<std::ptrdiff_t>(half),
                             order_.begin() + static_cast<std::ptrdiff_t>(end), [&](std::size_t a, std::size_t b) {
                                 const double ma = middle(a)[axis], mb = middle(b)[axis];
                                 return ma < mb || (ma == mb && a < b);
                             });
            build(begin, half);
            right = build(half, end);
        }
        nodes_[self] = {box, begin, end, right};
        return self;
    }
    Point3 middle(std::size_t t) const { return (mesh_.corner(t, 0) + mesh_.corner(t, 1) + mesh_.corner(t, 2)) / 3.0; }

    static double distance2(const Aabb& b, Point3 p) {
        double d2 = 0.0;
        for (std::size_t a = 0; a < 3; ++a) {
            const double d = std::max({b.lo[a] - p[a], 0.0, p[a] - b.hi[a]});
            d2 += d * d;
        }
        return d2;
    }
    void nearest(std::size_t at, Point3 p, double& best2) const {
        const Node& n = nodes_[at];
        if (distance2(n.box, p) >= best2) return;
        if (n.right == 0) {
            for (std::size_t q = n.begin; q < n.end; ++q) {
                const std::size_t t = order_[q];
                best2 = std::min(best2, norm2(p - closest_on_triangle(p, mesh_.corner(t, 0), mesh_.corner(t, 1), mesh_.corner(t, 2))));
            }
            return;
        }
        const std::size_t left = at + 1;
        const bool left_first = distance2(nodes_[left].box, p) <= distance2(nodes_[n.right].box, p);
        nearest(left_first ? left : n.right, p, best2);
        nearest(left_first ? n.right : left, p, best2);
    }
    double solid_angle(Point3 p, std::size_t t) const {
        const Vec3 a = mesh_.corner(t, 0) - p, b = mesh_.corner(t, 1) - p, c = mesh_.corner(t, 2) - p;
        const double la = norm(a), lb = norm(b), lc = norm(c);
        return 2.0 * std::atan2(dot(a, cross(b, c)), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb);
    }

    TriMesh mesh_;
    std::vector<std::size_t> order_;
    std::vector<Node> nodes_;
    Aabb box_;
};

Fault bad(const KeepOut& k, const std::string& found, const std::string& wanted) {
    return {FaultCode::BadJob, fmt::format("keep-out '{}': {}, wanted {}", k.name, found, wanted), "correct its numbers in the job file", {}, "space"};
}

/// Number of edges that are not run once in each direction.
std::size_t open_edges(const TriMesh& mesh) {
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> balance;
    for (const auto& t : mesh.triangles)
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = t[c], b = t[(c + 1) % 3];
            balance[{std::min(a, b), std::max(a, b)}] += a < b ? 1 : -1;
        }
    return static_cast<std::size_t>(std::count_if(balance.begin(), balance.end(), [](const auto& e) { return e.second != 0; }));
}

}  // namespace

// The distance to a convex body is convex along a line, and least where the line passes beside the body's box.
double least_on_half_line(const ShapeDistance& shape, Point3 from, Vec3 direction) {
    return least_on_line(shape, from, direction, 1e9);
}

double least_on_line(const ShapeDistance& shape, Point3 from, Vec3 direction, double length_mm) {
    constexpr double kGolden = 0.6180339887498949, kEnough_mm = 0.05;
    const Aabb box = shape.box();
    double lo = -dot(from, direction), hi = lo;
    for (std::size_t a = 0; a < 3; ++a) {
        lo += std::min(box.lo[a] * direction[a], box.hi[a] * direction[a]);
        hi += std::max(box.lo[a] * direction[a], box.hi[a] * direction[a]);
    }
    lo = std::clamp(lo, 0.0, length_mm), hi = std::min(hi, length_mm);
    if (hi <= lo) return shape.at(from + direction * lo);
    double a = hi - kGolden * (hi - lo), b = lo + kGolden * (hi - lo);
    double at_a = shape.at(from + direction * a), at_b = shape.at(from + direction * b);
    while (hi - lo > kEnough_mm) {
        if (at_a < at_b) {
            hi = b, b = a, at_b = at_a;
            a = hi - kGolden * (hi - lo), at_a = shape.at(from + direction * a);
        } else {
            lo = a, a = b, at_a = at_b;
            b = lo + kGolden * (hi - lo), at_b = shape.at(from + direction * b);
        }
    }
    return std::min(at_a, at_b);
}

Result<std::unique_ptr<ShapeDistance>> shape_distance(const KeepOut& k) {
    using Ptr = std::unique_ptr<ShapeDistance>;
    if (const auto* s = std::get_if<BoxShape>(&k.shape)) {
        const Vec3 size = s->max - s->min;
        if (!(size.x > 0.0 && size.y > 0.0 && size.z > 0.0))
            return bad(k, fmt::format("a box of {:.1f} x {:.1f} x {:.1f} mm", size.x, size.y, size.z), "min below max on every axis");
        return Ptr(std::make_unique<BoxDistance>(*s));
    }
    if (const auto* s = std::get_if<CylinderShape>(&k.shape)) {
        if (!(s->radius_mm > 0.0 && distance(s->from, s->to) > 0.0))
            return bad(k, fmt::format("a cylinder of radius {:.1f} and length {:.1f} mm", s->radius_mm, distance(s->from, s->to)), "both above zero");
        return Ptr(std::make_unique<CylinderDistance>(*s));
    }
    if (const auto* s = std::get_if<SphereShape>(&k.shape)) {
        if (!(s->radius_mm > 0.0)) return bad(k, fmt::format("a sphere of radius {:.1f} mm", s->radius_mm), "a radius above zero");
        return Ptr(std::make_unique<SphereDistance>(*s));
    }
    const TriMesh& mesh = std::get<TriMesh>(k.shape);
    if (mesh.triangles.empty()) return bad(k, "a mesh without triangles", "a closed mesh");
    if (const std::size_t open = open_edges(mesh); open > 0) return bad(k, fmt::format("a mesh with {} open edges", open), "a closed mesh");
    return Ptr(std::make_unique<MeshDistance>(mesh));
}

}  // namespace geom::space::internal
