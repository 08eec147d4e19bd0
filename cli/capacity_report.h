// What `gapwright capacity` tells, as text for people, as JSON for programs, and as a plot.
#pragma once

#include "exports/delivery.h"
#include "exports/plot.h"
#include "geom/parts/capacity.h"
#include "geom/parts/directions.h"
#include "geom/parts/price_list.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

struct CapacityReport {
    const exports::JobRecord& job;
    const geom::parts::EnclosureRequest& request;
    const geom::space::RoomReport& room;
    const geom::parts::Capacity& capacity;
    const std::optional<geom::parts::PriceList>& prices;
    const std::optional<geom::parts::DirectionList>& directions;
    bool from_kept = false;  ///< told to people only: the JSON is the same either way
};

std::string capacity_text(const CapacityReport& report);
/// UTF-8, two blanks of indent; the key says the unit. Nothing in it differs from run to run.
std::string capacity_json(const CapacityReport& report);
exports::Plot capacity_plot(const CapacityReport& report);

}  // namespace cli
