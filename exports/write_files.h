// Files written beside, then renamed: each is whole or as it was, several are all there or none.
#pragma once

#include "geom/core/result.h"

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace exports {

struct NamedBytes {
    std::string name;  ///< inside the folder
    std::string bytes;
};

/// Makes the folder where it is missing; on a fault it is as it was.
/// Faults: CannotWrite
geom::Status write_together(const std::filesystem::path& folder, const std::vector<NamedBytes>& files);

/// Faults: CannotWrite
geom::Status write_whole(const std::filesystem::path& file, std::string bytes);

/// "gap" of "scans/gap.ply", safe as the beginning of a file's name.
std::string stem_of(const std::filesystem::path& file);

}  // namespace exports
