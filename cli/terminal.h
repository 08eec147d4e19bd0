// How the program speaks: progress, faults and the summary of a made part. The only room that prints.
#pragma once

#include "exports/delivery.h"
#include "geom/core/context.h"

#include <chrono>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace cli {

/// Exit codes of the job-file page's table.
enum ExitCode {
    kMade = 0,
    kInternal = 1,
    kUsage = 2,
    kUnreadable = 3,
    kNoSuchPart = 4,
    kUnproved = 5,
    kInterrupted = 130,
};
ExitCode exit_code_of(geom::FaultCode code);
/// "BadJob"; for programs that read the JSON.
std::string_view name_of(geom::FaultCode code);

enum class FaultForm { Text, Json };
/// Text goes to stderr, JSON to stdout. Returns the exit code.
int print_fault(const geom::Fault& fault, FaultForm form);
/// A usage error in the same forms; returns 2.
int print_usage_error(std::string_view what, FaultForm form);

/// Measures stages; with `show` each top stage that ends also gives a line on stderr.
class StageClock : public geom::StageListener {
public:
    explicit StageClock(bool show) : show_(show) {}
    void stage_begins(std::string_view stage) override;
    void stage_ends(std::string_view stage) override;

    /// {"stages": [{"name", "seconds", "times"}], "total_seconds", "peak_memory_bytes"}, stages in order of first
    /// begin.
    std::string json() const;

private:
    using Clock = std::chrono::steady_clock;
    struct Timing {
        std::string name;
        double seconds = 0.0;
        int times = 0;
        std::vector<Clock::time_point> begun;  ///< of those under way
    };
    Timing& timing(std::string_view stage);

    bool show_;
    int depth_ = 0;
    Clock::time_point start_ = Clock::now();
    std::vector<Timing> timings_;
    mutable std::mutex mutex_;  ///< stages may end on any thread
};

/// The checks that failed, one to a line or two; empty when none did.
std::string failed_checks(const geom::check::Verdict& verdict);

/// How a summary begins: made, and how many checks passed or failed.
std::string verdict_line(const std::string& name, const geom::check::Verdict& verdict);

/// What is to be known of how the scans came together: pairs of points that do not agree to 2 mm, passes that were
/// fitted, meshes that were read as points; a line each, empty when there is nothing.
std::string placing_notes(const std::vector<geom::scan::FilePlacing>& files);

/// What a shop wants to read at once: volume, ledger, size, mass, checks (failed ones first), cautions, files.
std::string summary(const geom::parts::Enclosure& enclosure, const geom::parts::EnclosureRequest& request,
                    const exports::Delivered& delivered, const std::vector<geom::check::Caution>& cautions,
                    const std::filesystem::path& folder);

}  // namespace cli
