// What every command that makes a part from a job file does alike: its options, its folder, progress, and how the
// result is told.
#pragma once

#include "cli/terminal.h"
#include "geom/job/job.h"

#include <atomic>
#include <filesystem>
#include <functional>
#include <string>

namespace cli {

struct PartArguments {
    std::filesystem::path job;
    std::filesystem::path out;      ///< empty: a folder named like the job, beside the job file
    std::filesystem::path timings;  ///< empty: none written
    std::filesystem::path dump;     ///< empty: no dumps
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

struct MadePart {
    exports::Delivered delivered;
    std::string summary;  ///< for a person, on standard output
};

/// Where the results go, seen to be writable, and the folder for dumps made, before the long work.
/// Faults: CannotWrite
geom::Result<std::filesystem::path> target_folder(const PartArguments& arguments, const geom::job::Job& job);

/// Runs `make` and tells what came of it; returns the exit code.
int run_part(const PartArguments& arguments, const std::atomic<bool>& cancel,
             const std::function<geom::Result<MadePart>(const geom::Context&)>& make);

}  // namespace cli
