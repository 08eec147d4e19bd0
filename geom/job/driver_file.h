// A driver's file by itself: the data sheet in TOML, lengths in mm unless `length_unit` says otherwise.
#pragma once

#include "geom/core/result.h"
#include "geom/sound/driver.h"

#include <filesystem>
#include <map>
#include <string>

namespace geom::job {

struct DriverFile {
    sound::Driver driver;
    std::map<std::string, std::string> resolved;  ///< "driver.fs" -> "48 Hz", given or defaulted
};

/// Faults: Unreadable  missing, not TOML (line), truncated
///         BadJob      unknown key (nearest known one, line), wrong type, missing key, value without meaning
Result<DriverFile> read_driver_file(const std::filesystem::path& path);

/// Whether the file is a job rather than a driver, by the sections that it has.
/// Faults: Unreadable  missing, not TOML
Result<bool> is_job_file(const std::filesystem::path& path);

}  // namespace geom::job
