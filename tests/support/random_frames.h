// Directions and frames drawn at random, for benches that turn their scenes.
#pragma once

#include "geom/core/random.h"
#include "geom/core/units.h"
#include "geom/core/vec.h"

#include <cmath>
#include <numbers>

namespace support {

/// `n` tilted by up to `most_deg`, to any side.
inline geom::Vec3 leaning(geom::Random& random, geom::Vec3 n, double most_deg) {
    const geom::Vec3 side = any_perpendicular(n), other = cross(n, side);
    const double a = random.uniform(0.0, 2.0 * std::numbers::pi),
                 lean = geom::Angle::deg(random.uniform(0.0, most_deg)).rad();
    return unit(n * std::cos(lean) + (side * std::cos(a) + other * std::sin(a)) * std::sin(lean));
}

/// Anywhere within half a metre, turned any way.
inline geom::Frame random_frame(geom::Random& random) {
    const geom::Vec3 y = leaning(random, {0, 1, 0}, 180.0);
    const geom::Vec3 x = any_perpendicular(y);
    const double a = random.uniform(0.0, 2.0 * std::numbers::pi);
    const geom::Vec3 turned = unit(x * std::cos(a) + cross(y, x) * std::sin(a));
    return {
        {random.uniform(-500, 500), random.uniform(-500, 500), random.uniform(-500, 500)}, turned, y, cross(turned, y)};
}

}  // namespace support
