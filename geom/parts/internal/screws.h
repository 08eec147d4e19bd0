// The bolts and screws of what was made, as whoever puts it together meets them: where the head sits, which way it goes
// in, what room its tool wants and what is in place by then.
#pragma once

#include "geom/parts/internal/baffle.h"
#include "geom/parts/internal/foot.h"

namespace geom::parts {

/// One driver's, their heads on its flange. None where no bolt holes were made.
Result<std::vector<BoltMade>> driver_screws(const Site& site, const DriverPlan& plan);
/// Those of a separate baffle, their heads on its outer face.
Result<std::vector<BoltMade>> baffle_screws(const Site& site, const FlangePlan& plan);

/// The vehicle's bolt in a foot, and what it holds.
Status put_bolt(const Site& site, const Foot& foot, const FootPlan& plan, FixingMade& made);

}  // namespace geom::parts
