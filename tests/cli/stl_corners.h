// A binary STL as another reader sees it: its corners alone, by no code of the program's own.
#pragma once

#include "geom/core/vec.h"

#include <cstdint>
#include <cstring>
#include <stdexcept>
#include <string>
#include <vector>

namespace support {

/// Three points a facet, in the order of the file.
inline std::vector<geom::Point3> stl_corners(const std::string& bytes) {
    std::uint32_t facets = 0;
    if (bytes.size() > 84) std::memcpy(&facets, bytes.data() + 80, 4);
    if (facets == 0 || bytes.size() != 84 + 50 * static_cast<std::size_t>(facets))
        throw std::runtime_error("no binary STL, or not all of it");
    std::vector<geom::Point3> corners;
    for (std::size_t i = 0; i < facets; ++i) {
        float v[9];
        std::memcpy(v, bytes.data() + 84 + 50 * i + 12, 36);
        for (int k = 0; k < 9; k += 3) corners.push_back({v[k], v[k + 1], v[k + 2]});
    }
    return corners;
}

}  // namespace support
