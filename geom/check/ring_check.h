// Judges a made ring by its written files, its holes and the webs between them, and by what lies round it.
#pragma once

#include "geom/check/ring_fit.h"

namespace geom::check {

/// Sound-solid checks as of every part, then least web, holes on the B-rep and the driver in its bore; with `around`
/// whether ring and driver fit there (ring_fit.h). Mass and box without the driver.
/// Faults: those of reading the files back
Result<Verdict> judge_ring(const parts::Ring& ring, const parts::RingRequest& request, const Written& written,
                           const std::optional<RingSurroundings>& around, const Context& context);

/// Of a ring that was judged without limits and keep-outs, the room behind it is one of them.
std::vector<Caution> ring_cautions(const parts::RingRequest& request, const Verdict& verdict);

}  // namespace geom::check
