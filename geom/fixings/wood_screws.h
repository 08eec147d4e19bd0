// Wood and chipboard screws for boards: sizes, pilot holes, distances. All [common practice] unless a row says
// otherwise; the maker's sheet overrules.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"

#include <string>
#include <string_view>
#include <vector>

namespace geom::fixings {

struct WoodScrew {
    std::string name;  ///< "4.0"
    double d_mm = 0.0;
    double head_mm = 0.0;   ///< diameter of the countersunk head
    double pilot_mm = 0.0;  ///< in board, about 0.7 d
    double clear_mm = 0.0;  ///< hole of the part that is held
};
const std::vector<WoodScrew>& wood_screws();
/// Faults: BadJob  unknown size; the hint lists the known ones
Result<WoodScrew> find_wood_screw(std::string_view name);

/// Thread in the board that is counted on, at least.
Length least_engagement(const WoodScrew& screw);

}  // namespace geom::fixings
