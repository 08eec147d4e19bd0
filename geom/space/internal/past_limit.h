// How the body goes on past a limit whose edges stay sharp, as if the limit were not there.
#pragma once

#include "geom/space/internal/room_job.h"

namespace geom::space::internal {

/// `phi`: mm, negative in the room, close to a distance near its zero set, at most `limit` there. Walls that reach the
/// limit are carried on past its plane as they arrive there (value and slope along the plane's normal), up to a flat
/// end `past_mm` beyond it. Nothing else of phi changes.
void continue_past_limit(const GridSpec& grid, const Closing& limit, double past_mm, std::vector<float>& phi);

}  // namespace geom::space::internal
