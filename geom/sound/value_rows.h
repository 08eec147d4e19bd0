// Everything known of a driver as rows for reports, in the units that data sheets use.
#pragma once

#include "geom/sound/derived.h"

#include <string>
#include <vector>

namespace geom::sound {

struct ValueRow {
    const char* name;
    double value = 0.0;
    const char* unit;  ///< "" of a ratio
    bool is_given = false;
    std::string from;  ///< "given", or what it follows from
};
std::vector<ValueRow> value_rows(const SmallSignal& driver);

}  // namespace geom::sound
