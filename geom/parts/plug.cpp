// A plug has the form itself, not its offset: laid over, the inner form gives the inside of the shell; the outer form
// is what a mould is taken from.
#include "geom/parts/internal/plug.h"

namespace geom::parts {

Product plug(const Make& make, const Brep& outer_body, const Brep& air_body) {
    return {.name = "plug",
            .solid = make.plug == Make::Plug::Inner ? air_body : outer_body,
            .material = *find_material("MDF"),
            .colour = {0.62f, 0.70f, 0.62f},
            .is_tool = true};
}

}  // namespace geom::parts
