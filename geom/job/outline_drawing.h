// Closed outlines of a DXF file: lines, arcs, circles, ellipses and polylines of its model space, joined end to end.
//
// Frame   of the drawing, mm: x to the right, y up.
// Unit    the file's own ($INSUNITS); where it states none, the caller's.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/ring_outline.h"

#include <filesystem>
#include <string>
#include <vector>

namespace geom::job {

struct DrawingOptions {
    std::string layer;         ///< only this one; empty: all
    double unitless_mm = 1.0;  ///< of a file that states no unit
    double x = 0.0, y = 0.0;   ///< of the drawing, mm: becomes the outlines' origin
    double joined_mm = 0.02;   ///< ends nearer than this are one
};

/// Faults: Unreadable  missing, binary or no DXF; BadJob  nothing closed in it, a spline or a block, an end that
///                     nothing goes on from: where, and how far the next end is
Result<std::vector<parts::RingOutline>> read_drawing(const std::filesystem::path& file, const DrawingOptions& options);

}  // namespace geom::job
