// The plug that a laid-up shell is made on.
#pragma once

#include "geom/parts/internal/site.h"

namespace geom::parts {

/// A tool: the filled outer body or the air's, as asked.
Product plug(const Make& make, const Brep& outer_body, const Brep& air_body);

}  // namespace geom::parts
