// Box, cylinder and sphere in closed form; meshes in mesh_distance.cpp.
#include "geom/space/internal/keep_out.h"

#include "geom/space/internal/mesh_distance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

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

Fault bad(const KeepOut& k, const std::string& found, const std::string& wanted) {
    return {FaultCode::BadJob,
            fmt::format("keep-out '{}': {}, wanted {}", k.name, found, wanted),
            "correct its numbers in the job file",
            {},
            "space"};
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
            return bad(k, fmt::format("a box of {:.1f} x {:.1f} x {:.1f} mm", size.x, size.y, size.z),
                       "min below max on every axis");
        return Ptr(std::make_unique<BoxDistance>(*s));
    }
    if (const auto* s = std::get_if<CylinderShape>(&k.shape)) {
        if (!(s->radius_mm > 0.0 && distance(s->from, s->to) > 0.0))
            return bad(
                k,
                fmt::format("a cylinder of radius {:.1f} and length {:.1f} mm", s->radius_mm, distance(s->from, s->to)),
                "both above zero");
        return Ptr(std::make_unique<CylinderDistance>(*s));
    }
    if (const auto* s = std::get_if<SphereShape>(&k.shape)) {
        if (!(s->radius_mm > 0.0))
            return bad(k, fmt::format("a sphere of radius {:.1f} mm", s->radius_mm), "a radius above zero");
        return Ptr(std::make_unique<SphereDistance>(*s));
    }
    const TriMesh& mesh = std::get<TriMesh>(k.shape);
    if (mesh.triangles.empty()) return bad(k, "a mesh without triangles", "a closed mesh");
    const std::size_t open = open_edges(mesh);
    if (open > 0 && !is_moving(k.motion))
        return bad(k, fmt::format("a mesh with {} open edges", open), "a closed mesh");
    return Ptr(std::make_unique<MeshDistance>(mesh, open > 0 ? MeshDistance::Kind::Sheet : MeshDistance::Kind::Closed));
}

}  // namespace geom::space::internal
