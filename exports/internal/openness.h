// How much of the sky each pixel of a picture sees: what makes hollows and holes read as such.
#pragma once

#include "exports/internal/depth_buffer.h"

namespace exports {

/// Weights of a triangle's corners at a place of the picture.
inline std::array<double, 3> corner_weights(const Seen& a, const Seen& b, const Seen& c, double x, double y) {
    const double area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    if (area == 0.0) return {1.0, 0.0, 0.0};
    const double wb = ((x - a.x) * (c.y - a.y) - (y - a.y) * (c.x - a.x)) / area;
    const double wc = ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)) / area;
    return {1.0 - wb - wc, wb, wc};
}

/// The interpolated normal of triangle `t` at a sample, unit, vehicle frame.
inline geom::Vec3 normal_at(const DrawMesh& mesh, const DepthBuffer& buffer, std::uint32_t t, double x, double y) {
    const auto& tri = mesh.triangles[t];
    const auto w = corner_weights(buffer.seen()[tri[0]], buffer.seen()[tri[1]], buffer.seen()[tri[2]], x, y);
    return geom::unit(mesh.normals[tri[0]] * w[0] + mesh.normals[tri[1]] * w[1] + mesh.normals[tri[2]] * w[2]);
}

class Openness {
public:
    /// `samples` of the buffer make one pixel each way; `fine` is the view of the buffer.
    Openness(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine, int samples);
    /// 0 (closed in) to 1 (open) at a pixel.
    double operator()(int x, int y) const { return static_cast<double>(open_[index(x, y)]); }

private:
    static constexpr int kPlaces = 20;
    static constexpr int kTile = 4;  ///< the spiral turns from pixel to pixel in tiles of this size

    std::size_t index(int x, int y) const {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) + static_cast<std::size_t>(x);
    }
    float rough_at(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine, int x, int y) const;
    void smooth(const std::vector<float>& rough, const DepthBuffer& buffer, const View& fine);

    int samples_, width_, height_;
    std::array<std::array<std::array<int, 2>, kPlaces>, kTile * kTile> spiral_{};
    std::vector<float> open_;
};

}  // namespace exports
