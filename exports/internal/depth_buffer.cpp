// Each row of a facet is one span of pixels, found from its three edges; pixels are tested at their centres, inclusive
// by a hair so that neighbouring facets leave no pinhole. Rows are worked in bands of fixed height; within a band
// facets come in the order of the mesh and a later one wins only when it is strictly nearer, so the picture does not
// depend on the number of threads.
#include "exports/internal/depth_buffer.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace exports {

DepthBuffer::DepthBuffer(const DrawMesh& mesh, const View& view)
    : width_(view.width),
      height_(view.height),
      depth_(static_cast<std::size_t>(view.width) * static_cast<std::size_t>(view.height), kNothing),
      triangle_(depth_.size(), kNoTriangle),
      seen_(mesh.points.size()),
      rows_(mesh.triangles.size()) {
    for (std::size_t i = 0; i < mesh.points.size(); ++i) seen_[i] = view.project(mesh.points[i]);
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) {
        const auto& t = mesh.triangles[i];
        const Seen &a = seen_[t[0]], &b = seen_[t[1]], &c = seen_[t[2]];
        // y runs down, so a facet that faces the viewer (counter-clockwise there) has a negative area here.
        const double area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        rows_[i] = {1.0f, 0.0f};
        if (area < 0.0)
            rows_[i] = {static_cast<float>(std::min({a.y, b.y, c.y})), static_cast<float>(std::max({a.y, b.y, c.y}))};
    }
    geom::parallel_for(static_cast<std::size_t>(height_), 64, [&](std::size_t begin, std::size_t end) {
        fill_rows(mesh, static_cast<int>(begin), static_cast<int>(end));
    });
}

void DepthBuffer::fill_rows(const DrawMesh& mesh, int row_begin, int row_end) {
    const float top = static_cast<float>(row_begin) - 0.5f, bottom = static_cast<float>(row_end) + 0.5f;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) {
        if (rows_[i][0] > rows_[i][1] || rows_[i][1] < top || rows_[i][0] > bottom) continue;
        const auto& t = mesh.triangles[i];
        const std::array<Seen, 3> p{seen_[t[0]], seen_[t[2]], seen_[t[1]]};  // clockwise: positive area, y down
        const double area = (p[1].x - p[0].x) * (p[2].y - p[0].y) - (p[1].y - p[0].y) * (p[2].x - p[0].x);
        if (!(area > 0.0)) continue;
        const double dzdx = ((p[1].z - p[0].z) * (p[2].y - p[0].y) - (p[2].z - p[0].z) * (p[1].y - p[0].y)) / area;
        const double dzdy = ((p[2].z - p[0].z) * (p[1].x - p[0].x) - (p[1].z - p[0].z) * (p[2].x - p[0].x)) / area;
        const double z_low = std::min({p[0].z, p[1].z, p[2].z}), z_high = std::max({p[0].z, p[1].z, p[2].z});
        const double x_low = std::min({p[0].x, p[1].x, p[2].x}), x_high = std::max({p[0].x, p[1].x, p[2].x});
        const double y_low = std::min({p[0].y, p[1].y, p[2].y}), y_high = std::max({p[0].y, p[1].y, p[2].y});

        const int y0 = std::max(row_begin, static_cast<int>(std::ceil(y_low - 0.5 - 1e-9)));
        const int y1 = std::min(row_end - 1, static_cast<int>(std::floor(y_high - 0.5 + 1e-9)));
        for (int y = y0; y <= y1; ++y) {
            const double yc = y + 0.5;
            double from = x_low, to = x_high;
            bool is_empty = false;
            for (std::size_t e = 0; e < 3; ++e) {
                const Seen &a = p[e], &b = p[(e + 1) % 3];
                const double dx = b.x - a.x, dy = b.y - a.y;
                // Inside: dx (yc - a.y) - dy (x - a.x) >= 0.
                if (dy == 0.0) {
                    if (dx * (yc - a.y) < -1e-9) is_empty = true;
                    continue;
                }
                const double x = a.x + dx * (yc - a.y) / dy;
                if (dy > 0.0)
                    to = std::min(to, x);
                else
                    from = std::max(from, x);
            }
            if (is_empty) continue;
            const int x0 = std::max(0, static_cast<int>(std::ceil(from - 0.5 - 1e-7)));
            const int x1 = std::min(width_ - 1, static_cast<int>(std::floor(to - 0.5 + 1e-7)));
            for (int x = x0; x <= x1; ++x) {
                const double z = p[0].z + dzdx * (x + 0.5 - p[0].x) + dzdy * (yc - p[0].y);
                const float depth = static_cast<float>(std::clamp(z, z_low, z_high));
                const std::size_t at = index(x, y);
                if (depth > depth_[at]) {
                    depth_[at] = depth;
                    triangle_[at] = static_cast<std::uint32_t>(i);
                }
            }
        }
    }
}

float DepthBuffer::farthest_near(double x, double y) const {
    const int cx = static_cast<int>(std::floor(x)), cy = static_cast<int>(std::floor(y));
    float farthest = std::numeric_limits<float>::infinity();
    for (int j = cy - 1; j <= cy + 1; ++j)
        for (int i = cx - 1; i <= cx + 1; ++i) {
            if (i < 0 || j < 0 || i >= width_ || j >= height_) return kNothing;
            farthest = std::min(farthest, depth(i, j));
        }
    return farthest;
}

}  // namespace exports
