// How much the gap can hold as asked, and what would free how much: each relief is the whole chain from surface to
// air run again with one thing changed, on a coarser grid, against the same grid unchanged.
#pragma once

#include "geom/parts/enclosure.h"

namespace geom::parts {

/// Net volume at the outermost baffle place, by the field alone.
Result<Volume> most_net_volume(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

/// Largest gain first; a limit or keep-out without which the room would leak is named with no figure (negative).
std::vector<Relief> reliefs(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

/// The reliefs as one sentence for a fault's hint.
std::string reliefs_text(const std::vector<Relief>& reliefs);

}  // namespace geom::parts
