// ISO metric fasteners M3..M10: clearance holes, tap drills, washers, tools, inserts. Every row carries its source.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"

#include <string_view>
#include <vector>

namespace geom::fixings {

struct Thread {
    std::string_view name;                                                  ///< "M8"
    double d_mm = 0.0;                                                      ///< nominal diameter
    double pitch_mm = 0.0;                                                  ///< ISO 261 coarse
    double hole_fine_mm = 0.0, hole_medium_mm = 0.0, hole_coarse_mm = 0.0;  ///< ISO 273:1979 Table 1
    double tap_drill_mm = 0.0;
    double stress_area_mm2 = 0.0;                               ///< ISO 898-1
    double proof_load_8_8_N = 0.0;                              ///< ISO 898-1 Table 5, coarse
    double washer_outside_mm = 0.0, washer_thickness_mm = 0.0;  ///< ISO 7089
    double socket_outside_mm = 0.0;                             ///< thin-wall socket, about; common practice
    /// Heat-set brass insert: pilot hole, boss outside (2 x insert), least wall. Zero where none is made. Common
    /// practice.
    double insert_pilot_mm = 0.0, insert_boss_mm = 0.0, insert_wall_mm = 0.0;
    /// Usual length of that insert; its hole is 0.5 to 1 deeper. Common practice.
    double insert_length_mm = 0.0;
};

const std::vector<Thread>& threads();

/// Faults: BadJob  unknown thread; the hint lists the known ones
Result<Thread> find_thread(std::string_view name);

/// Least distance from a hole's centre to the edge of its material: 2 d in metal, 3 d otherwise (common practice).
Length least_edge_distance(const Thread& thread, bool in_metal);

}  // namespace geom::fixings
