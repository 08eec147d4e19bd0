// gapwright box JOB
#pragma once

#include "cli/make_part.h"

namespace cli {

/// Runs the job; returns the exit code.
int run_box(const PartArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
