// One table, one row a thread. Where the numbers come from, with how sure we are of them:
//   pitch               ISO 261, coarse                                      [verified]
//   clearance holes     ISO 273:1979 Table 1, fine H12, medium H13, coarse H14 [verified]
//   tap drill           next common drill to d - P                           [verified]
//   stress area         ISO 898-1, pi/4 (d - 0.938194 P)^2, as tabulated     [verified, computed]
//   proof load, 8.8     ISO 898-1 Table 5, coarse                            [verified]
//   washer d2, h        ISO 7089                                             [verified]
//   socket outside      thin-wall sockets                                    [common practice]
//   insert pilot        supplier's chart, M3..M6                             [verified]; M8 [common practice]
//   insert boss, wall   2 x the insert's outside; least wall beside it       [common practice]
//   insert length       the longer of the usual ones                         [common practice]
//   proof load 10.9, ultimate 8.8   ISO 898-1 Table 5, coarse                [verified]
//   washer d1           ISO 7089                                             [verified]
//   socket head         ISO 4762, knurled dk, k max, key                     [verified]
//   button head         ISO 7380-1 dk max, k max, key                        [verified]; M10 [memory]
//   countersunk head    ISO 10642 theoretical dk max, k max, key             [verified]
//   hexagon head        ISO 4017 k nominal, s; corners as ISO 4032 e         [verified]; M10 [memory]
//   nut                 ISO 4032:2001 Table 1 s max, e min, m max            [verified]
//   rivet nut           round body                                           [common practice]
//   spanner pitch       to BS 3692 heads                                     [verified]
// The maker's sheet of the insert at hand overrules the last three lines.
#include "geom/fixings/threads.h"

namespace geom::fixings {

const std::vector<Thread>& threads() {
    // clang-format off
    static const std::vector<Thread> table = {
        {.name = "M3", .d_mm = 3, .pitch_mm = 0.5, .hole_fine_mm = 3.2, .hole_medium_mm = 3.4, .hole_coarse_mm = 3.6,
         .tap_drill_mm = 2.5, .stress_area_mm2 = 5.03, .proof_load_8_8_N = 2920, .washer_outside_mm = 7,
         .washer_thickness_mm = 0.5, .socket_outside_mm = 8.5, .insert_pilot_mm = 4, .insert_boss_mm = 8.8,
         .insert_wall_mm = 1.6, .insert_length_mm = 5.7, .proof_load_10_9_N = 4180, .ultimate_8_8_N = 4020,
         .washer_hole_mm = 3.2, .socket = {5.68, 3, 2.5}, .button = {5.7, 1.65, 2}, .countersunk = {6.72, 1.86, 2},
         .hexagon = {6.01, 2, 5.5}, .nut_across_mm = 5.5, .nut_corners_mm = 6.01, .nut_height_mm = 2.4,
         .rivet_nut_hole_mm = 5, .spanner_pitch_mm = 14},
        {.name = "M4", .d_mm = 4, .pitch_mm = 0.7, .hole_fine_mm = 4.3, .hole_medium_mm = 4.5, .hole_coarse_mm = 4.8,
         .tap_drill_mm = 3.3, .stress_area_mm2 = 8.78, .proof_load_8_8_N = 5100, .washer_outside_mm = 9,
         .washer_thickness_mm = 0.8, .socket_outside_mm = 10, .insert_pilot_mm = 5.6, .insert_boss_mm = 12.2,
         .insert_wall_mm = 2, .insert_length_mm = 8.1, .proof_load_10_9_N = 7290, .ultimate_8_8_N = 7020,
         .washer_hole_mm = 4.3, .socket = {7.22, 4, 3}, .button = {7.6, 2.2, 2.5}, .countersunk = {8.96, 2.48, 2.5},
         .hexagon = {7.66, 2.8, 7}, .nut_across_mm = 7, .nut_corners_mm = 7.66, .nut_height_mm = 3.2,
         .rivet_nut_hole_mm = 6, .spanner_pitch_mm = 17},
        {.name = "M5", .d_mm = 5, .pitch_mm = 0.8, .hole_fine_mm = 5.3, .hole_medium_mm = 5.5, .hole_coarse_mm = 5.8,
         .tap_drill_mm = 4.2, .stress_area_mm2 = 14.2, .proof_load_8_8_N = 8230, .washer_outside_mm = 10,
         .washer_thickness_mm = 1, .socket_outside_mm = 12, .insert_pilot_mm = 6.4, .insert_boss_mm = 14.2,
         .insert_wall_mm = 2.5, .insert_length_mm = 9.5, .proof_load_10_9_N = 11800, .ultimate_8_8_N = 11350,
         .washer_hole_mm = 5.3, .socket = {8.72, 5, 4}, .button = {9.5, 2.75, 3}, .countersunk = {11.2, 3.1, 3},
         .hexagon = {8.79, 3.5, 8}, .nut_across_mm = 8, .nut_corners_mm = 8.79, .nut_height_mm = 4.7,
         .rivet_nut_hole_mm = 7, .spanner_pitch_mm = 20},
        {.name = "M6", .d_mm = 6, .pitch_mm = 1, .hole_fine_mm = 6.4, .hole_medium_mm = 6.6, .hole_coarse_mm = 7,
         .tap_drill_mm = 5, .stress_area_mm2 = 20.1, .proof_load_8_8_N = 11600, .washer_outside_mm = 12,
         .washer_thickness_mm = 1.6, .socket_outside_mm = 14.5, .insert_pilot_mm = 8, .insert_boss_mm = 17,
         .insert_wall_mm = 3, .insert_length_mm = 12.7, .proof_load_10_9_N = 16700, .ultimate_8_8_N = 16100,
         .washer_hole_mm = 6.4, .socket = {10.22, 6, 5}, .button = {10.5, 3.3, 4}, .countersunk = {13.44, 3.72, 4},
         .hexagon = {11.05, 4, 10}, .nut_across_mm = 10, .nut_corners_mm = 11.05, .nut_height_mm = 5.2,
         .rivet_nut_hole_mm = 9, .spanner_pitch_mm = 24},
        {.name = "M8", .d_mm = 8, .pitch_mm = 1.25, .hole_fine_mm = 8.4, .hole_medium_mm = 9, .hole_coarse_mm = 10,
         .tap_drill_mm = 6.8, .stress_area_mm2 = 36.6, .proof_load_8_8_N = 21200, .washer_outside_mm = 16,
         .washer_thickness_mm = 1.6, .socket_outside_mm = 18.5, .insert_pilot_mm = 9.7, .insert_boss_mm = 20,
         .insert_wall_mm = 4, .insert_length_mm = 12.7, .proof_load_10_9_N = 30400, .ultimate_8_8_N = 29200,
         .washer_hole_mm = 8.4, .socket = {13.27, 8, 6}, .button = {14, 4.4, 5}, .countersunk = {17.92, 4.96, 5},
         .hexagon = {14.38, 5.3, 13}, .nut_across_mm = 13, .nut_corners_mm = 14.38, .nut_height_mm = 6.8,
         .rivet_nut_hole_mm = 11, .spanner_pitch_mm = 30},
        {.name = "M10", .d_mm = 10, .pitch_mm = 1.5, .hole_fine_mm = 10.5, .hole_medium_mm = 11, .hole_coarse_mm = 12,
         .tap_drill_mm = 8.5, .stress_area_mm2 = 58, .proof_load_8_8_N = 33700, .washer_outside_mm = 20,
         .washer_thickness_mm = 2, .socket_outside_mm = 22.5, .insert_pilot_mm = 0, .insert_boss_mm = 0,
         .insert_wall_mm = 0, .insert_length_mm = 0, .proof_load_10_9_N = 48100, .ultimate_8_8_N = 46400,
         .washer_hole_mm = 10.5, .socket = {16.27, 10, 8}, .button = {17.5, 5.5, 6}, .countersunk = {22.4, 6.2, 6},
         .hexagon = {17.77, 6.4, 16}, .nut_across_mm = 16, .nut_corners_mm = 17.77, .nut_height_mm = 8.4,
         .rivet_nut_hole_mm = 13, .spanner_pitch_mm = 37},
    };
    // clang-format on
    return table;
}

Result<Thread> find_thread(std::string_view name) {
    return find_thread(name, {});
}

Result<Thread> find_thread(std::string_view name, const std::vector<Thread>& own) {
    std::string known;
    for (const auto* rows : {&own, &threads()})
        for (const Thread& thread : *rows) {
            if (thread.name == name) return thread;
            known += (known.empty() ? "" : ", ") + thread.name;
        }
    return Fault{FaultCode::BadJob, "thread: \"" + std::string(name) + "\" is not known", "known are " + known, {}, {}};
}

Length least_edge_distance(const Thread& thread, bool in_metal) {
    return Length::mm((in_metal ? 2.0 : 3.0) * thread.d_mm);
}

}  // namespace geom::fixings
