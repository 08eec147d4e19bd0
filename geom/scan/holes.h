// Holes of the scanned surface: where the scanner saw nothing although surface lies all round. Found from the samples
// alone, and closed on request by a fair patch.
//
// A hole is a ring of border samples (the neighbours of one leave an angle of more than 112 degrees empty in its
// tangent plane) that look inwards all round. The scan's own rim looks outwards and is no hole. Holes narrower than
// about four sample spacings cannot be told from chance.
// Source    the angle criterion for borders of point clouds: Bendels, Schnabel, Klein, "Detecting holes in point set
//           surfaces", 2006 (cited from memory).
#pragma once

#include "geom/scan/surface.h"

namespace geom::scan {

/// Widest first. Frame: vehicle, mm.
std::vector<Hole> find_holes(const Surface& surface);

/// Closes every hole up to `most` wide by samples on a quadric fitted to the surface round it, and records what was
/// done in surface.holes. A hole across an edge, hollow or standing, is closed by each of up to three faces carried on
/// to where they meet; an edge or a step that shows nowhere round the hole cannot be known. Where no quadrics fit, or
/// where they are carried on too far to be known within 1.5 mm (the scan's own bound left aside), it stays open and
/// says so.
///
/// What is scanned through a mouth with a rim all round that is no wider than `most` looks like a hole: `most` must be
/// less than the narrowest such opening of the space scanned.
void close_holes(Surface& surface, Length most);

}  // namespace geom::scan
