// From made ring to files, as deliver() does for an enclosure: all or nothing, judged as re-read.
#pragma once

#include "exports/delivery.h"
#include "geom/check/ring_fit.h"

namespace exports {

/// <name>.step, <name>.stl, drawings of layers and plane faces, pictures and report.json. Judged with what lies round
/// it, where that is given.
/// Faults: NotSound     a sound-solid check failed; nothing is left
///         CannotWrite  folder or file cannot be written
///         Interrupted
geom::Result<Delivered> deliver_ring(const geom::parts::Ring& ring, const geom::parts::RingRequest& request,
                                     const std::optional<geom::check::RingSurroundings>& around, const JobRecord& job,
                                     const std::filesystem::path& folder, const geom::Context& context);

}  // namespace exports
