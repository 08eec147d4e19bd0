// Boxes split at the median of the longer side of the centres' box; four triangles a leaf. The split sizes depend on
// the count alone, so subtrees know their place beforehand and are built at the same time.
#include "geom/measure/triangle_tree.h"

#include "geom/core/triangle.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::measure {

namespace {

constexpr std::size_t kLeaf = 4;
constexpr std::size_t kParallel = 8192;  // subtrees smaller than this are built by one thread

std::size_t node_count(std::size_t triangles) {
    if (triangles <= kLeaf) return 1;
    // Halving gives only two sizes a level: count them instead of walking the whole tree.
    std::size_t small = triangles, small_n = 1, large_n = 0, total = 0;  // large = small + 1
    while (small_n + large_n > 0) {
        total += small_n + large_n;
        std::size_t lower = small / 2, lower_n = 0, upper_n = 0;
        const auto split = [&](std::size_t size, std::size_t n) {
            if (size <= kLeaf) return;
            for (const std::size_t half : {size / 2, size - size / 2}) (half == lower ? lower_n : upper_n) += n;
        };
        split(small, small_n);
        split(small + 1, large_n);
        small = lower;
        small_n = lower_n;
        large_n = upper_n;
    }
    return total;
}

double box_distance2(const Aabb& box, Point3 p) {
    double sum = 0.0;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max({box.lo[a] - p[a], 0.0, p[a] - box.hi[a]});
        sum += d * d;
    }
    return sum;
}

bool overlap(const Aabb& a, const Aabb& b) {
    return a.lo.x <= b.hi.x && b.lo.x <= a.hi.x && a.lo.y <= b.hi.y && b.lo.y <= a.hi.y && a.lo.z <= b.hi.z &&
           b.lo.z <= a.hi.z;
}

/// Where along the ray the box begins; infinity when it is missed.
double box_entry(const Aabb& box, Point3 p, Vec3 inverse) {
    double from = 0.0, to = std::numeric_limits<double>::infinity();
    for (std::size_t a = 0; a < 3; ++a) {
        double t0 = (box.lo[a] - p[a]) * inverse[a], t1 = (box.hi[a] - p[a]) * inverse[a];
        if (std::isnan(t0) || std::isnan(t1)) continue;  // along the side, on it
        if (t0 > t1) std::swap(t0, t1);
        from = std::max(from, t0);
        to = std::min(to, t1);
    }
    return from <= to ? from : std::numeric_limits<double>::infinity();
}

/// Length along the ray to the triangle, or infinity (Moeller, Trumbore 1997).
double ray_triangle(Point3 p, Vec3 d, Point3 a, Point3 b, Point3 c) {
    constexpr double kMiss = std::numeric_limits<double>::infinity();
    const Vec3 e1 = b - a, e2 = c - a, q = cross(d, e2);
    const double det = dot(e1, q);
    if (det == 0.0) return kMiss;
    const Vec3 s = p - a;
    const double u = dot(s, q) / det;
    if (u < 0.0 || u > 1.0) return kMiss;
    const Vec3 r = cross(s, e1);
    const double v = dot(d, r) / det;
    if (v < 0.0 || u + v > 1.0) return kMiss;
    const double t = dot(e2, r) / det;
    return t >= 0.0 ? t : kMiss;
}

}  // namespace

TriangleTree::TriangleTree(const TriMesh& mesh) {
    triangles_.resize(mesh.triangles.size());
    for (std::size_t i = 0; i < triangles_.size(); ++i)
        triangles_[i] = {mesh.corner(i, 0), mesh.corner(i, 1), mesh.corner(i, 2), static_cast<std::uint32_t>(i)};
    if (triangles_.empty()) return;
    nodes_.resize(node_count(triangles_.size()));
    build(0, 0, triangles_.size());
}

void TriangleTree::build(std::size_t node, std::size_t begin, std::size_t end) {
    Node& n = nodes_[node];
    Aabb centres;
    for (std::size_t i = begin; i < end; ++i) {
        const Triangle& t = triangles_[i];
        n.box.grow(t.a);
        n.box.grow(t.b);
        n.box.grow(t.c);
        centres.grow(t.a + t.b + t.c);
    }
    const std::size_t count = end - begin;
    if (count <= kLeaf) {
        n.first = static_cast<std::uint32_t>(begin);
        n.count = static_cast<std::uint32_t>(count);
        return;
    }
    const Vec3 size = centres.size();
    const std::size_t axis = size.x >= size.y && size.x >= size.z ? 0 : size.y >= size.z ? 1 : 2;
    const std::size_t middle = begin + count / 2;
    const auto at = [&](std::size_t i) { return triangles_.begin() + static_cast<std::ptrdiff_t>(i); };
    std::nth_element(at(begin), at(middle), at(end), [axis](const Triangle& s, const Triangle& t) {
        const double x = s.a[axis] + s.b[axis] + s.c[axis], y = t.a[axis] + t.b[axis] + t.c[axis];
        return x < y || (x == y && s.index < t.index);
    });
    const std::size_t left = node + 1, right = left + node_count(count / 2);
    n.first = static_cast<std::uint32_t>(right);
    if (count >= kParallel) {
        parallel_invoke({[=, this] { build(left, begin, middle); }, [=, this] { build(right, middle, end); }});
    } else {
        build(left, begin, middle);
        build(right, middle, end);
    }
}

Nearest TriangleTree::nearest(Point3 p, double within) const {
    Nearest best;
    if (nodes_.empty()) return best;
    double best2 = within * within;
    struct Open {
        std::uint32_t node;
        double d2;
    };
    std::array<Open, 96> stack;
    std::size_t top = 0;
    stack[top++] = {0, box_distance2(nodes_[0].box, p)};
    while (top > 0) {
        const Open open = stack[--top];
        if (open.d2 > best2) continue;
        const Node& n = nodes_[open.node];
        if (n.count > 0) {
            for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
                const Triangle& t = triangles_[i];
                const Point3 foot = closest_on_triangle(p, t.a, t.b, t.c);
                const double d2 = norm2(foot - p);
                if (d2 < best2 || (d2 == best2 && (!best.is_found() || t.index < best.triangle))) {
                    best2 = d2;
                    best = {std::sqrt(d2), foot, t.index};
                }
            }
            continue;
        }
        const std::uint32_t left = open.node + 1, right = n.first;
        const double l = box_distance2(nodes_[left].box, p), r = box_distance2(nodes_[right].box, p);
        if (l <= r) {
            if (r <= best2) stack[top++] = {right, r};
            if (l <= best2) stack[top++] = {left, l};
        } else {
            if (l <= best2) stack[top++] = {left, l};
            if (r <= best2) stack[top++] = {right, r};
        }
    }
    return best;
}

int TriangleTree::crossings(Point3 p, Vec3 direction) const {
    if (nodes_.empty()) return 0;
    const Vec3 inverse{1.0 / direction.x, 1.0 / direction.y, 1.0 / direction.z};
    std::array<std::uint32_t, 96> stack;
    std::size_t top = 0;
    stack[top++] = 0;
    int count = 0;
    while (top > 0) {
        const std::uint32_t node = stack[--top];
        const Node& n = nodes_[node];
        if (!(box_entry(n.box, p, inverse) < std::numeric_limits<double>::infinity())) continue;
        if (n.count == 0) {
            stack[top++] = n.first;
            stack[top++] = node + 1;
            continue;
        }
        for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
            const Triangle& t = triangles_[i];
            if (ray_triangle(p, direction, t.a, t.b, t.c) < std::numeric_limits<double>::infinity()) ++count;
        }
    }
    return count;
}

double TriangleTree::first_hit(Point3 p, Vec3 direction, std::size_t* triangle) const {
    double best = std::numeric_limits<double>::infinity();
    if (nodes_.empty()) return best;
    const Vec3 inverse{1.0 / direction.x, 1.0 / direction.y, 1.0 / direction.z};
    std::array<std::uint32_t, 96> stack;
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t node = stack[--top];
        const Node& n = nodes_[node];
        if (!(box_entry(n.box, p, inverse) < best)) continue;
        if (n.count == 0) {
            stack[top++] = n.first;
            stack[top++] = node + 1;
            continue;
        }
        for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
            const Triangle& t = triangles_[i];
            const double d = ray_triangle(p, direction, t.a, t.b, t.c);
            if (d < best) {
                best = d;
                if (triangle != nullptr) *triangle = t.index;
            }
        }
    }
    return best;
}

template <class Meets>
bool TriangleTree::any_met(const Aabb& box, Meets&& meets) const {
    if (nodes_.empty()) return false;
    std::array<std::uint32_t, 96> stack;
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t node = stack[--top];
        const Node& n = nodes_[node];
        if (!overlap(n.box, box)) continue;
        if (n.count == 0) {
            stack[top++] = n.first;
            stack[top++] = node + 1;
            continue;
        }
        for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
            const Triangle& t = triangles_[i];
            Aabb own;
            own.grow(t.a);
            own.grow(t.b);
            own.grow(t.c);
            if (overlap(own, box) && meets(t.index)) return true;
        }
    }
    return false;
}

void TriangleTree::overlapping(const Aabb& box, std::vector<std::uint32_t>& out) const {
    out.clear();
    any_met(box, [&](std::uint32_t index) {
        out.push_back(index);
        return false;
    });
    std::sort(out.begin(), out.end());
}

bool TriangleTree::any_overlapping(const Aabb& box) const {
    return any_met(box, [](std::uint32_t) { return true; });
}

// ---- segments -------------------------------------------------------------------------------------------------

namespace {

/// Whether the segment a + t d, t in [0, 1], meets the box grown by `more` on every side.
bool meets_grown(const Aabb& box, Point3 a, Vec3 d, double more) {
    double from = 0.0, to = 1.0;
    for (std::size_t k = 0; k < 3; ++k) {
        const double lo = box.lo[k] - more - a[k], hi = box.hi[k] + more - a[k];
        if (std::abs(d[k]) < 1e-300) {
            if (lo > 0.0 || hi < 0.0) return false;
            continue;
        }
        double t0 = lo / d[k], t1 = hi / d[k];
        if (t0 > t1) std::swap(t0, t1);
        from = std::max(from, t0);
        to = std::min(to, t1);
        if (from > to) return false;
    }
    return true;
}

/// Squared distance of two segments p + s u and q + t v, s and t in [0, 1] (Ericson 2004, cited from memory).
double segments_distance2(Point3 p, Vec3 u, Point3 q, Vec3 v, double& s, double& t) {
    const Vec3 r = p - q;
    const double a = norm2(u), e = norm2(v), f = dot(v, r), c = dot(u, r), b = dot(u, v);
    if (a <= 0.0) {
        s = 0.0;
        t = e > 0.0 ? std::clamp(f / e, 0.0, 1.0) : 0.0;
    } else if (e <= 0.0) {
        t = 0.0;
        s = std::clamp(-c / a, 0.0, 1.0);
    } else {
        const double det = a * e - b * b;
        s = det > 1e-14 * a * e ? std::clamp((b * f - c * e) / det, 0.0, 1.0) : 0.0;
        t = (b * s + f) / e;
        if (t < 0.0) {
            t = 0.0;
            s = std::clamp(-c / a, 0.0, 1.0);
        } else if (t > 1.0) {
            t = 1.0;
            s = std::clamp((b - c) / a, 0.0, 1.0);
        }
    }
    return norm2(r + u * s - v * t);
}

}  // namespace

Nearest TriangleTree::nearest_to_segment(Point3 a, Point3 b, double within, double* share) const {
    Nearest best;
    if (nodes_.empty()) return best;
    const Vec3 d = b - a;
    const Point3 middle = a + d * 0.5;
    double best2 = within * within, reach = within;
    struct Open {
        std::uint32_t node;
        double d2;
    };
    std::array<Open, 96> stack;
    std::size_t top = 0;
    stack[top++] = {0, 0.0};
    while (top > 0) {
        const Open open = stack[--top];
        const Node& n = nodes_[open.node];
        if (!meets_grown(n.box, a, d, reach)) continue;
        if (n.count == 0) {
            const std::uint32_t left = open.node + 1, right = n.first;
            const double l = box_distance2(nodes_[left].box, middle), r = box_distance2(nodes_[right].box, middle);
            stack[top++] = l <= r ? Open{right, r} : Open{left, l};
            stack[top++] = l <= r ? Open{left, l} : Open{right, r};
            continue;
        }
        for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
            const Triangle& t = triangles_[i];
            Aabb own;
            own.grow(t.a);
            own.grow(t.b);
            own.grow(t.c);
            if (!meets_grown(own, a, d, reach)) continue;
            const auto take = [&](double d2, Point3 foot, double at) {
                if (!(d2 < best2 || (d2 == best2 && (!best.is_found() || t.index < best.triangle)))) return;
                best2 = d2;
                reach = std::sqrt(d2);
                best = {reach, foot, t.index};
                if (share != nullptr) *share = at;
            };
            if (const double hit = ray_triangle(a, d, t.a, t.b, t.c); hit <= 1.0) take(0.0, a + d * hit, hit);
            const Point3 at_a = closest_on_triangle(a, t.a, t.b, t.c), at_b = closest_on_triangle(b, t.a, t.b, t.c);
            take(norm2(at_a - a), at_a, 0.0);
            take(norm2(at_b - b), at_b, 1.0);
            const std::array<Point3, 4> corner{t.a, t.b, t.c, t.a};
            for (std::size_t side = 0; side < 3; ++side) {
                double s = 0.0, q = 0.0;
                const Vec3 v = corner[side + 1] - corner[side];
                const double d2 = segments_distance2(a, d, corner[side], v, s, q);
                take(d2, corner[side] + v * q, s);
            }
        }
        if (best2 == 0.0) return best;
    }
    return best;
}

bool TriangleTree::any_near_segment(Point3 a, Point3 b, double within) const {
    if (nodes_.empty()) return false;
    const Vec3 d = b - a;
    std::array<std::uint32_t, 96> stack;
    std::size_t top = 0;
    stack[top++] = 0;
    while (top > 0) {
        const std::uint32_t node = stack[--top];
        const Node& n = nodes_[node];
        if (!meets_grown(n.box, a, d, within)) continue;
        if (n.count > 0) return true;
        stack[top++] = n.first;
        stack[top++] = node + 1;
    }
    return false;
}

// ---- half-lines -----------------------------------------------------------------------------------------------

namespace {

/// Squared distance of the half-line from `p` along +z to the triangle; `foot` on the triangle.
double half_line_distance2(Point3 p, Point3 a, Point3 b, Point3 c, Point3& foot) {
    double best = std::numeric_limits<double>::infinity();
    // Met: p lies in the triangle's shadow and the triangle is not below it.
    const double ab = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
    const double bc = (c.x - b.x) * (p.y - b.y) - (c.y - b.y) * (p.x - b.x);
    const double ca = (a.x - c.x) * (p.y - c.y) - (a.y - c.y) * (p.x - c.x);
    const double sum = ab + bc + ca;
    if (sum != 0.0 && ((ab >= 0 && bc >= 0 && ca >= 0) || (ab <= 0 && bc <= 0 && ca <= 0))) {
        const double z = (bc * a.z + ca * b.z + ab * c.z) / sum;
        if (z >= p.z) {
            foot = {p.x, p.y, z};
            return 0.0;
        }
    }
    // What lies below the start is nearest to the start itself.
    if (std::min({a.z, b.z, c.z}) < p.z) {
        foot = closest_on_triangle(p, a, b, c);
        best = norm2(foot - p);
    }
    // What lies above is nearest on a side, seen along z.
    const auto side = [&](Point3 s, Point3 e) {
        double t0 = 0.0, t1 = 1.0;
        if (s.z < p.z && e.z < p.z) return;
        if (s.z < p.z) t0 = (p.z - s.z) / (e.z - s.z);
        if (e.z < p.z) t1 = (p.z - s.z) / (e.z - s.z);
        const double dx = e.x - s.x, dy = e.y - s.y, length2 = dx * dx + dy * dy;
        double t = length2 > 0.0 ? ((p.x - s.x) * dx + (p.y - s.y) * dy) / length2 : 0.0;
        t = std::clamp(t, t0, t1);
        const Point3 x = s + (e - s) * t;
        const double d2 = (x.x - p.x) * (x.x - p.x) + (x.y - p.y) * (x.y - p.y);
        if (d2 < best) {
            best = d2;
            foot = x;
        }
    };
    side(a, b);
    side(b, c);
    side(c, a);
    return best;
}

double box_half_line_distance2(const Aabb& box, Point3 p) {
    const double x = std::max({box.lo.x - p.x, 0.0, p.x - box.hi.x});
    const double y = std::max({box.lo.y - p.y, 0.0, p.y - box.hi.y});
    const double z = std::max(p.z - box.hi.z, 0.0);
    return x * x + y * y + z * z;
}

}  // namespace

struct RayTree::Impl {
    Frame frame;  // vehicle_from_ray: z along the half-lines
    TriangleTree tree;
};

RayTree::RayTree(const TriMesh& mesh, Vec3 direction) {
    Frame frame;
    frame.z = unit(direction);
    frame.x = any_perpendicular(frame.z);
    frame.y = cross(frame.z, frame.x);
    TriMesh local = mesh;
    for (Point3& p : local.vertices) p = frame.to_local(p);
    impl_ = new Impl{frame, TriangleTree(local)};
}

RayTree::~RayTree() {
    delete impl_;
}

Nearest RayTree::nearest(Point3 vehicle, double within) const {
    Nearest best;
    const auto& nodes = impl_->tree.nodes_;
    const auto& triangles = impl_->tree.triangles_;
    if (nodes.empty()) return best;
    const Point3 p = impl_->frame.to_local(vehicle);
    double best2 = within * within;
    struct Open {
        std::uint32_t node;
        double d2;
    };
    std::array<Open, 96> stack;
    std::size_t top = 0;
    stack[top++] = {0, box_half_line_distance2(nodes[0].box, p)};
    while (top > 0) {
        const Open open = stack[--top];
        if (open.d2 > best2) continue;
        const TriangleTree::Node& n = nodes[open.node];
        if (n.count > 0) {
            for (std::uint32_t i = n.first; i < n.first + n.count; ++i) {
                const TriangleTree::Triangle& t = triangles[i];
                Point3 foot;
                const double d2 = half_line_distance2(p, t.a, t.b, t.c, foot);
                if (d2 < best2 || (d2 == best2 && (!best.is_found() || t.index < best.triangle))) {
                    best2 = d2;
                    best = {std::sqrt(d2), impl_->frame.to_parent(foot), t.index};
                }
            }
            if (best2 == 0.0) return best;
            continue;
        }
        const std::uint32_t left = open.node + 1, right = n.first;
        const double l = box_half_line_distance2(nodes[left].box, p), r = box_half_line_distance2(nodes[right].box, p);
        if (l <= r) {
            if (r <= best2) stack[top++] = {right, r};
            if (l <= best2) stack[top++] = {left, l};
        } else {
            if (l <= best2) stack[top++] = {left, l};
            if (r <= best2) stack[top++] = {right, r};
        }
    }
    return best;
}

}  // namespace geom::measure
