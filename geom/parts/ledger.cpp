// The ledger of the air: what is foretold before anything is modelled, in closed forms, and what was made.
#include "geom/parts/internal/work.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/port.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <numbers>

namespace geom::parts {
namespace {

double displacement_mm3(const sound::Driver& driver) {
    const auto displacement = sound::displacement_of(driver);
    return displacement ? displacement->volume.mm3() : 0.0;
}

/// A piece of the cut-out, `length_mm` long.
double cutout_mm3(const EnclosureRequest& request, double length_mm) {
    const double r = request.driver->driver.cutout_diameter.mm() / 2.0;
    return std::numbers::pi * r * r * length_mm;
}

/// A line a driver; the first keeps the name that a lone one has.
void each_driver(const EnclosureRequest& request, const std::string& lone, double mm3, std::vector<LedgerLine>& lines) {
    for (std::size_t i = 0; i <= request.more_drivers.size(); ++i)
        lines.push_back({i == 0             ? lone
                         : lone == "driver" ? driver_title(i)
                                            : fmt::format("{}, {}", lone, driver_title(i)),
                         mm3 / 1e6});
}

/// What cut-out and form of the baffle add to the air and take from it.
std::vector<LedgerLine> baffle_lines(const EnclosureRequest& request) {
    const double tube = port_tube_mm3(request);
    std::vector<LedgerLine> port;
    if (tube > 0.0) port.push_back({"port tube, its inside contained", -tube / 1e6});
    if (!request.driver) return port;
    const sound::Driver& driver = request.driver->driver;
    const double recess = driver.recess ? driver.recess->mm() : 0.0;
    const BaffleForm form = baffle_form_or_flat(request);
    std::vector<LedgerLine> lines;
    each_driver(request, "cut-out behind the driver's seat",
                cutout_mm3(request, request.baffle.thickness.mm() - recess), lines);
    if (form.face_mm < 0.0) lines.push_back({"cut-out in the raised ring", cutout_mm3(request, -form.face_mm) / 1e6});
    if (!form.back.empty()) lines.push_back({"back of the dish", -form.boss_mm3() / 1e6});
    lines.insert(lines.end(), port.begin(), port.end());
    return lines;
}

/// What the terminal fills: as given, or its hole and no more.
double terminal_mm3(const Terminal& terminal, double hole_mm3) {
    return terminal.displacement ? terminal.displacement->mm3() : hole_mm3;
}

/// Of the finished air: all of the inner walls with what stands in them, the cut-out left open.
Result<double> lined_mm2(const Work& work) {
    GAPWRIGHT_TRY(measured, measure::measure_solid(to_brep(work.air), work.site.context));
    double open = 0.0;
    for (const DriverPlan* driver : work.drivers())
        open += std::numbers::pi * driver->cutout_radius_mm * driver->cutout_radius_mm;
    return measured.area.mm2() - open;
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
    if (work.driver) {
        const double displaced = displacement_mm3(request.driver->driver);
        each_driver(request, "driver", -displaced, ledger);
        solids_mm3 += displaced * static_cast<double>(work.drivers().size());
        const auto displacement = sound::displacement_of(request.driver->driver);
        if (!displacement)
            work.note({"driver: neither displacement nor the lengths to estimate it are given: counted as nothing"});
        else if (displacement->is_estimated)
            work.note({fmt::format("driver: displacement of {:.3f} L estimated as frustum and magnet, within {:.0f} %",
                                   displacement->volume.litres(), 100.0 * displacement->spread_rel)});
    }
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
    note_tuning(request, work.made);
    for (const AirPiece& piece : work.made.air_pieces)
        work.made.openings.insert(work.made.openings.end(), piece.openings.begin(), piece.openings.end());
    return Done{};
}

std::vector<LedgerLine> features_ledger(const EnclosureRequest& request) {
    std::vector<LedgerLine> ledger = baffle_lines(request);
    const auto line = [&](const char* name, double mm3) { ledger.push_back({name, mm3 / 1e6}); };
    if (request.driver) each_driver(request, "driver", -displacement_mm3(request.driver->driver), ledger);
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
    if (request.driver)
        if (const auto d = sound::displacement_of(request.driver->driver))
            displacement = d->volume.litres() * d->spread_rel * static_cast<double>(1 + request.more_drivers.size());
    return (ways + displacement) / made.net_by_brep.litres();
}

}  // namespace geom::parts
