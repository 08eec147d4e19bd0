#include "geom/sound/cabin.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <cmath>

namespace geom::sound {

bool covers(const CabinGain& cabin, double f_hz) {
    return !cabin.f_hz.empty() && f_hz >= cabin.f_hz.front() && f_hz <= cabin.f_hz.back();
}

double gain_at(const CabinGain& cabin, double f_hz) {
    EXPECTS(cabin.f_hz.size() >= 2 && cabin.f_hz.size() == cabin.db.size() && covers(cabin, f_hz));
    const auto after = std::upper_bound(cabin.f_hz.begin() + 1, cabin.f_hz.end() - 1, f_hz);
    const auto i = static_cast<std::size_t>(after - cabin.f_hz.begin());
    const double a = cabin.f_hz[i - 1], b = cabin.f_hz[i];
    const double s = std::log(f_hz / a) / std::log(b / a);
    return cabin.db[i - 1] + s * (cabin.db[i] - cabin.db[i - 1]);
}

}  // namespace geom::sound
