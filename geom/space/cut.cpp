#include "geom/space/cut.h"

#include "geom/core/parallel.h"

#include <algorithm>

namespace geom::space {

void cut(Field& body, const Plane& plane) {
    const GridSpec& g = body.grid;
    const Plane box{g.vehicle_from_box.to_local(plane.point), g.vehicle_from_box.dir_to_local(unit(plane.outward))};
    parallel_for(static_cast<std::size_t>(g.nz), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t k = begin; k < end; ++k)
            for (int j = 0; j < g.ny; ++j) {
                float* row = body.mm.data() + g.index(0, j, static_cast<int>(k));
                const double first = box.height(g.node(0, j, static_cast<int>(k))), step = box.outward.x * g.h_mm;
                for (int i = 0; i < g.nx; ++i) row[i] = std::max(row[i], static_cast<float>(first + i * step));
            }
    });
}

}  // namespace geom::space
