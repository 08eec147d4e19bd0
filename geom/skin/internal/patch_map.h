// From a drawn layout to parameters: fair curves along the arcs, and over each piece a grid of surface points whose
// indices are the parameters of the face to be fitted.
//
// Frame  box, mm.
#pragma once

#include "geom/skin/internal/layout.h"

#include <array>
#include <vector>

namespace geom::skin {

/// Points on the surface, evenly spaced; the parameter is the chord length over [0, 1].
struct FairCurve {
    std::vector<Point3> points;
    double length_mm = 0.0;
    Point3 at(double t) const;
};

std::array<FairCurve, kArcs> fair_curves(const DiskMesh& mesh, const Layout& layout, const WorkingField& field,
                                         const RimPlace& rim);

/// (nu + 1) x (nv + 1) surface points, u fastest.
struct PatchGrid {
    int nu = 0, nv = 0;
    std::vector<Point3> points;

    Point3 node(int i, int j) const {
        return points[static_cast<std::size_t>(j) * static_cast<std::size_t>(nu + 1) + static_cast<std::size_t>(i)];
    }
    Point3& node(int i, int j) {
        return points[static_cast<std::size_t>(j) * static_cast<std::size_t>(nu + 1) + static_cast<std::size_t>(i)];
    }
    /// Smooth through the nodes (Catmull-Rom both ways).
    Point3 at(double u, double v) const;
};

/// Cuts the mesh along the arcs, maps each piece to its rectangle and lifts an even grid back.
/// Faults: MethodRefused  a piece that cannot be mapped, or a lifted grid that folds; `where` says where
Result<std::array<PatchGrid, kPieces>> patch_grids(const DiskMesh& mesh, const Layout& layout,
                                                   const std::array<FairCurve, kArcs>& curves,
                                                   const WorkingField& field, double node_mm);

}  // namespace geom::skin
