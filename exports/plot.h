// A plot of lines over one axis, for people: what depends on what, with asked values and bounds marked.
//
// Axes    one below, one left, perhaps a second one right; linear, or logarithmic with decades and their 2 and 5.
//         Ends that are not given are chosen so that everything shown lies inside and ends are round.
// Lines   drawn in their order; a point that is not finite breaks its line.
// Marks   rules across the plot and points on it, each with its words; of rules that stand close together the words
//         are set in rows.
// Same bytes for the same plot; SVG of 180 x 120 mm unless said otherwise.
#pragma once

#include "geom/core/result.h"

#include <optional>
#include <string>
#include <vector>

namespace exports {

struct PlotAxis {
    std::string label;  ///< "baffle place (mm, outwards)"
    std::optional<double> lo, hi;
    bool is_log = false;
};

struct PlotPoint {
    double x = 0.0, y = 0.0;
};

struct PlotLine {
    std::string name;  ///< for the legend
    std::vector<PlotPoint> points;
    bool on_right = false;  ///< y counts on the right axis
    bool is_dashed = false;
};

struct PlotRule {
    enum class Along { X, Y, RightY } of = Along::X;  ///< which axis the value is of: X gives an upright rule
    double value = 0.0;
    std::string words;
};

struct PlotMark {
    PlotPoint at;
    std::string words;
    bool on_right = false;
};

struct Plot {
    std::string title;
    std::string note;  ///< one line under the title; may be empty
    PlotAxis x, y;
    std::optional<PlotAxis> right;
    std::vector<PlotLine> lines;
    std::vector<PlotRule> rules;
    std::vector<PlotMark> marks;
    double width_mm = 180.0, height_mm = 120.0;
};

/// Values for the ticks of an axis from `lo` to `hi`: multiples of 1, 2 or 5 times a power of ten, about `wanted` of
/// them; logarithmic: powers of ten with their 2 and 5, where they lie inside.
/// EXPECTS: lo < hi, both finite; both positive when logarithmic.
std::vector<double> ticks(double lo, double hi, int wanted, bool is_log);

/// EXPECTS: at least one line with two finite points; positive values on logarithmic axes; a right axis where a line,
///          rule or mark counts on it.
std::string plot_svg(const Plot& plot);

/// The same, painted; width in pixels.
/// Faults: Internal  the PNG writer failed
geom::Result<std::string> plot_png(const Plot& plot, int width_px);

}  // namespace exports
