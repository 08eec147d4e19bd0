// The solids of a ring: what is filled, and what is cut out of it, holes apart.
#pragma once

#include "geom/parts/internal/ring_plan.h"

namespace geom::parts {

/// The outside as if it were solid, from the seat, or from below a scanned skin, to the front face.
/// Faults: BadJob      outlines that no ruled surface joins without a fold
///         Internal    the kernel failed
Result<TopoDS_Shape> raw_ring(const RingRequest& request, const RingShape& shape);
/// What of it lies in front of the scanned skin; all of it where there is none.
/// Faults: Impossible  it falls into pieces
///         Internal    the kernel failed
Result<TopoDS_Shape> stood_on_foot(const RingRequest& request, const RingShape& shape, const TopoDS_Shape& body);

/// The bore from the rest to behind everything, without its flare.
Result<TopoDS_Shape> bore_tool(const RingRequest& request, const RingShape& shape);
/// What widens the bore's back edge; none without a flare.
std::optional<TopoDS_Shape> flare_tool(const RingShape& shape);

/// What stands behind the seat, filled: a lip that fits the opening with its play. None without.
Result<std::optional<TopoDS_Shape>> lip_of(const RingRequest& request, const RingShape& shape);
/// A part of a tube about the bore's axis, with the ring above it.
std::optional<TopoDS_Shape> rain_lip_of(const RingRequest& request, const RingShape& shape);

TopoDS_Shape groove_tool(const RingGrooveCut& groove);

}  // namespace geom::parts
