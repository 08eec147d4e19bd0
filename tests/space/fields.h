// Grid fields of closed-form bodies for tests.
#pragma once

#include "geom/core/parallel.h"
#include "geom/space/field.h"

#include <functional>

namespace geom::test {

/// A grid of step `h` about the origin that reaches `half` on each side, off the body's planes of symmetry.
inline space::GridSpec grid_about_origin(Vec3 half, double h) {
    space::GridSpec g;
    g.h_mm = h;
    g.lo = Point3{-half.x, -half.y, -half.z} + Vec3{0.13, 0.29, 0.41} * h;
    g.nx = static_cast<int>(2 * half.x / h) + 1;
    g.ny = static_cast<int>(2 * half.y / h) + 1;
    g.nz = static_cast<int>(2 * half.z / h) + 1;
    return g;
}

/// The function at every node, box coordinates.
inline space::Field sampled(const space::GridSpec& g, const std::function<double(Point3)>& f) {
    space::Field field{g, std::vector<float>(g.count())};
    parallel_for(static_cast<std::size_t>(g.nz), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t k = begin; k < end; ++k)
            for (int j = 0; j < g.ny; ++j)
                for (int i = 0; i < g.nx; ++i)
                    field.mm[g.index(i, j, static_cast<int>(k))] =
                        static_cast<float>(f(g.node(i, j, static_cast<int>(k))));
    });
    return field;
}

}  // namespace geom::test
