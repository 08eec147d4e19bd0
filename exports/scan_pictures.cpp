// Each picture is a frame with millimetres along two sides, in it the scan as discs (exports/internal/discs.h) coloured
// by the coordinate that runs away from the viewer, over it the marks, beside it what they mean. Two samples a pixel
// each way, averaged in linear light.
#include "exports/scan_pictures.h"

#include "exports/internal/discs.h"
#include "exports/internal/sheet.h"
#include "geom/core/parallel.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

using geom::Aabb;
using geom::grouped;
using geom::Point3;
using geom::Vec3;

constexpr int kWidth = 1600, kHeight = 1200, kSamples = 2;
constexpr int kLeft = 120, kTop = 136, kPlotWidth = 1060, kPlotHeight = 940;
constexpr double kColumn = 1236.0;  // of the legend
constexpr double kPlaces = 130.0;   // in it, of coordinates
constexpr Rgb kPaper{0.965, 0.960, 0.950}, kPlot{0.990, 0.988, 0.982}, kInk{0.13, 0.12, 0.11}, kSoft{0.38, 0.36, 0.34},
    kFaint{0.78, 0.77, 0.75}, kHoleInk{0.80, 0.20, 0.08}, kStrayInk{0.66, 0.05, 0.52};
/// What is marked by number and listed; the rest is counted.
constexpr std::size_t kMostHoles = 9, kMostClusters = 5;

// Colour ------------------------------------------------------------------------------------------------------------

double to_linear(double s) {
    return s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4);
}
double to_srgb(double l) {
    return l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1.0 / 2.4) - 0.055;
}

/// From near (pale sand) over sage and teal to far (deep blue): lightness falls all the way, so that it also reads
/// without colour.
Rgb ramp(double t) {
    static constexpr std::array<Rgb, 6> stops = {Rgb{0.975, 0.900, 0.720}, Rgb{0.850, 0.840, 0.590},
                                                 Rgb{0.600, 0.745, 0.580}, Rgb{0.330, 0.605, 0.600},
                                                 Rgb{0.185, 0.435, 0.560}, Rgb{0.125, 0.245, 0.430}};
    const double at = std::clamp(t, 0.0, 1.0) * (stops.size() - 1);
    const std::size_t i = std::min<std::size_t>(static_cast<std::size_t>(at), stops.size() - 2);
    const double f = at - static_cast<double>(i);
    Rgb c{};
    for (std::size_t k = 0; k < 3; ++k) c[k] = stops[i][k] * (1.0 - f) + stops[i + 1][k] * f;
    return c;
}

std::uint32_t packed(const Rgb& srgb) {
    const auto byte = [](double v) { return static_cast<std::uint32_t>(std::lround(255.0 * std::clamp(v, 0.0, 1.0))); };
    return byte(srgb[0]) << 16 | byte(srgb[1]) << 8 | byte(srgb[2]);
}

/// Linear colour by depth step and light, so that no power is taken for each sample.
class Palette {
public:
    Palette() {
        for (std::size_t i = 0; i < kSteps; ++i) {
            const Rgb c = ramp(static_cast<double>(i) / (kSteps - 1));
            linear_[i] = {to_linear(c[0]), to_linear(c[1]), to_linear(c[2])};
        }
    }
    Vec3 operator()(double t, std::uint8_t light) const {
        const auto i = static_cast<std::size_t>(std::clamp(t, 0.0, 1.0) * (kSteps - 1) + 0.5);
        return linear_[i] * (0.45 + 0.55 * light / 235.0);
    }

private:
    static constexpr std::size_t kSteps = 512;
    std::array<Vec3, kSteps> linear_;
};

// What is in view ---------------------------------------------------------------------------------------------------

struct Side {
    const char* suffix;
    const char* from;  ///< "from the front, along +y"
    Vec3 toward, up;
    const char *across, *upward, *away;  ///< names of the axes
    double sign;                         ///< the depth axis' coordinate is -sign * (place along toward)
};
constexpr Side kSides[] = {{"front", "seen from the front, along +y", {0, -1, 0}, {0, 0, 1}, "x", "z", "y", 1.0},
                           {"side", "seen from the side, along -x", {1, 0, 0}, {0, 0, 1}, "y", "z", "x", -1.0},
                           {"top", "seen from above, along -z", {0, 0, 1}, {0, 1, 0}, "x", "y", "z", -1.0}};

/// The box of the points, less a few that would shrink all others to a speck.
Aabb framed_box(const std::vector<Point3>& points) {
    Aabb all;
    for (const Point3& p : points) all.grow(p);
    const std::size_t stride = points.size() / 200000 + 1;
    Aabb box = all;
    std::vector<double> v;
    for (std::size_t axis = 0; axis < 3; ++axis) {
        v.clear();
        for (std::size_t i = 0; i < points.size(); i += stride) v.push_back(points[i][axis]);
        std::sort(v.begin(), v.end());
        const double lo = v[v.size() / 200], hi = v[v.size() - 1 - v.size() / 200];
        const double margin = 0.15 * (hi - lo);
        if (all.hi[axis] - all.lo[axis] < 1.6 * (hi - lo) || !(hi > lo)) continue;
        box.lo[axis] = std::max(all.lo[axis], lo - margin);
        box.hi[axis] = std::min(all.hi[axis], hi + margin);
    }
    return box;
}

View fitted(const Side& side, const Aabb& box) {
    View view = look(side.toward, side.up);
    view.width = kPlotWidth, view.height = kPlotHeight;
    const Vec3 size = box.size();
    const double across = std::abs(dot(size, view.right)), upward = std::abs(dot(size, view.up));
    view.centre = (box.lo + box.hi) / 2.0;
    view.px_per_mm = 0.92 * std::min(kPlotWidth / std::max(across, 1e-6), kPlotHeight / std::max(upward, 1e-6));
    // A scan without extent both ways is still drawn.
    view.px_per_mm = std::min(view.px_per_mm, 1e4);
    return view;
}

/// Share of the covered picture where something lies well behind what is seen.
double hidden_share(const DiscPicture& picture, double well_mm) {
    std::size_t covered = 0, hiding = 0;
    for (std::size_t i = 0; i < picture.depth.size(); ++i) {
        if (picture.depth[i] == DiscPicture::kNothing) continue;
        ++covered;
        hiding += picture.depth[i] - picture.farthest[i] > well_mm;
    }
    return covered > 0 ? static_cast<double>(hiding) / static_cast<double>(covered) : 0.0;
}

struct DepthRange {
    double near = 0.0, far = -1.0;  ///< as projected: near is the larger
};
DepthRange range_of(const DiscPicture& picture) {
    std::vector<float> seen;
    for (std::size_t i = 0; i < picture.depth.size(); i += 7)
        if (picture.depth[i] != DiscPicture::kNothing) seen.push_back(picture.depth[i]);
    if (seen.empty()) return {};
    std::sort(seen.begin(), seen.end());
    DepthRange range{seen[seen.size() - 1 - seen.size() / 500], seen[seen.size() / 500]};
    if (range.near - range.far < 1e-3) range.far = range.near - 1e-3;
    return range;
}

// Text and marks ----------------------------------------------------------------------------------------------------

/// 1, 2 or 5 times a power of ten, at most `wanted`.
double round_step(double wanted) {
    const double ten = std::pow(10.0, std::floor(std::log10(wanted)));
    for (const double step : {5.0, 2.0})
        if (ten * step <= wanted) return ten * step;
    return ten;
}

std::string number(double v, double step) {
    if (std::abs(v) < 1e-9 * std::max(1.0, step)) v = 0.0;
    const int digits = step >= 1.0 ? 0 : static_cast<int>(std::ceil(-std::log10(step) - 1e-9));
    std::string text = fmt::format("{:.{}f}", v, digits);
    if (text.find_first_not_of("-0.") == std::string::npos && text[0] == '-') text.erase(0, 1);
    return text;
}

std::vector<Sheet::Point> circle(double x, double y, double r) {
    std::vector<Sheet::Point> points;
    const int n = std::clamp(static_cast<int>(r * 2.0), 16, 180);
    for (int i = 0; i <= n; ++i) {
        const double a = 2.0 * std::numbers::pi * i / n;
        points.push_back({x + r * std::cos(a), y + r * std::sin(a)});
    }
    return points;
}

void badge(Sheet& sheet, double x, double y, const std::string& text, const Rgb& colour) {
    sheet.fill(circle(x, y, 14.0), kPlot);
    sheet.fill(circle(x, y, 12.5), colour);
    sheet.write({x, y + 5.5}, text,
                {.size_mm = 16.0, .colour = {1, 1, 1}, .anchor = Sheet::Anchor::Middle, .is_bold = true});
}

std::string place_text(Point3 p, double extent_mm) {
    const double step = extent_mm > 300.0 ? 1.0 : 0.1;
    return number(p.x, step) + ", " + number(p.y, step) + ", " + number(p.z, step);
}

std::string width_text(double mm) {
    return mm < 10.0 ? fmt::format("{:.1f} mm", mm) : fmt::format("{:.0f} mm", mm);
}

std::string letter(std::size_t i) {
    return std::string(1, static_cast<char>('A' + i));
}

// One picture -------------------------------------------------------------------------------------------------------

class ScanPicture {
public:
    ScanPicture(const ScanPictureInput& input, const Side& side, const Aabb& box)
        : input_(input), side_(side), box_(box), view_(fitted(side, box)), sheet_(kWidth, kHeight) {
        const auto& surface = input.diagnosis.surface;
        discs_.points = &input.points;
        discs_.dot_px = input.points.size() < 20000 ? 2.5 * kSamples : 1.1;
        if (surface) {
            discs_.dot_px = 1.1;
            discs_.points = &surface->points;
            discs_.normals = &surface->normals;
            discs_.radius_mm = &surface->radius_mm;
            discs_.is_oriented = input.is_oriented;
            // Wide enough that chance leaves no speckles, not so wide that a lone sample looks like a surface.
            discs_.wide = 1.8;
            if (!surface->from_mesh)
                discs_.most_mm = std::max(1.25 * input.diagnosis.spacing.p95_mm, 2.0 * surface->spacing_mm);
        }
        draw_scan();
    }

    std::string png() {
        Raster raster{kWidth, kHeight, {}};
        raster.pixels.assign(static_cast<std::size_t>(kWidth) * kHeight, packed(kPaper));
        paint_plot(raster);
        draw_frame();
        draw_strays();
        draw_holes();
        draw_clusters();
        mask_margins();
        draw_axes();
        draw_heading();
        draw_legend();
        sheet_.paint_on(raster);
        return png_bytes(raster);
    }

private:
    void draw_scan() {
        const View fine = view_.refined(kSamples);
        picture_ = draw_discs(discs_, fine);
        const double depth_mm = std::abs(dot(box_.size(), side_.toward));
        if (!discs_.is_oriented && hidden_share(picture_, 0.25 * depth_mm) > 0.35) {
            cut_ = true;
            discs_.cut_mm = dot((box_.lo + box_.hi) / 2.0, side_.toward);
            picture_ = draw_discs(discs_, fine);
        }
        range_ = range_of(picture_);
    }

    /// The coordinate of the axis that runs along the view.
    double coordinate(double projected) const { return -side_.sign * (projected + dot(view_.centre, view_.toward)); }

    void paint_plot(Raster& raster) const {
        const Palette palette;
        const Vec3 paper{to_linear(kPlot[0]), to_linear(kPlot[1]), to_linear(kPlot[2])};
        geom::parallel_for(kPlotHeight, 32, [&](std::size_t begin, std::size_t end) {
            for (std::size_t y = begin; y < end; ++y)
                for (std::size_t x = 0; x < kPlotWidth; ++x) {
                    Vec3 sum;
                    for (std::size_t s = 0; s < kSamples * kSamples; ++s) {
                        const std::size_t at =
                            (y * kSamples + s / kSamples) * static_cast<std::size_t>(picture_.width) + x * kSamples +
                            s % kSamples;
                        const float depth = picture_.depth[at];
                        sum += depth == DiscPicture::kNothing
                                   ? paper
                                   : palette((range_.near - depth) / (range_.near - range_.far), picture_.light[at]);
                    }
                    sum = sum / (kSamples * kSamples);
                    raster.pixels[(y + kTop) * kWidth + x + kLeft] =
                        packed({to_srgb(sum.x), to_srgb(sum.y), to_srgb(sum.z)});
                }
        });
    }

    /// Where a place lies on the whole picture.
    Seen on_sheet(Point3 p) const {
        Seen s = view_.project(p);
        s.x += kLeft, s.y += kTop;
        return s;
    }
    bool is_inside(const Seen& s, double margin = 0.0) const {
        return s.x >= kLeft - margin && s.x <= kLeft + kPlotWidth + margin && s.y >= kTop - margin &&
               s.y <= kTop + kPlotHeight + margin;
    }
    /// Whether the scan, as drawn, lies before the place by more than a little.
    bool is_hidden(Point3 p) const {
        const Seen s = view_.refined(kSamples).project(p);
        const int x = static_cast<int>(s.x), y = static_cast<int>(s.y);
        if (x < 0 || y < 0 || x >= picture_.width || y >= picture_.height) return false;
        const float depth = picture_.depth[static_cast<std::size_t>(y) * static_cast<std::size_t>(picture_.width) +
                                           static_cast<std::size_t>(x)];
        return depth != DiscPicture::kNothing && depth > s.z + 0.03 * norm(box_.size());
    }
    bool is_cut(Point3 p) const { return dot(p, view_.toward) > discs_.cut_mm; }

    void draw_frame() {
        const double step = round_step(kPlotWidth / 6.0 / view_.px_per_mm);
        tick_ = step;
        const Sheet::Pen grid{.width_mm = 1.0, .colour = kInk, .opacity = 0.10, .dashes_mm = {}};
        for_ticks(true, [&](double at, double) { sheet_.draw_line({at, kTop}, {at, kTop + kPlotHeight}, grid); });
        for_ticks(false, [&](double at, double) { sheet_.draw_line({kLeft, at}, {kLeft + kPlotWidth, at}, grid); });
    }

    template <class Take>
    void for_ticks(bool across, Take take) const {
        const double length = across ? kPlotWidth : kPlotHeight;
        const double middle = dot(view_.centre, across ? view_.right : view_.up);
        const double half = 0.5 * length / view_.px_per_mm;
        const auto first = static_cast<long long>(std::ceil((middle - half) / tick_));
        const auto last = static_cast<long long>(std::floor((middle + half) / tick_));
        for (long long i = first; i <= last && i - first < 100; ++i) {
            const double value = static_cast<double>(i) * tick_, px = (value - middle) * view_.px_per_mm;
            take(across ? kLeft + 0.5 * length + px : kTop + 0.5 * length - px, value);
        }
    }

    void draw_strays() {
        const auto& strays = input_.diagnosis.strays;
        const std::size_t stride = strays.size() / 20000 + 1;
        std::vector<std::vector<Sheet::Point>> dots;
        for (std::size_t i = 0; i < strays.size(); i += stride) {
            const Seen s = on_sheet(strays[i]);
            if (!is_inside(s)) {
                ++strays_outside_;
                continue;
            }
            dots.push_back({{s.x - 0.01, s.y}, {s.x + 0.01, s.y}});
        }
        strays_outside_ *= stride;
        sheet_.draw(
            dots,
            {.width_mm = strays.size() < 3000 ? 3.4 : 2.6, .colour = kStrayInk, .opacity = 0.75, .dashes_mm = {}});
    }

    void draw_holes() {
        const auto& holes = input_.diagnosis.holes;
        // Numbers lie beside their rings and go on top of all rings.
        for (std::size_t i = holes.size(); i-- > 0;) {
            const Seen s = on_sheet(holes[i].place);
            if (!is_inside(s)) continue;
            const bool listed = i < kMostHoles, behind = is_hidden(holes[i].place) || is_cut(holes[i].place);
            const double r = std::max(0.5 * holes[i].width.mm() * view_.px_per_mm, listed ? 7.0 : 4.0);
            std::vector<double> dashes;
            if (behind) dashes = {6.0, 6.0};
            sheet_.draw({circle(s.x, s.y, r)},
                        {.width_mm = listed ? 5.0 : 3.5, .colour = {1, 1, 1}, .opacity = 0.55, .dashes_mm = dashes});
            sheet_.draw({circle(s.x, s.y, r)}, {.width_mm = listed ? 2.6 : 1.5,
                                                .colour = kHoleInk,
                                                .opacity = listed ? 1.0 : 0.7,
                                                .dashes_mm = dashes});
        }
        for (std::size_t i = std::min(holes.size(), kMostHoles); i-- > 0;) {
            const Seen s = on_sheet(holes[i].place);
            if (!is_inside(s)) continue;
            const double r = std::max(0.5 * holes[i].width.mm() * view_.px_per_mm, 7.0);
            put_badge(s, r, std::to_string(i + 1), kHoleInk);
        }
    }

    void draw_clusters() {
        const auto& clusters = input_.diagnosis.clusters;
        for (std::size_t i = std::min(clusters.size(), kMostClusters); i-- > 0;) {
            const Seen s = on_sheet(clusters[i].place);
            if (!is_inside(s)) continue;
            const double r = std::max(0.5 * clusters[i].size.mm() * view_.px_per_mm, 8.0);
            sheet_.draw({circle(s.x, s.y, r)},
                        {.width_mm = 2.0, .colour = kStrayInk, .opacity = 1.0, .dashes_mm = {2.0, 5.0}});
            put_badge(s, r, letter(i), kStrayInk);
        }
    }

    /// Beside the ring, where no other badge lies.
    void put_badge(const Seen& s, double r, const std::string& text, const Rgb& colour) {
        double x = s.x, y = s.y;
        for (const double turn : {-0.25, -0.75, 0.25, 0.75, 0.0, 1.0, -0.5, 0.5}) {
            const double a = turn * std::numbers::pi;
            x = std::clamp(s.x + (r + 15.0) * std::cos(a), kLeft + 16.0, kLeft + kPlotWidth - 16.0);
            y = std::clamp(s.y + (r + 15.0) * std::sin(a), kTop + 16.0, kTop + kPlotHeight - 16.0);
            const bool free = std::none_of(badges_.begin(), badges_.end(),
                                           [&](const Sheet::Point& b) { return std::hypot(b.x - x, b.y - y) < 29.0; });
            if (free) break;
        }
        badges_.push_back({x, y});
        badge(sheet_, x, y, text, colour);
    }

    /// Rings reach over the frame; what lies outside is paper again.
    void mask_margins() {
        const double l = kLeft, t = kTop, r = kLeft + kPlotWidth, b = kTop + kPlotHeight;
        sheet_.fill({{0, 0}, {kWidth, 0}, {kWidth, t}, {0, t}}, kPaper);
        sheet_.fill({{0, b}, {kWidth, b}, {kWidth, kHeight}, {0, kHeight}}, kPaper);
        sheet_.fill({{0, t}, {l, t}, {l, b}, {0, b}}, kPaper);
        sheet_.fill({{r, t}, {kWidth, t}, {kWidth, b}, {r, b}}, kPaper);
        sheet_.draw({{{l, t}, {r, t}, {r, b}, {l, b}, {l, t}}},
                    {.width_mm = 1.5, .colour = kFaint, .opacity = 1.0, .dashes_mm = {}});
    }

    void draw_axes() {
        const Sheet::Pen pen{.width_mm = 1.5, .colour = kSoft, .opacity = 1.0, .dashes_mm = {}};
        const double b = kTop + kPlotHeight;
        for_ticks(true, [&](double at, double value) {
            sheet_.draw_line({at, b}, {at, b + 7}, pen);
            sheet_.write({at, b + 28}, number(value, tick_),
                         {.size_mm = 18.0, .colour = kSoft, .anchor = Sheet::Anchor::Middle});
        });
        for_ticks(false, [&](double at, double value) {
            sheet_.draw_line({kLeft - 7.0, at}, {kLeft, at}, pen);
            sheet_.write({kLeft - 12.0, at + 6}, number(value, tick_),
                         {.size_mm = 18.0, .colour = kSoft, .anchor = Sheet::Anchor::End});
        });
        sheet_.write({kLeft + kPlotWidth, b + 58}, fmt::format("{}, mm \u2192", side_.across),
                     {.size_mm = 22.0, .colour = kInk, .anchor = Sheet::Anchor::End, .is_bold = true});
        sheet_.write({38.0, kTop}, fmt::format("{}, mm \u2192", side_.upward),
                     {.size_mm = 22.0, .colour = kInk, .anchor = Sheet::Anchor::End, .runs_up = true, .is_bold = true});
        // Size bar.
        const double bar_mm = round_step(kPlotWidth / 4.0 / view_.px_per_mm), length = bar_mm * view_.px_per_mm;
        const double x = kLeft, y = b + 78;
        sheet_.draw({{{x, y - 9}, {x, y}, {x + length, y}, {x + length, y - 9}}},
                    {.width_mm = 2.5, .colour = kInk, .opacity = 1.0, .dashes_mm = {}});
        sheet_.write({x + 0.5 * length, y - 8}, number(bar_mm, bar_mm) + " mm",
                     {.size_mm = 20.0, .colour = kInk, .anchor = Sheet::Anchor::Middle});
    }

    void draw_heading() {
        sheet_.write({kLeft, 62.0}, input_.title, {.size_mm = 32.0, .colour = kInk, .is_bold = true});
        std::string what = side_.from;
        if (cut_)
            what += fmt::format("; cut open at {} = {} mm, the near half is left out", side_.away,
                                number(-side_.sign * discs_.cut_mm, 1.0));
        else if (discs_.is_oriented)
            what += "; faces seen from behind are left out";
        sheet_.write({kLeft, 104.0}, what, {.size_mm = 22.0, .colour = kSoft});
    }

    void draw_legend() {
        double y = kTop + 16.0;
        const auto heading = [&](const std::string& text) {
            sheet_.write({kColumn, y}, text, {.size_mm = 21.0, .colour = kInk, .is_bold = true});
            y += 30.0;
        };
        const auto line = [&](const std::string& text, double indent = 0.0) {
            sheet_.write({kColumn + indent, y}, text, {.size_mm = 18.0, .colour = kSoft});
            y += 26.0;
        };
        draw_ramp(y);
        const auto& d = input_.diagnosis;
        heading("Scan");
        const Vec3 size = (d.surface ? d.surface->box : d.box).size();
        line(d.triangles > 0 ? grouped(d.triangles) + " triangles" : grouped(d.points) + " points");
        line(fmt::format("{:.0f} x {:.0f} x {:.0f} mm", size.x, size.y, size.z));
        line(fmt::format("{} {:.3g} mm, 95 % under {:.3g}", d.triangles > 0 ? "edges" : "spacing", d.spacing.median_mm,
                         d.spacing.p95_mm));
        if (d.surface && !d.surface->from_mesh) line(fmt::format("noise {:.2g} mm", d.surface->noise_mm));
        if (!d.surface) line("no surface could be made of it");
        y += 18.0;
        draw_hole_list(y, heading, line);
        y += 18.0;
        draw_stray_list(y, heading, line);
    }

    void draw_ramp(double& y) {
        sheet_.write({kColumn, y}, fmt::format("{}, mm", side_.away),
                     {.size_mm = 21.0, .colour = kInk, .is_bold = true});
        y += 20.0;
        const double height = 200.0, width = 30.0;
        constexpr int kBands = 125;
        for (int i = 0; i < kBands; ++i) {
            // Each band reaches to the end, so that no seams show.
            const double y0 = y + height * i / kBands, y1 = y + height;
            sheet_.fill({{kColumn, y0}, {kColumn + width, y0}, {kColumn + width, y1}, {kColumn, y1}},
                        ramp((i + 0.5) / kBands));
        }
        const double near = coordinate(range_.near), far = coordinate(range_.far);
        const double step = round_step(std::max(std::abs(far - near) / 4.0, 1e-9));
        const auto first = static_cast<long long>(std::ceil(std::min(near, far) / step));
        const auto last = static_cast<long long>(std::floor(std::max(near, far) / step));
        for (long long i = first; i <= last && i - first < 50; ++i) {
            const double value = static_cast<double>(i) * step, at = y + height * (value - near) / (far - near);
            sheet_.draw_line({kColumn + width, at}, {kColumn + width + 7, at},
                             {.width_mm = 1.5, .colour = kSoft, .opacity = 1.0, .dashes_mm = {}});
            sheet_.write({kColumn + width + 14, at + 6}, number(value, step), {.size_mm = 18.0, .colour = kSoft});
        }
        sheet_.write({kColumn + 122, y + 16}, "near", {.size_mm = 18.0, .colour = kSoft});
        sheet_.write({kColumn + 122, y + height - 4}, "far", {.size_mm = 18.0, .colour = kSoft});
        y += height + 46.0;
    }

    void column_heads(double& y, const char* first, const char* second) {
        const Sheet::Letters style{.size_mm = 15.0, .colour = kSoft};
        sheet_.write({kColumn + 34, y}, first, style);
        sheet_.write({kColumn + kPlaces, y}, second, style);
        y += 28.0;
    }

    template <class Heading, class Line>
    void draw_hole_list(double& y, Heading heading, Line line) {
        const auto& holes = input_.diagnosis.holes;
        if (!input_.diagnosis.surface) return;
        heading(holes.empty() ? "No holes" : fmt::format("Holes: {}", grouped(holes.size())));
        const double extent = norm(box_.size());
        const std::size_t listed = std::min(holes.size(), kMostHoles);
        bool any_behind = false;
        if (listed > 0) column_heads(y, "width", "centre x, y, z in mm");
        for (std::size_t i = 0; i < listed; ++i) {
            any_behind = any_behind || is_hidden(holes[i].place) || is_cut(holes[i].place);
            badge(sheet_, kColumn + 12, y - 6, std::to_string(i + 1), kHoleInk);
            sheet_.write({kColumn + 34, y}, width_text(holes[i].width.mm()), {.size_mm = 18.0, .colour = kInk});
            sheet_.write({kColumn + kPlaces, y}, place_text(holes[i].place, extent),
                         {.size_mm = 18.0, .colour = kSoft});
            y += 28.0;
        }
        if (holes.size() > listed)
            line(fmt::format("and {} narrower ones, thin rings", grouped(holes.size() - listed)), 34.0);
        if (any_behind) line("broken ring: behind or cut away", 34.0);
    }

    template <class Heading, class Line>
    void draw_stray_list(double& y, Heading heading, Line line) {
        const auto& d = input_.diagnosis;
        if (!d.surface || d.surface->from_mesh) return;
        if (d.strays.empty()) {
            heading("Every point is believed");
            return;
        }
        sheet_.draw_line({kColumn + 11.99, y - 6}, {kColumn + 12.01, y - 6},
                         {.width_mm = 8.0, .colour = kStrayInk, .opacity = 1.0, .dashes_mm = {}});
        sheet_.write({kColumn + 34, y}, "Points not believed: " + grouped(d.strays.size()),
                     {.size_mm = 21.0, .colour = kInk, .is_bold = true});
        y += 30.0;
        const double extent = norm(box_.size());
        const std::size_t listed = std::min(d.clusters.size(), kMostClusters);
        if (listed > 0) column_heads(y, "points", "in a cluster at x, y, z");
        for (std::size_t i = 0; i < listed; ++i) {
            badge(sheet_, kColumn + 12, y - 6, letter(i), kStrayInk);
            sheet_.write({kColumn + 34, y}, grouped(d.clusters[i].points), {.size_mm = 18.0, .colour = kInk});
            sheet_.write({kColumn + kPlaces, y}, place_text(d.clusters[i].place, extent),
                         {.size_mm = 18.0, .colour = kSoft});
            y += 28.0;
        }
        if (d.clusters.size() > listed)
            line(fmt::format("and {} smaller clusters", grouped(d.clusters.size() - listed)), 34.0);
        if (d.outliers > 0) line(fmt::format("{} alone", grouped(d.outliers)), 34.0);
        if (strays_outside_ > 0) line(fmt::format("about {} beyond the picture", grouped(strays_outside_)), 34.0);
    }

    const ScanPictureInput& input_;
    const Side& side_;
    Aabb box_;
    View view_;
    Sheet sheet_;  // one unit a pixel
    Discs discs_;
    DiscPicture picture_;
    DepthRange range_;
    bool cut_ = false;
    double tick_ = 1.0;
    std::size_t strays_outside_ = 0;
    std::vector<Sheet::Point> badges_;
};

}  // namespace

geom::Result<std::vector<Picture>> scan_pictures(const ScanPictureInput& input, const geom::Context& context) {
    EXPECTS(!input.points.empty());
    const geom::Stage stage(context, "scan/pictures");
    const Aabb box = framed_box(input.diagnosis.surface ? input.diagnosis.surface->points : input.points);
    std::vector<Picture> pictures;
    for (const Side& side : kSides) {
        if (context.is_cancelled()) return geom::Context::interrupted();
        std::string bytes = ScanPicture(input, side, box).png();
        if (bytes.empty())
            return geom::Fault{geom::FaultCode::Internal,
                               fmt::format("the picture {} could not be made", side.suffix),
                               {},
                               {},
                               "files"};
        pictures.push_back({side.suffix, "png", std::move(bytes)});
    }
    return pictures;
}

}  // namespace exports
