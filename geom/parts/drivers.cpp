#include "geom/core/checks.h"
#include "geom/parts/enclosure.h"

#include <fmt/format.h>

namespace geom::parts {

std::vector<DriverMount> EnclosureRequest::drivers() const {
    EXPECTS(driver.has_value() || more_drivers.empty());
    std::vector<DriverMount> all;
    if (!driver) return all;
    all.push_back(*driver);
    for (const DriverPlace& place : more_drivers) {
        all.push_back(*driver);
        all.back().centre = place.centre;
        all.back().turn = place.turn;
        all.back().from_behind = place.from_behind;
        all.back().is_turned = place.is_turned;
        if (place.driver) all.back().driver = *place.driver;
    }
    return all;
}

std::string driver_title(std::size_t index) {
    return index == 0 ? "driver" : fmt::format("driver {}", index + 1);
}

}  // namespace geom::parts
