// The ring that tests of rings begin with.
#pragma once

#include "geom/parts/ring.h"

#include <numbers>

namespace geom::parts::test {

constexpr double kPi = std::numbers::pi;

inline Length mm(double value) {
    return Length::mm(value);
}

/// Level, outside 200, bore 140, 20 high, on the plane z = 0; no holes.
inline RingRequest plain_ring() {
    RingRequest request;
    request.seat = {{{0, 0, 0}, {0, 0, 1}}, round_outline(mm(200)), {}};
    request.driver.name = "test driver";
    request.driver.cutout_diameter = mm(140);
    request.driver.flange_diameter = mm(170);
    request.height = mm(20);
    request.up = {0, 1, 0};
    return request;
}

}  // namespace geom::parts::test
