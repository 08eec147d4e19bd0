// Several drivers of one kind that share a box, as one: n cones of one movement.
#pragma once

#include "geom/sound/derived.h"

namespace geom::sound {

/// `in_parallel` strings of `in_series` drivers each.
struct Wiring {
    int in_series = 1;
    int in_parallel = 1;

    constexpr int count() const { return in_series * in_parallel; }
};

/// fs and the Qs stay; areas, masses, volumes and powers add; re, le and bl are those that the amplifier meets. All
/// cones move alike, so that xmax stays. Half the amplifier's power in each of two cones gives twice the efficiency:
/// they load each other, as long as they stand nearer together than a quarter of a wave.
/// EXPECTS: both numbers of the wiring at least 1.
SmallSignal as_one(SmallSignal one, const Wiring& wiring);

}  // namespace geom::sound
