// From made part to files: written beside the target, read back, judged, renamed. All or nothing: on any fault the
// folder is as it was. When only a fit check fails the files are named <name>.unproved.* and earlier good files stay.
#pragma once

#include "geom/check/verdict.h"
#include "geom/scan/placing.h"

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace exports {

struct InputFile {
    std::string name;  ///< as the job names it
    std::string sha256;
};

/// What the report needs besides part and verdict.
struct JobRecord {
    std::string name, part = "enclosure", version;
    std::vector<InputFile> inputs;
    std::map<std::string, std::string> resolved;     ///< every value used, dotted key to text, given or defaulted
    std::vector<geom::scan::FilePlacing> placing{};  ///< of each scan; paths as the job names them
};

struct Delivered {
    geom::check::Verdict verdict;
    std::vector<std::string> files;  ///< names inside the folder
    std::string report_json;         ///< text of report.json
    bool proved = true;              ///< false: fit check failed, files are named .unproved.
};

/// Faults: NotSound     a sound-solid check failed; nothing is left
///         CannotWrite  folder or file cannot be written
///         Interrupted
geom::Result<Delivered> deliver(const geom::parts::Made& made, const geom::parts::EnclosureRequest& request,
                                const geom::scan::Surface& surface, const JobRecord& job,
                                const std::filesystem::path& folder, const geom::Context& context);

std::string sha256_of_file(const std::filesystem::path& file);

}  // namespace exports
