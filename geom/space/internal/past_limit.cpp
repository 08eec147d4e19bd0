// Under its plane phi is the larger of the limit's height and of all else; where all else is larger it is kept. The
// rest is asked for two and four voxels deep, where near the walls all else is what phi has, and carried on along the
// normal by value and slope.
#include "geom/space/internal/past_limit.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr double kFrom_vx = 2.0, kSlopeOver_vx = 2.0;
constexpr double kSteepest = 0.6;  // of a wall's lean carried on
constexpr double kOwn_vx = 0.02;   // phi that is larger than the limit's height by this much is of something else

}  // namespace

void continue_past_limit(const GridSpec& g, const Closing& limit, double past_mm, std::vector<float>& phi) {
    const double h = g.h_mm, from = kFrom_vx * h, over = kSlopeOver_vx * h;
    const Vec3 n = limit.plane.outward;
    const Field before{g, phi};
    parallel_for(static_cast<std::size_t>(g.nz), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t k = begin; k < end; ++k)
            for (int j = 0; j < g.ny; ++j)
                for (int i = 0; i < g.nx; ++i) {
                    const Point3 p = g.node(i, j, static_cast<int>(k));
                    const double height = limit.value(p);
                    if (height <= -from) continue;
                    float& v = phi[g.index(i, j, static_cast<int>(k))];
                    if (height <= 0.0 && static_cast<double>(v) > height + kOwn_vx * h) continue;
                    const double near = before.at_box(p - n * (height + from)),
                                 deep = before.at_box(p - n * (height + from + over));
                    const bool is_wall = near > -from + kOwn_vx * h && near < 4.0 * h;
                    const double slope = is_wall ? std::clamp((near - deep) / over, -kSteepest, kSteepest) : 0.0;
                    v = static_cast<float>(std::max(near + slope * (height + from), height - past_mm));
                }
    });
}

}  // namespace geom::space::internal
