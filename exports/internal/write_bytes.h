// One place where bytes become a file, with every way it can fail turned into a fault.
#pragma once

#include "geom/core/result.h"

#include <filesystem>
#include <string_view>

namespace exports {

/// Faults: CannotWrite  names the file and the system's reason
geom::Status write_bytes(const std::filesystem::path& file, std::string_view bytes);

}  // namespace exports
