// A disc covers the pixels whose place on its plane lies within its radius, so that walls seen at a slant stay closed
// and do not swell past their edges. Discs smaller than a pixel, or seen from the edge, become dots. Bands of rows are
// drawn at the same time, each by one pass over all discs.
#include "exports/internal/discs.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace exports {
namespace {

using geom::Vec3;

constexpr double kEdgeOn = 0.2;  ///< cosine under which a disc is drawn as a dot

struct Stamp {
    double x, y, z;             // of the middle, as projected
    double slope_x, slope_y;    // of the depth, mm a pixel
    double reach_px, reach_mm;  // of the disc
    std::uint8_t light;
};

std::uint8_t lit(Vec3 n) {  // in the viewer's axes, facing the viewer
    static const Vec3 key = geom::unit({-0.5, 0.55, 0.85}), fill = geom::unit({0.8, 0.1, 0.6});
    const double light = 0.50 + 0.08 * n.y + 0.44 * std::max(0.0, dot(n, key)) + 0.10 * std::max(0.0, dot(n, fill));
    return static_cast<std::uint8_t>(std::lround(255.0 * std::clamp(light, 0.0, 1.0)));
}

std::vector<Stamp> stamps_of(const Discs& discs, const View& view) {
    const auto& points = *discs.points;
    std::vector<Stamp> stamps;
    stamps.reserve(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const Seen s = view.project(points[i]);
        if (dot(points[i], view.toward) > discs.cut_mm) continue;
        Stamp stamp{s.x, s.y, s.z, 0.0, 0.0, discs.dot_px, 0.0, 235};
        if (discs.normals != nullptr) {
            const Vec3 n = (*discs.normals)[i];
            Vec3 seen{dot(n, view.right), dot(n, view.up), dot(n, view.toward)};
            if (discs.is_oriented && seen.z < 0.0) continue;
            if (seen.z < 0.0) seen = -seen;
            stamp.light = lit(seen);
            const double radius_mm =
                discs.radius_mm != nullptr ? std::min(discs.wide * (*discs.radius_mm)[i], discs.most_mm) : 0.0;
            const double radius_px = radius_mm * view.px_per_mm;
            if (radius_px > discs.dot_px && seen.z > kEdgeOn) {
                stamp.reach_px = radius_px;
                stamp.reach_mm = radius_mm;
                stamp.slope_x = -seen.x / seen.z / view.px_per_mm;
                stamp.slope_y = seen.y / seen.z / view.px_per_mm;
            } else {
                stamp.reach_px = std::max(discs.dot_px, 0.4 * radius_px);
            }
        }
        if (s.x < -stamp.reach_px || s.y < -stamp.reach_px || s.x > view.width + stamp.reach_px ||
            s.y > view.height + stamp.reach_px)
            continue;
        stamps.push_back(stamp);
    }
    return stamps;
}

void stamp_rows(const std::vector<Stamp>& stamps, const View& view, int begin, int end, DiscPicture& out) {
    const double mm_per_px = 1.0 / view.px_per_mm;
    for (const Stamp& s : stamps) {
        const int y0 = std::max(begin, static_cast<int>(std::ceil(s.y - s.reach_px - 0.5)));
        const int y1 = std::min(end - 1, static_cast<int>(std::floor(s.y + s.reach_px - 0.5)));
        if (y0 > y1) continue;
        const int x0 = std::max(0, static_cast<int>(std::ceil(s.x - s.reach_px - 0.5)));
        const int x1 = std::min(view.width - 1, static_cast<int>(std::floor(s.x + s.reach_px - 0.5)));
        for (int y = y0; y <= y1; ++y)
            for (int x = x0; x <= x1; ++x) {
                const double dx = x + 0.5 - s.x, dy = y + 0.5 - s.y, dz = s.slope_x * dx + s.slope_y * dy;
                const double flat2 = dx * dx + dy * dy;
                if (s.reach_mm > 0.0 ? flat2 * mm_per_px * mm_per_px + dz * dz > s.reach_mm * s.reach_mm
                                     : flat2 > s.reach_px * s.reach_px)
                    continue;
                const std::size_t at =
                    static_cast<std::size_t>(y) * static_cast<std::size_t>(view.width) + static_cast<std::size_t>(x);
                const auto z = static_cast<float>(s.z + dz);
                out.farthest[at] = std::min(out.farthest[at], z);
                if (z > out.depth[at]) out.depth[at] = z, out.light[at] = s.light;
            }
    }
}

}  // namespace

DiscPicture draw_discs(const Discs& discs, const View& view) {
    DiscPicture out;
    out.width = view.width, out.height = view.height;
    const std::size_t count = static_cast<std::size_t>(view.width) * static_cast<std::size_t>(view.height);
    out.depth.assign(count, DiscPicture::kNothing);
    out.farthest.assign(count, -DiscPicture::kNothing);
    out.light.assign(count, 0);
    const std::vector<Stamp> stamps = stamps_of(discs, view);
    geom::parallel_for(static_cast<std::size_t>(view.height), 128, [&](std::size_t begin, std::size_t end) {
        stamp_rows(stamps, view, static_cast<int>(begin), static_cast<int>(end), out);
    });
    return out;
}

}  // namespace exports
