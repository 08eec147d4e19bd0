// What the reports of all parts share.
#pragma once

#include "exports/delivery.h"

#include <nlohmann/json.hpp>

#include <vector>

namespace exports {

/// job, part, made_by, proved, units, inputs, resolved
nlohmann::ordered_json report_head(const JobRecord& job, bool proved);
nlohmann::ordered_json solid_json(const geom::check::Verdict& verdict);
nlohmann::ordered_json checks_json(const std::vector<geom::check::CheckLine>& lines);
nlohmann::ordered_json cautions_json(const std::vector<geom::check::Caution>& cautions);

}  // namespace exports
