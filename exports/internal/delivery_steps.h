// Delivery with the rooms it leans on as arguments, so that its own promise (all or nothing) is tested with verdicts
// and faults of every kind.
#pragma once

#include "exports/delivery.h"
#include "exports/pictures.h"
#include "geom/core/tri_mesh.h"

#include <functional>

namespace exports {

struct DeliverySteps {
    std::function<geom::Result<geom::TriMesh>(const geom::Brep&, geom::Length chord, const geom::Context&)> tessellate;
    std::function<geom::Result<geom::check::Verdict>(const geom::parts::Made&, const geom::parts::EnclosureRequest&,
                                                     const geom::scan::Surface&, const geom::check::Written&,
                                                     const geom::Context&)>
        judge;
    std::function<std::vector<geom::check::Caution>(const geom::parts::EnclosureRequest&, const geom::check::Verdict&)>
        cautions;
    std::function<geom::Result<std::vector<Picture>>(const PictureInput&, const geom::Context&)> pictures =
        make_pictures;
};

geom::Result<Delivered> deliver_by(const DeliverySteps& steps, const geom::parts::Made& made,
                                   const geom::parts::EnclosureRequest& request, const geom::scan::Surface& surface,
                                   const JobRecord& job, const std::filesystem::path& folder,
                                   const geom::Context& context);

}  // namespace exports
