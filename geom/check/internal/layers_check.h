// The layers of a ring that is cut from sheets.
#pragma once

#include "geom/check/verdict.h"
#include "geom/parts/ring.h"

namespace geom::check {

/// Volumes of the layers against the ring's; what the drawings cut into the layers. Nothing of a ring in one piece.
Status check_layers(const parts::Ring& ring, const Context& context, Verdict& verdict);

}  // namespace geom::check
