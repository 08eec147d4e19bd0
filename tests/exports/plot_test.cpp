#include "exports/plot.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

using namespace exports;
using Catch::Contains;

namespace {

Plot plain() {
    Plot plot;
    plot.title = "volume & place <of a box>";
    plot.x = {.label = "place (mm)", .lo = 0.0, .hi = 100.0};
    plot.y = {.label = "net volume (L)", .lo = 0.0, .hi = 10.0};
    plot.lines = {{.name = "net", .points = {{0, 0}, {50, 5}, {100, 10}}}};
    return plot;
}

std::size_t times(const std::string& text, const std::string& part) {
    std::size_t n = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
    return n;
}

}  // namespace

TEST_CASE("ticks are round, lie within the ends and are about as many as wanted", "[exports][plot]") {
    CHECK(ticks(0, 10, 5, false) == std::vector<double>{0, 2, 4, 6, 8, 10});
    CHECK(ticks(-200, 40, 9, false) == std::vector<double>{-200, -150, -100, -50, 0});
    CHECK(ticks(20, 20000, 12, true) == std::vector<double>{20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000});
    for (const double span : {0.003, 1.7, 96.0, 4.2e5}) {
        const auto at = ticks(-0.3 * span, 0.7 * span, 8, false);
        CHECK(at.size() >= 4);
        CHECK(at.size() <= 9);
    }
}

TEST_CASE("a plot holds title, labels, legend, marked values and one path for each line", "[exports][plot]") {
    Plot plot = plain();
    plot.right = PlotAxis{.label = "depth (mm)", .lo = {}, .hi = {}};
    plot.lines.push_back({.name = "depth", .points = {{0, 200}, {100, 100}}, .on_right = true, .is_dashed = true});
    plot.rules = {{PlotRule::Along::X, 25, "innermost"},
                  {PlotRule::Along::Y, 4, "asked 4 L"},
                  {PlotRule::Along::RightY, 150, "needs 150 mm"}};
    plot.marks = {{{40, 4}, "here"}};
    const std::string svg = plot_svg(plot);
    for (const char* told : {"volume &amp; place &lt;of a box&gt;", "place (mm)", "net volume (L)", "depth (mm)",
                             ">net<", ">depth<", "innermost", "asked 4 L", "needs 150 mm", ">here<", "width=\"180mm\""})
        CHECK_THAT(svg, Contains(told));
    CHECK(svg == plot_svg(plot));
    CHECK_THAT(svg, !Contains("nan") && !Contains("inf"));
}

TEST_CASE("a line goes where its values say, is cut at the frame and broken where a value is missing",
          "[exports][plot]") {
    Plot plot = plain();
    plot.lines[0].points = {{0, 0}, {100, 10}};
    // Frame of a plot without right axis and words: x 19 to 172, y 12.9 to 99.
    CHECK_THAT(plot_svg(plot), Contains("M19,99L172,12.9"));
    plot.lines[0].points = {{0, 0}, {100, 20}};  // leaves through the top at 50
    CHECK_THAT(plot_svg(plot), Contains("M19,99L95.5,12.9"));
    plot.lines[0].points = {{0, 0}, {25, 2.5}, {50, std::numeric_limits<double>::quiet_NaN()}, {75, 7.5}, {100, 10}};
    CHECK_THAT(plot_svg(plot), Contains("M19,99L57.25,77.475M133.75,34.425L172,12.9"));
}

TEST_CASE("a logarithmic axis gives every decade the same width", "[exports][plot]") {
    Plot plot = plain();
    plot.x = {.label = "frequency (Hz)", .lo = 10.0, .hi = 1000.0, .is_log = true};
    plot.lines[0].points = {{10, 0}, {100, 5}, {1000, 10}};
    CHECK_THAT(plot_svg(plot), Contains("M19,99L95.5,55.95 172,12.9"));
    CHECK(times(plot_svg(plot), ">200<") == 1);
}

TEST_CASE("ends that are not given hold all that is shown and are round", "[exports][plot]") {
    Plot plot = plain();
    plot.x.lo = plot.x.hi = plot.y.lo = plot.y.hi = {};
    plot.lines[0].points = {{-183, 3.1}, {37, 12.7}};
    plot.rules = {{PlotRule::Along::Y, 14.2, "asked"}};
    const std::string svg = plot_svg(plot);
    for (const char* tick : {">-200<", ">50<", ">0<", ">15<"}) CHECK_THAT(svg, Contains(tick));
    CHECK_THAT(svg, Contains(">asked<"));
}

TEST_CASE("the painted plot is a PNG", "[exports][plot]") {
    const auto png = plot_png(plain(), 400);
    REQUIRE(png);
    CHECK(png->substr(1, 3) == "PNG");
}
