// What a report.json of this program says of a box, as far as one that measures the built box needs it.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/sound/box.h"
#include "geom/sound/driver.h"
#include "geom/sound/wiring.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

struct LedgerEntry {
    std::string name;
    geom::Volume volume;     ///< negative: takes air
    bool comes_out = false;  ///< is fitted to the finished box, and usually not there when one fills it
};

struct MadeReport {
    std::string job;
    geom::Volume net, asked;
    geom::Volume ways_off;  ///< the ways of calculating the volume are off the told one by at most this
    geom::Volume net_off;   ///< bound of the report on its net volume, the driver's displacement contained
    geom::Volume tolerance;
    std::vector<LedgerEntry> ledger;
    std::optional<geom::sound::Driver> driver;  ///< the first
    geom::sound::Wiring wiring;                 ///< of several
    bool has_unlike_drivers = false;
    double lining_gain = 1.0;
    double fb_hz = 0.0;                   ///< of a port, with the reported net volume; 0: closed
    std::optional<geom::Area> flat_wall;  ///< its widest flat wall
};

/// Whether a ledger's line is that of a driver: "driver", "driver 2".
bool is_driver(const std::string& ledger_name);

/// Faults: Unreadable  missing, not JSON, no report of this program, cut off
///         BadJob      a report of a part without air in it
geom::Result<MadeReport> read_made_report(const std::filesystem::path& file);

}  // namespace cli
