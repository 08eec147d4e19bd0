#include "cli/enclosure.h"

#include "cli/steps.h"
#include "geom/core/parallel.h"
#include "geom/core/text.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>

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

/// `resolved` with what the run itself found.
void note_solved(const geom::job::Job& job, const geom::parts::Made& made,
                 std::map<std::string, std::string>& resolved) {
    const auto note_rounder = [&](const char* key, geom::Length asked, geom::Length taken) {
        if (taken.mm() != asked.mm())
            resolved[key] =
                fmt::format("{} mm ({} mm asked)", geom::plain_number(taken.mm()), geom::plain_number(asked.mm()));
    };
    note_rounder("space.edge_radius", job.enclosure.room.edge_radius, made.request.room.edge_radius);
    note_rounder("space.inner_radius", job.enclosure.inner_radius, made.request.inner_radius);
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
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "enclosure", context));
    const fs::path folder = arguments.out.empty() ? arguments.job.parent_path() / job.name : arguments.out;
    GAPWRIGHT_CHECK(check_folder(folder));
    GAPWRIGHT_CHECK(make_dump_folder(arguments.dump));
    GAPWRIGHT_TRY(gap, scanned_gap(job, context));
    GAPWRIGHT_TRY(made, with_doubt(gap.doubt,
                                   at_stage("part", geom::parts::make_enclosure(gap.surface, job.enclosure, context))));
    exports::JobRecord record = record_of(job, gap.files);
    note_solved(job, made, record.resolved);
    GAPWRIGHT_TRY(delivered,
                  at_stage("files", exports::deliver(made, made.request, gap.surface, record, folder, context)));
    return Made{std::move(job), std::move(gap.files), std::move(made), std::move(delivered), folder};
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
