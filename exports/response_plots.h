// The curves of drivers in boxes as plots, one a kind of curve; a cabin measured by its user as broken lines beside
// those of sound.
#pragma once

#include "exports/plot.h"
#include "geom/sound/cabin.h"
#include "geom/sound/response.h"

#include <string>
#include <utility>
#include <vector>

namespace exports {

struct Heard {
    std::string label;  ///< "woofer 165 in 9.5 L"
    const geom::sound::SmallSignal& driver;
    const geom::sound::Response& curves;
    double watts = 1.0;
};

/// Name ("relative", "level", "most", "excursion", "delay", "port", "impedance") and plot; left out where no case has
/// the curve. EXPECTS: one case at least.
std::vector<std::pair<std::string, Plot>> response_plots(const std::vector<Heard>& cases,
                                                         const geom::sound::CabinGain* cabin = nullptr);

}  // namespace exports
