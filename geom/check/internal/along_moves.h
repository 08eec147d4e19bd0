// What checks of the way in by moves say and ask alike.
#pragma once

#include "geom/measure/clearance.h"
#include "geom/space/room.h"
#include "geom/space/way_in.h"

#include <string>

namespace geom::check {

/// "62.0 mm of 120.0 mm done", "12.4 deg of 20.0 deg done", "35.0 mm before it begins"
std::string how_far(const space::Move& move, double share);

/// Least distance of a part's mesh to a keep-out during one move, within 0.05 mm; `at` is a place of the seated part,
/// `share` how much of the move is done then. Distances of `bound_mm` and more are of no interest.
struct LeastInMove {
    measure::LeastOnMesh least;
    double share = 1.0;
};
LeastInMove least_in_move(const TriMesh& part, const space::KeepOutShape& shape, const space::WayIn& way,
                          std::size_t move, const std::vector<Plane>& open, double bound_mm);

}  // namespace geom::check
