// The shortlist for people and programs: a table, JSON and one plot.
#pragma once

#include "exports/delivery.h"
#include "exports/plot.h"
#include "geom/parts/shortlist.h"
#include "geom/sound/closed_box.h"
#include "geom/sound/response.h"

#include <optional>
#include <string>
#include <vector>

namespace cli {

/// A driver's row.
struct Listed {
    std::string file;
    geom::sound::Driver driver;
    std::optional<geom::Volume> wanted;  ///< net volume of the closed box with the asked Qtc
    std::string wanted_note;             ///< why there is none
    geom::parts::DriverFitting fitting;
    // In the net volume of `fitting.place`:
    std::optional<geom::sound::ClosedFigures> closed;
    std::optional<double> most_db;  ///< at the asked frequency, 1 m, half space, within xmax and power
    std::optional<geom::sound::Response> curves;
    std::vector<std::string> left_out;  ///< what is not told, and what it wants

    bool fits() const { return fitting.place.has_value(); }
};

struct ShortlistReport {
    const exports::JobRecord& job;
    const std::vector<Listed>& rows;  ///< in their order
    std::string sorted_by;            ///< in words
    double qtc = 0.0, at_hz = 0.0;
    const std::vector<std::string>& unread;  ///< files that are no drivers, and why
};

std::string shortlist_text(const ShortlistReport& report);
std::string shortlist_json(const ShortlistReport& report);
/// The most that each fitting driver gives, over frequency; none when no driver fits and has the values.
std::optional<exports::Plot> shortlist_plot(const ShortlistReport& report);

}  // namespace cli
