// What the points and triangles of the files may take together, judged before it is taken.
#pragma once

#include "geom/core/fault.h"
#include "geom/core/result.h"

#include <cstddef>
#include <string>

namespace geom::scan::internal {

struct Budget {
    double limit_bytes = 900e6;
    double used_bytes = 0.0;     ///< by the files read before
    std::size_t keep_every = 1;  ///< of a cloud's points; 0: as few as it takes to fit

    static double cost(std::size_t points, std::size_t triangles, bool has_normals);

    /// Every how many-th point of a cloud of `points` is kept. Faults: MemoryLimit, with what would fit.
    Result<std::size_t> keep_of_cloud(const std::string& file, std::size_t points, bool has_normals) const;
    /// A mesh cannot be thinned by leaving points out. Faults: MemoryLimit, with what would fit.
    Status check_mesh(const std::string& file, std::size_t points, std::size_t triangles, bool has_normals) const;
};

}  // namespace geom::scan::internal
