// Exact distance to a triangle mesh, by one tree of boxes: signed when the mesh is closed, unsigned when it is a sheet.
#pragma once

#include "geom/space/internal/keep_out.h"

namespace geom::space::internal {

class MeshDistance final : public ShapeDistance {
public:
    enum class Kind { Closed, Sheet };
    /// EXPECTS: at least one triangle.
    MeshDistance(const TriMesh& mesh, Kind kind);

    double at(Point3 p) const override { return at_most(p, 1e300); }
    double at_most(Point3 p, double limit_mm) const override;
    Aabb box() const override { return box_; }
    bool is_convex() const override { return false; }
    bool is_sheet() const override { return kind_ == Kind::Sheet; }

private:
    struct Node {
        Aabb box;
        std::uint32_t first = 0;  // leaf: first triangle; inner: right child (left is next)
        std::uint32_t count = 0;  // of a leaf; 0: inner
    };
    struct Triangle {
        Point3 a, b, c;
    };
    void build(std::size_t begin, std::size_t end);
    void nearest(std::size_t node, Point3 p, double d2, double& best2) const;
    bool is_inside(Point3 p) const;

    Kind kind_;
    Frame frame_;  // the tree stands askew, so that no ray along its z runs in a face or an edge of a drawn box
    std::vector<Triangle> triangles_;
    std::vector<Node> nodes_;
    Aabb box_;
};

/// Number of edges that are not run once in each direction: 0 for a closed mesh.
std::size_t open_edges(const TriMesh& mesh);

}  // namespace geom::space::internal
