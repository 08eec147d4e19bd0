#include "geom/sound/box_sound.h"

#include "geom/core/checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace geom::sound {

namespace {

constexpr std::size_t kCurvePoints = 401;

using Values = std::vector<BoxFigure>;

void add(Values& out, const char* name, const char* unit, double value) {
    out.push_back({name, unit, value, value, value});
}

void add_drops(Values& out, double f3, double f10, const std::optional<Peak>& peak, std::optional<double>& peak_at_hz) {
    add(out, "f3_hz", "Hz", f3), add(out, "f10_hz", "Hz", f10);
    add(out, "peak_db", "dB", peak ? peak->db : 0.0);
    peak_at_hz = peak ? std::optional(peak->at) : std::nullopt;
}

void add_levels(Values& out, const SmallSignal& driver) {
    if (driver.spl_1w_db) add(out, "level_1w_db", "dB", driver.spl_1w_db->value);
    if (driver.spl_sheet_db) add(out, "level_2v83_db", "dB", driver.spl_sheet_db->value);
}

/// Level and watts at the low note.
void add_low_note(const SmallSignal& driver, const Box& box, const Air& air, Values& out) {
    SmallSignal tireless = driver;
    tireless.power_w.reset();
    if (driver.vd)
        if (const auto r = response(tireless, box, {kLowNote_hz}, {.watts = 1.0, .air = air});
            r && !r->spl_most_db.empty()) {
            add(out, "xmax_level_40_hz_db", "dB", r->spl_most_db.front());
            add(out, "xmax_watts_40_hz", "W", r->watts_most.front());
        }
    if (driver.power_w)
        if (const auto r = response(driver, box, {kLowNote_hz}, {.watts = 1.0, .air = air});
            r && !r->spl_most_db.empty())
            add(out, "most_level_40_hz_db", "dB", r->spl_most_db.front());
}

/// All figures for one volume, always the same in the same order. EXPECTS: the driver has fs, qts and vas.
Values values_of(const SmallSignal& driver, const Box& box, const Air& air, std::optional<double>& peak_at_hz) {
    Values out;
    if (box.has_port()) {
        const auto figures = vented_figures(driver, box);
        EXPECTS(figures.has_value());
        add(out, "alpha", "", figures->alpha), add(out, "tuning_hz", "Hz", box.fb_hz);
        add_drops(out, figures->f3_hz, figures->f10_hz, figures->peak, peak_at_hz);
    } else {
        const auto figures = closed_figures(driver, box, air);
        EXPECTS(figures.has_value());
        add(out, "alpha", "", figures->alpha), add(out, "qtc", "", figures->qtc);
        add(out, "fc_hz", "Hz", figures->fc_hz);
        add_drops(out, figures->f3_hz, figures->f10_hz, figures->peak, peak_at_hz);
    }
    add_levels(out, driver);
    add_low_note(driver, box, air, out);
    return out;
}

/// The same of unlike drivers.
Values values_of(const MixedDrivers& drivers, const Box& box, const Air& air, std::optional<double>& peak_at_hz) {
    Values out;
    const MixedFigures figures = mixed_figures(drivers, box, air);
    if (box.has_port()) add(out, "tuning_hz", "Hz", box.fb_hz);
    add_drops(out, figures.f3_hz, figures.f10_hz, figures.peak, peak_at_hz);
    add_levels(out, drivers.together);
    const Response low = response(drivers, box, {kLowNote_hz}, {.watts = 1.0, .air = air});
    const auto limit = within_xmax(drivers, shared_circuit(drivers, box, air).at(kLowNote_hz));
    if (limit) {
        add(out, "xmax_level_40_hz_db", "dB", low.spl_db.front() + 10.0 * std::log10(limit->watts));
        add(out, "xmax_watts_40_hz", "W", limit->watts);
    }
    if (drivers.together.power_w) add(out, "most_level_40_hz_db", "dB", low.spl_most_db.front());
    return out;
}

Box at_volume(Box box, double times) {
    box.net = box.net * times;
    box.fb_hz = box.fb_hz / std::sqrt(times);
    return box;
}

/// Figures at the volume and at both ends of its bound.
template <class Drivers>
void add_figures(const Drivers& drivers, const Air& air, BoxSound& sound) {
    sound.figures = values_of(drivers, sound.box, air, sound.peak_at_hz);
    for (const double times : {1.0 - sound.volume_rel, 1.0 + sound.volume_rel}) {
        std::optional<double> ignored;
        const Values other = values_of(drivers, at_volume(sound.box, times), air, ignored);
        for (std::size_t i = 0; i < other.size(); ++i) {
            sound.figures[i].least = std::min(sound.figures[i].least, other[i].value);
            sound.figures[i].most = std::max(sound.figures[i].most, other[i].value);
        }
    }
}

/// With nothing told yet.
BoxSound silent(const SmallSignal& driver, const Box& box, double volume_rel, const std::optional<SizedPort>& port) {
    EXPECTS(box.net.mm3() > 0.0 && volume_rel >= 0.0 && volume_rel < 1.0);
    EXPECTS(!box.has_port() || box.port_area.mm2() > 0.0);
    return {.driver = driver,
            .box = box,
            .volume_rel = volume_rel,
            .watts = driver.power_w ? driver.power_w->value : 1.0,
            .port = port,
            .figures = {},
            .peak_at_hz = {},
            .port_air = {},
            .left_out = {},
            .curves = {}};
}

}  // namespace

std::optional<BoxFigure> BoxSound::figure(const std::string& name) const {
    const auto at = std::find_if(figures.begin(), figures.end(), [&](const BoxFigure& f) { return f.name == name; });
    return at == figures.end() ? std::nullopt : std::optional(*at);
}

BoxSound box_sound(const SmallSignal& driver, const Box& box, double volume_rel, const std::optional<SizedPort>& port,
                   const Air& air) {
    BoxSound sound = silent(driver, box, volume_rel, port);
    if (const auto values = circuit_values(driver, box); !values) {
        sound.left_out.push_back(fmt::format("all of it: {}", values.error().what));
        return sound;
    }
    add_figures(driver, air, sound);
    auto curves =
        response(driver, box, frequencies(kFrom_hz, kTo_hz, kCurvePoints), {.watts = sound.watts, .air = air});
    EXPECTS(curves.has_value());
    sound.curves = std::move(*curves);
    sound.left_out = sound.curves.left_out;
    if (!sound.curves.port_m_s.empty())
        sound.port_air = fastest_port_air(driver, box, sound.watts, kFrom_hz, kTo_hz, air);
    return sound;
}

BoxSound box_sound(const std::vector<SmallSignal>& drivers, const Wiring& wiring, const Box& box, double volume_rel,
                   const std::optional<SizedPort>& port, const Air& air) {
    EXPECTS(drivers.size() == static_cast<std::size_t>(wiring.count()));
    if (are_alike(drivers)) return box_sound(as_one(drivers.front(), wiring), box, volume_rel, port, air);
    const auto mixed = mixed_drivers(drivers, wiring, air);
    BoxSound sound = silent(mixed ? mixed->together : SmallSignal{}, box, volume_rel, port);
    sound.driver.name = names_together(drivers);
    sound.unlike = drivers;
    if (!mixed) {
        sound.left_out.push_back(fmt::format("all of it: {}", mixed.error().what));
        return sound;
    }
    add_figures(*mixed, air, sound);
    if (const auto limit = within_xmax(*mixed, shared_circuit(*mixed, box, air).at(kLowNote_hz)))
        sound.xmax_limited_by = mixed->titles[limit->by];
    sound.curves =
        response(*mixed, box, frequencies(kFrom_hz, kTo_hz, kCurvePoints), {.watts = sound.watts, .air = air});
    sound.left_out = sound.curves.left_out;
    if (box.has_port()) sound.port_air = fastest_port_air(*mixed, box, sound.watts, kFrom_hz, kTo_hz, air);
    return sound;
}

}  // namespace geom::sound
