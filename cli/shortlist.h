// gapwright shortlist JOB --drivers DIR
#pragma once

#include "cli/kept_field.h"

#include <cmath>
#include <filesystem>
#include <string>

namespace cli {

struct ShortlistArguments : FieldArguments {
    std::filesystem::path drivers;  ///< folder of driver files, *.toml
    std::string sort = "output";    ///< output, corner, air or size
    double qtc = std::sqrt(0.5);    ///< of the closed box whose air a driver wants
    double at_hz = 40.0;            ///< where the output is told
};

/// Tells which drivers of a folder go into the gap and what they would do there; returns the exit code.
int run_shortlist(const ShortlistArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
