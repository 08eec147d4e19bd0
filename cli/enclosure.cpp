#include "cli/enclosure.h"

#include "geom/core/parallel.h"
#include "geom/job/job.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <fstream>

namespace cli {

namespace fs = std::filesystem;
using geom::Fault;
using geom::FaultCode;
using geom::Result;

namespace {

struct Made {
    geom::job::Job job;
    geom::parts::Made made;
    exports::Delivered delivered;
    fs::path folder;
};

exports::JobRecord record_of(const geom::job::Job& job) {
    exports::JobRecord record;
    record.name = job.name;
    record.part = job.part;
    record.version = GAPWRIGHT_VERSION;
    const fs::path home = job.file.parent_path();
    for (const fs::path& file : job.input_files)
        record.inputs.push_back(
            {file == job.file ? file.filename().string() : file.lexically_relative(home).generic_string(),
             exports::sha256_of_file(file)});
    record.resolved = job.resolved;
    return record;
}

/// Told before the long work rather than after it: whether results could be written there at all.
geom::Status check_folder(const fs::path& folder) {
    const auto cannot = [&](const std::string& why) {
        return Fault{FaultCode::CannotWrite,
                     fmt::format("results cannot be written to {}: {}", folder.string(), why),
                     "name another folder with --out",
                     {},
                     "files"};
    };
    std::error_code error;
    fs::path there = fs::absolute(folder, error);
    while (!fs::exists(there, error) && there.has_relative_path()) there = there.parent_path();
    if (!fs::is_directory(there, error))
        return cannot(there == fs::absolute(folder, error) ? "it is a file, wanted a folder"
                                                           : there.string() + " is a file, wanted a folder");
    if (::access(there.c_str(), W_OK) != 0) return cannot("no right to write in " + there.string());
    return geom::Done{};
}

/// The whole way of a job.
Result<Made> make(const EnclosureArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, geom::job::read_job(arguments.job, context));
    const fs::path folder = arguments.out.empty() ? arguments.job.parent_path() / job.name : arguments.out;
    GAPWRIGHT_CHECK(check_folder(folder));
    GAPWRIGHT_TRY(raw, geom::scan::read_scans(job.scan_files, job.scan, context));
    GAPWRIGHT_TRY(surface, geom::scan::estimate_surface(std::move(raw), job.surface, context));
    GAPWRIGHT_TRY(made, geom::parts::make_enclosure(surface, job.enclosure, context));
    GAPWRIGHT_TRY(delivered, exports::deliver(made, job.enclosure, surface, record_of(job), folder, context));
    return Made{std::move(job), std::move(made), std::move(delivered), folder};
}

bool write_timings(const fs::path& file, const StageClock& clock) {
    std::ofstream stream(file, std::ios::binary | std::ios::trunc);
    stream << clock.json();
    stream.close();
    return static_cast<bool>(stream);
}

}  // namespace

int run_enclosure(const EnclosureArguments& arguments, const std::atomic<bool>& cancel) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = arguments.dump};

    const auto result = make(arguments, context);
    int exit = kMade;
    if (!result) {
        exit = print_fault(result.error(), form);
    } else if (arguments.json) {
        fmt::print(stdout, "{}", result->delivered.report_json);
        exit = result->delivered.proved ? kMade : kUnproved;
    } else {
        const auto cautions = geom::check::cautions(result->job.enclosure, result->delivered.verdict);
        if (!arguments.quiet)
            fmt::print(
                stdout, "{}",
                summary(result->made.enclosure, result->job.enclosure, result->delivered, cautions, result->folder));
        exit = result->delivered.proved ? kMade : kUnproved;
    }
    if (!arguments.timings.empty() && !write_timings(arguments.timings, clock)) {
        fmt::print(stderr, "gapwright: times cannot be written to {}\n", arguments.timings.string());
        if (exit == kMade || exit == kUnproved) exit = kInternal;
    }
    return exit;
}

}  // namespace cli
