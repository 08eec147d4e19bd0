#include "cli/shortlist_report.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

namespace cli {
namespace {

using geom::plain_number;
using geom::rounded;
using Json = nlohmann::ordered_json;

constexpr std::size_t kMostLines = 8;
const char* const kCabin =
    "free field over a wide baffle, half space, small signals; a cabin lifts low notes, and this model does not know "
    "yours";

std::string or_dash(const std::optional<double>& value, int decimals) {
    return value ? fmt::format("{:.{}f}", *value, decimals) : std::string("-");
}

std::string place_words(const Listed& row) {
    const auto& p = *row.fitting.place;
    const auto tenth = [](double v) { return std::round(v * 10.0) / 10.0; };
    return fmt::format("baffle at {} mm, centre at {}{}", plain_number(tenth(p.t_mm)),
                       geom::plain_vector({tenth(p.centre.x), tenth(p.centre.y), tenth(p.centre.z)}),
                       p.is_as_asked ? ", the job's own" : "");
}

Json place_json(const geom::parts::FittingPlace& p) {
    return {{"baffle_t_mm", rounded(p.t_mm, 3)},
            {"centre", {rounded(p.centre.x, 3), rounded(p.centre.y, 3), rounded(p.centre.z, 3)}},
            {"centre_is_the_jobs", p.is_as_asked},
            {"net_litres", rounded(p.net.litres(), 4)},
            {"front_spare_mm", rounded(p.front_spare_mm, 2)},
            {"body_spare_mm", rounded(p.body_spare_mm, 2)}};
}

Json or_null(const std::optional<double>& value, int decimals) {
    return value ? Json(rounded(*value, decimals)) : Json(nullptr);
}

}  // namespace

std::string shortlist_text(const ShortlistReport& report) {
    std::string out;
    const auto fitting =
        std::count_if(report.rows.begin(), report.rows.end(), [](const Listed& r) { return r.fits(); });
    out +=
        fmt::format("{}: {} of {} drivers fit; {}\n\n", report.job.name, fitting, report.rows.size(), report.sorted_by);
    std::size_t wide = 6;
    for (const Listed& row : report.rows) wide = std::max(wide, row.driver.name.size());
    out += fmt::format("  {:<{}} {:>10} {:>10} {:>10} {:>6} {:>8} {:>11}\n", "driver", wide, "air there", "wanted",
                       "most", "Qtc", "f3", fmt::format("at {} Hz", plain_number(report.at_hz)));
    for (const Listed& row : report.rows) {
        if (!row.fits()) {
            out += fmt::format("  {:<{}} does not fit: {}\n", row.driver.name, wide, row.fitting.why_not);
            continue;
        }
        std::optional<double> qtc, f3;
        if (row.closed) qtc = row.closed->qtc, f3 = row.closed->f3_hz;
        out +=
            fmt::format("  {:<{}} {:>8.2f} L {:>8} L {:>8.2f} L {:>6} {:>5} Hz {:>8} dB\n", row.driver.name, wide,
                        row.fitting.place->net.litres(),
                        or_dash(row.wanted ? std::optional(row.wanted->litres()) : std::nullopt, 2),
                        row.fitting.roomiest->net.litres(), or_dash(qtc, 2), or_dash(f3, 1), or_dash(row.most_db, 1));
        out += fmt::format("  {:<{}}   {}\n", "", wide, place_words(row));
        if (!row.fitting.why_not.empty()) out += fmt::format("  {:<{}}   {}\n", "", wide, row.fitting.why_not);
        if (!row.wanted && !row.wanted_note.empty()) out += fmt::format("  {:<{}}   {}\n", "", wide, row.wanted_note);
    }
    out += fmt::format(
        "\n  air there  net volume at the place told: the innermost at which the driver fits and has the air it "
        "wants,\n"
        "             or the outermost at which it fits\n"
        "  wanted     net volume of a closed box with a Qtc of {}, no lining\n"
        "  most       net volume at the outermost place at which it fits\n"
        "  at {} Hz   the most within xmax and power, 1 m\n"
        "  {}\n"
        "  by the field alone; feet, braces and sleeves are not looked at: gapwright enclosure proves the one you "
        "take\n",
        plain_number(rounded(report.qtc, 3)), plain_number(report.at_hz), kCabin);
    for (const std::string& file : report.unread) out += "not read     " + file + "\n";
    return out;
}

std::string shortlist_json(const ShortlistReport& report) {
    Json j;
    j["job"] = report.job.name;
    j["made_by"] = "gapwright " + report.job.version;
    j["units"] = "lengths mm, volumes litres, frequencies Hz, levels dB at 1 m; vehicle frame";
    j["inputs"] = Json::array();
    for (const auto& input : report.job.inputs) j["inputs"].push_back({{"name", input.name}, {"sha256", input.sha256}});
    j["sorted_by"] = report.sorted_by;
    j["qtc_wanted"] = rounded(report.qtc, 4);
    j["output_at_hz"] = rounded(report.at_hz, 3);
    j["drivers"] = Json::array();
    for (const Listed& row : report.rows) {
        Json one;
        one["file"] = row.file;
        one["name"] = row.driver.name;
        one["fits"] = row.fits();
        one["flange_mm"] = rounded(row.driver.flange_diameter.mm(), 3);
        one["wanted_litres"] = or_null(row.wanted ? std::optional(row.wanted->litres()) : std::nullopt, 4);
        one["place"] = row.fits() ? place_json(*row.fitting.place) : Json(nullptr);
        one["roomiest"] = row.fitting.roomiest ? place_json(*row.fitting.roomiest) : Json(nullptr);
        one["left_litres"] = row.fitting.roomiest && row.wanted
                                 ? Json(rounded((row.fitting.roomiest->net - *row.wanted).litres(), 4))
                                 : Json(nullptr);
        one["qtc"] = row.closed ? Json(rounded(row.closed->qtc, 4)) : Json(nullptr);
        one["fc_hz"] = row.closed ? Json(rounded(row.closed->fc_hz, 3)) : Json(nullptr);
        one["f3_hz"] = row.closed ? Json(rounded(row.closed->f3_hz, 3)) : Json(nullptr);
        one["most_db"] = or_null(row.most_db, 3);
        one["notes"] = Json::array();
        for (const std::string* note : {&row.fitting.why_not, &row.wanted_note})
            if (!note->empty()) one["notes"].push_back(*note);
        for (const std::string& note : row.left_out) one["notes"].push_back(note);
        j["drivers"].push_back(one);
    }
    j["not_read"] = report.unread;
    j["how"] = fmt::format("by the field alone, {}", kCabin);
    return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::optional<exports::Plot> shortlist_plot(const ShortlistReport& report) {
    exports::Plot plot;
    plot.title = fmt::format("{}: the most each driver gives in this gap", report.job.name);
    plot.note = "closed, within xmax and power, 1 m, half space; the cabin is not in it";
    plot.x = {.label = "frequency (Hz)", .lo = {}, .hi = {}, .is_log = true};
    plot.y = {.label = "level (dB)", .lo = {}, .hi = {}};
    for (const Listed& row : report.rows) {
        if (!row.curves || row.curves->spl_most_db.empty() || plot.lines.size() == kMostLines) continue;
        exports::PlotLine line;
        line.name = fmt::format("{}, {:.1f} L", row.driver.name, row.fitting.place->net.litres());
        for (std::size_t i = 0; i < row.curves->f_hz.size(); ++i)
            line.points.push_back({row.curves->f_hz[i], row.curves->spl_most_db[i]});
        plot.lines.push_back(std::move(line));
    }
    if (plot.lines.empty()) return std::nullopt;
    plot.rules.push_back({exports::PlotRule::Along::X, report.at_hz, fmt::format("{} Hz", plain_number(report.at_hz))});
    return plot;
}

}  // namespace cli
