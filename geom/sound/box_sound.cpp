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

/// Level and watts at the low note.
void add_low_note(const SmallSignal& driver, const Box& box, const Air& air, Values& out) {
    SmallSignal tireless = driver;
    tireless.power_w.reset();
    const auto add = [&](const char* name, const char* unit, double value) {
        out.push_back({name, unit, value, value, value});
    };
    if (driver.vd)
        if (const auto r = response(tireless, box, {kLowNote_hz}, {.watts = 1.0, .air = air});
            r && !r->spl_most_db.empty()) {
            add("xmax_level_40_hz_db", "dB", r->spl_most_db.front());
            add("xmax_watts_40_hz", "W", r->watts_most.front());
        }
    if (driver.power_w)
        if (const auto r = response(driver, box, {kLowNote_hz}, {.watts = 1.0, .air = air});
            r && !r->spl_most_db.empty())
            add("most_level_40_hz_db", "dB", r->spl_most_db.front());
}

/// All figures for one volume, always the same in the same order. EXPECTS: the driver has fs, qts and vas.
Values values_of(const SmallSignal& driver, const Box& box, const Air& air, std::optional<double>& peak_at_hz) {
    Values out;
    const auto add = [&](const char* name, const char* unit, double value) {
        out.push_back({name, unit, value, value, value});
    };
    const auto add_drops = [&](double f3, double f10, const std::optional<Peak>& peak) {
        add("f3_hz", "Hz", f3), add("f10_hz", "Hz", f10);
        add("peak_db", "dB", peak ? peak->db : 0.0);
        peak_at_hz = peak ? std::optional(peak->at) : std::nullopt;
    };
    if (box.has_port()) {
        const auto figures = vented_figures(driver, box);
        EXPECTS(figures.has_value());
        add("alpha", "", figures->alpha), add("tuning_hz", "Hz", box.fb_hz);
        add_drops(figures->f3_hz, figures->f10_hz, figures->peak);
    } else {
        const auto figures = closed_figures(driver, box, air);
        EXPECTS(figures.has_value());
        add("alpha", "", figures->alpha), add("qtc", "", figures->qtc), add("fc_hz", "Hz", figures->fc_hz);
        add_drops(figures->f3_hz, figures->f10_hz, figures->peak);
    }
    if (driver.spl_1w_db) add("level_1w_db", "dB", driver.spl_1w_db->value);
    if (driver.spl_sheet_db) add("level_2v83_db", "dB", driver.spl_sheet_db->value);
    add_low_note(driver, box, air, out);
    return out;
}

Box at_volume(Box box, double times) {
    box.net = box.net * times;
    box.fb_hz = box.fb_hz / std::sqrt(times);
    return box;
}

}  // namespace

std::optional<BoxFigure> BoxSound::figure(const std::string& name) const {
    const auto at = std::find_if(figures.begin(), figures.end(), [&](const BoxFigure& f) { return f.name == name; });
    return at == figures.end() ? std::nullopt : std::optional(*at);
}

BoxSound box_sound(const SmallSignal& driver, const Box& box, double volume_rel, const std::optional<SizedPort>& port,
                   const Air& air) {
    EXPECTS(box.net.mm3() > 0.0 && volume_rel >= 0.0 && volume_rel < 1.0);
    EXPECTS(!box.has_port() || box.port_area.mm2() > 0.0);
    BoxSound sound{.driver = driver,
                   .box = box,
                   .volume_rel = volume_rel,
                   .watts = driver.power_w ? driver.power_w->value : 1.0,
                   .port = port,
                   .figures = {},
                   .peak_at_hz = {},
                   .port_air = {},
                   .left_out = {},
                   .curves = {}};
    if (const auto values = circuit_values(driver, box); !values) {
        sound.left_out.push_back(fmt::format("all of it: {}", values.error().what));
        return sound;
    }
    sound.figures = values_of(driver, box, air, sound.peak_at_hz);
    for (const double times : {1.0 - volume_rel, 1.0 + volume_rel}) {
        std::optional<double> ignored;
        const Values other = values_of(driver, at_volume(box, times), air, ignored);
        for (std::size_t i = 0; i < other.size(); ++i) {
            sound.figures[i].least = std::min(sound.figures[i].least, other[i].value);
            sound.figures[i].most = std::max(sound.figures[i].most, other[i].value);
        }
    }
    auto curves =
        response(driver, box, frequencies(kFrom_hz, kTo_hz, kCurvePoints), {.watts = sound.watts, .air = air});
    EXPECTS(curves.has_value());
    sound.curves = std::move(*curves);
    sound.left_out = sound.curves.left_out;
    if (!sound.curves.port_m_s.empty())
        sound.port_air = fastest_port_air(driver, box, sound.watts, kFrom_hz, kTo_hz, air);
    return sound;
}

}  // namespace geom::sound
