#include "cli/steps.h"

#include "geom/job/places.h"

#include <fmt/format.h>
#include <unistd.h>

#include <fstream>

namespace cli {

namespace fs = std::filesystem;
using geom::Fault;
using geom::FaultCode;

namespace {

/// The file as the job names it, so that the report does not depend on where the job lies.
std::string name_beside(const fs::path& file, const fs::path& folder) {
    const fs::path relative = file.lexically_relative(folder);
    return relative.empty() || file.is_absolute() != folder.is_absolute() ? file.generic_string()
                                                                          : relative.generic_string();
}

/// What to add to a later fault's hint when the scan's numbers look like another unit than the job states.
std::string unit_doubt(const geom::scan::RawScan& scan, geom::scan::FileUnit stated) {
    const geom::Vec3 size = geom::scan::middle_box(scan.points).size() / geom::scan::one(stated).mm();
    const auto guess = geom::scan::likely_units(size);
    if (guess.plausible.empty() || guess.plausible.front().unit == stated) return {};
    return fmt::format("if the scan is not in {}: its numbers look like {}; set [scan] length_unit",
                       geom::scan::name_of(stated), geom::scan::plausible_text(guess));
}

}  // namespace

geom::Result<geom::job::Job> job_of_part(const fs::path& file, const std::string& part, const geom::Context& context) {
    GAPWRIGHT_TRY(job, at_stage("job", geom::job::read_job(file, context)));
    if (job.part != part)
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: [job] part is \"{}\", and this command wants \"{}\"", file.filename().string(),
                                 job.part, part),
                     fmt::format("gapwright {} makes it", job.part),
                     {},
                     "job"};
    return std::move(job);
}

geom::Result<ScannedGap> scanned_gap(const geom::job::Job& job, const geom::Context& context, const Crop& cropped) {
    geom::scan::ReadOptions read = job.scan;
    read.any_extent = true;  // check_on_scan() judges it, and knows by the places which unit is meant
    GAPWRIGHT_TRY(placed, at_stage("scan", geom::scan::read_placed_scans(
                                               job.scans, {.join_by_fit = job.join_by_fit, .read = read}, context)));
    GAPWRIGHT_CHECK(at_stage("scan", geom::scan::check_on_scan(placed.scan, job.scan.unit, geom::job::places_of(job))));
    std::string doubt = unit_doubt(placed.scan, job.scan.unit);
    if (cropped) placed.scan = cropped(placed.scan);
    GAPWRIGHT_TRY(surface, with_doubt(doubt, at_stage("scan", geom::scan::estimate_surface(std::move(placed.scan),
                                                                                           job.surface, context))));
    return ScannedGap{std::move(surface), std::move(placed.files), std::move(doubt)};
}

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

exports::JobRecord record_of(const geom::job::Job& job, const std::vector<geom::scan::FilePlacing>& placing) {
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
    return record;
}

bool write_timings(const fs::path& file, const StageClock& clock) {
    std::ofstream stream(file, std::ios::binary | std::ios::trunc);
    stream << clock.json();
    stream.close();
    return static_cast<bool>(stream);
}

}  // namespace cli
