// gapwright response FILE...
#pragma once

#include "cli/terminal.h"

#include <filesystem>
#include <string>
#include <vector>

namespace cli {

struct ResponseArguments {
    std::vector<std::filesystem::path> files;  ///< drivers or jobs
    std::vector<std::string> volumes;          ///< "22 L"; none: the job's
    double tuning_hz = 0.0;                    ///< 0: closed
    std::string port_diameter;                 ///< "70 mm"; empty: no tube
    std::vector<std::string> slot;             ///< width and height of a slot instead; empty: none
    int port_walls = 0;                        ///< walls that its inner end lies along
    int ports = 1;
    double lining_gain = 1.0;
    double leakage = 0.0, absorption = 0.0;  ///< Q; 0: the default
    double watts = 0.0;                      ///< 0: the driver's power, or 1 W
    int in_series = 1, in_parallel = 1;
    std::filesystem::path cabin;  ///< a measured gain, for the plots; empty: the job's, or none
    double from_hz = 10.0, to_hz = 500.0;
    std::filesystem::path out;  ///< folder for plots and JSON; empty: none written
    bool quiet = false;
    bool json = false;
};

/// Tells what the drivers do in the boxes; returns the exit code.
int run_response(const ResponseArguments& arguments);

}  // namespace cli
