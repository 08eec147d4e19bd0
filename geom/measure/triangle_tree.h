// Questions about a set of triangles answered from one tree of boxes: nearest point, what a ray meets, what a ray
// passes near, which triangles' boxes overlap.
//
// Frame     that of the mesh; mm. Distances are unsigned.
// Threads   building and asking are deterministic; asking is safe from several threads.
#pragma once

#include "geom/core/tri_mesh.h"

#include <cstddef>
#include <limits>
#include <vector>

namespace geom::measure {

struct Nearest {
    double distance_mm = std::numeric_limits<double>::infinity();
    Point3 at;                 ///< the foot on the triangles
    std::size_t triangle = 0;  ///< index in the mesh
    bool is_found() const { return distance_mm < std::numeric_limits<double>::infinity(); }
};

class TriangleTree {
public:
    /// Copies what it needs of the mesh.
    explicit TriangleTree(const TriMesh& mesh);

    /// The nearest triangle not farther than `within`; not found when there is none.
    Nearest nearest(Point3 p, double within = std::numeric_limits<double>::infinity()) const;

    /// The triangle nearest to the segment from `a` to `b`, not farther than `within`; `at` is the foot on the
    /// triangle, `share` how far along the segment it is nearest.
    Nearest nearest_to_segment(Point3 a, Point3 b, double within, double* share = nullptr) const;
    /// Whether a triangle's box may come nearer than `within` to the segment; yes is not always so.
    bool any_near_segment(Point3 a, Point3 b, double within) const;

    /// How many triangles the ray from `p` along `direction` meets, counted so that a closed mesh gives odd from inside
    /// (edges and corners hit exactly are the caller's risk: take a direction of no meaning).
    int crossings(Point3 p, Vec3 direction) const;
    /// Length along the unit `direction` to the first triangle met; infinity when none.
    double first_hit(Point3 p, Vec3 direction, std::size_t* triangle = nullptr) const;

    /// Indices of triangles whose boxes overlap `box` (touching counts), in rising order.
    void overlapping(const Aabb& box, std::vector<std::uint32_t>& out) const;

    /// Whether any triangle's box overlaps `box`.
    bool any_overlapping(const Aabb& box) const;

    std::size_t size() const { return triangles_.size(); }
    Aabb box() const { return nodes_.empty() ? Aabb{} : nodes_[0].box; }

private:
    friend class RayTree;
    struct Node {
        Aabb box;
        std::uint32_t first = 0;  // leaf: first triangle; inner: right child (left is next)
        std::uint32_t count = 0;  // of a leaf; 0: inner
    };
    struct Triangle {
        Point3 a, b, c;
        std::uint32_t index = 0;
    };
    void build(std::size_t node, std::size_t begin, std::size_t end);
    /// Whether `meets(index)` says so of a triangle whose box overlaps `box`; asks no further then.
    template <class Meets>
    bool any_met(const Aabb& box, Meets&& meets) const;
    std::vector<Node> nodes_;
    std::vector<Triangle> triangles_;
};

/// Distances between triangles and half-lines that all run one way: what a point comes near on its way past.
class RayTree {
public:
    /// `direction` is a unit vector.
    RayTree(const TriMesh& mesh, Vec3 direction);
    ~RayTree();
    RayTree(const RayTree&) = delete;
    RayTree& operator=(const RayTree&) = delete;

    /// Least distance of the half-line from `p` along the direction to the triangles, not farther than `within`; `at`
    /// is the foot on the triangles. Zero where it meets one.
    Nearest nearest(Point3 p, double within = std::numeric_limits<double>::infinity()) const;

private:
    struct Impl;
    Impl* impl_;
};

}  // namespace geom::measure
