// gapwright volume FILE...
#pragma once

#include "cli/terminal.h"

#include <atomic>
#include <filesystem>
#include <string>
#include <vector>

namespace cli {

struct VolumeArguments {
    std::vector<std::filesystem::path> files;
    std::string unit;      ///< "mm", "cm", "m", "in"; empty: the file must say it
    std::string material;  ///< a known name, or a density like "700 kg/m3"; empty: no mass
    int slices = 0;        ///< 0: no table of sections
    std::string axis = "z";
    double wall_mm = 0.0;               ///< the shape is an outside only, this much thick; 0: it is as drawn
    std::vector<double> inside;         ///< three numbers, mm: a point in the air; empty: the air is not asked for
    std::vector<std::string> openings;  ///< "x,y,z,width", mm
    double chord_mm = 0.0;              ///< of a B-rep's triangles; 0: a four-thousandth of its size, at most 0.05
    std::filesystem::path out;          ///< folder for report and table; empty: none
    bool quiet = false;
    bool json = false;
    int threads = 0;  ///< 0: all
};

/// Tells what the files hold; returns the exit code: 5 where a volume is only bounded, 3 where there is none.
int run_volume(const VolumeArguments& arguments, const std::atomic<bool>& cancel);

}  // namespace cli
