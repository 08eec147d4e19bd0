// Drawings of a ring: its layers, where it is cut from sheets, and its plane faces, each as DXF.
#pragma once

#include "exports/internal/file_names.h"
#include "geom/parts/ring.h"

#include <nlohmann/json.hpp>

#include <filesystem>
#include <string>
#include <vector>

namespace exports {

struct RingDrawings {
    std::vector<std::string> files;  ///< names in the folder
    nlohmann::ordered_json layers;   ///< of the report; null: the ring is one piece
};

/// <name>-layer-1-of-3.dxf, .., <name>-seat.dxf, <name>-front.dxf. A face that is not plane is left out: the seat of a
/// scanned foot, a front that a recess takes off whole.
/// Faults: CannotWrite
///         Internal    the kernel failed
geom::Result<RingDrawings> write_ring_drawings(const geom::parts::Ring& ring, const geom::parts::RingRequest& request,
                                               const Names& names, const std::filesystem::path& folder);

}  // namespace exports
