// Places for dowels that stand square to a seat.
//
// Frame   of the seat: z outward, heights over it.
#pragma once

#include "geom/core/tri_mesh.h"
#include "geom/parts/sheet_layers.h"

namespace geom::parts {

/// A dowel's room: the heights it spans, in mm.
struct DowelSpan {
    double from_mm = 0.0, joint_mm = 0.0, to_mm = 0.0;
    bool opens_below = false;  ///< no wall is wanted before its lower end
};
struct DowelPlace {
    double x = 0.0, y = 0.0;  ///< mm
    double wall_mm = 0.0;     ///< least left beside it; negative: how far it runs into something
};

struct PutDowel {
    DowelSpan span;
    DowelPlace place;
};

/// Looks for places on a grid of angles (5 deg) and radii (1.5 mm) about the origin.
class DowelSearch {
public:
    /// `mesh` in the frame of the seat, within `chord_mm` of the true wall; `others`: dowels of other joints.
    DowelSearch(const TriMesh& mesh, double chord_mm, const std::vector<PutDowel>& others, const DowelOptions& options)
        : mesh_(mesh), chord_mm_(chord_mm), others_(others), options_(options) {}

    /// As many as wanted, or as find a place; the smallest angle between neighbours is as large as the grid allows, and
    /// of equal ones the first lies nearest to `phase` (radians). `best` gets the roomiest place, kept or not.
    std::vector<DowelPlace> find(const DowelSpan& span, double phase, DowelPlace& best) const;

private:
    const TriMesh& mesh_;
    double chord_mm_;
    const std::vector<PutDowel>& others_;
    const DowelOptions& options_;
};

}  // namespace geom::parts
