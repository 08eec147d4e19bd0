// What the reports of all parts share.
#pragma once

#include "exports/delivery.h"
#include "geom/core/text.h"

#include <nlohmann/json.hpp>

#include <vector>

namespace exports {

/// In mm.
inline nlohmann::ordered_json point_json(geom::Vec3 p, int digits = 4) {
    return nlohmann::ordered_json::array(
        {geom::rounded(p.x, digits), geom::rounded(p.y, digits), geom::rounded(p.z, digits)});
}
inline nlohmann::ordered_json direction_json(geom::Vec3 v) {
    return point_json(v, 6);
}

/// job, part, made_by, proved, units, inputs, resolved
nlohmann::ordered_json report_head(const JobRecord& job, bool proved);
nlohmann::ordered_json solid_json(const geom::check::Verdict& verdict);
nlohmann::ordered_json checks_json(const std::vector<geom::check::CheckLine>& lines);
nlohmann::ordered_json cautions_json(const std::vector<geom::check::Caution>& cautions);

}  // namespace exports
