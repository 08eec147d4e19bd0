// Solids that share room, told by the kernel's common part; where that makes no sense, by their triangles' winding
// number.
#pragma once

#include "geom/core/context.h"
#include "geom/core/result.h"
#include "geom/core/vec.h"

#include <TopoDS_Shape.hxx>

#include <vector>

namespace geom::measure::internal {

struct LoneSolid {
    TopoDS_Shape shape;
    Aabb box;
    double volume_mm3 = 0.0;
};

struct Overlap {
    std::size_t a = 0, b = 0;
    double common_mm3 = 0.0;
    Point3 at;
};

struct Overlaps {
    std::vector<Overlap> found;
    std::size_t not_looked = 0;  ///< pairs, when there are too many
};
/// Less than a millionth of the smaller solid counts as touching. Faults: Interrupted
Result<Overlaps> overlaps(const std::vector<LoneSolid>& solids, const Context& context);

}  // namespace geom::measure::internal
