// The real rooms, plugged into deliver_by(); what happens in which order is told there.
#include "exports/delivery.h"

#include "exports/internal/delivery_steps.h"
#include "geom/check/verdict.h"
#include "geom/measure/brep_measure.h"

namespace exports {

geom::Result<Delivered> deliver(const geom::parts::Made& made, const geom::parts::EnclosureRequest& request,
                                const geom::scan::Surface& surface, const JobRecord& job,
                                const std::filesystem::path& folder, const geom::Context& context) {
    return deliver_by({geom::measure::tessellate, geom::check::judge, geom::check::cautions, make_pictures}, made,
                      request, surface, job, folder, context);
}

}  // namespace exports
