// What `gapwright scan` tells, as text for people and as JSON for programs.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/scan/diagnosis.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

/// A scan that came as triangles, as it stands.
struct MeshState {
    geom::TriMesh mesh;  ///< equal vertices joined, triangles with a repeated corner dropped
    bool closed = false, oriented = false;
    int pieces = 0;
    std::size_t border_edges = 0;         ///< of one triangle only
    std::size_t crowded_edges = 0;        ///< of three triangles and more
    std::size_t degenerate = 0;           ///< triangles without area
    std::vector<geom::Point3> crossings;  ///< places of the first few
    bool more_crossings = false;
    bool crossings_known = true;  ///< false: too many triangles to look
    double area_mm2 = 0.0;
    double volume_litres = 0.0;  ///< 0 unless closed and oriented
};

/// Faults: Interrupted, Internal
geom::Result<MeshState> mesh_state(const geom::scan::RawScan& scan, const geom::Context& context);

struct ScanReport {
    const geom::scan::RawScan& scan;
    const geom::scan::TakenUnit& taken;
    const geom::scan::Diagnosis& diagnosis;
    const std::optional<MeshState>& mesh;
    std::vector<std::filesystem::path> written;
};

std::string scan_text(const ScanReport& report);
/// UTF-8, two blanks of indent; lengths in mm, the key says the unit.
std::string scan_json(const ScanReport& report);

}  // namespace cli
