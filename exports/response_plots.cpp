#include "exports/response_plots.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/sound/port.h"

#include <fmt/format.h>

#include <algorithm>

namespace exports {

namespace {

namespace sound = geom::sound;
using Curve = std::vector<double> sound::Response::*;

bool is_level(Curve curve) {
    return curve == &sound::Response::response_db || curve == &sound::Response::spl_db ||
           curve == &sound::Response::spl_most_db;
}

/// With the cabin's gain where that was measured; nothing where it was not.
PlotLine in_cabin(const PlotLine& line, const sound::CabinGain& cabin) {
    PlotLine out{.name = fmt::format("{}, with the cabin of {}", line.name, cabin.name),
                 .points = {},
                 .on_right = false,
                 .is_dashed = true};
    for (const PlotPoint& p : line.points)
        if (sound::covers(cabin, p.x)) out.points.push_back({p.x, p.y + sound::gain_at(cabin, p.x)});
    return out;
}

Plot plot_of(const std::string& title, const char* label, const std::vector<Heard>& cases, Curve curve, double factor,
             const sound::CabinGain* cabin) {
    Plot plot;
    plot.title = title;
    plot.note = !is_level(curve) ? sound::kSmallSignals
                : cabin == nullptr
                    ? sound::kFreeField
                    : "whole lines: free field, half space, 1 m. Broken: with the gain of a cabin as its "
                      "user measured it, for that place alone";
    const auto& f = cases.front().curves.f_hz;
    plot.x = {.label = "frequency (Hz)", .lo = f.front(), .hi = f.back(), .is_log = true};
    plot.y = {.label = label, .lo = {}, .hi = {}, .is_log = false};
    const auto add = [&](const std::string& name, const Heard& c, const std::vector<double>& list) {
        if (list.empty()) return;
        PlotLine line{.name = name, .points = {}, .on_right = false, .is_dashed = false};
        for (std::size_t i = 0; i < list.size(); ++i) line.points.push_back({c.curves.f_hz[i], list[i] * factor});
        plot.lines.push_back(std::move(line));
    };
    for (const Heard& c : cases) {
        add(c.label, c, c.curves.*curve);
        if (curve == &sound::Response::excursion_mm)
            for (const sound::ConeCurve& cone : c.curves.each_cone)
                add(fmt::format("{}: {}", c.label, cone.title), c, cone.excursion_mm);
    }
    if (cabin == nullptr || !is_level(curve)) return plot;
    for (std::size_t i = 0, n = plot.lines.size(); i < n; ++i)
        if (PlotLine line = in_cabin(plot.lines[i], *cabin); line.points.size() >= 2)
            plot.lines.push_back(std::move(line));
    return plot;
}

std::string same_watts(const std::vector<Heard>& cases) {
    const bool is_same =
        std::all_of(cases.begin(), cases.end(), [&](const Heard& c) { return c.watts == cases.front().watts; });
    return is_same ? fmt::format("{:.4g} W", cases.front().watts) : "each driver's power";
}

/// Of the first three: more cannot be read.
void add_xmax(Plot& plot, const std::vector<Heard>& cases) {
    const auto add = [&](const std::string& name, const geom::Length& xmax) {
        if (plot.rules.size() < 3) plot.rules.push_back({PlotRule::Along::Y, xmax.mm(), fmt::format("xmax, {}", name)});
    };
    for (const Heard& c : cases) {
        if (c.driver.xmax) add(c.driver.name, c.driver.xmax->value);
        for (const sound::ConeCurve& cone : c.curves.each_cone)
            if (cone.xmax) add(cone.title, *cone.xmax);
    }
}

void add_port_limits(Plot& plot) {
    const sound::PortSpeedLimits limits;
    double most = 0.0;
    for (const PlotLine& line : plot.lines)
        for (const PlotPoint& p : line.points) most = std::max(most, p.y);
    plot.rules.push_back(
        {PlotRule::Along::Y, limits.warn_m_s, fmt::format("heard above {} m/s", geom::plain_number(limits.warn_m_s))});
    if (most > limits.warn_m_s)
        plot.rules.push_back({PlotRule::Along::Y, limits.fail_m_s,
                              fmt::format("fails above {} m/s", geom::plain_number(limits.fail_m_s))});
}

}  // namespace

std::vector<std::pair<std::string, Plot>> response_plots(const std::vector<Heard>& cases,
                                                         const sound::CabinGain* cabin) {
    EXPECTS(!cases.empty());
    using R = sound::Response;
    const std::string watts = same_watts(cases);
    std::vector<std::pair<std::string, Plot>> plots;
    const auto add = [&](const char* name, const std::string& title, const char* label, Curve curve, double factor) {
        Plot plot = plot_of(title, label, cases, curve, factor, cabin);
        if (!plot.lines.empty()) plots.emplace_back(name, std::move(plot));
    };
    add("relative", "Response against the passband", "dB", &R::response_db, 1.0);
    add("level", "Sound level at 1 m, " + watts, "dB SPL", &R::spl_db, 1.0);
    add("most", "The most sound within xmax and power, 1 m", "dB SPL", &R::spl_most_db, 1.0);
    add("excursion", "Cone excursion, one way, " + watts, "mm", &R::excursion_mm, 1.0);
    add("delay", "Group delay", "ms", &R::group_delay_s, 1e3);
    add("port", "Air speed in the port, peak, " + watts, "m/s", &R::port_m_s, 1.0);
    add("impedance", "Electrical impedance", "ohm", &R::impedance_ohm, 1.0);
    for (auto& [name, plot] : plots) {
        if (name == "excursion") add_xmax(plot, cases);
        if (name == "port") add_port_limits(plot);
    }
    return plots;
}

}  // namespace exports
