// STEP file of the finished part: AP214, millimetres, vehicle frame, one assembly with a named, coloured component a
// product; the products that are tools (plugs, forms) stand beside the assembly as roots of their own.
//
// Same bytes   nothing of the clock, the machine, the folder, earlier files of the same run or the locale is in it.
// Accuracy     coordinates of points are printed to `point_decimals` places after the point, everything else in full.
#pragma once

#include "geom/parts/enclosure.h"

#include <filesystem>
#include <string>
#include <vector>

namespace exports {

struct StepOptions {
    /// Decimals of point coordinates in mm: 1e-9 mm is a hundredth of the precision at which the kernel tells two
    /// points apart, so faces meet as they did in memory. Allowed: 6 to 15.
    int point_decimals = 9;
};

/// The text of the file. EXPECTS: at least one product, none with a null solid.
/// Faults: Internal  the kernel could not translate a product (named)
geom::Result<std::string> step_text(const std::vector<geom::parts::Product>& products, const std::string& name,
                                    const StepOptions& options = {});

/// Faults: those of step_text; CannotWrite
geom::Status write_step(const std::vector<geom::parts::Product>& products, const std::string& name,
                        const std::filesystem::path& file, const StepOptions& options = {});

}  // namespace exports
