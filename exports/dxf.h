// DXF file of a flat piece: release 2000 (AC1015), $INSUNITS 4 (millimetres), $MEASUREMENT 1 (metric), one layer an
// operation: "outline", "through-holes", "pockets", "countersinks", "bend-lines", "text", "reference".
//
// Entities     holes are CIRCLE; outlines are LWPOLYLINE with bulges, closed by their flag, so that arcs stay arcs;
//              straight pieces of two corners are LINE. No splines.
// Same bytes   coordinates to nine decimals, nothing of clock, machine or locale.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/flat_drawing.h"

#include <filesystem>
#include <string>

namespace exports {

/// EXPECTS: at least one path or circle; paths of two corners or more (an outline of two needs bulges).
std::string dxf_text(const geom::parts::FlatDrawing& drawing);

/// Faults: CannotWrite
geom::Status write_dxf(const geom::parts::FlatDrawing& drawing, const std::filesystem::path& file);

}  // namespace exports
