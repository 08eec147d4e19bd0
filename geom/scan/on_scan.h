// Whether the places a job speaks of lie where the scan is. A scan read in a wrong unit is ten or a thousand times too
// large or too small, and the job's air, fixings and keep-outs then lie off it.
//
// Frame     vehicle, mm, for scan and places alike. Another unit scales the scan about the vehicle's origin, as it does
//           when places of the scan are given in file numbers.
#pragma once

#include "geom/scan/read.h"

#include <string>
#include <vector>

namespace geom::scan {

/// A point or a body the job names.
struct NamedPlace {
    std::string name;         ///< "air", "fixing \"rail, left front\""
    Aabb box;                 ///< without size for a point
    bool on_surface = false;  ///< a point that lies on the scanned surface itself, as a fixing's does
};

/// Points may lie off the box of the scan (of its middle 98 %) by 15 % of its longest side and 50 mm, bodies by half of
/// it and 100 mm. A point on the surface counts as off when it is more than 50 mm from every sample and another unit
/// brings it, and all other places, onto the scan (within 25 mm); without such a unit it may lie where nothing was
/// scanned.
///
/// The extent is judged too: one that no vehicle has is a fault that names the units in which all places lie on the
/// scan. Files whose format has a unit of its own (glTF) cannot be read in another; the hint then says what to do.
///
/// Faults: WrongUnit  places lie off the scan in the stated unit, and would not in the units the hint names; the extent
///                    is none of a vehicle's
///         BadJob     places lie off the scan, whatever the unit
Status check_on_scan(const RawScan& scan, FileUnit stated, const std::vector<NamedPlace>& places);

}  // namespace geom::scan
