#include "geom/parts/cone_needs.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::parts {

namespace {

// Of the cone, where the driver's file does not say [common practice]: how far surround and dust cap stand before the
// flange's seat, and its travel; and what stays between it and a grille.
constexpr double kRoll_rel = 0.05, kTravel_rel = 0.04, kBeforeCone_mm = 2.0;

}  // namespace

ConeNeeds cone_needs(const sound::Driver& driver) {
    const double front = driver.front_height ? driver.front_height->mm()
                                             : std::max(kRoll_rel * driver.flange_diameter.mm(),
                                                        driver.flange_thickness.value_or(Length::mm(0)).mm());
    const double travel = driver.xmax ? driver.xmax->mm() : kTravel_rel * driver.cutout_diameter.mm();
    std::string missing = driver.front_height ? "" : "front_height";
    if (!driver.xmax) missing += missing.empty() ? "xmax" : " and xmax";
    return {front + travel + kBeforeCone_mm,
            fmt::format("the front at rest {:.1f} mm before the seat, {:.1f} mm of travel, {:.1f} mm between{}", front,
                        travel, kBeforeCone_mm,
                        missing.empty() ? "" : "; " + missing + " not given: estimated of the diameters"),
            !missing.empty()};
}

}  // namespace geom::parts
