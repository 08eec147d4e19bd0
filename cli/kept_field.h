// The gap of a job as fields, worked out once: from the folder of --keep where it lies there under the same key, or
// from the scan.
#pragma once

#include "cli/steps.h"
#include "geom/parts/capacity.h"

#include <atomic>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace cli {

/// The scan is read when something asks for it, and once. Keeps references.
class ScanOnDemand {
public:
    ScanOnDemand(const geom::job::Job& job, const geom::Context& context) : job_(job), context_(context) {}
    geom::Result<const ScannedGap*> get();
    std::string doubt() const { return scanned_ ? scanned_->doubt : std::string(); }

private:
    const geom::job::Job& job_;
    const geom::Context& context_;
    std::optional<ScannedGap> scanned_;
};

struct FieldOfJob {
    geom::parts::GapField gap;
    bool from_kept = false;
    std::string keep_note;  ///< why a kept field was not taken, or could not be kept; may be empty
};
/// `keep`: folder; empty: nothing is kept.
/// Faults: those of the scan and of geom::parts::gap_field()
geom::Result<FieldOfJob> field_of(const geom::job::Job& job, const std::filesystem::path& keep, ScanOnDemand& scan,
                                  const geom::Context& context);

/// What every command that tells of a gap by its field alone takes.
struct FieldArguments {
    std::filesystem::path job;
    std::filesystem::path out;      ///< folder for plot and JSON; empty: none written
    std::filesystem::path keep;     ///< folder for the kept field; empty: none kept
    std::filesystem::path timings;  ///< empty: none written
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};
/// What such a command says.
struct ToldByField {
    std::string text, json;
    std::string keep_note;
    std::vector<std::filesystem::path> written;
};
/// Runs `tell` and prints what comes of it; returns the exit code.
int run_on_field(const FieldArguments& arguments, const std::atomic<bool>& cancel,
                 const std::function<geom::Result<ToldByField>(const geom::Context&)>& tell);

}  // namespace cli
