// What the remarks at the head of a scan file say about its unit: comment lines of PLY, OBJ, OFF, PCD and text, the
// header and the name of an STL. No format makes them; many programs write them.
//
// Taken     a line that speaks of units and names one ("units: mm"); or a unit spelled out in the plural that counts
//           nothing ("millimetres", but not "thinned to 2 millimetres"). Remarks that name two units say nothing.
#pragma once

#include "geom/scan/unit.h"

#include <optional>
#include <string_view>

namespace geom::scan::internal {

/// `bytes` of the whole file; its first four kilobytes are looked at.
std::optional<FileUnit> unit_remark(std::string_view bytes);

}  // namespace geom::scan::internal
