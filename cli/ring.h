// gapwright ring JOB
#pragma once

#include "cli/terminal.h"

#include <atomic>
#include <filesystem>

namespace cli {

struct RingArguments {
    std::filesystem::path job;
    std::filesystem::path out;      ///< empty: a folder named like the job, beside the job file
    std::filesystem::path timings;  ///< empty: none written
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

/// Runs the job; returns the exit code.
int run_ring(const RingArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
