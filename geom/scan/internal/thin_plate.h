// The thin plate over part of a square raster: least sum of squared second differences plus squared distances to what
// is known of its heights, with free ends.
#pragma once

#include <vector>

namespace geom::scan::internal {

/// Heights on the cells of `part` (0 elsewhere). `weight` of a known height, 0 where nothing is known; `stiffness`
/// weighs second differences against heights: what is shorter than about the fourth root of its ratio to the weight, in
/// cells, is smoothed away. Every connected piece of `part` should hold three known heights that are not in a line;
/// where it does not, the plate is level. Source: Duchon 1977, Wahba 1990 for the smoothing form (cited from memory);
/// solved as one sparse system.
std::vector<float> thin_plate(int n, const std::vector<unsigned char>& part, const std::vector<float>& known,
                              const std::vector<float>& weight, double stiffness);

}  // namespace geom::scan::internal
