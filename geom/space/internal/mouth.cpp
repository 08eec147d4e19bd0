#include "geom/space/internal/mouth.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {
constexpr float kSteepest = 0.6f;  // of a wall's flare carried on past the mouth
constexpr int kSlopeOver = 3;      // nodes over which the slope is taken
}  // namespace

void continue_past_mouth(const GridSpec& g, int mouth, double slope_mm, int end, std::vector<float>& phi) {
    EXPECTS(mouth > end && mouth + kSlopeOver < g.ny && end >= 1);
    const auto h = static_cast<float>(g.h_mm);
    const float cap = (static_cast<float>(end) + 0.5f) * h;  // place of the flat end, mm from the grid's low side
    parallel_for(static_cast<std::size_t>(g.nz), 4, [&](std::size_t begin, std::size_t end_k) {
        for (std::size_t k = begin; k < end_k; ++k)
            for (int i = 0; i < g.nx; ++i) {
                const float at_mouth = phi[g.index(i, mouth, static_cast<int>(k))];
                float slope = 0.0f;
                if (std::abs(at_mouth) < 4.0f * h) {
                    const float inside = phi[g.index(i, mouth + kSlopeOver, static_cast<int>(k))];
                    slope =
                        std::clamp((at_mouth - inside) / (static_cast<float>(kSlopeOver) * h), -kSteepest, kSteepest);
                }
                for (int j = mouth - 1; j >= 0; --j) {
                    const float out = static_cast<float>(mouth - j) * h;
                    const float v = at_mouth + slope * std::min(out, static_cast<float>(slope_mm));
                    phi[g.index(i, j, static_cast<int>(k))] = std::max(v, cap - static_cast<float>(j) * h);
                }
            }
    });
}

}  // namespace geom::space::internal
