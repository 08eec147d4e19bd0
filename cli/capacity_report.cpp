#include "cli/capacity_report.h"

#include "geom/core/text.h"
#include "geom/parts/driver_body.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace cli {

namespace {

using geom::plain_number;
using geom::rounded;
using geom::parts::CapacityPlace;
using Json = nlohmann::ordered_json;

constexpr int kRows = 16;  // of the table, about

/// Of the letters shown, not of the bytes.
std::string padded(const std::string& text, std::size_t width) {
    const auto letters = static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
    return letters < width ? text + std::string(width - letters, ' ') : text;
}

std::optional<double> depth_wanted(const CapacityReport& report) {
    if (!report.request.driver) return std::nullopt;
    return geom::parts::depth_behind_seat_mm(*report.request.driver);
}

bool is_asked(const CapacityReport& report, const CapacityPlace& place) {
    return report.capacity.asked && std::abs(place.t_mm - report.capacity.asked->t_mm) < 1e-9;
}

/// The places for the table, outermost first: round ones, the ends and the asked one; of those without air the first.
std::vector<const CapacityPlace*> rows(const CapacityReport& report) {
    const auto& places = report.capacity.places;
    const double span = places.back().t_mm - places.front().t_mm;
    double step = 1.0;
    for (const double s : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0})
        if (step = s; span / s <= kRows) break;
    std::vector<const CapacityPlace*> shown;
    for (auto place = places.rbegin(); place != places.rend(); ++place) {
        const bool is_end = place == places.rbegin() || place + 1 == places.rend();
        const bool is_round = std::abs(place->t_mm / step - std::round(place->t_mm / step)) < 1e-6;
        if (!is_end && !is_round && !is_asked(report, *place)) continue;
        if (place->net.mm3() <= 0.0 && !shown.empty() && shown.back()->net.mm3() <= 0.0) continue;
        shown.push_back(&*place);
    }
    return shown;
}

std::string remark(const CapacityReport& report, const CapacityPlace& place) {
    std::vector<std::string> words;
    if (is_asked(report, place)) words.push_back("asked");
    if (&place == &report.capacity.places.back())
        words.push_back(report.capacity.is_fixed ? "where the job has it" : "outermost");
    if (&place == &report.capacity.places.front() && !report.capacity.is_fixed) words.push_back("innermost");
    if (place.net.mm3() <= 0.0) {
        words.push_back("no air behind the baffle from here inwards");
    } else {
        if (place.pieces > 1) words.push_back(fmt::format("{} pieces, the largest counts", place.pieces));
        if (place.basket_depth_mm && *place.basket_depth_mm <= 0.0)
            words.push_back(report.request.driver->is_turned ? "the cone meets the wall" : "the basket meets the wall");
        else if (const auto wanted = depth_wanted(report); wanted && place.depth_mm < *wanted)
            words.push_back("too shallow for the driver");
    }
    return geom::listed(words, "");
}

std::string table(const CapacityReport& report) {
    const bool has_driver = report.request.driver.has_value();
    std::string out = fmt::format("  {:>12} {:>12} {:>13} {:>12}", "baffle at", "net volume", "front section", "depth");
    if (has_driver)
        out += fmt::format(" {:>15}", report.request.driver->is_turned ? "over the cone" : "over the basket");
    out += "\n";
    for (const CapacityPlace* place : rows(report)) {
        std::string line;
        if (place->net.mm3() <= 0.0) {
            line = fmt::format("  {:>9.1f} mm {:>12}", place->t_mm, "none");
            line += std::string(has_driver ? 42 : 26, ' ');
        } else {
            line = fmt::format("  {:>9.1f} mm {:>10.3f} L {:>9.1f} cm2 {:>9.1f} mm", place->t_mm, place->net.litres(),
                               place->section.cm2(), place->depth_mm);
            if (has_driver) line += fmt::format(" {:>12.1f} mm", place->basket_depth_mm.value_or(0.0));
        }
        const std::string words = remark(report, *place);
        if (!words.empty()) line += "   " + words;
        while (line.ends_with(' ')) line.pop_back();
        out += line + "\n";
    }
    return out;
}

std::string price_table(const CapacityReport& report) {
    const auto& list = *report.prices;
    std::size_t name = 10, taken = 8;
    for (const auto& p : list.prices) name = std::max(name, p.name.size()), taken = std::max(taken, p.taken.size());
    const bool has_place = report.capacity.asked.has_value();
    std::string out = fmt::format(
        "\nwhat each costs by itself: more net volume when it alone is taken away (a limit or keep-out is left out, "
        "the way\n"
        "in is not asked for, a wall of 0 is no part: its price is what its material takes); runs on a grid of {:.2g} "
        "mm,\n"
        "on which the gap holds {:.3f} L as asked\n",
        list.voxel_mm, list.most.litres());
    out += fmt::format("  {} {} {:>12} {:>10}{}\n", padded("", name), padded("taken", taken), "outermost", "for 1 mm",
                       has_place ? fmt::format(" {:>12}", "asked place") : "");
    for (const auto& p : list.prices) {
        std::string line = fmt::format("  {} {}", padded(p.name, name), padded(p.taken, taken));
        line += p.litres ? fmt::format(" {:>+10.3f} L", *p.litres) : fmt::format(" {:>12}", "");
        line += p.litres && p.amount_mm > 0.0 ? fmt::format(" {:>+8.3f} L", *p.litres / p.amount_mm)
                                              : fmt::format(" {:>10}", "");
        if (has_place)
            line += p.litres_at_place ? fmt::format(" {:>+10.3f} L", *p.litres_at_place) : fmt::format(" {:>12}", "");
        if (!p.note.empty()) line += "   " + p.note;
        while (line.ends_with(' ')) line.pop_back();
        out += line + "\n";
    }
    if (list.pairs.empty()) return out;
    out +=
        "\ntwo taken away together, at the outermost place, and what that is more (or less) than the two by "
        "themselves\n";
    std::size_t both = 10;
    for (const auto& pair : list.pairs) both = std::max(both, pair.first.size() + pair.second.size() + 5);
    for (const auto& pair : list.pairs) {
        out += fmt::format("  {}", padded(pair.first + " and " + pair.second, both));
        out += pair.note.empty() ? fmt::format(" {:>+10.3f} L {:>+10.3f} L\n", pair.litres, pair.interaction_litres)
                                 : fmt::format("   {}\n", pair.note);
    }
    return out;
}

std::string direction_table(const geom::parts::DirectionList& list) {
    std::string out =
        fmt::format("\nstraight ways in, the most each leaves on a grid of {:.2g} mm: for comparison\n", list.voxel_mm);
    out += fmt::format("  {:>23} {:>9} {:>12}\n", "insert", "tilt", "net volume");
    for (const auto& d : list.tried) {
        if (d.into == geom::Vec3{})
            out += fmt::format("  {:>23} {:>9}", "moves", "");
        else
            out += fmt::format("  {:>7.3f} {:>7.3f} {:>7.3f} {:>5.0f} deg", d.into.x, d.into.y, d.into.z, d.tilt_deg);
        out += d.litres ? fmt::format(" {:>10.2f} L", *d.litres) : fmt::format(" {:>12}", "none");
        if (d.is_asked) out += "   the job's own";
        if (!d.note.empty()) out += "   " + d.note;
        out += "\n";
    }
    return out;
}

Json mm(double v) {
    return rounded(v, 4);
}
Json litres(double v) {
    return rounded(v, 6);
}
template <class F>
Json maybe(const std::optional<double>& v, F&& form) {
    return v ? form(*v) : Json(nullptr);
}

Json place_json(const CapacityPlace& place) {
    return {{"t_mm", mm(place.t_mm)},
            {"net_litres", litres(place.net.litres())},
            {"front_section_cm2", rounded(place.section.cm2(), 3)},
            {"depth_mm", mm(place.depth_mm)},
            {"basket_depth_mm", maybe(place.basket_depth_mm, mm)},
            {"pieces", place.pieces}};
}

Json prices_json(const geom::parts::PriceList& list) {
    Json j;
    j["voxel_mm"] = mm(list.voxel_mm);
    j["most_litres"] = litres(list.most.litres());
    j["singles"] = Json::array();
    for (const auto& p : list.prices)
        j["singles"].push_back(
            {{"name", p.name},
             {"taken", p.taken},
             {"litres", maybe(p.litres, litres)},
             {"litres_per_mm", p.litres && p.amount_mm > 0.0 ? litres(*p.litres / p.amount_mm) : Json(nullptr)},
             {"litres_at_asked_place", maybe(p.litres_at_place, litres)},
             {"note", p.note}});
    j["pairs"] = Json::array();
    for (const auto& pair : list.pairs)
        j["pairs"].push_back(
            {{"first", pair.first},
             {"second", pair.second},
             {"litres", pair.note.empty() ? litres(pair.litres) : Json(nullptr)},
             {"interaction_litres", pair.note.empty() ? litres(pair.interaction_litres) : Json(nullptr)},
             {"note", pair.note}});
    return j;
}

Json directions_json(const geom::parts::DirectionList& list) {
    Json j;
    j["voxel_mm"] = mm(list.voxel_mm);
    j["tried"] = Json::array();
    for (const auto& d : list.tried)
        j["tried"].push_back(
            {{"insert", d.into == geom::Vec3{}
                            ? Json("moves")
                            : Json::array({rounded(d.into.x, 6), rounded(d.into.y, 6), rounded(d.into.z, 6)})},
             {"tilt_deg", d.into == geom::Vec3{} ? Json(nullptr) : Json(rounded(d.tilt_deg, 3))},
             {"is_asked", d.is_asked},
             {"net_litres", maybe(d.litres, litres)},
             {"note", d.note}});
    return j;
}

/// What the job changes until the volume is reached, when that is not the baffle's place; empty otherwise.
std::string adjusted(const CapacityReport& report) {
    using What = geom::parts::Adjust::What;
    const auto& adjust = report.request.adjust;
    switch (adjust.what) {
        case What::Baffle:
            return {};
        case What::Limit:
            return fmt::format("the job moves limit '{}' from {} to {} mm; here it stays where it is given",
                               adjust.limit, plain_number(adjust.lo_mm), plain_number(adjust.hi_mm));
        case What::Wall:
            return fmt::format("the job solves the wall from {} to {} mm; here it is {} mm", plain_number(adjust.lo_mm),
                               plain_number(adjust.hi_mm), plain_number(report.request.wall.mm()));
        case What::Fill:
            return "the job fills what the box holds too much; here nothing is filled";
    }
    return {};
}

}  // namespace

std::string capacity_text(const CapacityReport& report) {
    const auto& capacity = report.capacity;
    const double asked = report.request.net_volume.litres();
    std::string out;
    const auto line = [&](const std::string& text) { out += text + "\n"; };
    line(fmt::format("{}: the gap holds at most {:.3f} L net, with the baffle at {} mm", report.job.name,
                     capacity.most.litres(), plain_number(capacity.most_t_mm)));
    line("");
    if (capacity.is_fixed)
        line(fmt::format("baffle       has no travel: it stays at {} mm, other places are told for comparison",
                         plain_number(capacity.places.back().t_mm)));
    const std::string other = adjusted(report);
    if (!other.empty()) {
        line("adjusted     " + other);
        const double over = capacity.places.back().net.litres() - asked;
        line(fmt::format("asked        {} L: with the baffle in its place {:.3f} L {}", plain_number(asked),
                         std::abs(over), over >= 0.0 ? "too much" : "too little"));
    } else if (capacity.asked)
        line(fmt::format("asked        {} L: baffle at {:.1f} mm, {:.1f} mm further in than the outermost place",
                         plain_number(asked), capacity.asked->t_mm,
                         capacity.places.back().t_mm - capacity.asked->t_mm));
    else if (asked > capacity.most.litres())
        line(fmt::format("asked        {} L: {:.3f} L more than the gap holds", plain_number(asked),
                         asked - capacity.most.litres()));
    else
        line(fmt::format("asked        {} L: no place of the travel holds just that; the innermost holds {:.3f} L",
                         plain_number(asked), capacity.places.front().net.litres()));
    for (const auto& entry : capacity.features) line(fmt::format("  {:<38} {:>+9.3f} L", entry.name, entry.litres));
    if (report.request.baffle.separate) line("  the rim flange of the separate baffle is taken off at each place");
    line(fmt::format("depth        {}", capacity.depth_is));
    if (const auto wanted = depth_wanted(report))
        line(fmt::format("  the driver's own depth behind its seat {} mm", plain_number(*wanted)));
    line(fmt::format("field        voxel {:.2f} mm, stated bound of the room {:.2f} mm{}", report.room.voxel_mm,
                     report.room.bound_mm, report.from_kept ? "; kept from an earlier run" : ""));
    for (const auto& note : report.room.notes) line("note         " + note);
    line("");
    out += table(report);
    if (report.prices) out += price_table(report);
    if (report.directions) out += direction_table(*report.directions);
    return out;
}

std::string capacity_json(const CapacityReport& report) {
    const auto& capacity = report.capacity;
    Json j;
    j["job"] = report.job.name;
    j["made_by"] = "gapwright " + report.job.version;
    j["units"] = "lengths mm, volumes litres, angles deg; vehicle frame; t_mm along the baffle's outward";
    j["inputs"] = Json::array();
    for (const auto& input : report.job.inputs) j["inputs"].push_back({{"name", input.name}, {"sha256", input.sha256}});
    j["resolved"] = Json::object();
    for (const auto& [key, value] : report.job.resolved) j["resolved"][key] = value;
    j["net_volume"] = {{"asked_litres", litres(report.request.net_volume.litres())},
                       {"asked_at_mm", capacity.asked ? mm(capacity.asked->t_mm) : Json(nullptr)},
                       {"adjusted_otherwise", adjusted(report).empty() ? Json(nullptr) : Json(adjusted(report))},
                       {"most_litres", litres(capacity.most.litres())},
                       {"most_at_mm", mm(capacity.most_t_mm)}};
    j["baffle_is_fixed"] = capacity.is_fixed;
    j["features"] = Json::array();
    for (const auto& entry : capacity.features)
        j["features"].push_back({{"name", entry.name}, {"litres", litres(entry.litres)}});
    j["depth"] = {{"is", capacity.depth_is}, {"mounting_depth_mm", maybe(depth_wanted(report), mm)}};
    j["field"] = {{"voxel_mm", mm(report.room.voxel_mm)},
                  {"bound_mm", mm(report.room.bound_mm)},
                  {"edge_bound_mm", mm(report.room.edge_bound_mm)}};
    j["places"] = Json::array();
    for (const auto& place : capacity.places) j["places"].push_back(place_json(place));
    j["prices"] = report.prices ? prices_json(*report.prices) : Json(nullptr);
    j["directions"] = report.directions ? directions_json(*report.directions) : Json(nullptr);
    j["notes"] = report.room.notes;
    return j.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

exports::Plot capacity_plot(const CapacityReport& report) {
    const auto& capacity = report.capacity;
    exports::Plot plot;
    plot.title = report.job.name + ": what the gap holds";
    plot.note = fmt::format("at most {:.2f} L net, with the baffle at {} mm", capacity.most.litres(),
                            plain_number(capacity.most_t_mm));
    plot.x = {.label = "baffle place along its outward direction (mm)", .lo = {}, .hi = {}};
    plot.y = {.label = "net volume (L)", .lo = {}, .hi = {}};
    plot.right = exports::PlotAxis{.label = "depth for a driver (mm)", .lo = {}, .hi = {}};
    exports::PlotLine net{.name = "net volume", .points = {}};
    exports::PlotLine depth{.name = "depth " + capacity.depth_is, .points = {}, .on_right = true, .is_dashed = true};
    for (const CapacityPlace& place : capacity.places) {
        net.points.push_back({place.t_mm, place.net.litres()});
        depth.points.push_back({place.t_mm, place.net.mm3() > 0.0 ? place.depth_mm : std::nan("")});
    }
    plot.lines = {std::move(net), std::move(depth)};
    if (!capacity.is_fixed)
        plot.rules.push_back({exports::PlotRule::Along::X, capacity.places.front().t_mm,
                              fmt::format("innermost, {} mm", plain_number(capacity.places.front().t_mm))});
    plot.rules.push_back({exports::PlotRule::Along::X, capacity.places.back().t_mm,
                          fmt::format("{}, {} mm", capacity.is_fixed ? "fixed" : "outermost",
                                      plain_number(capacity.places.back().t_mm))});
    const double asked = report.request.net_volume.litres();
    plot.rules.push_back({exports::PlotRule::Along::Y, asked, fmt::format("asked {} L", plain_number(asked))});
    if (const auto wanted = depth_wanted(report))
        plot.rules.push_back({exports::PlotRule::Along::RightY, *wanted,
                              fmt::format("driver's mounting depth {} mm", plain_number(*wanted))});
    if (capacity.asked)
        plot.marks.push_back(
            {{capacity.asked->t_mm, capacity.asked->net.litres()}, fmt::format("at {:.1f} mm", capacity.asked->t_mm)});
    plot.marks.push_back(
        {{capacity.most_t_mm, capacity.most.litres()}, fmt::format("{:.2f} L", capacity.most.litres())});
    return plot;
}

}  // namespace cli
