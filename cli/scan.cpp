#include "cli/scan.h"

#include "cli/scan_report.h"
#include "exports/ply.h"
#include "exports/scan_pictures.h"
#include "exports/write_files.h"
#include "geom/core/parallel.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;
using geom::Status;

namespace {

/// "gap" of "scans/gap.ply"; several: the first, and how many more.
std::string title_of(const ScanArguments& arguments) {
    std::string title = arguments.files.front().filename().string();
    if (arguments.files.size() > 1) title += fmt::format(" and {} more", arguments.files.size() - 1);
    return title;
}

/// What the command line alone can be told off for; empty when it is sound.
std::string problem_of(const ScanArguments& arguments) {
    if (arguments.clean.empty()) return {};
    if (arguments.clean.extension() != ".ply" && arguments.clean.extension() != ".PLY")
        return fmt::format("--clean: {} does not end in .ply", arguments.clean.string());
    for (const fs::path& file : arguments.files) {
        std::error_code ignored;
        if (fs::equivalent(file, arguments.clean, ignored))
            return fmt::format("--clean: {} is one of the scans read, which are never written over",
                               arguments.clean.string());
    }
    return {};
}

struct Told {
    geom::scan::ReadInUnit read;
    geom::scan::Diagnosis diagnosis;
    std::optional<MeshState> mesh;
    std::vector<fs::path> written;
};

Status write_clean(const ScanArguments& arguments, const Told& told) {
    if (told.mesh) return exports::write_whole(arguments.clean, exports::ply_of_mesh(told.mesh->mesh));
    return exports::write_whole(arguments.clean, exports::ply_of_surface(*told.diagnosis.surface));
}

Result<std::vector<fs::path>> write_pictures(const ScanArguments& arguments, const Told& told,
                                             const geom::Context& context) {
    std::string title = title_of(arguments);
    if (told.read.taken.by != geom::scan::UnitBy::Files)
        title += fmt::format(", {} as {}{}", told.read.taken.by == geom::scan::UnitBy::Statement ? "read" : "taken",
                             geom::scan::name_of(told.read.taken.unit),
                             told.read.taken.by == geom::scan::UnitBy::Habit ? " (unit not decided)" : "");
    const exports::ScanPictureInput input{title, told.diagnosis, told.read.scan.points,
                                          told.mesh && told.mesh->oriented};
    GAPWRIGHT_TRY(pictures, exports::scan_pictures(input, context));
    const std::string stem = exports::stem_of(arguments.files.front());
    std::vector<exports::NamedBytes> files;
    std::vector<fs::path> written;
    for (auto& picture : pictures) {
        files.push_back({fmt::format("{}-{}.{}", stem, picture.suffix, picture.ending), std::move(picture.bytes)});
        written.push_back(arguments.out / files.back().name);
    }
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    return written;
}

Result<Told> tell(const ScanArguments& arguments, const geom::Context& context) {
    std::optional<geom::scan::FileUnit> unit;
    if (!arguments.unit.empty()) unit = geom::scan::file_unit_named(arguments.unit);
    GAPWRIGHT_TRY(read, geom::scan::read_in_likeliest_unit(arguments.files, unit, context));
    GAPWRIGHT_TRY(diagnosis, geom::scan::diagnose(read.scan, context));
    if (!arguments.clean.empty() && diagnosis.no_surface) return *diagnosis.no_surface;
    Told told{std::move(read), std::move(diagnosis), {}, {}};
    if (!told.read.scan.triangles.empty()) {
        GAPWRIGHT_TRY(mesh, mesh_state(told.read.scan, context));
        told.mesh = std::move(mesh);
    }
    if (!arguments.out.empty()) {
        GAPWRIGHT_TRY(pictures, write_pictures(arguments, told, context));
        told.written = std::move(pictures);
    }
    if (!arguments.clean.empty()) {
        GAPWRIGHT_CHECK(write_clean(arguments, told));
        told.written.push_back(arguments.clean);
    }
    return told;
}

}  // namespace

int run_scan(const ScanArguments& arguments, const std::atomic<bool>& cancel) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    if (const std::string problem = problem_of(arguments); !problem.empty()) return print_usage_error(problem, form);
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && !arguments.json && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = {}};

    const auto told = tell(arguments, context);
    if (!told) {
        geom::Fault fault = told.error();
        if (fault.stage.empty()) fault.stage = "scan";
        return print_fault(fault, form);
    }
    const ScanReport report{told->read.scan, told->read.taken, told->diagnosis, told->mesh, told->written};
    if (arguments.json)
        fmt::print(stdout, "{}", scan_json(report));
    else if (!arguments.quiet)
        fmt::print(stdout, "{}", scan_text(report));
    return kMade;
}

}  // namespace cli
