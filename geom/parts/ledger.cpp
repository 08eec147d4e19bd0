// The ledger of the air: what is foretold before anything is modelled, in closed forms, and what was made.
#include "geom/parts/internal/work.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/port.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <numbers>

namespace geom::parts {
namespace {

/// Of a driver in front, a piece of its cut-out.
double cutout_mm3(const DriverMount& mount, double length_mm) {
    const double r = mount.driver.cutout_diameter.mm() / 2.0;
    return mount.from_behind ? 0.0 : std::numbers::pi * r * r * length_mm;
}

/// A line a driver; the first keeps the name that a lone one has.
void each_driver(const EnclosureRequest& request, const std::string& lone,
                 const std::function<double(const DriverMount&)>& mm3, std::vector<LedgerLine>& lines) {
    const std::vector<DriverMount> mounts = request.drivers();
    for (std::size_t i = 0; i < mounts.size(); ++i)
        if (const double adds = mm3(mounts[i]); adds != 0.0 || lone == "driver")
            lines.push_back({i == 0             ? lone
                             : lone == "driver" ? driver_title(i)
                                                : fmt::format("{}, {}", lone, driver_title(i)),
                             adds / 1e6});
}

/// What a driver adds to the air, as far as it is known.
double driver_mm3(const DriverMount& mount) {
    // A fault will come of a flange that is not known.
    if ((mount.from_behind || mount.is_turned) && !mount.driver.flange_thickness) return 0.0;
    const auto air = driver_air(mount);
    return air ? -air->taken.mm3() : 0.0;
}

/// What cut-out and form of the baffle add to the air and take from it.
std::vector<LedgerLine> baffle_lines(const EnclosureRequest& request) {
    const double tube = port_tube_mm3(request);
    std::vector<LedgerLine> port;
    if (tube > 0.0) port.push_back({"port tube, its inside contained", -tube / 1e6});
    if (!request.driver) return port;
    const BaffleForm form = baffle_form_or_flat(request);
    std::vector<LedgerLine> lines;
    each_driver(
        request, "cut-out behind the driver's seat",
        [&](const DriverMount& mount) {
            const double recess = recess_radius_mm(mount) > 0.0 ? mount.driver.recess->mm() : 0.0;
            return cutout_mm3(mount, request.baffle.thickness.mm() - recess);
        },
        lines);
    if (form.face_mm < 0.0)
        lines.push_back({"cut-out in the raised ring", cutout_mm3(*request.driver, -form.face_mm) / 1e6});
    if (!form.back.empty()) lines.push_back({"back of the dish", -form.boss_mm3() / 1e6});
    lines.insert(lines.end(), port.begin(), port.end());
    return lines;
}

/// What the terminal fills: as given, or its hole and no more.
double terminal_mm3(const Terminal& terminal, double hole_mm3) {
    return terminal.displacement ? terminal.displacement->mm3() : hole_mm3;
}

/// Of the finished air: all of the inner walls with what stands in them, without what the drivers close.
Result<double> lined_mm2(const Work& work) {
    GAPWRIGHT_TRY(measured, measure::measure_solid(to_brep(work.air), work.site.context));
    double open = 0.0;
    for (const DriverPlan* driver : work.drivers()) {
        const double r = driver->mount.from_behind ? driver->flange_radius_mm : driver->cutout_radius_mm;
        open += std::numbers::pi * r * r;
    }
    return measured.area.mm2() - open;
}

/// Where what a driver takes is not given: once where it is the same of all, else of each by its name.
void note_drivers_air(Work& work, const std::vector<DriverMount>& mounts) {
    std::vector<std::string> notes;
    for (const DriverMount& mount : mounts) {
        const auto air = driver_air(mount);
        notes.push_back(air ? air->how
                            : "neither displacement nor the lengths to estimate it are given: counted as nothing");
    }
    const bool is_one = std::all_of(notes.begin(), notes.end(), [&](const auto& n) { return n == notes.front(); });
    for (std::size_t i = 0; i < notes.size(); ++i)
        if (!notes[i].empty() && (i == 0 || !is_one)) work.note({driver_title(i) + ": " + notes[i]});
}

}  // namespace

Status sum_up(Work& work) {
    const EnclosureRequest& request = work.site.request;
    const double finished_mm3 = volume_mm3(work.finished_air);
    std::vector<LedgerLine>& ledger = work.made.ledger;
    const auto line = [&](std::string name, double mm3) { ledger.push_back({std::move(name), mm3 / 1e6}); };
    double solids_mm3 = 0.0;
    double edges_mm3 = 0.0;
    for (const SharpEdgeMade& edge : work.made.sharp_edges) edges_mm3 += edge.inside_mm3;
    line("air behind the baffle", work.bare_mm3 - edges_mm3);
    for (const SharpEdgeMade& edge : work.made.sharp_edges)
        line(fmt::format("sharp edge {}", edge.name), edge.inside_mm3);
    const double pad_mm3 = work.pad ? work.pad->mm3 : 0.0;
    work.made.pad_by_brep = Volume::mm3(pad_mm3);
    if (work.pad) line("filler pad", -pad_mm3);
    const std::vector<LedgerLine> of_baffle = baffle_lines(request);
    double known_mm3 = work.bare_mm3 - pad_mm3;
    for (std::size_t i = 0; i < work.sleeves.size(); ++i) {
        line(fmt::format("sleeve \"{}\"", work.sleeves[i].name), -work.sleeves_mm3[i]);
        known_mm3 -= work.sleeves_mm3[i];
    }
    for (const BraceMade& brace : work.made.braces) {
        line(fmt::format("brace \"{}\"", brace.name), -brace.volume_mm3);
        known_mm3 -= brace.volume_mm3;
    }
    for (const LedgerLine& l : of_baffle) known_mm3 += l.litres * 1e6;
    if (request.baffle.separate) line("rim flange", finished_mm3 - known_mm3);
    ledger.insert(ledger.end(), of_baffle.begin(), of_baffle.end());
    each_driver(request, "driver", driver_mm3, ledger);
    const std::vector<DriverMount> mounts = request.drivers();
    for (const DriverMount& mount : mounts) solids_mm3 -= driver_mm3(mount);
    note_drivers_air(work, mounts);
    if (const double screws = plate_screws_volume(request).mm3(); screws > 0.0) {
        line("heads of the screws into plates", -screws);
        solids_mm3 += screws;
    }
    if (request.terminal) {
        const double filled = terminal_mm3(*request.terminal, work.terminal_hole_mm3);
        line("terminal hole", work.terminal_hole_mm3);
        line("terminal", -filled);
        solids_mm3 += filled;
    }
    if (request.lining && request.lining->kind == Lining::Kind::Sheet) {
        GAPWRIGHT_TRY(area, lined_mm2(work));
        const double sheet = area * request.lining->thickness.mm();
        line("damping sheet", -sheet);
        solids_mm3 += sheet;
        work.note({fmt::format("lining: {} mm of damping sheet on {:.0f} cm2 of inner walls, counted as solid",
                               plain_number(request.lining->thickness.mm()), area / 100.0)});
    }
    work.made.solids_in_air = Volume::mm3(solids_mm3);
    work.made.net_by_brep = Volume::mm3(finished_mm3 + work.terminal_hole_mm3 - solids_mm3);
    if (work.made.net_by_brep.mm3() <= 0.0)
        return impossible(
            fmt::format("box: its air is {:.3f} L, and what stands in it takes {:.3f} L; wanted some left",
                        (finished_mm3 + work.terminal_hole_mm3) / 1e6, solids_mm3 / 1e6),
            "make it larger, or check displacement and lining", work.site.request.baffle.plane.point);
    note_tuning(request, work.made);
    for (const AirPiece& piece : work.made.air_pieces)
        work.made.openings.insert(work.made.openings.end(), piece.openings.begin(), piece.openings.end());
    return Done{};
}

std::vector<LedgerLine> features_ledger(const EnclosureRequest& request) {
    std::vector<LedgerLine> ledger = baffle_lines(request);
    const auto line = [&](const char* name, double mm3) { ledger.push_back({name, mm3 / 1e6}); };
    each_driver(request, "driver", driver_mm3, ledger);
    if (const double screws = plate_screws_volume(request).mm3(); screws > 0.0)
        line("heads of the screws into plates", -screws);
    if (request.terminal) {
        const double r = request.terminal->diameter.mm() / 2.0;
        const double hole = std::numbers::pi * r * r * request.wall.mm();
        line("terminal hole", hole);
        line("terminal", -terminal_mm3(*request.terminal, hole));
    }
    return ledger;
}

double volume_uncertainty_rel(const EnclosureRequest& request, const Enclosure& made) {
    const double ways = std::abs(made.net_by_field.litres() - made.net_by_brep.litres());
    double displacement = 0.0;
    for (const DriverMount& mount : request.drivers())
        if (const auto air = driver_air(mount)) displacement += air->spread_mm3 / 1e6;
    return (ways + displacement) / made.net_by_brep.litres();
}

}  // namespace geom::parts
