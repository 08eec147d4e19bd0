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
// The maker's sheet of the insert at hand overrules the last three lines.
#include "geom/fixings/threads.h"

namespace geom::fixings {

const std::vector<Thread>& threads() {
    // clang-format off
    static const std::vector<Thread> table = {
        {.name = "M3", .d_mm = 3, .pitch_mm = 0.5, .hole_fine_mm = 3.2, .hole_medium_mm = 3.4, .hole_coarse_mm = 3.6,
         .tap_drill_mm = 2.5, .stress_area_mm2 = 5.03, .proof_load_8_8_N = 2920, .washer_outside_mm = 7,
         .washer_thickness_mm = 0.5, .socket_outside_mm = 8.5, .insert_pilot_mm = 4.0, .insert_boss_mm = 8.8,
         .insert_wall_mm = 1.6, .insert_length_mm = 5.7},
        {.name = "M4", .d_mm = 4, .pitch_mm = 0.7, .hole_fine_mm = 4.3, .hole_medium_mm = 4.5, .hole_coarse_mm = 4.8,
         .tap_drill_mm = 3.3, .stress_area_mm2 = 8.78, .proof_load_8_8_N = 5100, .washer_outside_mm = 9,
         .washer_thickness_mm = 0.8, .socket_outside_mm = 10, .insert_pilot_mm = 5.6, .insert_boss_mm = 12.2,
         .insert_wall_mm = 2.0, .insert_length_mm = 8.1},
        {.name = "M5", .d_mm = 5, .pitch_mm = 0.8, .hole_fine_mm = 5.3, .hole_medium_mm = 5.5, .hole_coarse_mm = 5.8,
         .tap_drill_mm = 4.2, .stress_area_mm2 = 14.2, .proof_load_8_8_N = 8230, .washer_outside_mm = 10,
         .washer_thickness_mm = 1.0, .socket_outside_mm = 12, .insert_pilot_mm = 6.4, .insert_boss_mm = 14.2,
         .insert_wall_mm = 2.5, .insert_length_mm = 9.5},
        {.name = "M6", .d_mm = 6, .pitch_mm = 1.0, .hole_fine_mm = 6.4, .hole_medium_mm = 6.6, .hole_coarse_mm = 7.0,
         .tap_drill_mm = 5.0, .stress_area_mm2 = 20.1, .proof_load_8_8_N = 11600, .washer_outside_mm = 12,
         .washer_thickness_mm = 1.6, .socket_outside_mm = 14.5, .insert_pilot_mm = 8.0, .insert_boss_mm = 17.0,
         .insert_wall_mm = 3.0, .insert_length_mm = 12.7},
        {.name = "M8", .d_mm = 8, .pitch_mm = 1.25, .hole_fine_mm = 8.4, .hole_medium_mm = 9.0, .hole_coarse_mm = 10.0,
         .tap_drill_mm = 6.8, .stress_area_mm2 = 36.6, .proof_load_8_8_N = 21200, .washer_outside_mm = 16,
         .washer_thickness_mm = 1.6, .socket_outside_mm = 18.5, .insert_pilot_mm = 9.7, .insert_boss_mm = 20.0,
         .insert_wall_mm = 4.0, .insert_length_mm = 12.7},
        {.name = "M10", .d_mm = 10, .pitch_mm = 1.5, .hole_fine_mm = 10.5, .hole_medium_mm = 11.0,
         .hole_coarse_mm = 12.0, .tap_drill_mm = 8.5, .stress_area_mm2 = 58.0, .proof_load_8_8_N = 33700,
         .washer_outside_mm = 20, .washer_thickness_mm = 2.0, .socket_outside_mm = 22.5},
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
