// Judges a made ring by its written files, its holes and the webs between them.
#pragma once

#include "geom/check/verdict.h"
#include "geom/parts/ring.h"

namespace geom::check {

/// Sound-solid checks as of every part, then least web and holes on the B-rep; mass and box without the driver.
/// Faults: those of reading the files back
Result<Verdict> judge_ring(const parts::Ring& ring, const parts::RingRequest& request, const Written& written,
                           const Context& context);

std::vector<Caution> ring_cautions(const parts::RingRequest& request);

}  // namespace geom::check
