#include "cli/enclosure.h"

#include "cli/steps.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <cmath>

namespace cli {

using geom::Result;

namespace {

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

/// The whole way of a job.
Result<MadePart> make(const PartArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "enclosure", context));
    GAPWRIGHT_TRY(folder, target_folder(arguments, job));
    GAPWRIGHT_TRY(gap, scanned_gap(job, context));
    GAPWRIGHT_TRY(made, with_doubt(gap.doubt,
                                   at_stage("part", geom::parts::make_enclosure(gap.surface, job.enclosure, context))));
    exports::JobRecord record = record_of(job, gap.files);
    note_solved(job, made, record.resolved);
    GAPWRIGHT_TRY(delivered,
                  at_stage("files", exports::deliver(made, made.request, gap.surface, record, folder, context)));
    const auto cautions = geom::check::cautions(made.request, delivered.verdict);
    std::string told = placing_notes(gap.files) + summary(made.enclosure, made.request, delivered, cautions, folder);
    return MadePart{std::move(delivered), std::move(told)};
}

}  // namespace

int run_enclosure(const PartArguments& arguments, const std::atomic<bool>& cancel) {
    return run_part(arguments, cancel, [&](const geom::Context& context) { return make(arguments, context); });
}

}  // namespace cli
