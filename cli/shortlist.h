// gapwright shortlist JOB --drivers DIR
#pragma once

#include "cli/terminal.h"

#include <atomic>
#include <cmath>
#include <filesystem>
#include <string>

namespace cli {

struct ShortlistArguments {
    std::filesystem::path job;
    std::filesystem::path drivers;  ///< folder of driver files, *.toml
    std::filesystem::path out;      ///< folder for plot and JSON; empty: none written
    std::filesystem::path keep;     ///< folder for the kept field; empty: none kept
    std::filesystem::path timings;  ///< empty: none written
    std::string sort = "output";    ///< output, corner, air or size
    double qtc = std::sqrt(0.5);    ///< of the closed box whose air a driver wants
    double at_hz = 40.0;            ///< where the output is told
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

/// Tells which drivers of a folder go into the gap and what they would do there; returns the exit code.
int run_shortlist(const ShortlistArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
