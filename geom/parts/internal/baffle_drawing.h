// The drawing of a separate baffle, seen from the front.
#pragma once

#include "geom/parts/internal/port_plan.h"

namespace geom::parts {

/// `flat`, `back`: outlines of its two faces; the larger one is its outline before its edge is rounded. `screws`:
/// through it. `port` may be null.
FlatDrawing baffle_drawing(const Site& site, const Outline& flat, const Outline& back, const DriverPlans& drivers,
                           const PortPlan* port, const std::vector<Hole>& screws);

}  // namespace geom::parts
