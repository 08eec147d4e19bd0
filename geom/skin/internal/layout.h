// The drawing of the skin: where its faces meet. Five four-sided pieces, as of a box seen into from the baffle: four
// sides round the rim and a back.
//
//     r0 ------ r1        r_k  corners on the border loop, in the loop's order
//      | b0--b1 |         b_k  corners of the back
//      | |    | |         arcs 0-3 r_k r_k+1 (ring), 4-7 r_k b_k (slits), 8-11 b_k b_k+1 (back)
//      | b3--b2 |
//     r3 ------ r2        pieces 0-3 (r_k r_k+1 b_k+1 b_k), 4 (b0 b1 b2 b3)
#pragma once

#include "geom/skin/internal/base_mesh.h"

#include <array>
#include <string>
#include <vector>

namespace geom::skin {

inline constexpr int kArcs = 12, kPieces = 5;
inline int ring_arc(int k) {
    return k & 3;
}
inline int slit_arc(int k) {
    return 4 + (k & 3);
}
inline int back_arc(int k) {
    return 8 + (k & 3);
}

/// The four sides of a piece: bottom (u from 0 to 1 at v = 0), right, top (u at v = 1), left, each run in growing
/// parameter; `reversed` where that is against the arc.
struct PieceSide {
    int arc;
    bool reversed;
};
std::array<PieceSide, 4> piece_sides(int piece);

/// Which of the three families of parallel arcs (they share their knots) an arc belongs to, and whether it runs against
/// it.
struct ArcFamily {
    int family;
    bool reversed;
};
ArcFamily arc_family(int arc);

enum class CornerRule {
    Box,   ///< farthest towards the corners of the section's box, the back's ones also farthest back and near the rim's
    Free,  ///< the same, the back's ones without regard to the rim's
    Turned,  ///< as Box, towards the middles of the box's sides
    Even,    ///< quarters of the rim, the back by a centred square of the disk map
};

struct LayoutPlan {
    CornerRule corners = CornerRule::Box;
    bool follow_ridges = true;
    std::string name() const;
};

struct Layout {
    std::array<std::vector<int>, kArcs> chains;  ///< vertices along each arc, ends included
};

/// Draws the layout along the mesh's edges, then lets the arcs and the mesh round them slide on the surface until the
/// arcs run smooth (`mesh` changes its points only).
/// Faults: MethodRefused  no room for the corners or arcs
Result<Layout> draw_layout(DiskMesh& mesh, const WorkingField& field, const RimPlace& rim,
                           const std::vector<Plane>& flats_box, const LayoutPlan& plan);

}  // namespace geom::skin
