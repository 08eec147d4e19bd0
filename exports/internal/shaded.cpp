// Two samples a pixel each way. Every sample's normal is interpolated from the corners of its facet and lit by a key
// light over the viewer's left shoulder, a weak fill from the right and an ambient term that is lighter from above;
// sums are taken in linear light. Lines come from visible_lines() and are stroked over the picture.
//
// Scan points are discs of constant size on the picture, nearest wins, lit by their normals. The near side of the gap
// would hide what the picture is for and is cut away; single things in front of the part are drawn faint.
#include "exports/internal/shaded.h"

#include "exports/internal/openness.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace exports {
namespace {

using geom::Vec3;

constexpr int kSamples = 2;
constexpr Rgb kPaper{0.965, 0.960, 0.950};
constexpr Rgb kInk{0.13, 0.12, 0.11};
constexpr Rgb kScan{0.36, 0.50, 0.62};

double to_linear(double s) {
    return s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4);
}
double to_srgb(double l) {
    return l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1.0 / 2.4) - 0.055;
}
Vec3 to_linear(const Rgb& c) {
    return {to_linear(c[0]), to_linear(c[1]), to_linear(c[2])};
}

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

/// The part's colour in a picture: half way to the grey of the same lightness, so that shapes speak and not paint.
Vec3 picture_colour(const std::array<float, 3>& srgb) {
    const Vec3 c = to_linear(Rgb{srgb[0], srgb[1], srgb[2]});
    const double grey = 0.2126 * c.x + 0.7152 * c.y + 0.0722 * c.z;
    const Vec3 warm = Vec3{1.06, 0.99, 0.90} * grey;
    return c * 0.3 + warm * 0.7;
}

/// What the scan shows in each sample: a depth and a colour where a point is seen beside or behind the part, and how
/// thick the veil of points before the part is. Empty without a scan.
struct ScanSamples {
    std::vector<float> depth;
    std::vector<std::uint32_t> colour;  ///< linear, ten bits a channel
    std::vector<std::uint8_t> veil;     ///< points before the part, at most kFullVeil
};
constexpr std::uint8_t kFullVeil = 4;

std::uint32_t packed(Vec3 linear) {
    const auto ten = [](double v) { return static_cast<std::uint32_t>(std::clamp(v, 0.0, 1.0) * 1023.0 + 0.5); };
    return ten(linear.x) << 20 | ten(linear.y) << 10 | ten(linear.z);
}
Vec3 unpacked(std::uint32_t p) {
    return {(p >> 20 & 1023u) / 1023.0, (p >> 10 & 1023u) / 1023.0, (p & 1023u) / 1023.0};
}

/// Discs of the scan, nearest wins; those before the part only veil it. Their normals are taken towards the part, which
/// is the side of the air; walls that then look away from the viewer are cut away like the front of a doll's house.
ScanSamples scan_samples(const ShadedInput& input, const DepthBuffer& buffer, const View& fine) {
    ScanSamples out;
    if (input.points == nullptr) return out;
    const std::size_t width = static_cast<std::size_t>(fine.width),
                      count = width * static_cast<std::size_t>(fine.height);
    out.depth.assign(count, DepthBuffer::kNothing);
    out.colour.assign(count, 0);
    out.veil.assign(count, 0);

    const Light light(input.view);
    const Vec3 colour = to_linear(kScan), paper = to_linear(kPaper);
    const Vec3 middle = input.mesh.box.lo + input.mesh.box.size() * 0.5;
    const double middle_z = fine.project(middle).z, depth_scale = 0.5 * norm(input.mesh.box.size());
    const double radius = std::clamp(0.55 * input.spacing_mm * input.view.px_per_mm, 0.9, 2.4) * kSamples;
    for (std::size_t i = 0; i < input.points->size(); ++i) {
        const Vec3 p = (*input.points)[i];
        const Seen s = fine.project(p);
        if (s.x < -radius || s.y < -radius || s.x > fine.width + radius || s.y > fine.height + radius) continue;
        Vec3 lit = colour;
        if (input.normals != nullptr && i < input.normals->size()) {
            Vec3 n = (*input.normals)[i];
            if (dot(n, middle - p) < 0.0) n = -n;
            if (dot(n, input.view.toward) < 0.0) continue;  // a near wall, seen from behind
            lit = colour * (light.on(n, 1.0) * 1.05);
        }
        const double away = std::clamp((middle_z - s.z) / depth_scale * 0.28 + 0.12, 0.0, 0.6);
        const std::uint32_t ink = packed(lit * (1.0 - away) + paper * away);
        const float z = static_cast<float>(s.z);
        const int x0 = std::max(0, static_cast<int>(std::ceil(s.x - radius - 0.5)));
        const int x1 = std::min(fine.width - 1, static_cast<int>(std::floor(s.x + radius - 0.5)));
        const int y0 = std::max(0, static_cast<int>(std::ceil(s.y - radius - 0.5)));
        const int y1 = std::min(fine.height - 1, static_cast<int>(std::floor(s.y + radius - 0.5)));
        for (int y = y0; y <= y1; ++y)
            for (int x = x0; x <= x1; ++x) {
                const double dx = x + 0.5 - s.x, dy = y + 0.5 - s.y;
                if (dx * dx + dy * dy > radius * radius) continue;
                const std::size_t at = static_cast<std::size_t>(y) * width + static_cast<std::size_t>(x);
                const float part = buffer.depth(x, y);
                if (part != DepthBuffer::kNothing) {
                    if (z > part && out.veil[at] < kFullVeil) ++out.veil[at];
                } else if (z > out.depth[at]) {
                    out.depth[at] = z;
                    out.colour[at] = ink;
                }
            }
    }
    return out;
}

/// Every pixel: the mean of its samples, each lit part, point of the scan or paper.
Raster resolve(const ShadedInput& input, const DepthBuffer& buffer, const View& fine, const ScanSamples& scan) {
    const Light light(input.view);
    const Openness openness(input.mesh, buffer, fine, kSamples);
    const SrgbTable srgb;
    const Vec3 paper = to_linear(kPaper), veil = to_linear(kScan);
    std::vector<Vec3> colours;
    for (const auto& c : input.colours) colours.push_back(picture_colour(c));
    const bool has_scan = !scan.depth.empty();
    const std::size_t fine_width = static_cast<std::size_t>(fine.width);

    const auto sample = [&](int x, int y) -> Vec3 {
        const std::size_t at = static_cast<std::size_t>(y) * fine_width + static_cast<std::size_t>(x);
        const std::uint32_t t = buffer.triangle(x, y);
        if (t == DepthBuffer::kNoTriangle)
            return has_scan && scan.depth[at] != DepthBuffer::kNothing ? unpacked(scan.colour[at]) : paper;
        const Vec3 n = normal_at(input.mesh, buffer, t, x + 0.5, y + 0.5);
        const Vec3 lit = colours[input.mesh.product[t]] * light.on(n, openness(x / kSamples, y / kSamples));
        if (!has_scan || scan.veil[at] == 0) return lit;
        const double w = 0.18 * scan.veil[at] / kFullVeil;
        return lit * (1.0 - w) + veil * w;
    };
    Raster raster{input.view.width, input.view.height, {}};
    const std::size_t width = static_cast<std::size_t>(raster.width);
    raster.pixels.resize(width * static_cast<std::size_t>(raster.height));
    geom::parallel_for(static_cast<std::size_t>(raster.height), 16, [&](std::size_t begin, std::size_t end) {
        for (int y = static_cast<int>(begin); y < static_cast<int>(end); ++y)
            for (int x = 0; x < raster.width; ++x) {
                Vec3 sum{};
                for (int j = 0; j < kSamples; ++j)
                    for (int i = 0; i < kSamples; ++i) sum += sample(x * kSamples + i, y * kSamples + j);
                raster.pixels[static_cast<std::size_t>(y) * width + static_cast<std::size_t>(x)] =
                    srgb(sum / (kSamples * kSamples));
            }
    });
    return raster;
}

}  // namespace

Raster shaded(const ShadedInput& input) {
    const View fine = input.view.refined(kSamples);
    const DepthBuffer buffer(input.mesh, fine);
    Raster raster = resolve(input, buffer, fine, scan_samples(input, buffer, fine));

    std::vector<std::vector<Sheet::Point>> smooth, strong;
    for (const VisibleLine& line : visible_lines(input.mesh, input.edges, fine, buffer)) {
        std::vector<Sheet::Point> points;
        for (const PicturePoint& p : line.points) points.push_back({p.x / kSamples, p.y / kSamples});
        (line.kind == VisibleLine::Kind::Smooth ? smooth : strong).push_back(std::move(points));
    }
    Sheet lines(raster.width, raster.height);  // one unit a pixel
    lines.draw(smooth, {.width_mm = 1.0, .colour = kInk, .opacity = 0.22, .dashes_mm = {}});
    lines.draw(strong, {.width_mm = 1.7, .colour = kInk, .opacity = 0.85, .dashes_mm = {}});
    lines.paint_on(raster);
    return raster;
}

}  // namespace exports
