// Two samples a pixel each way. Every sample's normal is interpolated from the corners of its facet and lit by a key
// light over the viewer's left shoulder, a weak fill from the right and an ambient term that is lighter from above; sums
// are taken in linear light. Lines come from visible_lines() and are stroked over the picture.
//
// Scan points are discs of constant size on the picture, nearest wins, lit by their normals. The near side of the gap
// would hide what the picture is for and is cut away; single things in front of the part are drawn faint.
#include "exports/internal/shaded.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

using geom::Vec3;

constexpr int kSamples = 2;
constexpr Rgb kPaper{0.965, 0.960, 0.950};
constexpr Rgb kInk{0.13, 0.12, 0.11};
constexpr Rgb kScan{0.36, 0.50, 0.62};

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
        : key(geom::unit(v.toward * 0.85 - v.right * 0.50 + v.up * 0.55)),
          fill(geom::unit(v.toward * 0.6 + v.right * 0.8 + v.up * 0.1)),
          up(v.up) {}
    /// How much of the colour comes back from a place with this normal that sees `open` of the sky.
    double on(Vec3 n, double open) const {
        const double ambient = (0.34 + 0.12 * dot(n, up)) * open;
        return ambient + (0.78 * std::max(0.0, dot(n, key)) + 0.18 * std::max(0.0, dot(n, fill))) * (0.3 + 0.7 * open);
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

/// What the samples of the part show, before the scan and the lines come on top.
struct Samples {
    int width = 0, height = 0;   ///< in samples
    std::vector<Vec3> light;     ///< linear colour
};

/// How much of the ambient light reaches each pixel, 0 to 1: of places on a spiral round it, those that stand above its
/// tangent plane take light away, near ones more. McGuire, Osman, Bukowski, Hennessy, "The Alchemy screen-space ambient
/// obscurance algorithm", HPG 2011 (cited from memory).
class Openness {
public:
    Openness(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine)
        : width_(fine.width / kSamples), height_(fine.height / kSamples) {
        for (std::size_t turn = 0; turn < kTile * kTile; ++turn)
            for (std::size_t k = 0; k < kPlaces; ++k) {
                const double r = kReach_mm * fine.px_per_mm * (static_cast<double>(k) + 0.5) / kPlaces;
                const double a = 2.0 * std::numbers::pi * static_cast<double>(turn) / (kTile * kTile) +
                                 2.399963 * static_cast<double>(k);  // the golden angle
                spiral_[turn][k] = {static_cast<int>(std::lround(r * std::cos(a))),
                                    static_cast<int>(std::lround(r * std::sin(a)))};
            }
        std::vector<float> rough(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_), 1.0f);
        geom::parallel_for(static_cast<std::size_t>(height_), 16, [&](std::size_t begin, std::size_t end) {
            for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
                for (int x = 0; x < width_; ++x)
                    rough[index(x, y)] = static_cast<float>(at(mesh, buffer, fine, x, y));
        });
        smooth(rough, buffer, fine);
    }
    double operator()(int x, int y) const { return open_[index(x, y)]; }

private:
    static constexpr int kPlaces = 20;
    static constexpr int kTile = 4;  ///< the spiral turns from pixel to pixel in tiles of this size
    static constexpr double kReach_mm = 55.0;

    std::size_t index(int x, int y) const {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) + static_cast<std::size_t>(x);
    }

    double at(const DrawMesh& mesh, const DepthBuffer& buffer, const View& fine, int x, int y) const {
        const int sx = x * kSamples, sy = y * kSamples;
        const std::uint32_t t = buffer.triangle(sx, sy);
        if (t == DepthBuffer::kNoTriangle) return 1.0;
        const auto& tri = mesh.triangles[t];
        const auto w = weights(buffer.seen()[tri[0]], buffer.seen()[tri[1]], buffer.seen()[tri[2]], sx + 0.5, sy + 0.5);
        const Vec3 normal = mesh.normals[tri[0]] * w[0] + mesh.normals[tri[1]] * w[1] + mesh.normals[tri[2]] * w[2];
        const Vec3 n = geom::unit(Vec3{dot(normal, fine.right), dot(normal, fine.up), dot(normal, fine.toward)});
        const double z = static_cast<double>(buffer.depth(sx, sy));
        const double mm_per_px = 1.0 / fine.px_per_mm;
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
        return std::max(0.0, 1.0 - 1.9 * taken / kPlaces);
    }

    /// Mean over one tile, of pixels at about the same depth.
    void smooth(const std::vector<float>& rough, const DepthBuffer& buffer, const View& fine) {
        open_.assign(rough.size(), 1.0f);
        const double step_mm = 6.0 * kTile / fine.px_per_mm * kSamples;
        geom::parallel_for(static_cast<std::size_t>(height_), 16, [&](std::size_t begin, std::size_t end) {
            for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
                for (int x = 0; x < width_; ++x) {
                    const float z = buffer.depth(x * kSamples, y * kSamples);
                    if (z == DepthBuffer::kNothing) continue;
                    float sum = 0.0f;
                    int count = 0;
                    for (int j = y - kTile / 2; j < y + kTile / 2; ++j)
                        for (int i = x - kTile / 2; i < x + kTile / 2; ++i) {
                            if (i < 0 || j < 0 || i >= width_ || j >= height_) continue;
                            const float other = buffer.depth(i * kSamples, j * kSamples);
                            if (other == DepthBuffer::kNothing || std::abs(static_cast<double>(other - z)) > step_mm)
                                continue;
                            sum += rough[index(i, j)];
                            ++count;
                        }
                    if (count > 0) open_[index(x, y)] = sum / static_cast<float>(count);
                }
        });
    }

    int width_, height_;
    std::array<std::array<std::array<int, 2>, kPlaces>, kTile * kTile> spiral_{};
    std::vector<float> open_;
};

/// The part's colour in a picture: half way to the grey of the same lightness, so that shapes speak and not paint.
Vec3 picture_colour(const std::array<float, 3>& srgb) {
    const Vec3 c = to_linear(Rgb{srgb[0], srgb[1], srgb[2]});
    const double grey = 0.2126 * c.x + 0.7152 * c.y + 0.0722 * c.z;
    const Vec3 warm = Vec3{1.06, 0.99, 0.90} * grey;
    return c * 0.3 + warm * 0.7;
}

Samples lit_samples(const ShadedInput& input, const DepthBuffer& buffer, const View& fine) {
    const Light light(input.view);
    const Openness openness(input.mesh, buffer, fine);
    const Vec3 paper = to_linear(kPaper);
    std::vector<Vec3> colours;
    for (const auto& c : input.colours) colours.push_back(picture_colour(c));
    Samples out{fine.width, fine.height, {}};
    out.light.resize(static_cast<std::size_t>(fine.width) * static_cast<std::size_t>(fine.height), paper);
    geom::parallel_for(static_cast<std::size_t>(fine.height), 16, [&](std::size_t begin, std::size_t end) {
        for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
            for (int x = 0; x < fine.width; ++x) {
                const std::uint32_t t = buffer.triangle(x, y);
                if (t == DepthBuffer::kNoTriangle) continue;
                const auto& tri = input.mesh.triangles[t];
                const auto w =
                    weights(buffer.seen()[tri[0]], buffer.seen()[tri[1]], buffer.seen()[tri[2]], x + 0.5, y + 0.5);
                const Vec3 n = geom::unit(input.mesh.normals[tri[0]] * w[0] + input.mesh.normals[tri[1]] * w[1] +
                                          input.mesh.normals[tri[2]] * w[2]);
                out.light[static_cast<std::size_t>(y) * static_cast<std::size_t>(fine.width) + static_cast<std::size_t>(x)] =
                    colours[input.mesh.product[t]] * light.on(n, openness(x / kSamples, y / kSamples));
            }
    });
    return out;
}

/// Discs of the scan, nearest wins; those before the part only tint it. Their normals are taken towards the part, which
/// is the side of the air; walls that then look away from the viewer are cut away like the front of a doll's house.
void add_points(Samples& samples, const ShadedInput& input, const DepthBuffer& buffer, const View& fine) {
    const Light light(input.view);
    const Vec3 colour = to_linear(kScan), paper = to_linear(kPaper);
    const auto& points = *input.points;
    const double depth_scale = 0.5 * norm(input.mesh.box.size());
    const double radius = std::clamp(0.55 * input.spacing_mm * input.view.px_per_mm, 0.9, 2.4) * kSamples;
    std::vector<float> nearest(samples.light.size(), DepthBuffer::kNothing), veil(samples.light.size(), 0.0f);
    const Vec3 middle = input.mesh.box.lo + input.mesh.box.size() * 0.5;
    const double middle_z = fine.project(middle).z;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const Seen s = fine.project(points[i]);
        if (s.x < -radius || s.y < -radius || s.x > fine.width + radius || s.y > fine.height + radius) continue;
        Vec3 lit = colour;
        if (input.normals != nullptr && i < input.normals->size()) {
            Vec3 n = (*input.normals)[i];
            if (dot(n, middle - points[i]) < 0.0) n = -n;
            if (dot(n, input.view.toward) < 0.0) continue;  // a near wall, seen from behind
            lit = colour * (light.on(n, 1.0) * 1.05);
        }
        const double away = std::clamp((middle_z - s.z) / depth_scale * 0.28 + 0.12, 0.0, 0.6);
        lit = lit * (1.0 - away) + paper * away;
        const int x0 = std::max(0, static_cast<int>(std::ceil(s.x - radius - 0.5)));
        const int x1 = std::min(fine.width - 1, static_cast<int>(std::floor(s.x + radius - 0.5)));
        const int y0 = std::max(0, static_cast<int>(std::ceil(s.y - radius - 0.5)));
        const int y1 = std::min(fine.height - 1, static_cast<int>(std::floor(s.y + radius - 0.5)));
        for (int y = y0; y <= y1; ++y)
            for (int x = x0; x <= x1; ++x) {
                if (std::hypot(x + 0.5 - s.x, y + 0.5 - s.y) > radius) continue;
                const std::size_t at = static_cast<std::size_t>(y) * static_cast<std::size_t>(fine.width) + static_cast<std::size_t>(x);
                const float z = static_cast<float>(s.z), part = buffer.depth(x, y);
                if (part != DepthBuffer::kNothing) {
                    if (z > part) veil[at] = std::min(1.0f, veil[at] + 0.25f);
                    continue;
                }
                if (z > nearest[at]) {
                    nearest[at] = z;
                    samples.light[at] = lit;
                }
            }
    }
    for (std::size_t i = 0; i < veil.size(); ++i)
        if (veil[i] > 0.0f)
            samples.light[i] = samples.light[i] * (1.0 - 0.18 * static_cast<double>(veil[i])) + colour * (0.18 * static_cast<double>(veil[i]));
}

}  // namespace

Raster shaded(const ShadedInput& input) {
    const View fine = input.view.refined(kSamples);
    const DepthBuffer buffer(input.mesh, fine);
    Samples samples = lit_samples(input, buffer, fine);
    if (input.points != nullptr) add_points(samples, input, buffer, fine);

    const int width = input.view.width, height = input.view.height;
    const SrgbTable srgb;
    Raster raster{width, height, {}};
    raster.pixels.resize(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    geom::parallel_for(static_cast<std::size_t>(height), 32, [&](std::size_t begin, std::size_t end) {
        for (std::size_t y = begin; y < end; ++y)
            for (std::size_t x = 0; x < static_cast<std::size_t>(width); ++x) {
                Vec3 sum{};
                for (std::size_t j = 0; j < kSamples; ++j)
                    for (std::size_t i = 0; i < kSamples; ++i)
                        sum += samples.light[(y * kSamples + j) * static_cast<std::size_t>(fine.width) + x * kSamples + i];
                raster.pixels[y * static_cast<std::size_t>(width) + x] = srgb(sum / (kSamples * kSamples));
            }
    });

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
