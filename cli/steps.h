// What the subcommands that work on a job file share: reading its scan, checking its folder, its inputs for a report.
#pragma once

#include "cli/terminal.h"
#include "exports/delivery.h"
#include "geom/job/job.h"

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

namespace cli {

/// Says at which stage a fault came up, where the room did not.
template <class T>
geom::Result<T> at_stage(const char* stage, geom::Result<T> result) {
    if (result || !result.error().stage.empty()) return result;
    geom::Fault fault = std::move(result).error();
    fault.stage = stage;
    return fault;
}

/// Adds `doubt`, when there is one, to a fault's hint.
template <class T>
geom::Result<T> with_doubt(const std::string& doubt, geom::Result<T> result) {
    if (result || doubt.empty()) return result;
    geom::Fault fault = std::move(result).error();
    fault.hint += (fault.hint.empty() ? "" : "; ") + doubt;
    return fault;
}

/// Reads a job whose part is the command's.
/// Faults: those of read_job(); BadJob  its part is another's: which command makes that
geom::Result<geom::job::Job> job_of_part(const std::filesystem::path& file, const std::string& part,
                                         const geom::Context& context);

struct ScannedGap {
    geom::scan::Surface surface;
    std::vector<geom::scan::FilePlacing> files;
    std::string doubt;  ///< for later faults: the scan's numbers look like another unit than the job states
};
/// The job's scans read, placed, checked against its places and made a surface; with `cropped`, of what that leaves.
/// Faults: those of the scan room
using Crop = std::function<geom::scan::RawScan(const geom::scan::RawScan&)>;
geom::Result<ScannedGap> scanned_gap(const geom::job::Job& job, const geom::Context& context, const Crop& cropped = {});

/// Told before the long work rather than after it: whether results could be written there at all.
/// Faults: CannotWrite
geom::Status check_folder(const std::filesystem::path& folder);

/// Names relative to the job's folder, hashes of the inputs.
exports::JobRecord record_of(const geom::job::Job& job, const std::vector<geom::scan::FilePlacing>& placing);

/// False when the file cannot be written.
bool write_timings(const std::filesystem::path& file, const StageClock& clock);

}  // namespace cli
