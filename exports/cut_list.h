// The cut list of a box from boards as a table: CSV, one line an edge of each board, for a spreadsheet.
//
// Columns   board, side, thickness, length and width of the blank (mm), areas of both faces (cm2), volume (litres) and
//           mass (kg) before holes; then the edge: what it meets, its length in both faces (mm), the bevel from square
//           (deg, positive: the outer face is the larger) and the corner to the next edge (deg). A bent side has one
//           line, with the length round its two faces.
#pragma once

#include "geom/parts/enclosure.h"

#include <filesystem>
#include <string>
#include <vector>

namespace exports {

std::string cut_list_text(const std::vector<geom::parts::Board>& boards, const geom::parts::Material& material);

/// Faults: CannotWrite
geom::Status write_cut_list_csv(const std::vector<geom::parts::Board>& boards, const geom::parts::Material& material,
                                const std::filesystem::path& file);

}  // namespace exports
