#include "cli/volume.h"

#include "cli/volume_report.h"
#include "exports/write_files.h"
#include "geom/core/parallel.h"
#include "geom/core/text.h"
#include "geom/parts/enclosure.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstdio>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;
using geom::Status;

namespace {

struct Density {
    std::string name;
    std::optional<double> kg_m3;
};

/// A known name, or a number of kg/m3.
Result<Density> density_of(const std::string& material) {
    if (material.empty()) return Density{};
    if (const auto known = geom::parts::find_material(material)) return Density{known->name, known->density_kg_m3};
    double value = 0.0;
    const auto [end, error] = std::from_chars(material.data(), material.data() + material.size(), value);
    std::string rest(end, material.data() + material.size());
    std::erase(rest, ' ');
    if (error == std::errc{} && (rest.empty() || rest == "kg/m3") && value > 0.0 && value < 30000.0)
        return Density{"the density stated", value};
    const std::string near = geom::nearest_word(material, geom::parts::known_materials());
    return geom::Fault{geom::FaultCode::BadJob,
                       fmt::format("--material {}: not known", material),
                       (near.empty() ? "" : "did you mean " + near + "? ") +
                           "known: " + geom::listed(geom::parts::known_materials(), "and") +
                           "; or a density in kg/m3, like --material 700",
                       {},
                       {}};
}

/// "x,y,z,width"; nothing when it is not that.
std::optional<geom::measure::AskedOpening> opening_of(const std::string& text) {
    double v[4] = {};
    const char* at = text.data();
    const char* const end = text.data() + text.size();
    for (int i = 0; i < 4; ++i) {
        const auto [next, error] = std::from_chars(at, end, v[i]);
        if (error != std::errc{} || (i < 3 && (next == end || *next != ','))) return std::nullopt;
        at = next + (i < 3 ? 1 : 0);
    }
    if (at != end || !(v[3] > 0.0)) return std::nullopt;
    return geom::measure::AskedOpening{{v[0], v[1], v[2]}, v[3]};
}

geom::Point3 inside_of(const VolumeArguments& arguments) {
    return {arguments.inside[0], arguments.inside[1], arguments.inside[2]};
}
std::vector<geom::measure::AskedOpening> openings_of(const VolumeArguments& arguments) {
    std::vector<geom::measure::AskedOpening> openings;
    for (const std::string& text : arguments.openings) openings.push_back(*opening_of(text));
    return openings;
}

Result<MeasuredShape> measure(const fs::path& file, const VolumeArguments& arguments, const geom::Context& context) {
    std::optional<geom::scan::FileUnit> unit;
    if (!arguments.unit.empty()) unit = geom::scan::file_unit_named(arguments.unit);
    GAPWRIGHT_TRY(shape, geom::measure::read_shape(file, unit, context));
    MeasuredShape out;
    if (shape.mesh) {
        GAPWRIGHT_TRY(volume, geom::measure::volume_of_mesh(std::move(*shape.mesh), context));
        out.volume = std::move(volume);
        shape.mesh.reset();
    } else {
        const geom::Length chord = geom::Length::mm(arguments.chord_mm > 0.0 ? arguments.chord_mm : 0.02);
        GAPWRIGHT_TRY(volume, geom::measure::volume_of_breps(shape.breps, chord, context));
        out.volume = std::move(volume);
        if (!arguments.inside.empty()) {
            GAPWRIGHT_TRY(air, geom::measure::air_of_breps(shape.breps, inside_of(arguments), openings_of(arguments),
                                                           chord, context));
            out.air = std::move(air);
        }
        shape.breps.clear();
    }
    out.file = std::move(shape);
    if (arguments.slices > 0 && out.volume.known && !out.volume.mesh.triangles.empty())
        out.sections = geom::measure::section_table(out.volume.mesh, arguments.axis[0] - 'x', arguments.slices);
    if (arguments.inside.empty() && arguments.wall_mm <= 0.0) return out;
    if (!out.volume.known || out.volume.mesh.triangles.empty())
        return geom::Fault{geom::FaultCode::BadScan,
                           file.string() + ": bounds no room to look into",
                           "ask without --inside and --wall what is wrong with it",
                           {},
                           {}};
    if (arguments.wall_mm > 0.0) {
        if (!out.volume.exact)
            return geom::Fault{geom::FaultCode::BadScan,
                               file.string() + ": --wall wants a closed outside that does not cross itself",
                               "ask without --wall what is wrong with it",
                               {},
                               {}};
        GAPWRIGHT_TRY(inside,
                      geom::measure::inside_of_wall(out.volume.mesh, geom::Length::mm(arguments.wall_mm), context));
        out.inside = inside;
        out.wall_mm = arguments.wall_mm;
    }
    if (!arguments.inside.empty() && !out.air) {
        GAPWRIGHT_TRY(
            air, geom::measure::air_of_shape(out.volume.mesh, inside_of(arguments), openings_of(arguments), context));
        out.air = std::move(air);
    }
    return out;
}

struct Told {
    std::vector<MeasuredShape> shapes;
    Density density;
    std::vector<fs::path> written;
};

Result<Told> tell(const VolumeArguments& arguments, const geom::Context& context) {
    Told told;
    GAPWRIGHT_TRY(density, density_of(arguments.material));
    told.density = density;
    for (const fs::path& file : arguments.files) {
        GAPWRIGHT_TRY(shape, measure(file, arguments, context));
        told.shapes.push_back(std::move(shape));
    }
    if (arguments.out.empty()) return told;
    std::vector<exports::NamedBytes> files;
    const std::string stem = exports::stem_of(arguments.files.front());
    files.push_back({stem + "-volume.json", volume_json({told.shapes, told.density.name, told.density.kg_m3, {}})});
    for (const MeasuredShape& shape : told.shapes)
        if (shape.sections)
            files.push_back({exports::stem_of(shape.file.path) + "-sections.csv", sections_csv(*shape.sections)});
    GAPWRIGHT_CHECK(exports::write_together(arguments.out, files));
    for (const auto& file : files) told.written.push_back(arguments.out / file.name);
    return told;
}

}  // namespace

int run_volume(const VolumeArguments& arguments, const std::atomic<bool>& cancel) {
    const FaultForm form = arguments.json ? FaultForm::Json : FaultForm::Text;
    for (const std::string& text : arguments.openings)
        if (!opening_of(text))
            return print_usage_error(
                fmt::format("--opening: {} is not x,y,z,width (four numbers in mm, the width above 0)", text), form);
    if (!arguments.openings.empty() && arguments.inside.empty())
        return print_usage_error("--opening: wants --inside x,y,z, a point in the air, beside it", form);
    const geom::ThreadLimit threads(arguments.threads);
    StageClock clock(!arguments.quiet && !arguments.json && ::isatty(STDERR_FILENO) != 0);
    const geom::Context context{.listener = &clock, .cancel = &cancel, .dump_dir = {}};
    const auto told = tell(arguments, context);
    if (!told) {
        geom::Fault fault = told.error();
        if (fault.stage.empty()) fault.stage = "volume";
        return print_fault(fault, form);
    }
    const VolumeReport report{told->shapes, told->density.name, told->density.kg_m3, told->written};
    if (arguments.json)
        fmt::print(stdout, "{}", volume_json(report));
    else if (!arguments.quiet)
        fmt::print(stdout, "{}", volume_text(report));
    int exit = kMade;
    for (const MeasuredShape& shape : told->shapes) {
        if (!shape.volume.known) return kUnreadable;
        if (!shape.volume.exact && !shape.air) exit = kUnproved;
    }
    return exit;
}

}  // namespace cli
