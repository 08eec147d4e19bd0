// How far a driver's own front comes when it plays.
#pragma once

#include "geom/sound/driver.h"

#include <string>

namespace geom::parts {

/// From the flange's rear face forward: the front at rest, the cone's travel, and what stays between it and a grille.
struct ConeNeeds {
    double mm = 0.0;
    std::string how;            ///< "the front at rest 9.0 mm before the seat, ..."
    bool is_estimated = false;  ///< the driver's file does not say all of it
};
ConeNeeds cone_needs(const sound::Driver& driver);

}  // namespace geom::parts
