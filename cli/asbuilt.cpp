#include "cli/asbuilt.h"

#include "cli/asbuilt_report.h"
#include "cli/steps.h"
#include "exports/write_files.h"
#include "geom/core/text.h"
#include "geom/job/filling_text.h"
#include "geom/job/quantity.h"
#include "geom/sound/vented_box.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
namespace sound = geom::sound;
using geom::Fault;
using geom::FaultCode;
using geom::Result;
using geom::Status;
using geom::Volume;
using geom::job::QuantityKind;

namespace {

Result<double> quantity(const std::string& text, QuantityKind kind, const char* option) {
    auto value = geom::job::parse_quantity(text, kind);
    if (value && *value > 0.0) return *value;
    return Fault{FaultCode::BadJob,
                 value ? fmt::format("{} is {}; wanted more than 0", option, text)
                       : fmt::format("{} {}", option, value.error().what),
                 fmt::format("in quotes, number and unit: {}", geom::job::example_of(kind)),
                 {},
                 {}};
}

Result<std::vector<geom::measure::Filling>> fillings_of(const AsBuiltArguments& arguments) {
    geom::job::FillingRules rules;
    if (!arguments.scale_off.empty()) {
        GAPWRIGHT_TRY(kg, quantity(arguments.scale_off, QuantityKind::Mass, "--scale"));
        rules.scale_off_kg = kg;
    }
    if (arguments.settling_percent >= 0.0) rules.settling_rel = arguments.settling_percent / 100.0;
    std::vector<geom::measure::Filling> out;
    for (const std::string& text : arguments.grain) {
        GAPWRIGHT_TRY(one, geom::job::read_grain(text, rules));
        out.push_back(one);
    }
    for (const std::string& text : arguments.water) {
        GAPWRIGHT_TRY(one, geom::job::read_water(text, rules));
        out.push_back(one);
    }
    return out;
}

Result<AsBuilt> compared(const AsBuiltArguments& arguments) {
    AsBuilt out;
    GAPWRIGHT_TRY(report, read_made_report(arguments.report));
    out.report = std::move(report);
    GAPWRIGHT_TRY(fillings, fillings_of(arguments));
    std::vector<std::string> can_be;
    for (const LedgerEntry& line : out.report.ledger)
        if (line.comes_out) can_be.push_back(line.name);
    for (const std::string& name : arguments.fitted)
        if (std::find(can_be.begin(), can_be.end(), name) == can_be.end())
            return Fault{
                FaultCode::BadJob,
                fmt::format("--fitted \"{}\": the report's ledger has nothing of that name to be fitted", name),
                can_be.empty() ? "leave it out: the report names nothing that is fitted later"
                               : "it knows " + geom::listed(can_be),
                {},
                {}};
    out.fitted = arguments.fitted;
    // Its net volume, and what was not in it yet.
    out.expected = out.report.net;
    for (const LedgerEntry& line : out.report.ledger)
        if (line.comes_out && std::find(out.fitted.begin(), out.fitted.end(), line.name) == out.fitted.end())
            out.expected = out.expected - line.volume;
    GAPWRIGHT_TRY(filled, geom::measure::filled(fillings));
    out.filled = std::move(filled);
    const double ratio = out.filled.mean.value / out.expected;
    if (ratio < 0.5 || ratio > 2.0)
        return Fault{
            FaultCode::BadJob,
            fmt::format("filled {:.4g} L, and the report expects {:.4g} L; wanted between half of it and twice",
                        out.filled.mean.value.litres(), out.expected.litres()),
            "look at units, at the bulk density, at what the scale showed empty, and whether it is this box's "
            "report",
            {},
            {}};
    out.against = geom::measure::against(out.filled.mean, out.expected, out.report.ways_off, out.report.tolerance);
    out.net = out.report.net + out.against.difference.value;
    out.net_within = Volume::litres(std::hypot(out.against.difference.within().litres(), out.report.net_off.litres()));
    return out;
}

Status remedies(const AsBuiltArguments& arguments, AsBuilt& out) {
    std::optional<geom::Area> area = out.report.flat_wall;
    if (!arguments.pad_area.empty()) {
        GAPWRIGHT_TRY(mm2, quantity(arguments.pad_area, QuantityKind::Area, "--pad-area"));
        area = geom::Area::mm2(mm2);
    }
    if (!out.against.matters) return geom::Done{};
    if (out.against.difference.value.mm3() > 0.0) {
        out.pad = PadRemedy{out.against.difference.value, area, !arguments.pad_area.empty()};
        return geom::Done{};
    }
    LiningRemedy lining;
    lining.gain = out.report.net / out.net * out.report.lining_gain;
    if (lining.gain > sound::kMostGain)
        lining.still_small = out.report.net * out.report.lining_gain - out.net * sound::kMostGain;
    out.lining = lining;
    return geom::Done{};
}

Result<SoundRow> row_of(const AsBuilt& built, const std::string& name, Volume net, double gain, bool in_plot) {
    const sound::SmallSignal driver = sound::as_one(sound::derived(*built.report.driver), built.report.wiring);
    SoundRow row;
    row.name = name;
    row.box.net = net;
    row.box.lining_gain = gain;
    row.in_plot = in_plot;
    if (built.report.fb_hz > 0.0) {
        // The port stays as it is: its tuning goes with one over the root of the air behind it.
        row.box.fb_hz = built.report.fb_hz * std::sqrt(built.report.net * built.report.lining_gain / (net * gain));
        GAPWRIGHT_TRY(figures, sound::vented_figures(driver, row.box));
        row.resonance_hz = row.box.fb_hz;
        row.f3_hz = figures.f3_hz;
        row.peak = figures.peak;
    } else {
        GAPWRIGHT_TRY(figures, sound::closed_figures(driver, row.box));
        row.qtc = figures.qtc;
        row.resonance_hz = figures.fc_hz;
        row.f3_hz = figures.f3_hz;
        row.peak = figures.peak;
    }
    if (in_plot) {
        GAPWRIGHT_TRY(curves, sound::response(driver, row.box, sound::frequencies(10.0, 500.0, 401)));
        row.curves = std::move(curves);
    }
    return row;
}

Status add_sound(AsBuilt& out) {
    if (!out.report.driver) {
        out.no_sound = "the report knows no driver";
        return geom::Done{};
    }
    if (out.report.has_unlike_drivers) {
        out.no_sound = "the box has unlike drivers; gapwright response tells their sound at another volume";
        return geom::Done{};
    }
    struct Case {
        std::string name;
        Volume net;
        double gain;
        bool in_plot;
    };
    const double gain = out.report.lining_gain;
    std::vector<Case> cases{{"asked", out.report.asked, gain, true},
                            {"reported", out.report.net, gain, false},
                            {"as built", out.net, gain, true},
                            {"at the least", out.net - out.net_within, gain, false},
                            {"at the most", out.net + out.net_within, gain, false}};
    if (out.pad) cases.push_back({"with the pad", out.net - out.pad->volume, gain, false});
    if (out.lining) cases.push_back({"lined", out.net, std::min(out.lining->gain, sound::kMostGain), true});
    for (const Case& c : cases) {
        if (c.net.mm3() <= 0.0) continue;
        auto row = row_of(out, c.name, c.net, c.gain, c.in_plot);
        if (!row) {
            out.sound.clear();
            out.no_sound = row.error().what;
            return geom::Done{};
        }
        out.sound.push_back(std::move(*row));
    }
    return geom::Done{};
}

Result<AsBuilt> tell(const AsBuiltArguments& arguments) {
    GAPWRIGHT_TRY(built, compared(arguments));
    GAPWRIGHT_CHECK(remedies(arguments, built));
    GAPWRIGHT_CHECK(add_sound(built));
    if (arguments.out.empty()) return built;
    GAPWRIGHT_CHECK(check_folder(arguments.out));
    const std::string stem =
        exports::stem_of(built.report.job.empty() ? arguments.report.stem().string() : built.report.job);
    std::vector<exports::NamedBytes> files{{stem + "-asbuilt.json", asbuilt_json(built, GAPWRIGHT_VERSION)}};
    if (!built.sound.empty()) files.push_back({stem + "-asbuilt.svg", exports::plot_svg(asbuilt_plot(built))});
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    for (const auto& file : files) built.written.push_back(arguments.out / file.name);
    return built;
}

}  // namespace

int run_asbuilt(const AsBuiltArguments& arguments) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    if (arguments.grain.empty() && arguments.water.empty())
        return print_usage_error("asbuilt: says no filling; wanted --fill or --water, as often as the box was filled",
                                 form);
    const auto built = tell(arguments);
    if (!built) return print_fault(built.error(), form);
    if (arguments.json)
        fmt::print(stdout, "{}", asbuilt_json(*built, GAPWRIGHT_VERSION));
    else if (!arguments.quiet)
        fmt::print(stdout, "{}", asbuilt_text(*built));
    return built->against.matters ? kUnproved : kMade;
}

}  // namespace cli
