// Whether a ring with its driver fits what lies round it: the driver's body behind the ring, the ring itself, and the
// column before the cone, against limits, keep-outs standing and moving, and the scan.
//
// Frame     vehicle, mm.
// Method    the driver's body is a frustum and a cylinder, the column a cylinder: convex, so that their least distances
//           are exact but for a stated slack (stands_round.h). The ring is the triangles of its written file.
#pragma once

#include "geom/check/verdict.h"
#include "geom/parts/ring.h"

#include <optional>
#include <vector>

namespace geom::check {

struct RingSurroundings {
    std::vector<space::Limit> limits;
    std::vector<space::KeepOut> keep_outs;
    const scan::Surface* surface = nullptr;  ///< none: nothing was scanned; patches of closed holes do not count
    Length clearance = Length::mm(2);        ///< of the driver's body from the surface
    std::optional<parts::GrilleRoom> grille_room{};  ///< before the driver's seat
    Length foot_bound{};  ///< of a scanned foot: how much nearer than its gasket the surface may come, all told
};

/// The driver's body against the ring itself, whatever its bore: least gap over the whole height, tilt and lips
/// counted; told too small by the chord error of the mesh at most. Nothing without a mounting depth.
void check_own_bore(const parts::Ring& ring, const parts::RingRequest& request, const TriMesh& mesh, Verdict& verdict);

/// A line for each thing round the ring and each of body and ring, then the front. A thing that moves may be told 0.25
/// mm nearer to the body than it is (0.1 mm to the ring). What fails says what would free it.
void check_ring_fit(const parts::Ring& ring, const parts::RingRequest& request, const TriMesh& mesh,
                    const RingSurroundings& around, Verdict& verdict);

}  // namespace geom::check
