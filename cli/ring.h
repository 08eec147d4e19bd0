// gapwright ring JOB
#pragma once

#include "cli/make_part.h"

namespace cli {

/// Runs the job; returns the exit code.
int run_ring(const PartArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
