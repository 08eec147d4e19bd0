#include "cli/box.h"

#include "cli/steps.h"
#include "geom/core/text.h"

#include <fmt/format.h>

namespace cli {

using geom::Result;

namespace {

Result<MadePart> make(const PartArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "box", context));
    GAPWRIGHT_TRY(folder, target_folder(arguments, job));
    GAPWRIGHT_TRY(box, at_stage("part", geom::parts::make_box(*job.box, context)));
    exports::JobRecord record = record_of(job, {});
    if (box.request.solve) {
        const std::string key = geom::parts::name_of(*box.request.solve);
        record.resolved["box." + key] =
            geom::plain_number(geom::rounded(box.made.enclosure.solved.value_mm, 4)) + " mm (solved)";
    }
    const geom::parts::EnclosureRequest& request = box.made.request;
    GAPWRIGHT_TRY(delivered, at_stage("files", exports::deliver(box.made, request, {}, record, folder, context)));
    const auto cautions = geom::check::cautions(request, delivered.verdict);
    std::string told = summary(box.made.enclosure, request, delivered, cautions, folder);
    return MadePart{std::move(delivered), std::move(told)};
}

}  // namespace

int run_box(const PartArguments& arguments, const std::atomic<bool>& cancel) {
    return run_part(arguments, cancel, [&](const geom::Context& context) { return make(arguments, context); });
}

}  // namespace cli
