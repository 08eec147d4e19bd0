// A STEP file (ISO 10303-21) as text, held against what crashes readers of its meaning.
#pragma once

#include "geom/core/result.h"

#include <filesystem>

namespace geom::measure {

/// Whether the frame is whole (ISO-10303-21 to END-ISO-10303-21, one DATA section at least), every entity is named
/// once, and every reference names one.
/// Faults: Unreadable, with the line
Status check_step_text(const std::filesystem::path& file);

}  // namespace geom::measure
