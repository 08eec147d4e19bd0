// The room as it stands, before the way in: scanned surface, limits and keep-outs on one grid, and the part of it that
// holds `air`.
#pragma once

#include "geom/space/internal/flood.h"
#include "geom/space/internal/room_job.h"

#include <string>
#include <vector>

namespace geom::space::internal {

struct Standing {
    RoomGrid at;                 ///< cut back to the room and the way in front of it
    std::vector<float> phi;      ///< mm, negative in the room alone
    std::vector<float> surface;  ///< distance to the scanned surface: exact within 3 h of the border, rough elsewhere
    std::vector<unsigned char> in;  ///< 1 in the room that holds `air`, 2 where it is open but out of reach
    float widest_leak_mm = 0.0f;
    std::vector<std::string> notes;
};

/// Faults: AirBlocked, Leak as free_room says.
Result<Standing> standing_room(const RoomJob& job, RoomGrid at, const scan::Surface& surface,
                               const RoomOptions& options, const Context& context);

}  // namespace geom::space::internal
