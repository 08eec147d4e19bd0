// A cloud of small discs as a picture: for each sample of a pixel the nearest disc's depth and how it is lit.
#pragma once

#include "exports/internal/view.h"

#include <cstdint>
#include <limits>
#include <vector>

namespace exports {

struct Discs {
    const std::vector<geom::Point3>* points = nullptr;
    const std::vector<geom::Vec3>* normals = nullptr;          ///< unit; none: dots of even light
    const std::vector<float>* radius_mm = nullptr;             ///< none: dots
    double wide = 1.0;                                         ///< factor on the radii
    double most_mm = std::numeric_limits<double>::infinity();  ///< no disc gets a larger radius
    double dot_px = 1.1;                                       ///< least radius on the picture
    bool is_oriented = false;                                  ///< those seen from behind are left out
    /// Places nearer to the viewer than this (mm along View::toward) are left out.
    double cut_mm = std::numeric_limits<double>::infinity();
};

/// Row by row from the top; `depth` as View::project() gives it.
struct DiscPicture {
    static constexpr float kNothing = -std::numeric_limits<float>::infinity();
    int width = 0, height = 0;
    std::vector<float> depth;         ///< of the nearest; kNothing where nothing is
    std::vector<float> farthest;      ///< of the farthest, +infinity where nothing is
    std::vector<std::uint8_t> light;  ///< 0 to 255
};

/// Does not depend on threads; among equals the first disc wins.
DiscPicture draw_discs(const Discs& discs, const View& view);

}  // namespace exports
