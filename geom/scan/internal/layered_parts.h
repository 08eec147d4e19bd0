// Which parts of a surface lie in two layers, to be told to the user.
#pragma once

#include "geom/scan/surface.h"

namespace geom::scan::internal {

/// Parts of at least some dozens of samples, most samples first; parts nearer each other than 40 mm are one.
std::vector<Layered> layered_parts(const Surface& surface);

}  // namespace geom::scan::internal
