// Where the baffle goes: the place on its travel at which the bare air behind it has the wanted volume.
//
// Frame   box frame of the field (geom/space/field.h): y runs from the baffle into the box, so the outer face at
//         travel t lies at y = -t and the air begins at y = -t + thickness.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/enclosure.h"
#include "geom/space/room.h"

namespace geom::parts {

struct BafflePlace {
    double t_mm = 0.0;        ///< along the travel
    double outer_y_mm = 0.0;  ///< box y of the bare outer face
    double air_y_mm = 0.0;    ///< box y of the air's plane face
    Volume bare_air;          ///< air behind it, by the field
};

/// The most and the least bare air that the travel allows.
struct BareRange {
    Volume least, most;
};
BareRange bare_range(const space::VolumeTable& table, const Baffle& baffle);

/// The place with `bare` air behind it; none when the travel does not reach it.
std::optional<BafflePlace> baffle_place(const space::VolumeTable& table, const Baffle& baffle, Volume bare);

/// Raises every part of {body < 0, y > plane_y} that does not hang together with the largest one to +h, so that
/// skin and table speak of one body. Returns the volume given up (whole voxels).
Volume keep_largest_piece(space::Field& body, double plane_y_mm);

}  // namespace geom::parts
