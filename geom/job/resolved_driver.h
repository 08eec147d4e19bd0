// A driver back from the values that a report says a job was made with.
#pragma once

#include "geom/sound/driver.h"

#include <map>
#include <optional>
#include <string>

namespace geom::job {

/// Name, displacement and what curves need: fs, qts, qes, qms, vas, sd, xmax, re, le, power, mms, cms, rms, bl. What is
/// not given, or not understood, is left out; none at all: the job had no driver. Of several the first.
std::optional<sound::Driver> driver_of_resolved(const std::map<std::string, std::string>& resolved);

}  // namespace geom::job
