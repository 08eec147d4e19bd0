#include "cli/enclosure.h"

#include "geom/core/parallel.h"
#include "geom/core/text.h"
#include "geom/job/job.h"
#include "geom/job/places.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
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
    std::vector<geom::scan::FilePlacing> placing;
    geom::parts::Made made;
    exports::Delivered delivered;
    fs::path folder;
};

/// The file as the job names it, so that the report does not depend on where the job lies.
std::string name_beside(const fs::path& file, const fs::path& folder) {
    const fs::path relative = file.lexically_relative(folder);
    return relative.empty() || file.is_absolute() != folder.is_absolute() ? file.generic_string()
                                                                          : relative.generic_string();
}

/// `resolved` with what the run itself found.
void note_solved(const geom::parts::Made& made, std::map<std::string, std::string>& resolved) {
    using What = geom::parts::Adjust::What;
    const auto& solved = made.enclosure.solved;
    const std::string value = geom::plain_number(std::round(solved.value_mm * 1e4) / 1e4) + " mm (solved)";
    switch (made.request.adjust.what) {
        case What::Baffle:
            resolved["enclosure.baffle.t"] = value;
            break;
        case What::Limit:
            resolved["space." + solved.what + ".moved"] = value;
            break;
        case What::Wall:
            resolved["enclosure.wall"] = value;
            break;
        case What::Fill:
            resolved["enclosure.fill.litres"] = fmt::format("{:.4f} L (solved)", solved.filled_litres);
            break;
    }
}

exports::JobRecord record_of(const geom::job::Job& job, const std::vector<geom::scan::FilePlacing>& placing,
                             const geom::parts::Made& made) {
    exports::JobRecord record;
    record.name = job.name;
    record.part = job.part;
    record.version = GAPWRIGHT_VERSION;
    const fs::path folder = job.file.has_parent_path() ? job.file.parent_path() : fs::path(".");
    const auto name_of = [&](const fs::path& file) {
        return name_beside(file.has_parent_path() ? file : fs::path(".") / file, folder);
    };
    for (const fs::path& file : job.input_files)
        record.inputs.push_back({name_of(file), exports::sha256_of_file(file)});
    record.placing = placing;
    for (auto& placed : record.placing) placed.path = name_of(placed.path);
    record.resolved = job.resolved;
    note_solved(made, record.resolved);
    return record;
}

/// Says at which stage a fault came up, where the room did not.
template <class T>
Result<T> at_stage(const char* stage, Result<T> result) {
    if (result || !result.error().stage.empty()) return result;
    Fault fault = std::move(result).error();
    fault.stage = stage;
    return fault;
}

/// What to add to a later fault's hint when the scan's numbers look like another unit than the job states.
std::string unit_doubt(const geom::scan::RawScan& scan, geom::scan::FileUnit stated) {
    const geom::Vec3 size = geom::scan::middle_box(scan.points).size() / geom::scan::one(stated).mm();
    const auto guess = geom::scan::likely_units(size);
    if (guess.plausible.empty() || guess.plausible.front().unit == stated) return {};
    return fmt::format("if the scan is not in {}: its numbers look like {}; set [scan] length_unit",
                       geom::scan::name_of(stated), geom::scan::plausible_text(guess));
}

template <class T>
Result<T> with_doubt(const std::string& doubt, Result<T> result) {
    if (result || doubt.empty()) return result;
    Fault fault = std::move(result).error();
    fault.hint += (fault.hint.empty() ? "" : "; ") + doubt;
    return fault;
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

geom::Status make_dump_folder(const fs::path& folder) {
    std::error_code error;
    if (!folder.empty()) fs::create_directories(folder, error);
    if (error)
        return Fault{FaultCode::CannotWrite,
                     fmt::format("no folder for dumps at {}: {}", folder.string(), error.message()),
                     "name another folder with --dump",
                     {},
                     "files"};
    return geom::Done{};
}

/// The whole way of a job.
Result<Made> make(const EnclosureArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, at_stage("job", geom::job::read_job(arguments.job, context)));
    const fs::path folder = arguments.out.empty() ? arguments.job.parent_path() / job.name : arguments.out;
    GAPWRIGHT_CHECK(check_folder(folder));
    GAPWRIGHT_CHECK(make_dump_folder(arguments.dump));
    geom::scan::ReadOptions read = job.scan;
    read.any_extent = true;  // check_on_scan() judges it, and knows by the places which unit is meant
    GAPWRIGHT_TRY(placed, at_stage("scan", geom::scan::read_placed_scans(
                                               job.scans, {.join_by_fit = job.join_by_fit, .read = read}, context)));
    GAPWRIGHT_CHECK(
        at_stage("scan", geom::scan::check_on_scan(placed.scan, job.scan.unit, geom::job::places_of(job))));
    const std::string doubt = unit_doubt(placed.scan, job.scan.unit);
    GAPWRIGHT_TRY(surface, with_doubt(doubt, at_stage("scan", geom::scan::estimate_surface(std::move(placed.scan),
                                                                                           job.surface, context))));
    GAPWRIGHT_TRY(made, with_doubt(doubt, at_stage("part", geom::parts::make_enclosure(surface, job.enclosure, context))));
    GAPWRIGHT_TRY(delivered,
                  at_stage("files", exports::deliver(made, made.request, surface, record_of(job, placed.files, made), folder,
                                    context)));
    return Made{std::move(job), std::move(placed.files), std::move(made), std::move(delivered), folder};
}

bool write_timings(const fs::path& file, const StageClock& clock) {
    std::ofstream stream(file, std::ios::binary | std::ios::trunc);
    stream << clock.json();
    stream.close();
    return static_cast<bool>(stream);
}

int print_made(const Made& made, const EnclosureArguments& arguments) {
    const auto& verdict = made.delivered.verdict;
    if (arguments.json) {
        fmt::print(stdout, "{}", made.delivered.report_json);
    } else if (!arguments.quiet) {
        const auto cautions = geom::check::cautions(made.made.request, verdict);
        fmt::print(stdout, "{}{}", placing_notes(made.placing),
                   summary(made.made.enclosure, made.made.request, made.delivered, cautions, made.folder));
    } else if (!made.delivered.proved) {
        fmt::print(stderr, "{}", failed_checks(verdict));
    }
    return made.delivered.proved ? kMade : kUnproved;
}

}  // namespace

int run_enclosure(const EnclosureArguments& arguments, const std::atomic<bool>& cancel) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = arguments.dump};

    const auto result = make(arguments, context);
    const int exit = result ? print_made(*result, arguments) : print_fault(result.error(), form);
    if (arguments.timings.empty() || write_timings(arguments.timings, clock)) return exit;
    fmt::print(stderr, "gapwright: the times cannot be written to {}\n", arguments.timings.string());
    return exit == kMade || exit == kUnproved ? kInternal : exit;
}

}  // namespace cli
