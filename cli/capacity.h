// gapwright capacity JOB
#pragma once

#include "cli/terminal.h"

#include <atomic>
#include <filesystem>

namespace cli {

struct CapacityArguments {
    std::filesystem::path job;
    std::filesystem::path out;      ///< folder for plot and JSON; empty: none written
    std::filesystem::path keep;     ///< folder for the kept field; empty: none kept
    std::filesystem::path timings;  ///< empty: none written
    bool prices = false, pairs = false, directions = false;
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

/// Tells what the gap holds; returns the exit code.
int run_capacity(const CapacityArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
