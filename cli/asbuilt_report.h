// What `gapwright asbuilt` tells, as text for people, as JSON for programs, and as a plot.
#pragma once

#include "cli/made_report.h"
#include "exports/plot.h"
#include "geom/measure/as_built.h"
#include "geom/sound/closed_box.h"
#include "geom/sound/response.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

/// The driver in one volume.
struct SoundRow {
    std::string name;  ///< "asked", "as built"
    geom::sound::Box box;
    std::optional<double> qtc;  ///< of a closed box
    double resonance_hz = 0.0;  ///< of a closed box; of one with a port: its tuning
    double f3_hz = 0.0;
    std::optional<geom::sound::Peak> peak;
    bool in_plot = false;
    geom::sound::Response curves;  ///< with in_plot
};

struct PadRemedy {
    geom::Volume volume;
    std::optional<geom::Area> area;
    bool area_is_asked = false;
};
struct LiningRemedy {
    double gain = 1.0;         ///< apparent over net volume that it takes
    geom::Volume still_small;  ///< what even the most that lining can do leaves
};

struct AsBuilt {
    MadeReport report;
    std::vector<std::string> fitted;
    geom::Volume expected;  ///< what the box would take by its report, with what was in it
    geom::measure::Filled filled;
    geom::measure::BuiltAgainst against;
    geom::Volume net, net_within;  ///< as built, 95 %
    std::optional<PadRemedy> pad;
    std::optional<LiningRemedy> lining;
    std::vector<SoundRow> sound;
    std::string no_sound;  ///< why there is none
    std::vector<std::filesystem::path> written;
};

std::string asbuilt_text(const AsBuilt& built);
std::string asbuilt_json(const AsBuilt& built, const std::string& version);
/// EXPECTS: built.sound not empty.
exports::Plot asbuilt_plot(const AsBuilt& built);

}  // namespace cli
