// The gap of a job as fields, worked out once: from the folder of --keep where it lies there under the same key, or
// from the scan.
#pragma once

#include "cli/steps.h"
#include "geom/parts/capacity.h"

#include <optional>
#include <string>

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

}  // namespace cli
