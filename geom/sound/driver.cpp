// Frustum and cylinder volumes are elementary; the 15 % spread of the estimate is common practice: baskets are open
// between their spokes and the estimate counts them as full.
#include "geom/sound/driver.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::sound {

std::optional<Displacement> displacement_of(const Driver& driver) {
    if (driver.displacement) return Displacement{*driver.displacement, 0.0, false};
    if (!driver.mounting_depth || !driver.magnet_diameter || !driver.magnet_depth) return std::nullopt;
    const double basket = driver.basket_diameter.value_or(driver.cutout_diameter - Length::mm(1)).mm() / 2.0;
    const double magnet = driver.magnet_diameter->mm() / 2.0;
    const double magnet_depth = std::min(driver.magnet_depth->mm(), driver.mounting_depth->mm());
    const double cone_depth = driver.mounting_depth->mm() - magnet_depth;
    const double frustum = std::numbers::pi * cone_depth / 3.0 * (basket * basket + basket * magnet + magnet * magnet);
    const double cylinder = std::numbers::pi * magnet * magnet * magnet_depth;
    return Displacement{Volume::mm3(frustum + cylinder), 0.15, true};
}

Displacement front_volume_of(const Driver& driver) {
    if (driver.front_volume) return {*driver.front_volume, 0.0, false};
    constexpr double kConeOfCutout_rel = 0.9, kDeep_rel = 0.35, kCap_rel = 0.3, kSpread_rel = 0.5;
    const double a = driver.sd ? std::sqrt(driver.sd->mm2() / std::numbers::pi)
                               : kConeOfCutout_rel * driver.cutout_diameter.mm() / 2.0;
    const double b = kCap_rel * a;
    return {Volume::mm3(std::numbers::pi * kDeep_rel * a / 3.0 * (a * a + a * b + b * b)), kSpread_rel, true};
}

}  // namespace geom::sound
