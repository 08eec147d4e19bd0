// gapwright asbuilt REPORT
#pragma once

#include "cli/terminal.h"

#include <filesystem>
#include <string>
#include <vector>

namespace cli {

struct AsBuiltArguments {
    std::filesystem::path report;
    std::vector<std::string> grain;   ///< "mass 8.41 kg, bulk 0.672 kg/L"; each a weighing
    std::vector<std::string> water;   ///< "12.4 L", "12.37 kg"; each a filling
    std::vector<std::string> fitted;  ///< what of the ledger was in the box while it was filled; none: all was out
    std::string scale_off;            ///< "5 g"; empty: one of a reading's last digit
    double settling_percent = -1.0;   ///< of the bulk density; below 0: the default
    std::string pad_area;             ///< "400 cm2"; empty: the widest flat wall of the report
    std::filesystem::path out;        ///< folder for JSON and plot; empty: none
    bool quiet = false;
    bool json = false;
};

/// Tells what a finished box holds against its report; returns the exit code: 5 where it is off by more than the
/// measuring and the job's tolerance explain.
int run_asbuilt(const AsBuiltArguments& arguments);

}  // namespace cli
