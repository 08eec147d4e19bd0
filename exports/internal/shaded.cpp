// Two samples a pixel each way. Every sample's normal is interpolated from the corners of its facet and lit by a key
// light over the viewer's left shoulder, a weak fill from the right and an ambient term that is lighter from above; sums
// are taken in linear light. Lines come from visible_lines() and are stroked over the picture.
//
// Scan points are discs of constant size on the picture, nearest wins, lit by their normals. A point in front of the
// part would hide what the picture is for: it is drawn faint.
#include "exports/internal/shaded.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace exports {
namespace {

using geom::Vec3;

constexpr int kSamples = 2;
constexpr Rgb kPaper{0.965, 0.960, 0.950};
constexpr Rgb kInk{0.13, 0.12, 0.11};

double to_linear(double s) { return s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4); }
double to_srgb(double l) { return l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1.0 / 2.4) - 0.055; }
Vec3 to_linear(const Rgb& c) { return {to_linear(c[0]), to_linear(c[1]), to_linear(c[2])}; }

/// sRGB bytes of linear values by table: the pow of every pixel would cost more than the rasteriser.
class SrgbTable {
public:
    SrgbTable() {
        for (std::size_t i = 0; i < table_.size(); ++i)
            table_[i] = static_cast<std::uint8_t>(
                std::lround(255.0 * to_srgb(static_cast<double>(i) / static_cast<double>(table_.size() - 1))));
    }
    std::uint32_t operator()(Vec3 linear) const { return byte(linear.x) << 16 | byte(linear.y) << 8 | byte(linear.z); }

private:
    std::uint32_t byte(double v) const {
        return table_[static_cast<std::size_t>(std::clamp(v, 0.0, 1.0) * static_cast<double>(table_.size() - 1) + 0.5)];
    }
    std::array<std::uint8_t, 8192> table_{};
};

struct Light {
    Vec3 key, fill, up;  // in vehicle numbers

    explicit Light(const View& v)
        : key(geom::unit(v.toward * 0.75 - v.right * 0.55 + v.up * 0.65)),
          fill(geom::unit(v.toward * 0.6 + v.right * 0.8 + v.up * 0.1)),
          up(v.up) {}
    /// How much of the colour comes back; about 0.25 to 1.05.
    double on(Vec3 n) const {
        const double ambient = 0.30 + 0.10 * dot(n, up);
        return ambient + 0.62 * std::max(0.0, dot(n, key)) + 0.16 * std::max(0.0, dot(n, fill));
    }
};

/// Weights of a triangle's corners at a place of the picture.
std::array<double, 3> weights(const Seen& a, const Seen& b, const Seen& c, double x, double y) {
    const double area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    if (area == 0.0) return {1.0, 0.0, 0.0};
    const double wb = ((x - a.x) * (c.y - a.y) - (y - a.y) * (c.x - a.x)) / area;
    const double wc = ((b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)) / area;
    return {1.0 - wb - wc, wb, wc};
}

}  // namespace

Raster shaded(const ShadedInput& input) {
    const View fine = input.view.refined(kSamples);
    const DepthBuffer buffer(input.mesh, fine);
    const Light light(input.view);
    const Vec3 paper = to_linear(kPaper);
    std::vector<Vec3> colours;
    for (const auto& c : input.colours) colours.push_back(to_linear(Rgb{c[0], c[1], c[2]}));

    const int width = input.view.width, height = input.view.height;
    std::vector<Vec3> linear(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    geom::parallel_for(static_cast<std::size_t>(height), 16, [&](std::size_t begin, std::size_t end) {
        for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
            for (int x = 0; x < width; ++x) {
                Vec3 sum{};
                for (int j = 0; j < kSamples; ++j)
                    for (int i = 0; i < kSamples; ++i) {
                        const int sx = x * kSamples + i, sy = y * kSamples + j;
                        const std::uint32_t t = buffer.triangle(sx, sy);
                        if (t == DepthBuffer::kNoTriangle) {
                            sum += paper;
                            continue;
                        }
                        const auto& tri = input.mesh.triangles[t];
                        const auto w = weights(buffer.seen()[tri[0]], buffer.seen()[tri[1]], buffer.seen()[tri[2]],
                                               sx + 0.5, sy + 0.5);
                        const Vec3 n = geom::unit(input.mesh.normals[tri[0]] * w[0] + input.mesh.normals[tri[1]] * w[1] +
                                                  input.mesh.normals[tri[2]] * w[2]);
                        sum += colours[input.mesh.product[t]] * light.on(n);
                    }
                linear[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)] =
                    sum / (kSamples * kSamples);
            }
    });

    const SrgbTable srgb;
    Raster raster{width, height, std::vector<std::uint32_t>(linear.size())};
    for (std::size_t i = 0; i < linear.size(); ++i) raster.pixels[i] = srgb(linear[i]);

    std::vector<std::vector<Sheet::Point>> smooth, strong;
    for (const VisibleLine& line : visible_lines(input.mesh, input.edges, fine, buffer)) {
        std::vector<Sheet::Point> points;
        for (const PicturePoint& p : line.points) points.push_back({p.x / kSamples, p.y / kSamples});
        (line.kind == VisibleLine::Kind::Smooth ? smooth : strong).push_back(std::move(points));
    }
    Sheet lines(width, height);  // one unit a pixel
    lines.draw(smooth, {.width_mm = 1.0, .colour = kInk, .opacity = 0.22, .dashes_mm = {}});
    lines.draw(strong, {.width_mm = 1.7, .colour = kInk, .opacity = 0.85, .dashes_mm = {}});
    lines.paint_on(raster);
    return raster;
}

}  // namespace exports
