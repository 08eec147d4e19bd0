// A picture's depths: for every pixel how near the nearest facet is, and which one it is.
#pragma once

#include "exports/internal/draw_mesh.h"
#include "exports/internal/view.h"

#include <limits>

namespace exports {

class DepthBuffer {
public:
    static constexpr float kNothing = -std::numeric_limits<float>::infinity();
    static constexpr std::uint32_t kNoTriangle = 0xffffffffu;

    /// Facets turned away from the viewer are left out: the mesh is closed.
    DepthBuffer(const DrawMesh& mesh, const View& view);

    int width() const { return width_; }
    int height() const { return height_; }
    /// mm towards the viewer, kNothing where nothing is.
    float depth(int x, int y) const { return depth_[index(x, y)]; }
    std::uint32_t triangle(int x, int y) const { return triangle_[index(x, y)]; }
    const std::vector<Seen>& seen() const { return seen_; }

    /// The farthest depth among the pixels within one of the place; kNothing where one of them is empty.
    float farthest_near(double x, double y) const;

private:
    std::size_t index(int x, int y) const {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) + static_cast<std::size_t>(x);
    }
    void fill_rows(const DrawMesh& mesh, int row_begin, int row_end);

    int width_, height_;
    std::vector<float> depth_;
    std::vector<std::uint32_t> triangle_;
    std::vector<Seen> seen_;                  ///< of the mesh's points
    std::vector<std::array<float, 2>> rows_;  ///< of each triangle; empty range when turned away
};

}  // namespace exports
