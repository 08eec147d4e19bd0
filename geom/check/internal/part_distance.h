// The least distance of a part to a keep-out as it stands, in any pose of the keep-out.
//
// Method  Convex shapes of numbers by the bound that convexity gives over a triangle (measure::least_on_mesh). Meshes
// by
//         their edges: of two meshes that do not meet, the nearest places lie on an edge of one or the other, so each
//         edge is held against the other's triangles. No place is sampled, and faces that run alongside cost no more.
#pragma once

#include "geom/check/internal/keep_out_distance.h"
#include "geom/measure/clearance.h"
#include "geom/measure/triangle_tree.h"

#include <limits>
#include <optional>
#include <utility>

namespace geom::check {

/// The edges of a mesh, each once.
std::vector<std::pair<std::uint32_t, std::uint32_t>> edges_of(const TriMesh& mesh);

/// A keep-out made ready to be asked in many poses.
class DrawnShape {
public:
    /// `as_mesh` makes a box a mesh, as one that turns must be.
    explicit DrawnShape(const space::KeepOutShape& shape, bool as_mesh = false);
    /// Triangles without an inside.
    static DrawnShape sheet(TriMesh mesh);

private:
    friend class PartDistance;
    DrawnShape() = default;
    space::KeepOutShape shape_;
    bool is_sheet_ = false;
    std::optional<measure::TriangleTree> tree_;  ///< of a mesh
    std::vector<std::pair<std::uint32_t, std::uint32_t>> edges_;
};

class PartDistance {
public:
    /// Keeps a reference to the part.
    explicit PartDistance(const TriMesh& part);

    /// In the pose vehicle_from_drawn: within 0.02 mm outside, negative where the part reaches in (there within 0.25
    /// mm, a sheet 0). Distances of `within` and more come out as `within`. `at` is on the part, vehicle frame.
    measure::LeastOnMesh to(const DrawnShape& shape, const Frame& pose = {},
                            double within = std::numeric_limits<double>::infinity()) const;

    /// The least over all places of the shape, one of numbers, from `from` along `leg`, within 0.02 mm; `share` of the
    /// way is where.
    measure::LeastOnMesh on_way(const space::KeepOutShape& shape, Point3 from, Vec3 leg, double& share) const;

    const std::vector<Point3>& vertices() const { return part_.vertices; }

private:
    measure::LeastOnMesh to_mesh(const DrawnShape& shape, const Frame& pose, double within) const;
    measure::LeastOnMesh depth_in(const DrawnShape& shape, const Frame& pose) const;

    const TriMesh& part_;
    measure::TriangleTree tree_;
    std::vector<std::pair<std::uint32_t, std::uint32_t>> edges_;
};

}  // namespace geom::check
