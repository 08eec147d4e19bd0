// What `gapwright response` tells, as text for people, as JSON for programs, and as plots.
#pragma once

#include "exports/response_plots.h"
#include "geom/sound/closed_box.h"
#include "geom/sound/mixed_drivers.h"
#include "geom/sound/port.h"
#include "geom/sound/response.h"
#include "geom/sound/vented_box.h"
#include "geom/sound/wiring.h"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace cli {

/// One driver, several as one, or several unlike ones, in one box.
struct SoundCase {
    std::string label;                ///< "woofer 165 in 9.5 L"
    geom::sound::SmallSignal driver;  ///< of unlike ones what they are together
    std::optional<geom::sound::MixedDrivers> unlike{};
    std::optional<geom::sound::MixedFigures> mixed{};  ///< of unlike ones alone, instead of `closed` or `vented`
    geom::sound::Wiring wiring;
    geom::sound::Box box;
    double watts = 1.0;
    std::optional<geom::sound::ClosedFigures> closed;
    std::optional<geom::sound::VentedFigures> vented;
    std::optional<geom::sound::SizedPort> port;
    bool has_bend = false;                                     ///< of the port: its length counts along its middle
    std::optional<geom::Volume> flattest_closed;               ///< the volume of Qtc 1/sqrt 2, for comparison
    std::optional<geom::sound::AlignmentRow> flattest_ported;  ///< with the box's leak, or the default
    geom::sound::Response curves;                              ///< for plots and JSON
    geom::sound::Response rows;                                ///< at the frequencies of the table
};

std::string response_text(const std::vector<SoundCase>& cases);
/// UTF-8, two blanks of indent; the key says the unit. Nothing in it differs from run to run.
std::string response_json(const std::vector<SoundCase>& cases, const std::string& version);
/// Those of exports::response_plots() for all cases.
std::vector<std::pair<std::string, exports::Plot>> plots_of(const std::vector<SoundCase>& cases,
                                                            const geom::sound::CabinGain* cabin = nullptr);

}  // namespace cli
