// gapwright scan FILE...
#pragma once

#include "cli/terminal.h"
#include "geom/scan/unit.h"

#include <atomic>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

struct ScanArguments {
    std::vector<std::filesystem::path> files;
    std::string unit;             ///< "mm", "cm", "m", "in"; empty: the likeliest is taken
    std::filesystem::path clean;  ///< PLY file for the cleaned scan; empty: none
    std::filesystem::path out;    ///< folder for the pictures; empty: none
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

/// Tells what the files hold; returns the exit code.
int run_scan(const ScanArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
