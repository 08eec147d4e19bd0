#include "cli/response.h"

#include "cli/response_report.h"
#include "cli/steps.h"
#include "exports/write_files.h"
#include "geom/core/text.h"
#include "geom/job/cabin_file.h"
#include "geom/job/driver_file.h"
#include "geom/job/quantity.h"
#include "geom/parts/port.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
using geom::Length;
using geom::Result;
using geom::Volume;
namespace sound = geom::sound;

namespace {

constexpr std::size_t kMostCases = 20;
constexpr std::size_t kCurvePoints = 401;
const std::vector<double> kRows{10, 12.5, 16, 20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500};

geom::Fault bad_argument(std::string what, std::string hint) {
    return {geom::FaultCode::BadJob, std::move(what), std::move(hint), {}, ""};
}

Result<double> quantity(const std::string& text, geom::job::QuantityKind kind, const char* option) {
    auto value = geom::job::parse_quantity(text, kind);
    if (!value) {
        geom::Fault fault = std::move(value).error();
        fault.what = fmt::format("{} {}", option, fault.what);
        fault.hint = fmt::format("in quotes, number and unit: {}", geom::job::example_of(kind));
        return fault;
    }
    if (*value <= 0.0)
        return bad_argument(fmt::format("{} is {}; wanted more than 0", option, text),
                            fmt::format("say it with its unit, such as {}", geom::job::example_of(kind)));
    return *value;
}

struct Sheet {
    std::vector<sound::SmallSignal> drivers;  ///< of a job all of them, else one
    std::optional<Volume> volume;             ///< of the job
    std::optional<sound::CabinGain> cabin{};
    sound::Wiring wiring{};
    double lining_gain = 1.0;
    std::optional<geom::parts::Port> port{};
};

Result<Sheet> read_sheet(const fs::path& file) {
    GAPWRIGHT_TRY(is_job, geom::job::is_job_file(file));
    if (!is_job) {
        GAPWRIGHT_TRY(driver, geom::job::read_driver_file(file));
        return Sheet{{sound::derived(driver.driver)}, {}};
    }
    GAPWRIGHT_TRY(job, geom::job::read_job(file, {}));
    if (!job.enclosure.driver)
        return bad_argument(fmt::format("{}: names no driver; wanted [driver]", file.filename().string()),
                            "name the driver's file in the job, or give the driver's file itself");
    Sheet sheet;
    for (const auto& mount : job.enclosure.drivers()) sheet.drivers.push_back(sound::derived(mount.driver));
    if (job.enclosure.asks_volume) sheet.volume = job.enclosure.net_volume;
    sheet.wiring = job.enclosure.wiring;
    if (job.enclosure.lining) sheet.lining_gain = job.enclosure.lining->gain;
    sheet.port = job.enclosure.port;
    sheet.cabin = job.enclosure.cabin;
    return sheet;
}

Result<std::vector<Volume>> volumes_of(const ResponseArguments& arguments, const Sheet& sheet, const fs::path& file) {
    std::vector<Volume> volumes;
    for (const std::string& text : arguments.volumes) {
        GAPWRIGHT_TRY(mm3, quantity(text, geom::job::QuantityKind::Volume, "--volume"));
        volumes.push_back(Volume::mm3(mm3));
    }
    if (volumes.empty() && sheet.volume) volumes.push_back(*sheet.volume);
    if (volumes.empty())
        return bad_argument(fmt::format("{}: no volume is said; wanted --volume", file.filename().string()),
                            "give the net volume with its unit, such as --volume \"22 L\"; several may be given");
    return volumes;
}

Result<std::optional<sound::PortSection>> section_of(const ResponseArguments& arguments) {
    using geom::job::QuantityKind;
    std::optional<sound::PortSection> section;
    if (!arguments.port_diameter.empty() && !arguments.slot.empty())
        return bad_argument("--port and --slot are both said; wanted one of them", "a box has tubes or slots here");
    if (!arguments.port_diameter.empty()) {
        GAPWRIGHT_TRY(mm, quantity(arguments.port_diameter, QuantityKind::Length, "--port"));
        section = sound::PortSection::round(Length::mm(mm));
    }
    if (!arguments.slot.empty()) {
        GAPWRIGHT_TRY(width, quantity(arguments.slot.at(0), QuantityKind::Length, "--slot"));
        GAPWRIGHT_TRY(height, quantity(arguments.slot.at(1), QuantityKind::Length, "--slot"));
        section = sound::PortSection::slot(Length::mm(width), Length::mm(height));
    }
    if (section && arguments.tuning_hz <= 0.0)
        return bad_argument(
            fmt::format("{} is said without --tuning; wanted both", section->is_round() ? "--port" : "--slot"),
            "a closed box has no port: say --tuning in Hz, or leave the port out");
    return section;
}

Result<std::optional<sound::SizedPort>> add_port(const ResponseArguments& arguments, sound::Box& box) {
    GAPWRIGHT_TRY(section, section_of(arguments));
    box.fb_hz = arguments.tuning_hz;
    std::optional<sound::SizedPort> sized;
    if (!section) return sized;
    sized.emplace();
    sized->port.section = *section;
    sized->port.count = arguments.ports;
    sized->port.inner.walls = arguments.port_walls;
    GAPWRIGHT_TRY(length, sound::port_length(sized->port, box.fb_hz, box.apparent()));
    sized->length = length;
    box.port_area = sized->port.area();
    return sized;
}

/// What would be flattest for this driver, as far as its values tell.
void add_flattest(SoundCase& c) {
    if (auto volume = sound::closed_volume_for(c.driver, std::sqrt(0.5))) c.flattest_closed = *volume;
    const double leak = c.box.has_port() ? c.box.losses_used().leakage : sound::default_losses(true).leakage;
    if (auto row = sound::flattest(c.driver.qts->value, leak)) c.flattest_ported = *row;
}

/// The port that a job asks for, where the command line says nothing of one.
Result<std::optional<sound::SizedPort>> add_port_of_job(const geom::parts::Port& port, sound::Box& box) {
    sound::SizedPort sized{.port = geom::parts::port_air(port), .length = port.length.value_or(Length())};
    if (port.tuning_hz > 0.0) {
        GAPWRIGHT_TRY(length, sound::port_length(sized.port, port.tuning_hz, box.apparent()));
        sized.length = length;
    }
    box.fb_hz = sound::tuning_hz(sized.port, sized.length, box.apparent());
    box.port_area = sized.port.area();
    return std::optional(sized);
}

std::string label_of(const SoundCase& c) {
    const int count = c.wiring.count();
    const sound::SmallSignal& driver = c.driver;
    const sound::Box& box = c.box;
    return fmt::format("{}{} in {} L{}", count > 1 && !c.unlike ? fmt::format("{} x ", count) : "", driver.name,
                       geom::plain_number(box.net.litres()),
                       box.has_port() ? fmt::format(" at {} Hz", geom::plain_number(geom::rounded(box.fb_hz, 2))) : "");
}

/// The wiring as said, or as the job has it; several drivers as one where they are alike.
geom::Status add_drivers(const ResponseArguments& arguments, const Sheet& sheet, SoundCase& c) {
    c.wiring = {.in_series = arguments.in_series, .in_parallel = arguments.in_parallel};
    if (c.wiring.count() == 1) c.wiring = sheet.wiring;
    if (sound::are_alike(sheet.drivers)) {
        c.driver = sound::as_one(sheet.drivers.front(), c.wiring);
        return geom::Done{};
    }
    if (static_cast<std::size_t>(c.wiring.count()) != sheet.drivers.size())
        return bad_argument(
            fmt::format("--series {} and --parallel {} make {} drivers, and the job has {}, which are unlike; wanted "
                        "as many",
                        c.wiring.in_series, c.wiring.in_parallel, c.wiring.count(), sheet.drivers.size()),
            "leave both out: the job says how its drivers are wired");
    GAPWRIGHT_TRY(unlike, sound::mixed_drivers(sheet.drivers, c.wiring));
    c.driver = unlike.together;
    c.unlike = std::move(unlike);
    return geom::Done{};
}

/// Figures, curves and table of unlike drivers.
void add_mixed(SoundCase& c, const std::vector<double>& curve_hz, std::vector<double> row_hz) {
    const sound::ResponseOptions options{.watts = c.watts, .air = {}};
    c.mixed = sound::mixed_figures(*c.unlike, c.box);
    c.curves = sound::response(*c.unlike, c.box, curve_hz, options);
    c.rows = sound::response(*c.unlike, c.box, std::move(row_hz), options);
}

Result<SoundCase> case_of(const ResponseArguments& arguments, const Sheet& sheet, Volume volume) {
    SoundCase c;
    GAPWRIGHT_CHECK(add_drivers(arguments, sheet, c));
    c.box.net = volume;
    c.box.lining_gain = arguments.lining_gain > 1.0 ? arguments.lining_gain : sheet.lining_gain;
    const bool takes_job =
        sheet.port && arguments.tuning_hz <= 0.0 && arguments.port_diameter.empty() && arguments.slot.empty();
    GAPWRIGHT_TRY(port, takes_job ? add_port_of_job(*sheet.port, c.box) : add_port(arguments, c.box));
    c.port = port;
    c.has_bend = takes_job && sheet.port->bend;
    sound::BoxLosses losses = sound::default_losses(c.box.has_port());
    if (arguments.leakage > 0.0) losses.leakage = arguments.leakage;
    if (arguments.absorption > 0.0) losses.absorption = arguments.absorption;
    c.box.losses = losses;
    c.label = label_of(c);
    c.watts = arguments.watts > 0.0 ? arguments.watts : c.driver.power_w ? c.driver.power_w->value : 1.0;
    const std::vector<double> curve_hz = sound::frequencies(arguments.from_hz, arguments.to_hz, kCurvePoints);
    std::vector<double> rows;
    std::copy_if(kRows.begin(), kRows.end(), std::back_inserter(rows),
                 [&](double f) { return f >= arguments.from_hz && f <= arguments.to_hz; });
    if (c.unlike) {
        add_mixed(c, curve_hz, std::move(rows));
        return c;
    }
    if (c.box.has_port()) {
        GAPWRIGHT_TRY(figures, sound::vented_figures(c.driver, c.box));
        c.vented = figures;
    } else {
        GAPWRIGHT_TRY(figures, sound::closed_figures(c.driver, c.box));
        c.closed = figures;
    }
    add_flattest(c);
    const sound::ResponseOptions options{.watts = c.watts, .air = {}};
    GAPWRIGHT_TRY(curves, sound::response(c.driver, c.box, curve_hz, options));
    c.curves = std::move(curves);
    GAPWRIGHT_TRY(table, sound::response(c.driver, c.box, std::move(rows), options));
    c.rows = std::move(table);
    return c;
}

struct AllCases {
    std::vector<SoundCase> cases;
    std::optional<sound::CabinGain> cabin;  ///< as said, or of the first job that names one
};

Result<AllCases> cases_of(const ResponseArguments& arguments) {
    if (!(arguments.from_hz < arguments.to_hz))
        return bad_argument(fmt::format("--from is {} Hz, --to is {} Hz; wanted --from below --to",
                                        geom::plain_number(arguments.from_hz), geom::plain_number(arguments.to_hz)),
                            "such as --from 10 --to 500");
    AllCases all;
    std::vector<SoundCase>& cases = all.cases;
    if (!arguments.cabin.empty()) {
        GAPWRIGHT_TRY(cabin, geom::job::read_cabin_file(arguments.cabin));
        all.cabin = std::move(cabin);
    }
    for (const fs::path& file : arguments.files) {
        GAPWRIGHT_TRY(sheet, read_sheet(file));
        if (!all.cabin) all.cabin = sheet.cabin;
        GAPWRIGHT_TRY(volumes, volumes_of(arguments, sheet, file));
        for (const Volume volume : volumes) {
            GAPWRIGHT_TRY(one, case_of(arguments, sheet, volume));
            cases.push_back(std::move(one));
        }
    }
    if (cases.size() > kMostCases)
        return bad_argument(fmt::format("{} drivers and volumes together; wanted at most {}", cases.size(), kMostCases),
                            "a plot of more lines cannot be read: run it several times");
    return all;
}

Result<std::vector<fs::path>> write_files(const ResponseArguments& arguments, const AllCases& all) {
    const std::vector<SoundCase>& cases = all.cases;
    std::vector<fs::path> written;
    if (arguments.out.empty()) return written;
    GAPWRIGHT_CHECK(check_folder(arguments.out));
    const std::string stem = exports::stem_of(arguments.files.front()) + "-response";
    std::vector<exports::NamedBytes> files{{stem + ".json", response_json(cases, GAPWRIGHT_VERSION)}};
    for (const auto& [name, plot] : plots_of(cases, all.cabin ? &*all.cabin : nullptr))
        files.push_back({fmt::format("{}-{}.svg", stem, name), exports::plot_svg(plot)});
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    for (const auto& file : files) written.push_back(arguments.out / file.name);
    return written;
}

}  // namespace

int run_response(const ResponseArguments& arguments) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    const auto all = cases_of(arguments);
    if (!all) return print_fault(all.error(), form);
    const auto written = write_files(arguments, *all);
    if (!written) return print_fault(written.error(), form);
    if (arguments.json)
        fmt::print(stdout, "{}", response_json(all->cases, GAPWRIGHT_VERSION));
    else if (!arguments.quiet) {
        fmt::print(stdout, "{}", response_text(all->cases));
        for (const fs::path& file : *written) fmt::print(stdout, "written      {}\n", file.string());
    }
    return kMade;
}

}  // namespace cli
