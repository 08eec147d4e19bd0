// ISO metric fasteners M3..M10: clearance holes, tap drills, washers, tools, inserts. Every row carries its source.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"

#include <string>
#include <string_view>
#include <vector>

namespace geom::fixings {

/// A head's envelope. All zero: not in the table.
struct Head {
    double diameter_mm =
        0.0;  ///< largest; of a hexagon over its corners, of a countersunk one the theoretical sharp edge
    double height_mm = 0.0;
    double key_mm = 0.0;  ///< across flats of key or spanner
};

struct Thread {
    std::string name;                                                       ///< "M8"
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
    double proof_load_10_9_N = 0.0;                                         ///< ISO 898-1 Table 5, coarse
    double ultimate_8_8_N = 0.0;                                            ///< least, ISO 898-1
    double washer_hole_mm = 0.0;                                            ///< ISO 7089 d1
    Head socket{};                                                          ///< ISO 4762, knurled
    Head button{};                                                          ///< ISO 7380-1
    Head countersunk{};                                                     ///< ISO 10642
    Head hexagon{};                                                         ///< ISO 4017
    double nut_across_mm = 0.0, nut_corners_mm = 0.0, nut_height_mm = 0.0;  ///< ISO 4032: s max, e min, m max
    double rivet_nut_hole_mm = 0.0;  ///< round body; common practice, differs by up to 1 mm between makers
    double spanner_pitch_mm = 0.0;   ///< least distance of two bolts for a spanner

    double pitch_diameter_mm() const { return d_mm - 0.649519 * pitch_mm; }  ///< d2, ISO 724
    double minor_diameter_mm() const { return d_mm - 1.082532 * pitch_mm; }  ///< D1, ISO 724
    double core_diameter_mm() const { return d_mm - 1.226869 * pitch_mm; }   ///< d3
};

const std::vector<Thread>& threads();

/// Faults: BadJob  unknown thread; the hint lists the known ones
Result<Thread> find_thread(std::string_view name);
/// The same with rows of the job's own, which go before the table's.
Result<Thread> find_thread(std::string_view name, const std::vector<Thread>& own);

/// Least distance from a hole's centre to the edge of its material: 2 d in metal, 3 d otherwise (common practice).
Length least_edge_distance(const Thread& thread, bool in_metal);

}  // namespace geom::fixings
