// report.json: what was asked, what was made, what was measured and whether it passed. Nothing in it differs between
// two runs of the same job. Lengths in mm, volumes in litres, masses in kg, vehicle frame; the key says the unit.
#pragma once

#include "exports/delivery.h"

#include <string>
#include <vector>

namespace exports {

struct ReportInput {
    const geom::parts::Made& made;
    const geom::parts::EnclosureRequest& request;
    const geom::scan::Surface& surface;
    const geom::check::Verdict& verdict;
    const std::vector<geom::check::Caution>& cautions;
    const JobRecord& job;
    const std::vector<std::string>& files;  ///< names of all files of the delivery, the report's own included
    bool proved = true;
};

/// UTF-8, two blanks of indent, keys in the order of the job-file page. Numbers that are not finite become null.
std::string report_text(const ReportInput& input);

}  // namespace exports
