// The command line: reads arguments, runs one subcommand, turns whatever happens into an exit code.
#include "cli/asbuilt.h"
#include "cli/box.h"
#include "cli/capacity.h"
#include "cli/enclosure.h"
#include "cli/response.h"
#include "cli/ring.h"
#include "cli/scan.h"
#include "cli/shortlist.h"
#include "cli/volume.h"
#include "geom/sound/box.h"

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <csignal>
#include <cstdio>
#include <cstring>
#include <exception>

namespace {

std::atomic<bool> cancel{false};
static_assert(std::atomic<bool>::is_always_lock_free, "the signal handler sets it");

/// The first interrupt asks for an orderly end, the second ends at once.
extern "C" void on_interrupt(int signal) {
    cancel.store(true);
    std::signal(signal, SIG_DFL);
}

const char* const kHelp = R"(gapwright: from a scanned gap to a loudspeaker enclosure that fits it

  gapwright scan FILE... [options]    tell what scan files hold
  gapwright volume FILE... [options]  tell what any shape holds, and how sure that is
  gapwright asbuilt REPORT [options]  tell what a finished box holds, by what was
                                      filled into it, against its report
  gapwright capacity JOB [options]    tell how much the gap holds, and what costs how much of it
  gapwright response FILE... [options]
                                      tell what drivers do in closed or ported boxes;
                                      each FILE is a driver's data sheet or a job
  gapwright shortlist JOB --drivers DIR [options]
                                      tell which drivers of a folder go into the gap
  gapwright enclosure JOB [options]   make the enclosure that the job file asks for
  gapwright box JOB [options]         make the box from numbers that the job file asks for
  gapwright ring JOB [options]        make the adapter ring that the job file asks for
  gapwright --version                 print the version
  gapwright --help                    print this page

A job file is TOML text. It names the scan, the air volume, the driver and the
mounting feet, and says how much clearance to leave. The program measures what it
makes, reads its own files back and measures them again; nothing is left in the
folder unless that went well.

Options of scan
  --unit U         the numbers in the files are mm, cm, m or in; default: the
                   likeliest, which is told, and whether it is decided
  --out DIR        leave pictures from the front, the side and above there
  --clean OUT.ply  write what is believed of the scan, levelled, in mm
  --threads N, --quiet, --json   as below

Options of volume
  --unit U         the numbers in the files are mm, cm, m or in; needed where
                   the file does not say it
  --material M     also the mass: a known material, or a density in kg/m3
  --sections N     areas of the sections between N slices
  --axis A         along x, y or z; default: z
  --inside X,Y,Z   a point in the air of a hollow shape, mm: tells that air
  --opening X,Y,Z,W   an opening of it to be closed flush with the inner face: a
                   point in it, and how wide it is at most, mm; as often as there
                   are openings. Those of a STEP file are found
  --wall T         the shape is an outside only: what is behind a wall of T mm
  --chord T        of the triangles that check a STEP file, mm; default: 0.02
  --out DIR        leave the report there as JSON, the sections as CSV
  --threads N, --quiet, --json   as below

Options of asbuilt
  --fill "mass 8.41 kg, bulk 0.672 kg/L"   grain that filled the box, and its bulk
                   density; also "empty 0.69 kg" when weighed with something, "bulk
                   1.344 kg in 2 L" as it was found, "within 1 %" how well; as often
                   as it was weighed
  --water W        water that filled it: "12.4 L", or "mass 12.9 kg, empty 0.5 kg"
  --fitted NAME    of the report's ledger, what was in the box while it was filled:
                   driver, terminal, "to be filled by hand"; default: all out, the
                   cut-out closed flush with the driver's seat, holes with the outside
  --scale M        how far the scale may be off, "5 g"; default: one of the last digit
  --settling P     how far the bulk density may be off, %; default: 2
  --pad-area A     of the wall for a filler pad, "400 cm2"; default: a flat wall of
                   the report
  --out DIR        leave JSON and the driver's response (SVG) there
  --quiet, --json  as below

Options of capacity
  --prices         what each constraint of the job costs by itself, in litres
  --pairs          the same, and the dearest ones two at a time
  --directions     try a fan of straight ways in, and tell what each leaves
  --out DIR        leave the curve there as a plot (SVG) and as JSON
  --keep DIR       keep the field there, so that the next run is quick; a kept
                   field of another scan, job or program is left out of account
  --timings FILE, --threads N, --quiet, --json   as below

Options of response
  --volume V       net volume, "22 L"; several may be given; default: the job's
  --tuning HZ      the box has a port tuned so; default: closed
  --port D         diameter of the port's tube, "70 mm": tells its length and air
  --slot W H       the same of a slot, "200 mm" "30 mm"
  --walls N        walls that the port's inner end lies along: 0, 1 or 2
  --ports N        so many tubes or slots alike
  --watts W        into re, for levels, excursion and air speed; default: the
                   driver's power, or 1 W
  --series N, --parallel N
                   several drivers in one box: strings of N in series, N strings;
                   of a job's unlike drivers, which fill them in their order
  --lining G       apparent over net volume, 1 to 1.4; default 1: no lining
  --leak Q, --absorption Q
                   losses of the box; default: no losses, with a port leak Q 7
  --cabin FILE     a cabin's gain as you measured it, two columns, Hz and dB: a
                   broken line in the plots of sound; changes no number
  --from HZ, --to HZ
                   the band; default 10 to 500
  --out DIR        leave plots (SVG) and JSON there
  --quiet, --json  as below

Options of shortlist
  --drivers DIR    the folder of driver files
  --sort RULE      output (default): the most at 40 Hz within xmax and power first;
                   corner: the lowest f3; air: the least wanted; size: the smallest
  --qtc Q          of the closed box whose air a driver wants; default 0.707
  --at HZ          where the output is told; default 40
  --out DIR        leave the plot (SVG) and JSON there
  --keep DIR, --timings FILE, --threads N, --quiet, --json   as of capacity

Options of enclosure
  --out DIR        where the files go; default: a folder with the job's name,
                   beside the job file
  --timings FILE   write seconds of each stage and peak memory there (JSON)
  --threads N      use N threads; default: all of the machine
  --quiet          print faults only
  --json           print the report, or the fault, as JSON on standard output
  --dump DIR       leave fields and meshes of the stages there, for debugging

Options of box and ring
  --out DIR, --timings FILE, --threads N, --quiet, --json, --dump DIR   as above

Exit codes
  0    made, every check passed
  1    fault inside the program, or the result cannot be written
  2    the command line makes no sense
  3    an input cannot be read or makes no sense
  4    no such part: impossible, or not by this method
  5    made, but a fit check failed; its files are named .unproved.
       volume: the shape is not closed or crosses itself, its volume is bounded
       asbuilt: the box is off its report by more than tolerance and measuring
  130  interrupted
)";

bool has_word(int argc, char** argv, const char* word) {
    for (int i = 1; i < argc; ++i)
        if (std::strcmp(argv[i], word) == 0) return true;
    return false;
}

void add_part_options(CLI::App& command, cli::PartArguments& arguments) {
    command.add_option("JOB", arguments.job);
    command.add_option("--out", arguments.out);
    command.add_option("--timings", arguments.timings);
    command.add_option("--dump", arguments.dump);
    command.add_option("--threads", arguments.threads)->check(CLI::Range(0, 1024));
    command.add_flag("--quiet", arguments.quiet);
    command.add_flag("--json", arguments.json);
}

int run(int argc, char** argv) {
    const cli::FaultForm form = has_word(argc, argv, "--json") ? cli::FaultForm::Json : cli::FaultForm::Text;
    CLI::App app{"gapwright"};
    app.set_help_flag();
    bool help = false, version = false;
    app.add_flag("-h,--help", help);
    app.add_flag("--version", version);
    app.require_subcommand(0, 1);

    cli::PartArguments enclosure, ring, box;
    CLI::App* enclosure_command = app.add_subcommand("enclosure");
    CLI::App* ring_command = app.add_subcommand("ring");
    CLI::App* box_command = app.add_subcommand("box");
    for (auto [command, arguments] :
         {std::pair{enclosure_command, &enclosure}, std::pair{ring_command, &ring}, std::pair{box_command, &box}}) {
        command->set_help_flag();
        command->add_flag("-h,--help", help);
        add_part_options(*command, *arguments);
    }

    cli::ScanArguments scan;
    CLI::App* scan_command = app.add_subcommand("scan");
    scan_command->set_help_flag();
    scan_command->add_flag("-h,--help", help);
    scan_command->add_option("FILE", scan.files);
    scan_command->add_option("--unit", scan.unit)->check(CLI::IsMember({"mm", "cm", "m", "in"}));
    scan_command->add_option("--out", scan.out);
    scan_command->add_option("--clean", scan.clean);
    scan_command->add_option("--threads", scan.threads)->check(CLI::Range(0, 1024));
    scan_command->add_flag("--quiet", scan.quiet);
    scan_command->add_flag("--json", scan.json);

    cli::VolumeArguments volume;
    CLI::App* volume_command = app.add_subcommand("volume");
    volume_command->set_help_flag();
    volume_command->add_flag("-h,--help", help);
    volume_command->add_option("FILE", volume.files);
    volume_command->add_option("--unit", volume.unit)->check(CLI::IsMember({"mm", "cm", "m", "in"}));
    volume_command->add_option("--material", volume.material);
    volume_command->add_option("--sections", volume.slices)->check(CLI::Range(1, 100000));
    volume_command->add_option("--axis", volume.axis)->check(CLI::IsMember({"x", "y", "z"}));
    volume_command->add_option("--wall", volume.wall_mm)->check(CLI::Range(1e-3, 1e5));
    volume_command->add_option("--inside", volume.inside)->delimiter(',')->expected(3);
    volume_command->add_option("--opening", volume.openings)->allow_extra_args(false);
    volume_command->add_option("--chord", volume.chord_mm)->check(CLI::Range(1e-4, 10.0));
    volume_command->add_option("--out", volume.out);
    volume_command->add_option("--threads", volume.threads)->check(CLI::Range(0, 1024));
    volume_command->add_flag("--quiet", volume.quiet);
    volume_command->add_flag("--json", volume.json);

    cli::AsBuiltArguments asbuilt;
    CLI::App* asbuilt_command = app.add_subcommand("asbuilt");
    asbuilt_command->set_help_flag();
    asbuilt_command->add_flag("-h,--help", help);
    asbuilt_command->add_option("REPORT", asbuilt.report);
    for (auto [name, list] :
         {std::pair{"--fill", &asbuilt.grain}, {"--water", &asbuilt.water}, {"--fitted", &asbuilt.fitted}})
        asbuilt_command->add_option(name, *list)->take_all()->expected(1)->allow_extra_args(false);
    asbuilt_command->add_option("--scale", asbuilt.scale_off);
    asbuilt_command->add_option("--settling", asbuilt.settling_percent)->check(CLI::Range(0.0, 50.0));
    asbuilt_command->add_option("--pad-area", asbuilt.pad_area);
    asbuilt_command->add_option("--out", asbuilt.out);
    asbuilt_command->add_flag("--quiet", asbuilt.quiet);
    asbuilt_command->add_flag("--json", asbuilt.json);

    cli::CapacityArguments capacity;
    CLI::App* capacity_command = app.add_subcommand("capacity");
    capacity_command->set_help_flag();
    capacity_command->add_flag("-h,--help", help);
    capacity_command->add_option("JOB", capacity.job);
    capacity_command->add_option("--out", capacity.out);
    capacity_command->add_option("--keep", capacity.keep);
    capacity_command->add_option("--timings", capacity.timings);
    capacity_command->add_option("--threads", capacity.threads)->check(CLI::Range(0, 1024));
    capacity_command->add_flag("--prices", capacity.prices);
    capacity_command->add_flag("--pairs", capacity.pairs);
    capacity_command->add_flag("--directions", capacity.directions);
    capacity_command->add_flag("--quiet", capacity.quiet);
    capacity_command->add_flag("--json", capacity.json);

    cli::ShortlistArguments shortlist;
    CLI::App* shortlist_command = app.add_subcommand("shortlist");
    shortlist_command->set_help_flag();
    shortlist_command->add_flag("-h,--help", help);
    shortlist_command->add_option("JOB", shortlist.job);
    shortlist_command->add_option("--drivers", shortlist.drivers);
    shortlist_command->add_option("--sort", shortlist.sort)->check(CLI::IsMember({"output", "corner", "air", "size"}));
    shortlist_command->add_option("--qtc", shortlist.qtc)->check(CLI::Range(0.3, 3.0));
    shortlist_command->add_option("--at", shortlist.at_hz)->check(CLI::Range(5.0, 1000.0));
    shortlist_command->add_option("--out", shortlist.out);
    shortlist_command->add_option("--keep", shortlist.keep);
    shortlist_command->add_option("--timings", shortlist.timings);
    shortlist_command->add_option("--threads", shortlist.threads)->check(CLI::Range(0, 1024));
    shortlist_command->add_flag("--quiet", shortlist.quiet);
    shortlist_command->add_flag("--json", shortlist.json);

    cli::ResponseArguments response;
    CLI::App* response_command = app.add_subcommand("response");
    response_command->set_help_flag();
    response_command->add_flag("-h,--help", help);
    response_command->add_option("FILE", response.files);
    response_command->add_option("--volume", response.volumes)->take_all()->expected(1)->allow_extra_args(false);
    response_command->add_option("--tuning", response.tuning_hz)->check(CLI::Range(5.0, 500.0));
    response_command->add_option("--port", response.port_diameter);
    response_command->add_option("--slot", response.slot)->expected(2);
    response_command->add_option("--walls", response.port_walls)->check(CLI::Range(0, 2));
    response_command->add_option("--ports", response.ports)->check(CLI::Range(1, 16));
    response_command->add_option("--watts", response.watts)->check(CLI::Range(1e-3, 1e5));
    response_command->add_option("--series", response.in_series)->check(CLI::Range(1, 16));
    response_command->add_option("--parallel", response.in_parallel)->check(CLI::Range(1, 16));
    response_command->add_option("--lining", response.lining_gain)
        ->check(CLI::Range(geom::sound::kLeastGain, geom::sound::kMostGain));
    response_command->add_option("--leak", response.leakage)->check(CLI::Range(1.0, 1e6));
    response_command->add_option("--absorption", response.absorption)->check(CLI::Range(1.0, 1e6));
    response_command->add_option("--cabin", response.cabin);
    response_command->add_option("--from", response.from_hz)->check(CLI::Range(1.0, 20000.0));
    response_command->add_option("--to", response.to_hz)->check(CLI::Range(1.0, 20000.0));
    response_command->add_option("--out", response.out);
    response_command->add_flag("--quiet", response.quiet);
    response_command->add_flag("--json", response.json);

    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& wrong) {
        return cli::print_usage_error(wrong.what(), form);
    }
    if (help) {
        fmt::print(stdout, "{}", kHelp);
        return cli::kMade;
    }
    if (version) {
        fmt::print(stdout, "gapwright {}\n", GAPWRIGHT_VERSION);
        return cli::kMade;
    }
    if (enclosure_command->parsed()) {
        if (enclosure.job.empty()) return cli::print_usage_error("enclosure: no job file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_enclosure(enclosure, cancel);
    }
    if (box_command->parsed()) {
        if (box.job.empty()) return cli::print_usage_error("box: no job file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_box(box, cancel);
    }
    if (ring_command->parsed()) {
        if (ring.job.empty()) return cli::print_usage_error("ring: no job file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_ring(ring, cancel);
    }
    if (capacity_command->parsed()) {
        if (capacity.job.empty()) return cli::print_usage_error("capacity: no job file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_capacity(capacity, cancel);
    }
    if (shortlist_command->parsed()) {
        if (shortlist.job.empty()) return cli::print_usage_error("shortlist: no job file named", form);
        if (shortlist.drivers.empty())
            return cli::print_usage_error("shortlist: no folder of drivers named; give --drivers DIR", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_shortlist(shortlist, cancel);
    }
    if (response_command->parsed()) {
        if (response.files.empty() || response.files.front().empty())
            return cli::print_usage_error("response: no driver file or job file named", form);
        return cli::run_response(response);
    }
    if (asbuilt_command->parsed()) {
        if (asbuilt.report.empty()) return cli::print_usage_error("asbuilt: no report named", form);
        return cli::run_asbuilt(asbuilt);
    }
    if (scan_command->parsed()) {
        if (scan.files.empty() || scan.files.front().empty())
            return cli::print_usage_error("scan: no scan file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_scan(scan, cancel);
    }
    if (volume_command->parsed()) {
        if (volume.files.empty() || volume.files.front().empty())
            return cli::print_usage_error("volume: no file named", form);
        std::signal(SIGINT, on_interrupt);
        std::signal(SIGTERM, on_interrupt);
        return cli::run_volume(volume, cancel);
    }
    return cli::print_usage_error("no command given", form);
}

}  // namespace

int main(int argc, char** argv) {
    const cli::FaultForm form = has_word(argc, argv, "--json") ? cli::FaultForm::Json : cli::FaultForm::Text;
    const auto inside = [&](const char* what) {
        return cli::print_fault({geom::FaultCode::Internal,
                                 fmt::format("fault inside the program: {}", what),
                                 "nothing was written; please report it with the job file",
                                 {},
                                 ""},
                                form);
    };
    try {
        return run(argc, argv);
    } catch (const std::bad_alloc&) {
        return inside("out of memory");
    } catch (const std::exception& wrong) {
        return inside(wrong.what());
    } catch (...) {
        return inside("of unknown kind");
    }
}
