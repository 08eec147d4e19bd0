// The cut list as a shop reads it: one board to a line, its leaning cuts below.
#pragma once

#include "geom/parts/enclosure.h"

#include <string>

namespace cli {

/// Empty without boards.
std::string cut_list(const geom::parts::Enclosure& enclosure, const geom::parts::Material& material);

}  // namespace cli
