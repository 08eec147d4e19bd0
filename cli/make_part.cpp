#include "cli/make_part.h"

#include "cli/steps.h"
#include "geom/core/parallel.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>

namespace cli {

geom::Result<std::filesystem::path> target_folder(const PartArguments& arguments, const geom::job::Job& job) {
    const std::filesystem::path folder = arguments.out.empty() ? arguments.job.parent_path() / job.name : arguments.out;
    GAPWRIGHT_CHECK(check_folder(folder));
    std::error_code error;
    if (!arguments.dump.empty()) std::filesystem::create_directories(arguments.dump, error);
    if (error)
        return geom::Fault{geom::FaultCode::CannotWrite,
                           fmt::format("no folder for dumps at {}: {}", arguments.dump.string(), error.message()),
                           "name another folder with --dump",
                           {},
                           "files"};
    return folder;
}

namespace {

int print_made(const MadePart& made, const PartArguments& arguments) {
    if (arguments.json)
        fmt::print(stdout, "{}", made.delivered.report_json);
    else if (!arguments.quiet)
        fmt::print(stdout, "{}", made.summary);
    else if (!made.delivered.proved)
        fmt::print(stderr, "{}", failed_checks(made.delivered.verdict));
    return made.delivered.proved ? kMade : kUnproved;
}

}  // namespace

int run_part(const PartArguments& arguments, const std::atomic<bool>& cancel,
             const std::function<geom::Result<MadePart>(const geom::Context&)>& make) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = arguments.dump};

    const auto result = make(context);
    const int exit = result ? print_made(*result, arguments) : print_fault(result.error(), form);
    if (arguments.timings.empty() || write_timings(arguments.timings, clock)) return exit;
    fmt::print(stderr, "gapwright: the times cannot be written to {}\n", arguments.timings.string());
    return exit == kMade || exit == kUnproved ? kInternal : exit;
}

}  // namespace cli
