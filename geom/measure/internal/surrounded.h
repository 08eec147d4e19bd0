// How much room a surface surrounds where it is open or crosses itself: sample points, the winding number at each.
//
// Method    jittered samples, one a cell of a fixed lattice, so that the same mesh gives the same figure. What is
// summed
//           is the difference to what is known exactly, so that only places in doubt count. Spread: three standard
//           deviations of independent samples, and where no sample met any doubt, what three samples in all would be
//           (rule of three).
#pragma once

#include "geom/core/tri_mesh.h"
#include "geom/measure/shells.h"

namespace geom::measure::internal {

struct Estimate {
    double low_mm3 = 0.0, best_mm3 = 0.0, high_mm3 = 0.0;
    std::size_t samples = 0;
    bool met_doubt = true;  ///< false: no sample lay where shells overlap
};

/// An open shell closed by its lids holds `capped_mm3`. Low: what it surrounds by three quarters, high: by a quarter.
/// `shell` turns outward; `lids` likewise.
Estimate surrounded_by_open(const TriMesh& shell, const TriMesh& lids, const std::vector<BorderLoop>& loops,
                            double capped_mm3);

/// Closed shells of which some cross: the room that is surrounded once or more, counted once. `signed_mm3` is the sum
/// of their signed volumes.
Estimate surrounded_by_crossing(const TriMesh& closed, double signed_mm3);

}  // namespace geom::measure::internal
