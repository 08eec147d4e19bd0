#include "cli/capacity.h"

#include "cli/capacity_report.h"
#include "cli/kept_field.h"
#include "exports/write_files.h"
#include "geom/parts/sharp_edge.h"

#include <fmt/format.h>

#include <algorithm>

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
    return run_on_field(arguments, cancel, [&](const geom::Context& context) -> Result<ToldByField> {
        GAPWRIGHT_TRY(told, tell(arguments, context));
        return ToldByField{capacity_text(report_of(told)), capacity_json(report_of(told)), told.keep_note,
                           told.written};
    });
}

}  // namespace cli
