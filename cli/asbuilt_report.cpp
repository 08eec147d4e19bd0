#include "cli/asbuilt_report.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace cli {

namespace {

using geom::Volume;
using geom::measure::Share;
namespace sound = geom::sound;

/// Two digits of what it may be off.
int decimals_of(Volume within) {
    const double off = within.litres();
    return off > 0.0 ? std::clamp(static_cast<int>(std::ceil(-std::log10(off))) + 1, 1, 4) : 4;
}

class Told {
public:
    explicit Told(const AsBuilt& built) : b_(built), decimals_(decimals_of(built.against.difference.within())) {}

    std::string text() {
        first_line();
        in_it();
        filled();
        against();
        what_to_do();
        driver();
        for (const auto& file : b_.written) line("written", file.string());
        return std::move(out_);
    }

private:
    void line(const char* head, const std::string& words) { out_ += fmt::format("{:<12} {}\n", head, words); }
    std::string litres(Volume v) const { return fmt::format("{:.{}f} L", v.litres(), decimals_); }

    void first_line() {
        const Volume off = b_.against.difference.value;
        const char* verdict = !b_.against.differs   ? "no difference that this measuring can tell"
                              : !b_.against.matters ? "off, and within the job's tolerance"
                              : off.mm3() > 0.0     ? "too large"
                                                    : "too small";
        out_ +=
            fmt::format("{} as built: {} net, {} by its report: {}\n\n", b_.report.job.empty() ? "box" : b_.report.job,
                        litres(b_.net), litres(b_.report.net), verdict);
    }

    /// What was in the box, and how its openings were.
    void in_it() {
        std::vector<std::string> in, out, sum{"net " + litres(b_.report.net)};
        bool has_cutout = false, has_terminal = false, has_port = b_.report.fb_hz > 0.0;
        for (const LedgerEntry& entry : b_.report.ledger) {
            has_cutout = has_cutout || is_driver(entry.name) || entry.name.starts_with("cut-out");
            has_terminal = has_terminal || entry.name == "terminal";
            if (!entry.comes_out) continue;
            const bool is_in = std::find(b_.fitted.begin(), b_.fitted.end(), entry.name) != b_.fitted.end();
            (is_in ? in : out).push_back(entry.name);
            if (!is_in) sum.push_back(fmt::format("{} {:.{}f} L", entry.name, -entry.volume.litres(), decimals_));
        }
        std::string words = out.empty() ? "nothing was left out" : geom::listed(out) + " out";
        if (!in.empty()) words += ", " + geom::listed(in) + " in";
        line("taken as", words + "; all else of the report's ledger in its place, no lining");
        const auto is_out = [&](const char* name) { return std::find(out.begin(), out.end(), name) != out.end(); };
        std::vector<std::string> closed;
        const auto drivers = std::count_if(out.begin(), out.end(), is_driver);
        if (has_cutout && drivers == 1) {
            const std::string& name = *std::find_if(out.begin(), out.end(), is_driver);
            closed.push_back("the cut-out flush with the " +
                             (name == "driver" ? std::string("driver's seat") : "seat of " + name));
        }
        if (has_cutout && drivers > 1) closed.emplace_back("the cut-outs flush with their drivers' seats");
        if (has_terminal && is_out("terminal")) closed.emplace_back("the terminal's hole flush with the outside");
        if (has_port) closed.emplace_back("the port at its inner end");
        if (!closed.empty()) line("", "closed: " + geom::listed(closed));
        line("expected", litres(b_.expected) + (sum.size() > 1 ? " = " + geom::listed(sum, "and") : " by the report"));
    }

    void filled() {
        const auto& f = b_.filled;
        std::string words = fmt::format("{}, within {} (95 %)", litres(f.mean.value), litres(f.mean.within()));
        if (f.each.size() > 1) {
            std::vector<std::string> each;
            for (const Volume v : f.each) each.push_back(litres(v));
            words += fmt::format(": {}", geom::listed(each));
        }
        line("filled", words);
        std::vector<std::string> shares;
        for (const Share& s : f.shares) shares.push_back(fmt::format("{} {:.2g} L", s.of, s.standard.litres()));
        line("", "one standard deviation of it: " + geom::listed(shares));
        if (f.ways_disagree)
            line("", "grain and water disagree by more than they can: one of them is wrong, pour again");
    }

    void against() {
        const auto& d = b_.against.difference;
        line("difference", fmt::format("{:+.{}f} L ({:+.2f} %), within {} (95 %)", d.value.litres(), decimals_,
                                       100.0 * (d.value / b_.report.net), litres(d.within())));
        line("net", fmt::format("{} as built, between {} and {}", litres(b_.net), litres(b_.net - b_.net_within),
                                litres(b_.net + b_.net_within)));
        if (!b_.against.differs && !b_.against.can_tell)
            line("",
                 fmt::format("the job wants it to {}: to prove that, fill it with water, or weigh more often with a "
                             "bulk density found the same day",
                             litres(b_.report.tolerance)));
    }

    void what_to_do() {
        if (b_.pad) {
            const double mm3 = b_.pad->volume.mm3();
            std::string words =
                fmt::format("fill {} with what holds no air: hard foam, wood, cast resin", litres(b_.pad->volume));
            line("to do", words);
            if (b_.pad->area)
                line("", fmt::format("as a pad over {:.0f} cm2 ({}): {:.1f} mm thick; keep it clear of the driver",
                                     b_.pad->area->cm2(),
                                     b_.pad->area_is_asked ? "as asked" : "the flat wall that the report names",
                                     mm3 / b_.pad->area->mm2()));
            else
                line("", "say --pad-area \"400 cm2\" for the thickness of a pad on a wall of that area");
        } else if (b_.lining) {
            tell_lining(*b_.lining);
        } else {
            line("to do",
                 b_.against.differs ? "nothing: the job's tolerance forgives it" : "nothing by this measuring");
        }
    }

    void tell_lining(const LiningRemedy& lining) {
        const std::string gain = fmt::format("{:.3f}", lining.gain);
        if (lining.gain > sound::kMostGain)
            line("to do", fmt::format("lining cannot make up for it: apparent {} times the net volume is wanted, {} is "
                                      "the most there is; {} stay missing",
                                      gain, sound::kMostGain, litres(lining.still_small)));
        else if (lining.gain > sound::kUsualMostGain)
            line("to do",
                 fmt::format("lining would have to make it seem {} times as large; practice finds 1.15 to {}: do "
                             "not count on it",
                             gain, sound::kUsualMostGain));
        else
            line("to do",
                 fmt::format("line it with loose fibre until it seems {} times as large (practice finds 1.15 to "
                             "{} when all of it is filled)",
                             gain, sound::kUsualMostGain));
        line("", "or look for what fills it: glue, ribs that are not drawn, a wall thicker than drawn");
    }

    void driver() {
        if (b_.sound.empty()) {
            line("driver", "left out: " + b_.no_sound);
            return;
        }
        const bool ported = b_.report.fb_hz > 0.0;
        const int count = b_.report.wiring.count();
        line("driver", fmt::format("{}{}, {}", count > 1 ? fmt::format("{} x ", count) : "",
                                   b_.report.driver->name.empty() ? "unnamed" : b_.report.driver->name,
                                   ported ? "port as it is" : "closed"));
        out_ += fmt::format("  {:<14} {:>10} {:>7} {:>10} {:>10} {:>10}\n", "", "net L", "Qtc",
                            ported ? "tuning Hz" : "reson. Hz", "-3 dB Hz", "peak dB");
        for (const SoundRow& row : b_.sound)
            out_ += fmt::format("  {:<14} {:>10.3f} {:>7} {:>10.2f} {:>10.2f} {:>10.2f}\n", row.name,
                                row.box.net.litres(), row.qtc ? fmt::format("{:.3f}", *row.qtc) : "-", row.resonance_hz,
                                row.f3_hz, row.peak ? row.peak->db : 0.0);
    }

    const AsBuilt& b_;
    int decimals_;
    std::string out_;
};

using Json = nlohmann::ordered_json;
double litres_of(Volume v) {
    return geom::rounded(v.litres(), 6);
}

Json rows_json(const AsBuilt& built) {
    Json rows = Json::array();
    for (const SoundRow& row : built.sound)
        rows.push_back({{"name", row.name},
                        {"net_litres", litres_of(row.box.net)},
                        {"lining_gain", geom::rounded(row.box.lining_gain, 4)},
                        {"qtc", row.qtc ? Json(geom::rounded(*row.qtc, 6)) : Json(nullptr)},
                        {row.qtc ? "resonance_hz" : "tuning_hz", geom::rounded(row.resonance_hz, 4)},
                        {"f3_hz", geom::rounded(row.f3_hz, 4)},
                        {"peak_db", geom::rounded(row.peak ? row.peak->db : 0.0, 4)}});
    return rows;
}

}  // namespace

std::string asbuilt_text(const AsBuilt& built) {
    return Told(built).text();
}

std::string asbuilt_json(const AsBuilt& built, const std::string& version) {
    Json j;
    j["made_by"] = "gapwright " + version;
    j["job"] = built.report.job;
    j["units"] = "litres; within: 95 %";
    j["reported"] = {{"net_litres", litres_of(built.report.net)},
                     {"asked_litres", litres_of(built.report.asked)},
                     {"tolerance_litres", litres_of(built.report.tolerance)}};
    Json parts = Json::array();
    for (const LedgerEntry& entry : built.report.ledger)
        if (entry.comes_out)
            parts.push_back(
                {{"name", entry.name},
                 {"litres", litres_of(-entry.volume)},
                 {"fitted", std::find(built.fitted.begin(), built.fitted.end(), entry.name) != built.fitted.end()}});
    j["expected"] = {{"litres", litres_of(built.expected)}, {"parts", parts}};
    Json each = Json::array(), shares = Json::array();
    for (const Volume v : built.filled.each) each.push_back(litres_of(v));
    for (const Share& s : built.filled.shares)
        shares.push_back({{"of", s.of}, {"standard_litres", litres_of(s.standard)}});
    const auto& mean = built.filled.mean;
    j["filled"] = {{"litres", litres_of(mean.value)},
                   {"standard_litres", litres_of(mean.standard)},
                   {"freedom", std::isfinite(mean.freedom) ? Json(geom::rounded(mean.freedom, 2)) : Json(nullptr)},
                   {"within_litres", litres_of(mean.within())},
                   {"each_litres", each},
                   {"shares", shares},
                   {"ways_disagree", built.filled.ways_disagree}};
    j["difference"] = {{"litres", litres_of(built.against.difference.value)},
                       {"within_litres", litres_of(built.against.difference.within())},
                       {"differs", built.against.differs},
                       {"matters", built.against.matters},
                       {"proves_tolerance", built.against.can_tell}};
    j["net_as_built"] = {{"litres", litres_of(built.net)}, {"within_litres", litres_of(built.net_within)}};
    j["pad"] = nullptr;
    if (built.pad) {
        j["pad"] = {{"litres", litres_of(built.pad->volume)}, {"area_cm2", nullptr}, {"thickness_mm", nullptr}};
        if (built.pad->area) {
            j["pad"]["area_cm2"] = geom::rounded(built.pad->area->cm2(), 2);
            j["pad"]["thickness_mm"] = geom::rounded(built.pad->volume.mm3() / built.pad->area->mm2(), 3);
        }
    }
    j["lining"] = nullptr;
    if (built.lining)
        j["lining"] = {{"gain_wanted", geom::rounded(built.lining->gain, 4)},
                       {"gain_usual_most", sound::kUsualMostGain},
                       {"gain_most", sound::kMostGain},
                       {"still_small_litres", litres_of(built.lining->still_small)}};
    j["driver"] = built.sound.empty() ? Json(nullptr) : Json(built.report.driver->name);
    j["sound"] = rows_json(built);
    j["left_out"] = built.no_sound;
    j["written"] = Json::array();
    for (const auto& file : built.written) j["written"].push_back(file.string());
    return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

exports::Plot asbuilt_plot(const AsBuilt& built) {
    EXPECTS(!built.sound.empty());
    exports::Plot plot;
    plot.title = "Response in the box as asked and as built";
    plot.note = "free field, half space, against the passband; small signals";
    plot.x = {.label = "frequency (Hz)", .lo = 10.0, .hi = 500.0, .is_log = true};
    plot.y = {.label = "dB", .lo = {}, .hi = {}, .is_log = false};
    for (const SoundRow& row : built.sound) {
        if (!row.in_plot) continue;
        exports::PlotLine line{.name = fmt::format("{}, {:.2f} L", row.name, row.box.net.litres()),
                               .points = {},
                               .on_right = false,
                               .is_dashed = row.name == "lined"};
        for (std::size_t i = 0; i < row.curves.f_hz.size(); ++i)
            line.points.push_back({row.curves.f_hz[i], row.curves.response_db[i]});
        plot.lines.push_back(std::move(line));
    }
    return plot;
}

}  // namespace cli
