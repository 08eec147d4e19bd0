#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/sound/internal/search.h"
#include "geom/sound/mixed_drivers.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kDegrees = 180.0 / std::numbers::pi;
constexpr double kLeastPeak_db = 1e-4;

MixedDrivers without_le(MixedDrivers drivers) {
    for (Cone& c : drivers.cones) c.le_h = 0.0;
    return drivers;
}

/// Far beyond all resonances, upward and downward.
std::pair<double, double> searched_hz(const MixedDrivers& drivers, const Box& box) {
    const auto [low, high] = std::minmax_element(drivers.each.begin(), drivers.each.end(),
                                                 [](auto& a, auto& b) { return a.fs_hz->value < b.fs_hz->value; });
    return {1e-4 * low->fs_hz->value, 200.0 * std::max(high->fs_hz->value, box.fb_hz)};
}

/// "xmax of mid": the drivers that lack a value.
template <class Has>
std::string lacking(const MixedDrivers& drivers, const char* what, const Has& has) {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < drivers.each.size(); ++i)
        if (!has(drivers.each[i])) names.push_back(drivers.titles[i]);
    return names.empty() ? "" : fmt::format("{} of {}", what, listed(names));
}

std::vector<std::string> left_out(const MixedDrivers& drivers, const Box& box) {
    const std::string xmax = lacking(drivers, "xmax", [](const auto&d) { return d.xmax.has_value(); }),
                      power = lacking(drivers, "power", [](const auto&d) { return d.power_w.has_value(); });
    std::vector<std::string> out{kNoneInCommon};
    if (!xmax.empty() && !power.empty())
        out.push_back(fmt::format("most output: wants {}, or {}", power, xmax));
    else if (!xmax.empty())
        out.push_back(fmt::format("most output within the excursion: wants {}", xmax));
    else if (!power.empty())
        out.push_back(fmt::format("most output within the power: wants {}", power));
    if (box.has_port() && box.port_area.mm2() <= 0.0) out.emplace_back("air speed in the port: wants the port's area");
    return out;
}

}  // namespace

MixedFigures mixed_figures(const MixedDrivers& drivers, const Box& box, const Air& air) {
    const SharedCircuit circuit = shared_circuit(without_le(drivers), box, air);
    const double passband = circuit.passband_m3_s2();
    const auto curve = [&](double f) { return std::norm(circuit.at(f).acceleration_m3_s2 / passband); };
    const auto [bottom, top] = searched_hz(drivers, box);
    MixedFigures figures;
    figures.f3_hz = internal::falls_under(curve, 0.5, top, bottom).value_or(0.0);
    figures.f10_hz = internal::falls_under(curve, 0.1, top, bottom).value_or(0.0);
    const internal::Highest best = internal::highest(curve, bottom, top);
    if (const double db = 10.0 * std::log10(best.value); db > kLeastPeak_db) figures.peak = Peak{db, best.at};
    const bool has_xmax = std::all_of(drivers.each.begin(), drivers.each.end(), [](const auto& d) { return d.xmax; });
    if (!box.has_port() && has_xmax)
        for (std::size_t i = 0; i < drivers.each.size(); ++i) {
            const auto excursion2 = [&](double f) { return std::norm(circuit.at(f).excursion_m[i]); };
            const double most = internal::highest(excursion2, bottom, top).value,
                         xmax = metres(drivers.each[i].xmax->value);
            const double watts = 0.5 * xmax * xmax / (most * drivers.together.re_ohm->value);
            if (!figures.within_xmax || watts < figures.within_xmax->watts) figures.within_xmax = Limit{watts, i};
        }
    return figures;
}

Response response(const MixedDrivers& drivers, const Box& box, std::vector<double> f_hz,
                  const ResponseOptions& options) {
    EXPECTS(options.watts > 0.0);
    const SharedCircuit circuit = shared_circuit(drivers, box, options.air);
    const double passband = circuit.passband_m3_s2(), volts = std::sqrt(options.watts * circuit.resistance_ohm());
    const double peak_volts = std::numbers::sqrt2 * volts;
    const SmallSignal& all = drivers.together;
    const double spl_1w_db = level_of_efficiency_db(all.efficiency->value, options.air),
                 spl_sheet_db = spl_1w_db + 10.0 * std::log10(kSheetVolts * kSheetVolts / circuit.resistance_ohm());
    const bool has_port_air = box.has_port() && box.port_area.mm2() > 0.0;
    Response r;
    r.left_out = left_out(drivers, box);
    r.f_hz = std::move(f_hz);
    for (std::size_t i = 0; i < drivers.each.size(); ++i) {
        const auto& xmax = drivers.each[i].xmax;
        r.each_cone.push_back({drivers.titles[i], xmax ? std::optional(xmax->value) : std::nullopt, {}});
    }
    for (const double f : r.f_hz) {
        const SharedCircuit::State s = circuit.at(f);
        const std::complex<double> relative = s.acceleration_m3_s2 / passband;
        const double db = 10.0 * std::log10(std::norm(relative));
        r.response_db.push_back(db);
        r.phase_deg.push_back(std::arg(relative) * kDegrees);
        r.group_delay_s.push_back(s.group_delay_s);
        r.spl_db.push_back(spl_1w_db + 10.0 * std::log10(options.watts) + db);
        r.spl_sheet_db.push_back(spl_sheet_db + db);
        for (std::size_t i = 0; i < r.each_cone.size(); ++i)
            r.each_cone[i].excursion_mm.push_back(1e3 * peak_volts * std::abs(s.excursion_m[i]));
        if (has_port_air)
            r.port_m_s.push_back(peak_volts * kTwoPi * f * std::abs(s.port_m3) / square_metres(box.port_area));
        std::optional<Limit> most = within_xmax(drivers, s);
        if (all.power_w && (!most || all.power_w->value < most->watts))
            most = Limit{all.power_w->value, *drivers.power_by};
        if (most) {
            r.watts_most.push_back(most->watts);
            r.spl_most_db.push_back(spl_1w_db + 10.0 * std::log10(most->watts) + db);
            r.limited_by.push_back(most->by);
        }
        r.impedance_ohm.push_back(std::abs(s.impedance_ohm));
        r.impedance_phase_deg.push_back(std::arg(s.impedance_ohm) * kDegrees);
    }
    return r;
}

PortSpeed fastest_port_air(const MixedDrivers& drivers, const Box& box, double watts, double from_hz, double to_hz,
                           const Air& air) {
    EXPECTS(box.has_port() && box.port_area.mm2() > 0.0 && 0.0 < from_hz && from_hz < to_hz);
    const SharedCircuit circuit = shared_circuit(drivers, box, air);
    const internal::Highest best =
        internal::highest([&](double f) { return f * std::abs(circuit.at(f).port_m3); }, from_hz, to_hz);
    const double peak_volts = std::sqrt(2.0 * watts * circuit.resistance_ohm());
    return {best.value * kTwoPi * peak_volts / square_metres(box.port_area), best.at};
}

}  // namespace geom::sound
