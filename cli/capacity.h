// gapwright capacity JOB
#pragma once

#include "cli/kept_field.h"

namespace cli {

struct CapacityArguments : FieldArguments {
    bool prices = false, pairs = false, directions = false;
};

/// Tells what the gap holds; returns the exit code.
int run_capacity(const CapacityArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
