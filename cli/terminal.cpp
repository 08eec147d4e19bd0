#include "cli/terminal.h"

#include "cli/cut_list.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

namespace cli {

using geom::FaultCode;

ExitCode exit_code_of(FaultCode code) {
    switch (code) {
        case FaultCode::Internal:
        case FaultCode::CannotWrite:
        case FaultCode::NotSound:
            return kInternal;
        case FaultCode::Unreadable:
        case FaultCode::BadJob:
        case FaultCode::NotBuilt:
        case FaultCode::BadScan:
        case FaultCode::WrongUnit:
        case FaultCode::Leak:
        case FaultCode::AirBlocked:
        case FaultCode::MemoryLimit:
            return kUnreadable;
        case FaultCode::Impossible:
        case FaultCode::MethodRefused:
            return kNoSuchPart;
        case FaultCode::Interrupted:
            return kInterrupted;
    }
    return kInternal;
}

std::string_view name_of(FaultCode code) {
    switch (code) {
        case FaultCode::Internal:
            return "Internal";
        case FaultCode::CannotWrite:
            return "CannotWrite";
        case FaultCode::NotSound:
            return "NotSound";
        case FaultCode::Unreadable:
            return "Unreadable";
        case FaultCode::BadJob:
            return "BadJob";
        case FaultCode::NotBuilt:
            return "NotBuilt";
        case FaultCode::BadScan:
            return "BadScan";
        case FaultCode::WrongUnit:
            return "WrongUnit";
        case FaultCode::Leak:
            return "Leak";
        case FaultCode::AirBlocked:
            return "AirBlocked";
        case FaultCode::MemoryLimit:
            return "MemoryLimit";
        case FaultCode::Impossible:
            return "Impossible";
        case FaultCode::MethodRefused:
            return "MethodRefused";
        case FaultCode::Interrupted:
            return "Interrupted";
    }
    return "Internal";
}

// Faults ------------------------------------------------------------------------------------------------------------

namespace {

std::string place_text(geom::Point3 p) {
    return fmt::format("{:.1f}, {:.1f}, {:.1f} mm", p.x, p.y, p.z);
}

}  // namespace

int print_fault(const geom::Fault& fault, FaultForm form) {
    const int exit = exit_code_of(fault.code);
    if (form == FaultForm::Json) {
        nlohmann::ordered_json inner;
        inner["code"] = name_of(fault.code);
        inner["what"] = fault.what;
        inner["hint"] = fault.hint;
        inner["where"] = nullptr;
        if (fault.where) inner["where"] = {fault.where->x, fault.where->y, fault.where->z};
        inner["stage"] = fault.stage;
        inner["exit"] = exit;
        const std::string text = nlohmann::ordered_json{{"fault", inner}}.dump(
            2, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
        fmt::print(stdout, "{}\n", text);
        return exit;
    }
    fmt::print(stderr, "gapwright: {}\n", fault.what);
    if (!fault.stage.empty()) fmt::print(stderr, "  stage: {}\n", fault.stage);
    if (fault.where) fmt::print(stderr, "  where: {} (vehicle frame)\n", place_text(*fault.where));
    if (!fault.hint.empty()) fmt::print(stderr, "  try:   {}\n", fault.hint);
    return exit;
}

int print_usage_error(std::string_view what, FaultForm form) {
    if (form == FaultForm::Json) {
        const nlohmann::ordered_json inner = {{"code", "Usage"},  {"what", what}, {"hint", "see gapwright --help"},
                                              {"where", nullptr}, {"stage", ""},  {"exit", int(kUsage)}};
        fmt::print(stdout, "{}\n",
                   nlohmann::ordered_json{{"fault", inner}}.dump(2, ' ', false,
                                                                 nlohmann::ordered_json::error_handler_t::replace));
    } else {
        fmt::print(stderr, "gapwright: {}\n  try:   gapwright --help\n", what);
    }
    return kUsage;
}

// Progress ----------------------------------------------------------------------------------------------------------

StageClock::Timing& StageClock::timing(std::string_view stage) {
    for (Timing& t : timings_)
        if (t.name == stage) return t;
    timings_.push_back({std::string(stage), 0.0, 0, {}});
    return timings_.back();
}

void StageClock::stage_begins(std::string_view stage) {
    const std::lock_guard lock(mutex_);
    timing(stage).begun.push_back(Clock::now());
    ++depth_;
}

void StageClock::stage_ends(std::string_view stage) {
    const std::lock_guard lock(mutex_);
    Timing& t = timing(stage);
    --depth_;
    if (t.begun.empty()) return;
    const double seconds = std::chrono::duration<double>(Clock::now() - t.begun.back()).count();
    t.begun.pop_back();
    t.seconds += seconds;
    ++t.times;
    if (show_ && depth_ == 0) fmt::print(stderr, "{:<20}{:>7.1f} s\n", stage, seconds);
}

std::string StageClock::json() const {
    const std::lock_guard lock(mutex_);
    nlohmann::ordered_json all;
    all["stages"] = nlohmann::ordered_json::array();
    for (const Timing& t : timings_)
        all["stages"].push_back({{"name", t.name}, {"seconds", t.seconds}, {"times", t.times}});
    all["total_seconds"] = std::chrono::duration<double>(Clock::now() - start_).count();
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    all["peak_memory_bytes"] = static_cast<long long>(usage.ru_maxrss) * 1024;
    const auto seconds_of = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    all["cpu_seconds"] = seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime);
    return all.dump(2) + "\n";
}

// Summary -----------------------------------------------------------------------------------------------------------

namespace {

std::string value_text(double value, const std::string& unit) {
    const std::string number = fmt::format("{:.4g}", value);
    return unit.empty() ? number : number + " " + unit;
}

std::string check_text(const geom::check::CheckLine& line) {
    std::string text =
        fmt::format("  {:<7} {:<34} {}", line.ok ? "ok" : "FAILED", line.name, value_text(line.value, line.unit));
    if (!line.is_judged) text = fmt::format("  {:<7} {:<34} not judged", "-", line.name);
    if (line.is_judged) text += fmt::format(", limit {}", value_text(line.limit, line.unit));
    if ((!line.ok || !line.is_judged) && !line.note.empty()) text += fmt::format("\n          {}", line.note);
    return text + "\n";
}

/// Text broken at blanks, so that cautions read as paragraphs.
std::string wrapped(std::string_view text, std::size_t width, std::string_view indent) {
    std::string out(indent);
    std::size_t column = indent.size();
    while (!text.empty()) {
        const std::size_t blank = text.find(' ');
        const std::string_view word = text.substr(0, blank);
        if (column > indent.size() && column + 1 + word.size() > width) {
            out += fmt::format("\n{}", indent);
            column = indent.size();
        }
        if (column > indent.size()) {
            out += ' ';
            ++column;
        }
        out += word;
        column += word.size();
        text = blank == std::string_view::npos ? std::string_view{} : text.substr(blank + 1);
    }
    return out + "\n";
}

}  // namespace

std::string failed_checks(const geom::check::Verdict& verdict) {
    std::string out;
    for (const auto& line : verdict.lines)
        if (!line.ok) out += check_text(line);
    return out;
}

std::string placing_notes(const std::vector<geom::scan::FilePlacing>& files) {
    constexpr double kDoubtful_mm = 2.0;
    std::string out;
    const auto line = [&](const geom::scan::FilePlacing& file, const std::string& text) {
        out += fmt::format("placing      {}: {}\n", file.path.filename().string(), text);
    };
    for (const auto& file : files) {
        if (file.pairs && file.pairs->bad)
            line(file, fmt::format("pair '{}' is {:.1f} mm from where the other {} put it (they agree to {:.1f} mm)",
                                   file.pairs->residuals_mm[*file.pairs->bad].first, file.pairs->bad_off_mm,
                                   file.pairs->residuals_mm.size() - 1, file.pairs->others_rms_mm));
        else if (file.pairs && file.pairs->most_mm > kDoubtful_mm)
            line(file, fmt::format("pairs disagree by up to {:.1f} mm{}", file.pairs->most_mm,
                                   file.pairs->can_tell ? "" : "; which is wrong cannot be told from three"));
        if (file.fit)
            line(file,
                 fmt::format("moved {:.1f} mm and turned {:.2f} deg onto the first file, which {:.0f} % of it "
                             "overlaps; {:.2f} mm apart there, {:.2f} before; parts of the overlap agree to {:.2f} mm",
                             file.fit->moved_mm, file.fit->turned_deg, 100.0 * file.fit->overlap, file.fit->after_mm,
                             file.fit->before_mm, file.fit->parts_differ_mm));
        if (file.sampled > 0)
            line(file, fmt::format("its mesh was read as {} points about {:.2g} mm apart, because another file of the "
                                   "job is a cloud",
                                   geom::grouped(file.sampled), file.sampled_mm));
    }
    return out.empty() ? out : out + "\n";
}

std::string verdict_line(const std::string& name, const geom::check::Verdict& verdict) {
    const auto& lines = verdict.lines;
    const auto failed = std::count_if(lines.begin(), lines.end(), [](const auto& l) { return !l.ok; });
    const auto judged = std::count_if(lines.begin(), lines.end(), [](const auto& l) { return l.is_judged; });
    const auto left = static_cast<std::ptrdiff_t>(lines.size()) - judged;
    const std::string more = left > 0 ? fmt::format(", {} not judged", left) : "";
    if (failed == 0) return fmt::format("{}: made, all {} checks passed{}", name, judged, more);
    return fmt::format("{}: made, but {} of {} checks failed{}; the files are named .unproved.", name, failed, judged,
                       more);
}

namespace {

/// What the driver does in the box; what hangs on the volume with its spread.
std::string sound_text(const geom::sound::BoxSound& heard) {
    std::string out;
    const auto line = [&](const std::string& head, const std::string& text) {
        out += fmt::format("{:<12} {}\n", head, text);
    };
    const auto told = [&](const char* name, int digits) {
        const auto f = heard.figure(name);
        if (!f) return std::string("-");
        const std::string value = fmt::format("{:.{}f}", f->value, digits);
        const double spread = std::max(f->most - f->value, f->value - f->least);
        return spread < 0.5 * std::pow(10.0, -digits) ? value : fmt::format("{} (+-{:.{}f})", value, spread, digits);
    };
    if (heard.figures.empty()) {
        line("sound", "not told, " + heard.left_out.front());
        return out;
    }
    const auto peak = heard.figure("peak_db");
    const std::string peak_text = peak->value < 0.05 || !heard.peak_at_hz
                                      ? "no peak"
                                      : fmt::format("{} dB high at {:.0f} Hz", told("peak_db", 1), *heard.peak_at_hz);
    if (heard.box.has_port())
        line("sound",
             fmt::format("{} with a port tuned to {} Hz: -3 dB at {} Hz, -10 dB at {} Hz, {}", heard.driver.name,
                         told("tuning_hz", 2), told("f3_hz", 1), told("f10_hz", 1), peak_text));
    else if (!heard.unlike.empty())
        line("sound", fmt::format("{} closed: -3 dB at {} Hz, -10 dB at {} Hz, {}", heard.driver.name, told("f3_hz", 1),
                                  told("f10_hz", 1), peak_text));
    else
        line("sound",
             fmt::format("{} closed: Qtc {}, resonance {} Hz, -3 dB at {} Hz, -10 dB at {} Hz, {}", heard.driver.name,
                         told("qtc", 3), told("fc_hz", 1), told("f3_hz", 1), told("f10_hz", 1), peak_text));
    if (heard.port && heard.port_air)
        line("port air", fmt::format("{:.1f} m/s at {:.0f} Hz and {:.4g} W; first pipe resonance {:.0f} Hz",
                                     heard.port_air->m_s, heard.port_air->at_hz, heard.watts,
                                     geom::sound::pipe_resonance_hz(heard.port->port, heard.port->length)));
    if (heard.figure("level_1w_db"))
        line("level",
             fmt::format(
                 "{} dB at 1 W{}", told("level_1w_db", 1),
                 heard.figure("level_2v83_db") ? fmt::format(", {} dB at 2.83 V", told("level_2v83_db", 1)) : ""));
    if (heard.figure("xmax_level_40_hz_db"))
        line("  at 40 Hz", fmt::format("{} dB and {} W are all that xmax{} allows", told("xmax_level_40_hz_db", 1),
                                       told("xmax_watts_40_hz", 0),
                                       heard.xmax_limited_by.empty() ? "" : " of " + heard.xmax_limited_by));
    for (const std::string& note : heard.driver.notes) line("  disagrees", note);
    for (const std::string& what : heard.left_out) line("  left out", what);
    out += wrapped(geom::sound::kFreeField, 100, std::string(13, ' '));
    if (!heard.unlike.empty()) out += wrapped(geom::sound::kOneSignal, 100, std::string(13, ' '));
    return out;
}

}  // namespace

std::string summary(const geom::parts::Enclosure& enclosure, const geom::parts::EnclosureRequest& request,
                    const exports::Delivered& delivered, const std::vector<geom::check::Caution>& cautions,
                    const std::filesystem::path& folder) {
    const auto& verdict = delivered.verdict;
    std::string out;
    const auto line = [&](const std::string& text) { out += text + "\n"; };

    line(verdict_line(request.name, verdict));
    line("");
    const double asked = request.net_volume.litres(), made = enclosure.net_by_brep.litres();
    // What is given is taken at its word; nobody builds a box to less than this.
    const std::string known =
        enclosure.uncertainty_rel < 1e-5 ? "0.001" : fmt::format("{:.2g}", 100.0 * enclosure.uncertainty_rel);
    line(request.asks_volume ? fmt::format("net volume   {:.3f} L asked, {:.3f} L measured ({:+.3f} %), known to {} %",
                                           asked, made, 100.0 * (made - asked) / asked, known)
                             : fmt::format("net volume   {:.3f} L, known to {} %", made, known));
    line(fmt::format("  measured   {:.3f} L on the solid, {:.3f} L {}, {:.3f} L in the written mesh", made,
                     enclosure.net_by_field.litres(), request.follows_scan() ? "in the field" : "by closed forms",
                     verdict.net_by_mesh.litres()));
    if (!enclosure.solved.text.empty()) line(fmt::format("  solved     {}", enclosure.solved.text));
    for (const auto& entry : enclosure.ledger) line(fmt::format("  {:<38} {:>+9.3f} L", entry.name, entry.litres));
    const geom::Vec3 size = verdict.box.size();
    line(fmt::format("size         {:.1f} x {:.1f} x {:.1f} mm", size.x, size.y, size.z));
    line(fmt::format("mass         {:.2f} kg in {}{}", verdict.mass_kg, request.material.name,
                     !request.driver || !verdict.restraint.driver_mass_is_known ? ""
                     : request.more_drivers.empty()                             ? ", driver included"
                                                                                : ", drivers included"));
    line(fmt::format("wall         {:.2f} mm least, {:.2f} mm median, {} mm asked", verdict.wall.min_mm,
                     verdict.wall.median_mm, geom::plain_number(verdict.wall.asked_mm)));
    if (request.follows_scan())
        line(fmt::format("clearance    {:.2f} mm least, {} mm asked, {:.2f} mm on the way in, bound {:.2f} mm",
                         verdict.clearance.min_mm, geom::plain_number(verdict.clearance.asked_mm),
                         verdict.clearance.along_insertion_min_mm, verdict.clearance.bound_mm));
    for (std::size_t m = 0; m < verdict.clearance.moves.size(); ++m) {
        const auto& move = verdict.clearance.moves[m];
        line(fmt::format("  move {:<6} {:.2f} mm least at {}, {}: {}", m + 1, move.least_mm, place_text(move.at),
                         move.how_far, move.move));
    }
    for (const auto& piece : verdict.unscanned)
        line(fmt::format("unscanned    {:.1f} cm2 round {} faces {}: measure there before cutting",
                         piece.area_mm2 / 100.0, place_text(piece.place), piece.faces));
    if (const auto& held = verdict.restraint; !held.bolts.empty()) {
        const auto worst = std::max_element(held.bolts.begin(), held.bolts.end(),
                                            [](const auto& a, const auto& b) { return a.use_rel < b.use_rel; });
        line(
            fmt::format("restraint    {:.2f} kg at {} g: \"{}\" bears most, {:.0f} N tension and {:.0f} N shear {}, "
                        "{:.0f} % of what its proof load allows",
                        held.mass_kg, geom::plain_number(held.deceleration_g), worst->name, worst->tension_N,
                        worst->shear_N, worst->direction, 100.0 * worst->use_rel));
        for (const auto& bolt : held.bolts)
            line(fmt::format("  tighten    \"{}\", {}, to {:.1f} N m{}", bolt.name, bolt.thread, bolt.torque_N_m,
                             bolt.has_metal_sleeve ? ", on its metal sleeve" : ""));
        line("             a sum, not a crash test; anchorages of belts and child seats are never used");
    }
    if (const auto& stiff = verdict.stiffness; stiff.lowest) {
        const auto& w = *stiff.lowest;
        line(fmt::format("stiffness    weakest wall {:.0f} x {:.0f} mm at {}: first resonance {:.0f} to {:.0f} Hz{}",
                         w.longer_mm, w.shorter_mm, place_text(w.centre), w.supported_Hz, w.clamped_Hz,
                         stiff.wanted_Hz > 0.0 ? fmt::format(", {:.0f} wanted", stiff.wanted_Hz) : ""));
        if (stiff.with_brace)
            line(fmt::format("             one more brace at {} ({:.3f} L) makes it {:.0f} to {:.0f} Hz",
                             place_text(stiff.with_brace->from), stiff.with_brace->litres,
                             stiff.with_brace->lowest.supported_Hz, stiff.with_brace->lowest.clamped_Hz));
    }
    if (verdict.sound) out += sound_text(*verdict.sound);
    if (request.follows_scan())
        line(fmt::format("skin         {} faces, {} of them planes", verdict.faces, verdict.plane_faces));
    out += cut_list(enclosure, request.material);

    line("\nchecks");
    const auto rank = [](const auto& check) { return !check.ok ? 0 : check.is_judged ? 2 : 1; };
    for (const int now : {0, 1, 2})
        for (const auto& check : verdict.lines)
            if (rank(check) == now) out += check_text(check);
    if (!enclosure.notes.empty()) {
        line("\nnotes");
        for (const auto& note : enclosure.notes) out += wrapped(note, 100, "  ");
    }
    if (!cautions.empty()) {
        line("\ntake care");
        for (const auto& caution : cautions) out += wrapped(caution.name + ": " + caution.text, 100, "  ");
    }
    line(fmt::format("\nfiles in {}", folder.string()));
    for (const auto& file : delivered.files) line("  " + file);
    return out;
}

}  // namespace cli
