// All-or-nothing: files made in a hidden folder inside the target, moved into it together, undone when one cannot be.
#pragma once

#include "geom/core/result.h"

#include <filesystem>
#include <string>
#include <vector>

namespace exports {

/// The target folder, made if it is missing, with a hidden temporary folder in it (so that both are on one file
/// system). Unless keep() was called, whatever was made is removed again by the destructor, missing parents included.
class TargetFolder {
public:
    /// Faults: CannotWrite  names the folder and the system's reason
    static geom::Result<TargetFolder> open(const std::filesystem::path& folder);

    TargetFolder(TargetFolder&& other) noexcept;
    TargetFolder& operator=(TargetFolder&&) = delete;
    TargetFolder(const TargetFolder&) = delete;
    TargetFolder& operator=(const TargetFolder&) = delete;
    ~TargetFolder();

    const std::filesystem::path& temporary() const { return temporary_; }

    /// Moves the named files from the temporary folder into the target, replacing files of those names. On a fault
    /// every file is again what it was.
    /// Faults: CannotWrite
    geom::Status place(const std::vector<std::string>& names);

private:
    TargetFolder() = default;

    std::filesystem::path folder_, temporary_;
    std::vector<std::filesystem::path> created_;  ///< folders made by open(), outermost first
    bool keep_ = false;
};

/// A name that is safe as a file's: separators, control and reserved characters become '-', no leading dot or blank.
std::string file_stem(const std::string& name);

}  // namespace exports
