// Fillings of a finished box as an option writes them, clauses with commas between:
//
//   grain   "mass 8.41 kg, bulk 0.672 kg/L"                 what the scale showed, and the bulk density
//           "mass 9.10 kg, empty 0.69 kg, bulk ..."         weighed together with something
//           "..., bulk 1.344 kg in 2 L"                     the bulk density as it was found
//           "..., bulk 0.672 kg/L within 1 %"               how well it is known; default: kSettling_rel
//   water   "12.4 L", "12.37 kg", or "mass 12.9 kg, empty 0.5 kg"
//
// A reading is trusted to one unit of its last digit, unless the rules say otherwise.
#pragma once

#include "geom/core/result.h"
#include "geom/measure/as_built.h"

#include <optional>
#include <string_view>

namespace geom::job {

struct FillingRules {
    std::optional<double> scale_off_kg;  ///< half a span, of every reading in kg
    std::optional<double> settling_rel;  ///< of bulk densities that do not say it themselves
};

/// Faults: BadJob  a clause that is not known or stands twice, one that is missing, a quantity that is none
Result<measure::Filling> read_grain(std::string_view text, const FillingRules& rules = {});
Result<measure::Filling> read_water(std::string_view text, const FillingRules& rules = {});

}  // namespace geom::job
