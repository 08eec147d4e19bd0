// Pictures of a scan as it lies in its files: front, side and top, coloured by distance from the viewer, with the
// holes and what was not believed marked and numbered. PNG, 1600 x 1200, made without a display.
//
// Frame     of the scan, mm. "Front" looks along +y, "side" along -x, "top" along -z.
// Near side where one surface hides another over much of the picture, the near half is cut away at the middle, so that
//           a cavity is seen from inside; of triangles those are left out that are seen from behind.
#pragma once

#include "exports/pictures.h"
#include "geom/scan/diagnosis.h"

#include <string>
#include <vector>

namespace exports {

struct ScanPictureInput {
    std::string title;
    const geom::scan::Diagnosis& diagnosis;
    /// As read; drawn as they are when the diagnosis has no surface.
    const std::vector<geom::Point3>& points;
    /// Normals of the surface point to the side that was scanned (those of an oriented mesh).
    bool is_oriented = false;
};

/// Suffixes "front", "side" and "top".
///
/// Faults: Internal  the PNG writer failed; Interrupted
/// EXPECTS: at least one point.
geom::Result<std::vector<Picture>> scan_pictures(const ScanPictureInput& input, const geom::Context& context);

}  // namespace exports
