#include "cli/kept_field.h"

#include "exports/kept_gap.h"
#include "exports/write_files.h"
#include "geom/core/parallel.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;

namespace {

bool starts_with_any(const std::string& key, std::initializer_list<std::string_view> beginnings) {
    return std::any_of(beginnings.begin(), beginnings.end(), [&](std::string_view b) { return key.rfind(b, 0) == 0; });
}

/// Everything the field of a job depends on. Every value counts but those that are known not to reach the field, so
/// that a new key counts by itself; files count by what is in them; so does the very program.
std::string key_of(const geom::job::Job& job) {
    std::string text = fmt::format("gapwright {}\n{}\n", GAPWRIGHT_VERSION, exports::sha256_of_file("/proc/self/exe"));
    const fs::path folder = job.file.parent_path();
    const auto is_driver = [&](const fs::path& file) {
        return std::any_of(job.resolved.begin(), job.resolved.end(), [&](const auto& value) {
            return value.first.rfind("driver", 0) == 0 && value.first.ends_with(".file") &&
                   file == folder / value.second;
        });
    };
    for (const fs::path& file : job.input_files)
        if (file != job.file && !is_driver(file)) text += exports::sha256_of_file(file) + "\n";
    for (const auto& [name, value] : job.resolved)
        if (!starts_with_any(name, {"driver", "load.", "job.name", "enclosure.net_volume", "enclosure.tolerance"}))
            text += fmt::format("{} = {}\n", name, value);
    return exports::sha256_of(text);
}

}  // namespace

Result<const ScannedGap*> ScanOnDemand::get() {
    if (!scanned_) {
        GAPWRIGHT_TRY(scanned, scanned_gap(job_, context_));
        scanned_ = std::move(scanned);
    }
    return &*scanned_;
}

Result<FieldOfJob> field_of(const geom::job::Job& job, const fs::path& keep, ScanOnDemand& scan,
                            const geom::Context& context) {
    FieldOfJob field;
    fs::path file;
    std::string key;
    if (!keep.empty()) {
        const geom::Stage stage(context, "kept field");
        file = keep / (exports::stem_of(fs::path(job.name + ".field")) + ".field");
        key = key_of(job);
        exports::KeptGap kept = exports::load_gap(file, key);
        field.keep_note = kept.note;
        if (kept.gap) {
            field.gap = std::move(*kept.gap);
            field.from_kept = true;
            return field;
        }
    }
    GAPWRIGHT_TRY(scanned, scan.get());
    GAPWRIGHT_TRY(gap, with_doubt(scanned->doubt, geom::parts::gap_field(scanned->surface, job.enclosure, context)));
    if (!file.empty()) {
        const std::string why_not = exports::keep_gap(file, key, gap);
        if (!why_not.empty()) field.keep_note += (field.keep_note.empty() ? "" : "\n") + why_not;
    }
    field.gap = std::move(gap);
    return field;
}

int run_on_field(const FieldArguments& arguments, const std::atomic<bool>& cancel,
                 const std::function<Result<ToldByField>(const geom::Context&)>& tell) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && !arguments.json && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = {}};

    const auto told = tell(context);
    int exit = kMade;
    if (!told) {
        exit = print_fault(told.error(), form);
    } else if (arguments.json) {
        if (!told->keep_note.empty() && !arguments.quiet) fmt::print(stderr, "gapwright: {}\n", told->keep_note);
        fmt::print(stdout, "{}", told->json);
    } else if (!arguments.quiet) {
        if (!told->keep_note.empty()) fmt::print(stderr, "gapwright: {}\n", told->keep_note);
        fmt::print(stdout, "{}", told->text);
        for (const fs::path& file : told->written) fmt::print(stdout, "written      {}\n", file.string());
    }
    if (arguments.timings.empty() || write_timings(arguments.timings, clock)) return exit;
    fmt::print(stderr, "gapwright: the times cannot be written to {}\n", arguments.timings.string());
    return exit == kMade ? kInternal : exit;
}

}  // namespace cli
