// Which straight way in leaves how much: a fan of directions over the side from which the listener looks, each tried on
// one coarse grid.
#pragma once

#include "geom/parts/enclosure.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

struct DirectionHeld {
    Vec3 into;                     ///< direction of going in, unit, vehicle frame; none (0) of the job's own moves
    double tilt_deg = 0.0;         ///< from straight against the baffle's outward
    bool is_asked = false;         ///< the job's own
    std::optional<double> litres;  ///< net volume at the outermost baffle place; none when there is no such part
    std::string note;              ///< why not
};

struct DirectionList {
    double voxel_mm = 0.0;             ///< of the grid they were tried on
    std::vector<DirectionHeld> tried;  ///< most first, those without a figure last
};

/// Straight against `outward`, rings of 20, 40 and 60 degrees round it (6, 8 and 10, the first of each tilted towards
/// `up`), and straight against the outward of each declared open plane. Unit, no two nearer than 5 degrees.
std::vector<Vec3> fan_of_directions(const space::RoomOptions& room);

/// The fan and the job's own way in, be it a direction or moves.
///
/// Faults: those of gap_field that do not depend on the direction (the first of them); Interrupted
Result<DirectionList> directions(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

}  // namespace geom::parts
