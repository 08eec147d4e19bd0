// Grooves for round cords, and the flat that tape wants.
//
// Sizes   [common practice] depth 0.75 of the cord's diameter, so that it is squeezed by a quarter; width 1.35 of it,
// so
//         that it fills 78 % of the groove. Between a groove and any hole or edge 1.5 mm stay; tape wants 6 mm of flat.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/parts/internal/contour.h"

namespace geom::parts {

constexpr double kBesideGroove_mm = 1.5;

struct GrooveSize {
    double cord_mm = 0.0, width_mm = 0.0, depth_mm = 0.0;
};
/// None with tape.
inline std::optional<GrooveSize> groove_of(const Seal& seal) {
    if (!seal.cord) return std::nullopt;
    const double d = seal.cord->mm();
    return GrooveSize{.cord_mm = d, .width_mm = 1.35 * d, .depth_mm = 0.75 * d};
}
/// The thickest cord, in tenths of a millimetre, whose groove fits into a flat of `room_mm`; 0: none.
inline double thickest_cord_mm(double room_mm) {
    return std::max(0.0, std::floor((room_mm - 2.0 * kBesideGroove_mm) / 1.35 * 10.0 + 1e-9) / 10.0);
}

/// The two edges of a groove that runs along a loop, counter-clockwise.
struct GrooveLoops {
    Loop inner, outer;
};

}  // namespace geom::parts
