#include "cli/response_report.h"

#include "geom/core/text.h"
#include "geom/sound/value_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace cli {

namespace {

using geom::plain_number;
using geom::rounded;
using Json = nlohmann::ordered_json;
namespace sound = geom::sound;

std::string value_text(const sound::ValueRow& e) {
    return fmt::format("{} {:.4g}{}{}", e.name, e.value, *e.unit == '\0' ? "" : " ", e.unit);
}

void add_list(std::string& out, const char* head, const std::vector<std::string>& words) {
    std::string line = fmt::format("{:<12}", head);
    for (std::size_t i = 0; i < words.size(); ++i) {
        const std::string word = words[i] + (i + 1 < words.size() ? "," : "");
        if (line.size() + 1 + word.size() > 118) out += line + "\n", line.assign(12, ' ');
        line += " " + word;
    }
    out += line + "\n";
}

std::string loss_text(double q) {
    return std::isinf(q) ? "none" : fmt::format("Q {}", plain_number(q));
}

std::string peak_text(const std::optional<sound::Peak>& peak) {
    if (!peak || peak->db < 0.05) return "no peak";
    return fmt::format("{:.1f} dB high at {:.0f} Hz", peak->db, peak->at);
}

std::string bands_text(const std::vector<sound::Band>& bands, double lowest_hz) {
    std::vector<std::string> words;
    for (const auto& band : bands)
        words.push_back(band.from_hz <= lowest_hz ? fmt::format("below {:.0f} Hz", band.to_hz)
                                                  : fmt::format("from {:.0f} to {:.0f} Hz", band.from_hz, band.to_hz));
    return geom::listed(words);
}

std::optional<sound::PortSpeed> fastest(const SoundCase& c) {
    if (c.curves.port_m_s.empty()) return std::nullopt;
    if (c.unlike)
        return sound::fastest_port_air(*c.unlike, c.box, c.watts, c.curves.f_hz.front(), c.curves.f_hz.back());
    return sound::fastest_port_air(c.driver, c.box, c.watts, c.curves.f_hz.front(), c.curves.f_hz.back());
}

/// A cone against its xmax at the case's watts.
struct ConeTold {
    std::string title;  ///< "" of the only kind
    double xmax_mm = 0.0;
    std::vector<sound::Band> beyond;
};

std::vector<ConeTold> cones_told(const SoundCase& c) {
    std::vector<ConeTold> out;
    const auto add = [&](const std::string& title, geom::Length xmax, const std::vector<double>& excursion_mm) {
        out.push_back({title, xmax.mm(), sound::bands_above(c.curves.f_hz, excursion_mm, xmax.mm())});
    };
    if (c.driver.xmax && !c.curves.excursion_mm.empty()) add("", c.driver.xmax->value, c.curves.excursion_mm);
    for (const sound::ConeCurve& cone : c.curves.each_cone)
        if (cone.xmax) add(cone.title, *cone.xmax, cone.excursion_mm);
    return out;
}

Json bands_json(const std::vector<sound::Band>& bands) {
    Json j = Json::array();
    for (const auto& band : bands) j.push_back(Json::array({rounded(band.from_hz, 3), rounded(band.to_hz, 3)}));
    return j;
}

const char* words_of(sound::PortAir air) {
    switch (air) {
        case sound::PortAir::Calm:
            return "calm";
        case sound::PortAir::Heard:
            return "will be heard: wanted 17 m/s at most";
        case sound::PortAir::Choked:
            return "fails: above 34 m/s a port chokes; wanted 17 m/s at most";
    }
    return "";
}

std::string first_line(const SoundCase& c) {
    if (c.closed)
        return fmt::format("{}, closed: Qtc {:.3f}, resonance {:.1f} Hz, -3 dB at {:.1f} Hz, -10 dB at {:.1f} Hz, {}",
                           c.label, c.closed->qtc, c.closed->fc_hz, c.closed->f3_hz, c.closed->f10_hz,
                           peak_text(c.closed->peak));
    if (c.mixed)
        return fmt::format("{}, {}: -3 dB at {:.1f} Hz, -10 dB at {:.1f} Hz, {}", c.label,
                           c.box.has_port() ? "with a port" : "closed", c.mixed->f3_hz, c.mixed->f10_hz,
                           peak_text(c.mixed->peak));
    return fmt::format("{}, with a port: -3 dB at {:.1f} Hz, -10 dB at {:.1f} Hz, {}", c.label, c.vented->f3_hz,
                       c.vented->f10_hz, peak_text(c.vented->peak));
}

struct Column {
    std::string head;
    const std::vector<double>* values;
    int decimals;
    double factor;
};

std::string table_of(const std::vector<double>& f_hz, const std::vector<Column>& columns) {
    std::string out = fmt::format("  {:>8}", "Hz");
    for (const Column& c : columns) out += fmt::format(" {:>11}", c.head);
    out += "\n";
    for (std::size_t i = 0; i < f_hz.size(); ++i) {
        out += fmt::format("  {:>8}", plain_number(f_hz[i]));
        for (const Column& c : columns)
            out += fmt::format(" {:>11.{}f}", rounded((*c.values)[i] * c.factor, c.decimals), c.decimals);
        out += "\n";
    }
    return out;
}

std::string table(const sound::Response& r) {
    std::vector<double> by;  // counted from 1
    for (const std::size_t driver : r.limited_by) by.push_back(static_cast<double>(driver + 1));
    std::vector<Column> columns;
    for (const Column& column : {Column{"response dB", &r.response_db, 1, 1.0},
                                 {"2.83 V dB", &r.spl_sheet_db, 1, 1.0},
                                 {"at power dB", &r.spl_db, 1, 1.0},
                                 {"most dB", &r.spl_most_db, 1, 1.0},
                                 {"at W", &r.watts_most, 1, 1.0},
                                 {"by driver", &by, 0, 1.0},
                                 {"cone mm", &r.excursion_mm, 2, 1.0},
                                 {"port m/s", &r.port_m_s, 1, 1.0},
                                 {"delay ms", &r.group_delay_s, 1, 1e3},
                                 {"ohm", &r.impedance_ohm, 1, 1.0}})
        if (!column.values->empty()) columns.push_back(column);
    return table_of(r.f_hz, columns);
}

/// Each unlike driver's excursion, as many to a table as a screen takes.
std::string cone_tables(const SoundCase& c) {
    constexpr std::size_t kMost = 9;
    std::string out;
    for (std::size_t from = 0; from < c.rows.each_cone.size(); from += kMost) {
        std::vector<Column> columns;
        for (std::size_t i = from; i < std::min(from + kMost, c.rows.each_cone.size()); ++i)
            columns.push_back({fmt::format("driver {} mm", i + 1), &c.rows.each_cone[i].excursion_mm, 2, 1.0});
        out += fmt::format("\n  cones, one way, at {:.4g} W\n{}", c.watts, table_of(c.rows.f_hz, columns));
    }
    return out;
}

std::string port_text(const sound::SizedPort& sized, bool has_bend) {
    const sound::Port& p = sized.port;
    const std::string count = p.count == 1 ? "one" : std::to_string(p.count);
    const std::string size = p.section.is_round()
                                 ? fmt::format("{} tube of {} mm", count, plain_number(p.section.width().mm()))
                                 : fmt::format("{} slot of {} x {} mm", count, plain_number(p.section.width().mm()),
                                               plain_number(p.section.height().mm()));
    return fmt::format(
        "{}, {:.1f} mm long{}: ends add {:.1f} mm inside ({}) and {:.1f} mm outside (flush); "
        "first pipe resonance {:.0f} Hz",
        size, sized.length.mm(), has_bend ? " along its middle" : "", sound::end_correction(p.section, p.inner).mm(),
        p.inner.walls == 0   ? "free"
        : p.inner.walls == 1 ? "along a wall"
                             : "in a corner",
        sound::end_correction(p.section, p.outer).mm(), sound::pipe_resonance_hz(p, sized.length));
}

/// Net volumes, with the box's own lining.
std::string flattest_text(const SoundCase& c) {
    std::vector<std::string> words;
    if (c.flattest_closed)
        words.push_back(fmt::format("closed {:.3g} L (Qtc 0.707)", c.flattest_closed->litres() / c.box.lining_gain));
    if (const auto& row = c.flattest_ported; row && c.driver.vas)
        words.push_back(fmt::format("with a port {:.3g} L at {:.3g} Hz ({}), -3 dB at {:.3g} Hz",
                                    c.driver.vas->value.litres() / row->alpha / c.box.lining_gain,
                                    row->h * c.driver.fs_hz->value, sound::name_of(row->alignment),
                                    row->f3 * c.driver.fs_hz->value));
    return geom::listed(words, "or");
}

void add_values(std::string& out, const sound::SmallSignal& driver) {
    std::vector<std::string> given, follow;
    for (const sound::ValueRow& e : sound::value_rows(driver)) (e.is_given ? given : follow).push_back(value_text(e));
    if (!given.empty()) add_list(out, "given", given);
    add_list(out, "derived", follow);
}

/// The values of each, and what the amplifier meets.
void add_unlike(std::string& out, const SoundCase& c) {
    const sound::MixedDrivers& all = *c.unlike;
    out += fmt::format("drivers      {} unlike ones: {} in series, {} of these in parallel, in their order\n",
                       all.each.size(), c.wiring.in_series, c.wiring.in_parallel);
    for (std::size_t i = 0; i < all.each.size(); ++i) {
        out += fmt::format("{:<12} {}\n", fmt::format("driver {}", i + 1), all.titles[i]);
        add_values(out, all.each[i]);
    }
    std::vector<std::string> together;
    for (const sound::ValueRow& e : sound::value_rows(all.together)) together.push_back(value_text(e));
    add_list(out, "together", together);
    out += fmt::format("             watts are into {:.4g} ohm, all coils as wired", all.together.re_ohm->value);
    if (all.power_by)
        out += fmt::format("; beyond {:.4g} W the coil of {} gets more than its own power", all.together.power_w->value,
                           all.titles[*all.power_by]);
    out += "\n";
}

std::string one_text(const SoundCase& c) {
    std::string out = first_line(c) + "\n\n";
    const auto line = [&](const char* head, const std::string& text) { out += fmt::format("{:<12} {}\n", head, text); };
    if (c.unlike)
        add_unlike(out, c);
    else {
        if (c.wiring.count() > 1)
            line("drivers", fmt::format("{} as one: {} in series, {} of these in parallel; values are of all together",
                                        c.wiring.count(), c.wiring.in_series, c.wiring.in_parallel));
        add_values(out, c.driver);
    }
    for (const std::string& note : c.driver.notes) line("disagrees", note);
    const sound::BoxLosses losses = c.box.losses_used();
    line("box",
         fmt::format("{} L net, lining gain {}, {}; leak {}, absorption {}", plain_number(c.box.net.litres()),
                     plain_number(c.box.lining_gain),
                     c.unlike ? fmt::format("Qs of its losses count at {:.1f} Hz", sound::losses_hz(*c.unlike, c.box))
                              : fmt::format("Vas is {:.3g} times the air it finds",
                                            c.closed ? c.closed->alpha : c.vented->alpha),
                     loss_text(losses.leakage), loss_text(losses.absorption)));
    if (c.box.lining_gain > sound::kUsualMostGain)
        line("note", fmt::format("a lining gain of {} is more than practice finds (1.15 to {})",
                                 plain_number(c.box.lining_gain), plain_number(sound::kUsualMostGain)));
    if (c.port) line("port", port_text(*c.port, c.has_bend));
    if (const auto speed = fastest(c))
        line("port air", fmt::format("{:.1f} m/s at {:.0f} Hz and {} W: {}", speed->m_s, speed->at_hz,
                                     fmt::format("{:.4g}", c.watts), words_of(sound::judged(speed->m_s))));
    for (const ConeTold& cone : cones_told(c)) {
        const std::string of = cone.title.empty() ? "" : cone.title + " ", xmax = plain_number(cone.xmax_mm);
        line("cone", cone.beyond.empty() ? fmt::format("{}stays within xmax of {} mm at {:.4g} W", of, xmax, c.watts)
                                         : fmt::format("{}passes xmax of {} mm {} at {:.4g} W", of, xmax,
                                                       bands_text(cone.beyond, c.curves.f_hz.front()), c.watts));
    }
    if (c.closed && c.closed->within_xmax_w)
        line("", fmt::format("{:.3g} W stay within xmax at every frequency", *c.closed->within_xmax_w));
    if (c.mixed && c.mixed->within_xmax)
        line("", fmt::format("{:.3g} W stay within xmax at every frequency; {} is the first beyond",
                             c.mixed->within_xmax->watts, c.unlike->titles[c.mixed->within_xmax->by]));
    if (const std::string flattest = flattest_text(c); !flattest.empty()) line("flattest", flattest);
    if (!c.curves.left_out.empty()) add_list(out, "left out", c.curves.left_out);
    out += fmt::format("\n{}{}\n", table(c.rows), cone_tables(c));
    return out;
}

Json list(const std::vector<double>& values, int decimals, double factor = 1.0) {
    if (values.empty()) return nullptr;
    Json j = Json::array();
    for (const double v : values) j.push_back(rounded(v * factor, decimals));
    return j;
}

Json peak_json(const std::optional<sound::Peak>& peak) {
    return peak ? Json{{"db", rounded(peak->db, 4)}, {"at_hz", rounded(peak->at, 3)}} : Json(nullptr);
}

Json loss_json(double q) {
    return std::isinf(q) ? Json(nullptr) : Json(rounded(q, 4));
}

Json curves_json(const sound::Response& r) {
    Json j{{"hz", list(r.f_hz, 4)},
           {"response_db", list(r.response_db, 4)},
           {"phase_deg", list(r.phase_deg, 3)},
           {"group_delay_ms", list(r.group_delay_s, 4, 1e3)},
           {"level_2v83_db", list(r.spl_sheet_db, 4)},
           {"level_db", list(r.spl_db, 4)},
           {"most_level_db", list(r.spl_most_db, 4)},
           {"most_w", list(r.watts_most, 4)},
           {"excursion_mm", list(r.excursion_mm, 5)},
           {"port_air_m_s", list(r.port_m_s, 4)},
           {"impedance_ohm", list(r.impedance_ohm, 4)},
           {"impedance_phase_deg", list(r.impedance_phase_deg, 3)}};
    for (const sound::ConeCurve& cone : r.each_cone)
        j["each_cone"].push_back({{"driver", cone.title},
                                  {"xmax_mm", cone.xmax ? Json(rounded(cone.xmax->mm(), 4)) : Json(nullptr)},
                                  {"excursion_mm", list(cone.excursion_mm, 5)}});
    for (const std::size_t by : r.limited_by) j["most_limited_by_driver"].push_back(by + 1);
    return j;
}

Json values_json(const sound::SmallSignal& driver) {
    Json j = Json::array();
    for (const sound::ValueRow& e : sound::value_rows(driver))
        j.push_back({{"name", e.name},
                     {"value", rounded(e.value, 6)},
                     {"unit", e.unit},
                     {"given", e.is_given},
                     {"from", e.from}});
    return j;
}

/// What unlike drivers have instead of "closed" or "vented".
Json unlike_json(const SoundCase& c) {
    const sound::MixedDrivers& all = *c.unlike;
    Json j{{"nominal_ohm", rounded(all.together.re_ohm->value, 6)},
           {"f3_hz", rounded(c.mixed->f3_hz, 4)},
           {"f10_hz", rounded(c.mixed->f10_hz, 4)},
           {"peak", peak_json(c.mixed->peak)},
           {"losses_at_hz", rounded(sound::losses_hz(all, c.box), 4)},
           {"power_w", all.together.power_w ? Json(rounded(all.together.power_w->value, 4)) : Json(nullptr)},
           {"power_limited_by", all.power_by ? Json(all.titles[*all.power_by]) : Json(nullptr)},
           {"within_xmax_w", nullptr},
           {"xmax_limited_by", nullptr},
           {"each", Json::array()}};
    if (const auto& within = c.mixed->within_xmax) {
        j["within_xmax_w"] = rounded(within->watts, 4);
        j["xmax_limited_by"] = all.titles[within->by];
    }
    for (std::size_t i = 0; i < all.each.size(); ++i)
        j["each"].push_back({{"driver", all.titles[i]},
                             {"string", static_cast<int>(i) / c.wiring.in_series + 1},
                             {"values", values_json(all.each[i])}});
    return j;
}

Json case_json(const SoundCase& c) {
    Json j;
    j["label"] = c.label;
    j["drivers"] = {
        {"count", c.wiring.count()}, {"in_series", c.wiring.in_series}, {"in_parallel", c.wiring.in_parallel}};
    j["driver"] = values_json(c.driver);
    j["disagreements"] = c.driver.notes;
    const sound::BoxLosses losses = c.box.losses_used();
    j["box"] = {{"net_litres", rounded(c.box.net.litres(), 6)},
                {"lining_gain", rounded(c.box.lining_gain, 4)},
                {"alpha", c.unlike ? Json(nullptr) : Json(rounded(c.closed ? c.closed->alpha : c.vented->alpha, 6))},
                {"q_leak", loss_json(losses.leakage)},
                {"q_absorption", loss_json(losses.absorption)},
                {"q_port", loss_json(losses.port)}};
    if (c.closed)
        j["closed"] = {
            {"fc_hz", rounded(c.closed->fc_hz, 4)},
            {"qtc", rounded(c.closed->qtc, 6)},
            {"f3_hz", rounded(c.closed->f3_hz, 4)},
            {"f10_hz", rounded(c.closed->f10_hz, 4)},
            {"peak", peak_json(c.closed->peak)},
            {"excursion_peak", peak_json(c.closed->excursion_peak)},
            {"within_xmax_w", c.closed->within_xmax_w ? Json(rounded(*c.closed->within_xmax_w, 4)) : Json()}};
    if (c.vented)
        j["vented"] = {{"tuning_hz", rounded(c.box.fb_hz, 4)},
                       {"f3_hz", rounded(c.vented->f3_hz, 4)},
                       {"f10_hz", rounded(c.vented->f10_hz, 4)},
                       {"peak", peak_json(c.vented->peak)}};
    if (c.unlike) j["unlike"] = unlike_json(c);
    if (c.port) {
        const sound::Port& p = c.port->port;
        j["port"] = {{"count", p.count},
                     {"section", p.section.is_round() ? "round" : "slot"},
                     {"width_mm", rounded(p.section.width().mm(), 4)},
                     {"height_mm", rounded(p.section.height().mm(), 4)},
                     {"length_mm", rounded(c.port->length.mm(), 3)},
                     {"inner_end_mm", rounded(sound::end_correction(p.section, p.inner).mm(), 3)},
                     {"inner_end_walls", p.inner.walls},
                     {"outer_end_mm", rounded(sound::end_correction(p.section, p.outer).mm(), 3)},
                     {"pipe_resonance_hz", rounded(sound::pipe_resonance_hz(p, c.port->length), 2)}};
    }
    j["flattest"] = {
        {"closed_litres",
         c.flattest_closed ? Json(rounded(c.flattest_closed->litres() / c.box.lining_gain, 4)) : Json(nullptr)},
        {"ported", nullptr}};
    if (const auto& row = c.flattest_ported; row && c.driver.vas)
        j["flattest"]["ported"] = {
            {"litres", rounded(c.driver.vas->value.litres() / row->alpha / c.box.lining_gain, 4)},
            {"tuning_hz", rounded(row->h * c.driver.fs_hz->value, 4)},
            {"f3_hz", rounded(row->f3 * c.driver.fs_hz->value, 4)},
            {"alignment", std::string(sound::name_of(row->alignment))}};
    if (const auto speed = fastest(c)) {
        const sound::PortAir air = sound::judged(speed->m_s);
        j["port_air"] = {{"most_m_s", rounded(speed->m_s, 4)},
                         {"at_hz", rounded(speed->at_hz, 3)},
                         {"verdict", air == sound::PortAir::Calm    ? "calm"
                                     : air == sound::PortAir::Heard ? "heard"
                                                                    : "fails"}};
    }
    j["watts"] = rounded(c.watts, 4);
    const std::vector<ConeTold> cones = cones_told(c);
    j["beyond_xmax_hz"] = Json::array();
    if (c.unlike)  // by driver
        for (const ConeTold& cone : cones)
            j["beyond_xmax_hz"].push_back({{"driver", cone.title}, {"bands", bands_json(cone.beyond)}});
    else if (!cones.empty())
        j["beyond_xmax_hz"] = bands_json(cones.front().beyond);
    j["left_out"] = c.curves.left_out;
    j["curves"] = curves_json(c.curves);
    return j;
}

}  // namespace

std::string response_text(const std::vector<SoundCase>& cases) {
    std::string out;
    bool has_unlike = false;
    for (const SoundCase& c : cases) out += one_text(c), has_unlike = has_unlike || c.unlike;
    if (has_unlike) out += fmt::format("caution      {}\n", sound::kOneSignal);
    out += fmt::format("caution      {}\ncaution      {}\n", sound::kFreeField, sound::kSmallSignals);
    return out;
}

std::string response_json(const std::vector<SoundCase>& cases, const std::string& version) {
    Json j;
    j["made_by"] = "gapwright " + version;
    j["units"] = "the key says it; levels at 1 m in half space; excursions and air speeds are peaks; watts are into re";
    j["cautions"] = {sound::kFreeField, sound::kSmallSignals};
    if (std::any_of(cases.begin(), cases.end(), [](const SoundCase& c) { return c.unlike.has_value(); }))
        j["cautions"].push_back(sound::kOneSignal);
    j["cases"] = Json::array();
    for (const SoundCase& c : cases) j["cases"].push_back(case_json(c));
    return j.dump(2) + "\n";
}

std::vector<std::pair<std::string, exports::Plot>> plots_of(const std::vector<SoundCase>& cases,
                                                            const sound::CabinGain* cabin) {
    std::vector<exports::Heard> heard;
    for (const SoundCase& c : cases)
        heard.push_back({.label = c.label, .driver = c.driver, .curves = c.curves, .watts = c.watts});
    return exports::response_plots(heard, cabin);
}

}  // namespace cli
