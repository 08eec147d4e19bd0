#include "cli/shortlist.h"

#include "cli/kept_field.h"
#include "cli/shortlist_report.h"
#include "exports/write_files.h"
#include "geom/core/parallel.h"
#include "geom/core/text.h"
#include "geom/job/driver_file.h"
#include "geom/parts/sharp_edge.h"

#include <fmt/format.h>

#include <algorithm>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;
namespace sound = geom::sound;

namespace {

constexpr std::size_t kMostDrivers = 2000;
constexpr std::size_t kCurvePoints = 121;
constexpr double kFrom_hz = 20.0, kTo_hz = 200.0;

struct Told {
    exports::JobRecord record;
    std::vector<Listed> rows;
    std::vector<std::string> unread;
    std::string sorted_by;
    std::string keep_note;
    std::vector<fs::path> written;
};

ShortlistReport report_of(const ShortlistArguments& arguments, const Told& told) {
    return {told.record, told.rows, told.sorted_by, arguments.qtc, arguments.at_hz, told.unread};
}

Result<std::vector<fs::path>> driver_files(const fs::path& folder) {
    std::vector<fs::path> files;
    std::error_code error;
    for (const auto& entry : fs::directory_iterator(folder, error))
        if (entry.path().extension() == ".toml" && entry.is_regular_file()) files.push_back(entry.path());
    const auto fault = [&](std::string what, std::string hint) {
        return geom::Fault{geom::FaultCode::Unreadable, std::move(what), std::move(hint), {}, "drivers"};
    };
    if (error)
        return fault(fmt::format("--drivers {}: {}", folder.string(), error.message()),
                     "name a folder of driver files");
    if (files.empty())
        return fault(fmt::format("--drivers {}: holds no .toml file, wanted driver files", folder.string()),
                     "one driver a file, as [driver] file of a job takes it");
    if (files.size() > kMostDrivers)
        return fault(
            fmt::format("--drivers {}: {} files, wanted at most {}", folder.string(), files.size(), kMostDrivers),
            "split the folder");
    std::sort(files.begin(), files.end());
    return files;
}

/// Drivers of the folder; a file that is a job is passed over, one that cannot be read is told.
Result<std::vector<Listed>> read_drivers(const ShortlistArguments& arguments, std::vector<std::string>& unread) {
    GAPWRIGHT_TRY(files, driver_files(arguments.drivers));
    std::vector<Listed> rows;
    for (const fs::path& file : files) {
        if (const auto is_job = geom::job::is_job_file(file); is_job && *is_job) continue;
        auto read = geom::job::read_driver_file(file);
        if (!read) {
            unread.push_back(read.error().what);
            continue;
        }
        Listed row;
        row.file = file.filename().string();
        row.driver = std::move(read->driver);
        rows.push_back(std::move(row));
    }
    if (rows.empty())
        return geom::Fault{geom::FaultCode::BadJob,
                           fmt::format("--drivers {}: no file is a driver{}", arguments.drivers.string(),
                                       unread.empty() ? "" : "; " + unread.front()),
                           "one driver a file, as [driver] file of a job takes it",
                           {},
                           "drivers"};
    return rows;
}

/// What a closed box of this driver wants, before it is known where it fits.
void add_wanted(Listed& row, const sound::SmallSignal& driver, double qtc) {
    const auto wanted = sound::closed_volume_for(driver, qtc);
    if (wanted)
        row.wanted = *wanted;
    else
        row.wanted_note = wanted.error().what;
}

void add_sound(const ShortlistArguments& arguments, Listed& row, const sound::SmallSignal& driver) {
    if (!row.fits() || row.fitting.place->net.mm3() <= 0.0) return;
    sound::Box box;
    box.net = row.fitting.place->net;
    const auto figures = sound::closed_figures(driver, box);
    if (!figures) {
        row.left_out.push_back(figures.error().what);
        return;
    }
    row.closed = *figures;
    auto at = sound::response(driver, box, {arguments.at_hz});
    if (at && !at->spl_most_db.empty()) row.most_db = at->spl_most_db.front();
    if (at) row.left_out.insert(row.left_out.end(), at->left_out.begin(), at->left_out.end());
    auto curves = sound::response(driver, box, sound::frequencies(kFrom_hz, kTo_hz, kCurvePoints));
    if (curves) row.curves = std::move(*curves);
}

/// Those that fit before those that do not; in each the rule, and what it cannot tell last.
void sort_rows(const ShortlistArguments& arguments, Told& told) {
    const auto worth = [&](const Listed& row) -> std::optional<double> {
        if (arguments.sort == "corner") return row.closed ? std::optional(row.closed->f3_hz) : std::nullopt;
        if (arguments.sort == "air") return row.wanted ? std::optional(row.wanted->litres()) : std::nullopt;
        if (arguments.sort == "size") return row.driver.flange_diameter.mm();
        return row.most_db ? std::optional(-*row.most_db) : std::nullopt;
    };
    std::stable_sort(told.rows.begin(), told.rows.end(), [&](const Listed& a, const Listed& b) {
        if (a.fits() != b.fits()) return a.fits();
        const auto x = worth(a), y = worth(b);
        if (x.has_value() != y.has_value()) return x.has_value();
        return x && *x < *y;
    });
    told.sorted_by = arguments.sort == "corner" ? "the lowest corner first"
                     : arguments.sort == "air"  ? "the least air wanted first"
                     : arguments.sort == "size" ? "the smallest flange first"
                                                : fmt::format("the most output at {} Hz within xmax and power first",
                                                              geom::plain_number(arguments.at_hz));
}

geom::Status write_files(const ShortlistArguments& arguments, const std::string& job, Told& told) {
    const ShortlistReport report = report_of(arguments, told);
    const std::string stem = exports::stem_of(fs::path(job + ".job")) + "-shortlist";
    std::vector<exports::NamedBytes> files{{stem + ".json", shortlist_json(report)}};
    if (const auto plot = shortlist_plot(report)) files.push_back({stem + ".svg", exports::plot_svg(*plot)});
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    for (const auto& file : files) told.written.push_back(arguments.out / file.name);
    return geom::Done{};
}

Result<Told> tell(const ShortlistArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "enclosure", context));
    if (!arguments.out.empty()) GAPWRIGHT_CHECK(check_folder(arguments.out));
    GAPWRIGHT_CHECK(geom::parts::check_sharp_edges(job.enclosure));
    if (const std::size_t more = job.enclosure.more_drivers.size(); more > 0)
        return geom::Fault{geom::FaultCode::BadJob,
                           fmt::format("{}: has {} drivers, and a shortlist weighs one by one; wanted at most one",
                                       arguments.job.filename().string(), more + 1),
                           "keep one [driver], whose centre counts; for several of a kind make the enclosure",
                           {},
                           "job"};
    Told told;
    GAPWRIGHT_TRY(rows, read_drivers(arguments, told.unread));
    told.rows = std::move(rows);
    ScanOnDemand scan(job, context);
    GAPWRIGHT_TRY(field, field_of(job, arguments.keep, scan, context));
    told.keep_note = field.keep_note;
    told.record = record_of(job, {});
    {
        const geom::Stage stage(context, "drivers");
        GAPWRIGHT_TRY(list, with_doubt(scan.doubt(), geom::parts::Shortlister::over(field.gap, job.enclosure)));
        geom::parallel_for(told.rows.size(), 1, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i) {
                if (context.is_cancelled()) return;
                Listed& row = told.rows[i];
                const sound::SmallSignal small = sound::derived(row.driver);
                add_wanted(row, small, arguments.qtc);
                row.fitting = list.fit(row.driver, row.wanted);
                add_sound(arguments, row, small);
            }
        });
    }
    if (context.is_cancelled()) return geom::Context::interrupted();
    sort_rows(arguments, told);
    if (!arguments.out.empty()) GAPWRIGHT_CHECK(write_files(arguments, job.name, told));
    return told;
}

}  // namespace

int run_shortlist(const ShortlistArguments& arguments, const std::atomic<bool>& cancel) {
    return run_on_field(arguments, cancel, [&](const geom::Context& context) -> Result<ToldByField> {
        GAPWRIGHT_TRY(told, tell(arguments, context));
        return ToldByField{shortlist_text(report_of(arguments, told)), shortlist_json(report_of(arguments, told)),
                           told.keep_note, told.written};
    });
}

}  // namespace cli
