// Which shell lies in which, and what that makes of them.
#pragma once

#include "geom/measure/shells.h"

#include <vector>

namespace geom::measure::internal {

struct Nesting {
    std::vector<int> within;         ///< of each shell: the smallest one it lies in, or -1
    std::vector<int> winding;        ///< how often all shells together run round the room just inside of it
    bool inside_out = false;         ///< all outermost shells faced inwards; `winding` is that of the turned shape
    std::vector<std::size_t> alike;  ///< shells inside another one that face the same way as it
    std::vector<std::size_t> loose;  ///< outermost shells that face inwards while others do not
    /// Room surrounded once or more; room surrounded an odd number of times.
    double once_or_more_mm3 = 0.0, odd_mm3 = 0.0;
};

/// `counts`: the shells that enclose anything; the others are in nothing. Open ones are closed by their lids.
Nesting nest(const Shells& shells, const std::vector<bool>& counts);

}  // namespace geom::measure::internal
