// Arrangement  ISO 5456-2, first angle: the view from above stands below the view from the front, the view from the
//              left stands to its right. A level section where one is asked, or through the largest round opening of
//              the baffle (the middle of the part when there is none) stands beside the view from above. A second
//              section, where one is asked, takes the place of the view that looks the same way. All have one scale.
// Lines        ISO 128-2 in spirit: 0.5 mm for edges and outlines, 0.18 mm grey for smooth transitions, 0.18 mm for
//              dimension lines and hatching, chain lines for axes and the cut, letters 3.5 mm (2.8 mm for labels).
#include "exports/internal/views_sheet.h"

#include "exports/internal/section_cut.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

using geom::Vec3;
using Point = Sheet::Point;

constexpr double kWidth_mm = 420.0, kHeight_mm = 297.0;
constexpr double kMargin_mm = 12.0;
constexpr double kGap_mm = 26.0;        ///< between views: room for sizes and labels
constexpr double kSide_mm = 22.0;       ///< left of the front view: its height
constexpr double kTitle_mm = 24.0;      ///< height of the title block
constexpr double kSamplesPerMm = 12.0;  ///< pixels of the depth buffer on a millimetre of paper

const Sheet::Pen kThick{.width_mm = 0.5, .colour = {0.05, 0.05, 0.05}, .opacity = 1.0, .dashes_mm = {}};
const Sheet::Pen kThin{.width_mm = 0.18, .colour = {0.05, 0.05, 0.05}, .opacity = 1.0, .dashes_mm = {}};
const Sheet::Pen kGrey{.width_mm = 0.18, .colour = {0.55, 0.55, 0.55}, .opacity = 1.0, .dashes_mm = {}};

const Sheet::Pen kChain{
    .width_mm = 0.18, .colour = {0.05, 0.05, 0.05}, .opacity = 1.0, .dashes_mm = {5.0, 1.0, 0.6, 1.0}};

/// What a view shows of the part, in mm of the part.
struct Extent {
    double left = 1e300, right = -1e300, bottom = 1e300, top = -1e300;
    double width() const { return right - left; }
    double height() const { return top - bottom; }
};

Extent extent(const DrawMesh& mesh, const View& view) {
    Extent e;
    for (const auto& p : mesh.points) {
        const double x = dot(p, view.right), y = dot(p, view.up);
        e.left = std::min(e.left, x);
        e.right = std::max(e.right, x);
        e.bottom = std::min(e.bottom, y);
        e.top = std::max(e.top, y);
    }
    return e;
}

struct Placed {
    View view;
    Extent extent;
    std::string label;
    Point corner;  ///< upper left, mm of paper
};

/// ISO 5455's scales with the usual ones between, as part mm for one paper mm.
double scale_for(double width_per_mm, double height_per_mm, double room_w, double room_h) {
    for (const double n : {0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 25.0})
        if (width_per_mm / n <= room_w && height_per_mm / n <= room_h) return n;
    return 50.0;
}

std::string scale_text(double n) {
    return n >= 1.0 ? fmt::format("1:{:g}", n) : fmt::format("{:g}:1", 1.0 / n);
}

/// The view at drawing resolution, and what takes its pixels to the paper.
struct OnPaper {
    View view;
    double x0 = 0.0, y0 = 0.0;
    Point at(double x, double y) const { return {x0 + x / kSamplesPerMm, y0 + y / kSamplesPerMm}; }
};

OnPaper on_paper(const Placed& placed, double n) {
    OnPaper paper{placed.view, 0.0, 0.0};
    View& view = paper.view;
    const double border_px = 4.0;
    view.px_per_mm = kSamplesPerMm / n;
    view.width = static_cast<int>(std::ceil(placed.extent.width() * view.px_per_mm + 2 * border_px));
    view.height = static_cast<int>(std::ceil(placed.extent.height() * view.px_per_mm + 2 * border_px));
    view.centre = view.right * (0.5 * (placed.extent.left + placed.extent.right)) +
                  view.up * (0.5 * (placed.extent.top + placed.extent.bottom));
    paper.x0 = placed.corner.x + 0.5 * placed.extent.width() / n - 0.5 * view.width / kSamplesPerMm;
    paper.y0 = placed.corner.y + 0.5 * placed.extent.height() / n - 0.5 * view.height / kSamplesPerMm;
    return paper;
}

void draw_lines(Sheet& sheet, const OnPaper& paper, const std::vector<VisibleLine>& lines) {
    std::vector<std::vector<Point>> smooth, strong;
    for (const VisibleLine& line : lines) {
        std::vector<Point> points;
        for (const auto& p : line.points) points.push_back(paper.at(p.x, p.y));
        (line.kind == VisibleLine::Kind::Smooth ? smooth : strong).push_back(std::move(points));
    }
    sheet.draw(smooth, kGrey);
    sheet.draw(strong, kThick);
}

/// Round edges that face the viewer, one a centre: the largest of those that share it.
std::vector<CircleEdge> facing_circles(const std::vector<EdgeLine>& edges, const View& view) {
    std::vector<CircleEdge> out;
    for (const EdgeLine& edge : edges) {
        if (!edge.circle || !edge.circle->is_full || std::abs(dot(edge.circle->axis, view.toward)) < 0.999) continue;
        const CircleEdge& c = *edge.circle;
        bool is_known = false;
        for (CircleEdge& other : out) {
            const Vec3 between = c.centre - other.centre;
            if (std::hypot(dot(between, view.right), dot(between, view.up)) > 0.05) continue;
            is_known = true;
            if (c.radius_mm > other.radius_mm) other = c;
        }
        if (!is_known) out.push_back(c);
    }
    return out;
}

/// Whether most of the circle is seen.
bool is_seen(const CircleEdge& c, const View& view, const DepthBuffer& buffer) {
    int seen = 0;
    constexpr int kPlaces = 8;
    for (int k = 0; k < kPlaces; ++k) {
        const double a = 2.0 * std::numbers::pi * k / kPlaces;
        const Seen s = view.project(c.centre + (view.right * std::cos(a) + view.up * std::sin(a)) * c.radius_mm);
        if (s.z + 0.25 >= static_cast<double>(buffer.farthest_near(s.x, s.y))) ++seen;
    }
    return 2 * seen > kPlaces;
}

void draw_axes(Sheet& sheet, const OnPaper& paper, const DepthBuffer& buffer, const std::vector<CircleEdge>& circles,
               double n) {
    std::vector<std::vector<Point>> crosses;
    for (const CircleEdge& c : circles) {
        if (!is_seen(c, paper.view, buffer)) continue;
        const Seen s = paper.view.project(c.centre);
        const Point m = paper.at(s.x, s.y);
        const double reach = c.radius_mm / n + std::min(4.0, 1.2 + 0.2 * c.radius_mm / n);
        crosses.push_back({{m.x - reach, m.y}, {m.x + reach, m.y}});
        crosses.push_back({{m.x, m.y - reach}, {m.x, m.y + reach}});
    }
    sheet.draw(crosses, kChain);
}

void draw_section(Sheet& sheet, const Placed& placed, double n, const PictureInput& input, const DrawMesh& mesh,
                  const std::vector<EdgeLine>& edges, const geom::Plane& plane) {
    const OnPaper paper = on_paper(placed, n);
    const DrawMesh below = clipped(mesh, plane);
    const CutLoops loops = cut_loops(input.products, plane);
    const CutAway cut = cut_away(loops, plane, paper.view);
    const DepthBuffer buffer(below, paper.view);
    draw_lines(sheet, paper, visible_lines(below, edges, paper.view, buffer, &cut));
    std::vector<std::vector<Point>> outlines, hatching;
    for (std::size_t p = 0; p < loops.size(); ++p) {
        for (const auto& loop : loops[p]) {
            auto& outline = outlines.emplace_back();
            for (const auto& place : loop) {
                const Seen s = paper.view.project(place);
                outline.push_back(paper.at(s.x, s.y));
            }
            outline.push_back(outline.front());
        }
        const double spacing_mm = 1.8;
        for (const auto& line : hatch(loops[p], paper.view, spacing_mm * kSamplesPerMm, p % 2 == 1))
            hatching.push_back({paper.at(line[0].x, line[0].y), paper.at(line[1].x, line[1].y)});
    }
    sheet.draw(hatching, kThin);
    sheet.draw(outlines, kThick);
}

/// A filled arrow head at `tip`, pointing along (dx, dy).
void arrow(Sheet& sheet, Point tip, double dx, double dy) {
    const double length = 3.0, half = 0.5;
    sheet.fill({tip,
                {tip.x - length * dx - half * dy, tip.y - length * dy + half * dx},
                {tip.x - length * dx + half * dy, tip.y - length * dy - half * dx}},
               kThin.colour);
}

void size_across(Sheet& sheet, double x0, double x1, double y_from, double y, double value_mm) {
    sheet.draw({{{x0, y_from}, {x0, y + 1.5}}, {{x1, y_from}, {x1, y + 1.5}}, {{x0, y}, {x1, y}}}, kThin);
    arrow(sheet, {x0, y}, -1, 0);
    arrow(sheet, {x1, y}, 1, 0);
    sheet.write({0.5 * (x0 + x1), y - 1.0}, fmt::format("{:.1f}", value_mm), {.anchor = Sheet::Anchor::Middle});
}

void size_up(Sheet& sheet, double y0, double y1, double x_from, double x, double value_mm) {
    sheet.draw({{{x_from, y0}, {x - 1.5, y0}}, {{x_from, y1}, {x - 1.5, y1}}, {{x, y0}, {x, y1}}}, kThin);
    arrow(sheet, {x, y0}, 0, -1);
    arrow(sheet, {x, y1}, 0, 1);
    sheet.write({x - 1.0, 0.5 * (y0 + y1)}, fmt::format("{:.1f}", value_mm),
                {.anchor = Sheet::Anchor::Middle, .runs_up = true});
}

/// Where a section is cut: strong ends, arrows along the look, letters. `ends`: on the front view, upper or left first.
void mark_cut(Sheet& sheet, const std::array<Point, 2>& ends, const std::string& letter) {
    const bool is_level = ends[0].y == ends[1].y;
    for (const Point& end : ends) {
        const double inward = &end == &ends[0] ? 3.0 : -3.0;
        if (is_level) {
            sheet.draw({{end, {end.x + inward, end.y}}}, kThick);
            sheet.draw_line(end, {end.x, end.y + 5.0}, kThin);
            arrow(sheet, {end.x, end.y + 6.5}, 0, 1);
        } else {
            sheet.draw({{end, {end.x, end.y + inward}}}, kThick);
            sheet.draw_line(end, {end.x + 5.0, end.y}, kThin);
            arrow(sheet, {end.x + 6.5, end.y}, 1, 0);
        }
        const Point at = is_level ? Point{end.x, end.y - 1.5} : Point{end.x - 3.0, end.y + 1.5};
        sheet.write(at, letter, {.size_mm = 4.0, .anchor = Sheet::Anchor::Middle, .is_bold = true});
    }
}

}  // namespace

Sheet views_sheet(const PictureInput& input, const DrawMesh& mesh, const std::vector<EdgeLine>& edges) {
    Sheet sheet(kWidth_mm, kHeight_mm);
    const View front = look(input.outward, input.up);
    const View left = look(-front.right, front.up);
    const View above = look(front.up, -front.toward);
    const View iso = look(front.toward + front.right + front.up, front.up);
    Placed views[5] = {{front, extent(mesh, front), "from the front (" + input.front + ")", {}},
                       {left, extent(mesh, left), "from the left", {}},
                       {above, extent(mesh, above), "from above", {}},
                       {iso, extent(mesh, iso), "isometric", {}},
                       {above, extent(mesh, above), "section A-A", {}}};

    // The cut: level, where asked or through the largest round opening of the baffle.
    const auto circles = facing_circles(edges, front);
    double cut_height = 0.5 * (views[0].extent.top + views[0].extent.bottom);
    const auto largest = std::max_element(circles.begin(), circles.end(), [](const CircleEdge& a, const CircleEdge& b) {
        return a.radius_mm < b.radius_mm;
    });
    if (input.cut_at)
        cut_height = dot(*input.cut_at, front.up);
    else if (largest != circles.end())
        cut_height = dot(largest->centre, front.up);
    const bool is_through_largest =
        largest != circles.end() && std::abs(dot(largest->centre, front.up) - cut_height) < 0.05;
    const geom::Plane plane{front.up * cut_height, front.up};

    const double w = views[0].extent.width(), h = views[0].extent.height(), d = views[1].extent.width();
    const double second = std::max(w, d), third = views[3].extent.width();
    const double room_w = kWidth_mm - 2 * kMargin_mm - kSide_mm - 2 * kGap_mm;
    const double room_h = kHeight_mm - 2 * kMargin_mm - kGap_mm - 16.0;
    const double n =
        std::max(scale_for(w + second + third, h + d, room_w, room_h),
                 scale_for(0.0, views[3].extent.height(), 1.0, kHeight_mm - 2 * kMargin_mm - kTitle_mm - 20.0));

    // What is left over is shared out, so that the views stand in the middle of their room.
    const double spare_w = (room_w - (w + second + third) / n) / 4.0;
    const double spare_h = (room_h - (h + d) / n) / 3.0;
    const double x0 = kMargin_mm + kSide_mm + spare_w;
    const double x1 = x0 + w / n + kGap_mm + spare_w;
    const double x2 = x1 + second / n + kGap_mm + spare_w;
    const double y0 = kMargin_mm + spare_h;
    const double y1 = y0 + h / n + kGap_mm + spare_h;
    views[0].corner = {x0, y0};
    views[1].corner = {x1 + 0.5 * (second - d) / n, y0};
    views[2].corner = {x0, y1};
    views[3].corner = {x2, kMargin_mm + 0.5 * (kHeight_mm - 2 * kMargin_mm - kTitle_mm - views[3].extent.height() / n)};
    views[4].corner = {x1 + 0.5 * (second - w) / n, y1};

    const std::size_t second_is = !input.second_cut ? 5 : input.second_cut->is_level ? 2 : 1;
    for (std::size_t k = 0; k < 4; ++k) {
        if (k == second_is) continue;
        const OnPaper paper = on_paper(views[k], n);
        const DepthBuffer buffer(mesh, paper.view);
        draw_lines(sheet, paper, visible_lines(mesh, edges, paper.view, buffer));
        if (k < 3) draw_axes(sheet, paper, buffer, k == 0 ? circles : facing_circles(edges, paper.view), n);
    }
    draw_section(sheet, views[4], n, input, mesh, edges, plane);
    if (input.second_cut) {
        Placed& second_view = views[second_is];
        second_view.label = "section B-B";
        draw_section(sheet, second_view, n, input, mesh, edges, {input.second_cut->through, second_view.view.toward});
        const double x = x0 + (dot(input.second_cut->through, front.right) - views[0].extent.left) / n,
                     y = y0 + (views[0].extent.top - dot(input.second_cut->through, front.up)) / n;
        if (input.second_cut->is_level)
            mark_cut(sheet, {Point{x0 - 5.0, y}, {x0 + w / n + 7.0, y}}, "B");
        else
            mark_cut(sheet, {Point{x, y0 - 5.0}, {x, y0 + h / n + 3.5}}, "B");
    }

    // The chain line of the first one runs through the opening that it is cut for.
    const double cut_y = y0 + (views[0].extent.top - cut_height) / n;
    const double cut_left = x0 - 5.0, cut_right = x0 + w / n + 7.0;
    if (!is_through_largest) {
        sheet.draw_line({cut_left, cut_y}, {cut_right, cut_y}, kChain);
    } else {  // the opening's own axis runs on in the middle
        const double middle = x0 + (dot(largest->centre, front.right) - views[0].extent.left) / n;
        const double reach = largest->radius_mm / n + std::min(4.0, 1.2 + 0.2 * largest->radius_mm / n) + 1.0;
        sheet.draw({{{middle - reach, cut_y}, {cut_left, cut_y}}, {{middle + reach, cut_y}, {cut_right, cut_y}}},
                   kChain);
    }
    mark_cut(sheet, {Point{cut_left, cut_y}, {cut_right, cut_y}}, "A");

    const double side_x = views[1].corner.x;
    size_across(sheet, x0, x0 + w / n, y0 + h / n + 2.0, y0 + h / n + 10.0, w);
    size_across(sheet, side_x, side_x + d / n, y0 + h / n + 2.0, y0 + h / n + 10.0, d);
    size_up(sheet, y0, y0 + h / n, x0 - 2.0, x0 - 12.0, h);
    for (std::size_t k = 0; k < 5; ++k)
        sheet.write({views[k].corner.x + 0.5 * views[k].extent.width() / n,
                     views[k].corner.y + views[k].extent.height() / n + (k < 2 ? 16.5 : 7.0)},
                    views[k].label, {.size_mm = 2.8, .colour = {0.3, 0.3, 0.3}, .anchor = Sheet::Anchor::Middle});

    // Frame and title block.
    const double m = 6.0;
    sheet.draw({{{m, m}, {kWidth_mm - m, m}, {kWidth_mm - m, kHeight_mm - m}, {m, kHeight_mm - m}, {m, m}}}, kThin);
    const double bx = kWidth_mm - m - 150.0, by = kHeight_mm - m - kTitle_mm;
    sheet.draw({{{bx, kHeight_mm - m}, {bx, by}, {kWidth_mm - m, by}}}, kThin);
    sheet.write({bx + 4.0, by + 7.5}, input.title, {.size_mm = 5.0, .is_bold = true});
    std::string facts;
    for (const auto& fact : input.facts) facts += (facts.empty() ? "" : "    ") + fact;
    sheet.write({bx + 4.0, by + 14.0}, facts, {.size_mm = 3.5});
    sheet.write({bx + 4.0, by + 20.0},
                fmt::format("scale {} on A3    sizes in mm    first angle    overall {:.1f} x {:.1f} x {:.1f}",
                            scale_text(n), w, d, h),
                {.size_mm = 2.8, .colour = {0.3, 0.3, 0.3}});
    return sheet;
}

}  // namespace exports
