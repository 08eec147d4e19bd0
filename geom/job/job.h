// The job file and the driver file: TOML 1.0. Unknown keys are faults that name the nearest known one and the line;
// keys whose work is not built yet are refused by name; every value is resolved to a unit.
#pragma once

#include "geom/parts/box.h"
#include "geom/parts/enclosure.h"
#include "geom/parts/ring_foot.h"
#include "geom/scan/placing.h"
#include "geom/scan/read.h"

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace geom::job {

/// What a job of part = "ring" asks for.
struct RingJob {
    parts::RingRequest request;
    std::optional<parts::RingFootOptions> foot;  ///< the seat is scanned
    std::optional<parts::GrilleRoom> grille_room;
};

struct Job {
    std::filesystem::path file;
    std::string name;
    std::string part;                   ///< "enclosure", "ring" or "box"; others are refused until they are built
    std::vector<scan::ScanFile> scans;  ///< paths resolved against the job's folder; each with its place
    bool join_by_fit = false;           ///< scans after the first are brought to it where they overlap
    scan::ReadOptions scan;             ///< unit is that of [scan]; places are those of `scans`
    scan::SurfaceOptions surface;
    parts::EnclosureRequest enclosure;
    /// Of part = "ring"; of `enclosure` then only the room's limits, keep-outs and clearance count.
    std::optional<RingJob> ring;
    std::optional<parts::BoxRequest> box;            ///< of part = "box"; `enclosure` is in it
    std::vector<std::filesystem::path> input_files;  ///< job, scans, driver, meshes: for names and hashes
    std::map<std::string, std::string> resolved;     ///< dotted key -> text, given or defaulted
};

/// Faults: Unreadable  missing, not TOML (line), truncated
///         BadJob      unknown key (nearest known one, line), wrong type, missing key, value without meaning
///         NotBuilt    a key of the contract whose work is not built yet
Result<Job> read_job(const std::filesystem::path& file, const Context& context);

}  // namespace geom::job
