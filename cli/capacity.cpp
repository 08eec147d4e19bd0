#include "cli/capacity.h"

#include "cli/capacity_report.h"
#include "cli/kept_field.h"
#include "exports/write_files.h"
#include "geom/core/parallel.h"
#include "geom/parts/sharp_edge.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;

namespace {

/// How many of the dearest constraints are tried two at a time.
constexpr std::size_t kPairsOf = 4;

struct Told {
    geom::job::Job job;
    exports::JobRecord record;
    geom::space::RoomReport room;
    geom::parts::Capacity capacity;
    std::optional<geom::parts::PriceList> prices;
    std::optional<geom::parts::DirectionList> directions;
    bool from_kept = false;
    std::string keep_note;
    std::vector<fs::path> written;
};

CapacityReport report_of(const Told& told) {
    return {told.record, told.job.enclosure, told.room, told.capacity, told.prices, told.directions, told.from_kept};
}

geom::Status write_files(const CapacityArguments& arguments, Told& told) {
    const CapacityReport report = report_of(told);
    const std::string stem = exports::stem_of(fs::path(told.job.name + ".job"));
    const std::vector<exports::NamedBytes> files{{stem + "-capacity.svg", exports::plot_svg(capacity_plot(report))},
                                                 {stem + "-capacity.json", capacity_json(report)}};
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    for (const auto& file : files) told.written.push_back(arguments.out / file.name);
    return geom::Done{};
}

Result<Told> tell(const CapacityArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "enclosure", context));
    if (!arguments.out.empty()) GAPWRIGHT_CHECK(check_folder(arguments.out));
    Told told;
    told.job = std::move(job);
    GAPWRIGHT_CHECK(geom::parts::check_sharp_edges(told.job.enclosure));
    ScanOnDemand scan(told.job, context);
    GAPWRIGHT_TRY(field, field_of(told.job, arguments.keep, scan, context));
    const geom::parts::GapField& gap = field.gap;
    told.from_kept = field.from_kept;
    told.keep_note = field.keep_note;
    told.room = gap.room.report;
    told.record = record_of(told.job, {});
    {
        const geom::Stage stage(context, "curve");
        GAPWRIGHT_TRY(capacity, with_doubt(scan.doubt(), geom::parts::capacity_of(gap, told.job.enclosure)));
        told.capacity = std::move(capacity);
    }
    if (context.is_cancelled()) return geom::Context::interrupted();
    if (arguments.prices || arguments.pairs) {
        GAPWRIGHT_TRY(scanned, scan.get());
        geom::parts::PriceOptions options;
        if (told.capacity.asked) options.place_mm = told.capacity.asked->t_mm;
        if (arguments.pairs) options.pairs_of = kPairsOf;
        GAPWRIGHT_TRY(prices, geom::parts::price_list(scanned->surface, told.job.enclosure, options, context));
        told.prices = std::move(prices);
    }
    if (arguments.directions) {
        GAPWRIGHT_TRY(scanned, scan.get());
        GAPWRIGHT_TRY(directions, geom::parts::directions(scanned->surface, told.job.enclosure, context));
        told.directions = std::move(directions);
    }
    if (!arguments.out.empty()) GAPWRIGHT_CHECK(write_files(arguments, told));
    return told;
}

}  // namespace

int run_capacity(const CapacityArguments& arguments, const std::atomic<bool>& cancel) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && !arguments.json && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = {}};

    const auto told = tell(arguments, context);
    int exit = kMade;
    if (!told) {
        exit = print_fault(told.error(), form);
    } else {
        if (!told->keep_note.empty() && !arguments.quiet) fmt::print(stderr, "gapwright: {}\n", told->keep_note);
        if (arguments.json)
            fmt::print(stdout, "{}", capacity_json(report_of(*told)));
        else if (!arguments.quiet)
            fmt::print(stdout, "{}", capacity_text(report_of(*told)));
        if (!arguments.json && !arguments.quiet)
            for (const fs::path& file : told->written) fmt::print(stdout, "written      {}\n", file.string());
    }
    if (arguments.timings.empty() || write_timings(arguments.timings, clock)) return exit;
    fmt::print(stderr, "gapwright: the times cannot be written to {}\n", arguments.timings.string());
    return exit == kMade ? kInternal : exit;
}

}  // namespace cli
