// Of places on a spiral round a pixel, those that stand above its tangent plane take light away, near ones more:
// McGuire, Osman, Bukowski, Hennessy, "The Alchemy screen-space ambient obscurance algorithm", HPG 2011 (cited from
// memory). The spiral is turned from pixel to pixel within a tile, and the tile averaged afterwards.
#include "exports/internal/openness.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

using geom::Vec3;

constexpr double kReach_mm = 55.0;
constexpr double kGoldenAngle_rad = 2.399963;

}  // namespace

Openness::Openness(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine, int samples)
    : samples_(samples), width_(fine.width / samples), height_(fine.height / samples) {
    for (std::size_t turn = 0; turn < kTile * kTile; ++turn)
        for (std::size_t k = 0; k < kPlaces; ++k) {
            const double r = kReach_mm * fine.px_per_mm * (static_cast<double>(k) + 0.5) / kPlaces;
            const double a = 2.0 * std::numbers::pi * static_cast<double>(turn) / (kTile * kTile) +
                             kGoldenAngle_rad * static_cast<double>(k);
            spiral_[turn][k] = {static_cast<int>(std::lround(r * std::cos(a))),
                                static_cast<int>(std::lround(r * std::sin(a)))};
        }
    std::vector<float> rough(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_), 1.0f);
    geom::parallel_for(static_cast<std::size_t>(height_), 16, [&](std::size_t begin, std::size_t end) {
        for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
            for (int x = 0; x < width_; ++x) rough[index(x, y)] = rough_at(mesh, buffer, fine, x, y);
    });
    smooth(rough, buffer, fine);
}

float Openness::rough_at(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine, int x, int y) const {
    const int sx = x * samples_, sy = y * samples_;
    const std::uint32_t t = buffer.triangle(sx, sy);
    if (t == DepthBuffer::kNoTriangle) return 1.0f;
    const Vec3 normal = normal_at(mesh, buffer, t, sx + 0.5, sy + 0.5);
    const Vec3 n{dot(normal, fine.right), dot(normal, fine.up), dot(normal, fine.toward)};
    const double z = static_cast<double>(buffer.depth(sx, sy)), mm_per_px = 1.0 / fine.px_per_mm;
    double taken = 0.0;
    for (const auto& place : spiral_[static_cast<std::size_t>((x % kTile * kTile + y % kTile * 7) % (kTile * kTile))]) {
        const int px = sx + place[0], py = sy + place[1];
        if (px < 0 || py < 0 || px >= fine.width || py >= fine.height) continue;
        const float depth = buffer.depth(px, py);
        if (depth == DepthBuffer::kNothing) continue;
        const Vec3 v{place[0] * mm_per_px, -place[1] * mm_per_px, static_cast<double>(depth) - z};
        const double above = dot(v, n) - 0.4;
        if (above <= 0.0) continue;
        const double length = norm(v);
        taken += above / (length + 4.0) * std::min(1.0, 2.0 * kReach_mm / length);
    }
    return static_cast<float>(std::max(0.0, 1.0 - 1.9 * taken / kPlaces));
}

/// Mean over one tile, of pixels at about the same depth.
void Openness::smooth(const std::vector<float>& rough, const DepthBuffer& buffer, const View& fine) {
    open_.assign(rough.size(), 1.0f);
    const float step_mm = static_cast<float>(6.0 * kTile * samples_ / fine.px_per_mm);
    geom::parallel_for(static_cast<std::size_t>(height_), 16, [&](std::size_t begin, std::size_t end) {
        for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
            for (int x = 0; x < width_; ++x) {
                const float z = buffer.depth(x * samples_, y * samples_);
                if (z == DepthBuffer::kNothing) continue;
                float sum = 0.0f;
                int count = 0;
                for (int j = std::max(0, y - kTile / 2); j < std::min(height_, y + kTile / 2); ++j)
                    for (int i = std::max(0, x - kTile / 2); i < std::min(width_, x + kTile / 2); ++i) {
                        if (!(std::abs(buffer.depth(i * samples_, j * samples_) - z) < step_mm)) continue;
                        sum += rough[index(i, j)];
                        ++count;
                    }
                if (count > 0) open_[index(x, y)] = sum / static_cast<float>(count);
            }
    });
}

}  // namespace exports
