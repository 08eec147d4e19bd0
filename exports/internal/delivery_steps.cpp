// The order of things: meshes, solid files, judgement of the files as re-read, pictures, report, names. Everything
// up to the last step happens in a hidden folder inside the target; the last step is TargetFolder::place().
//
// Names     proved:   <name>.step  <name>.stl (one product) or <name>-<product>.stl  <name>-iso.png ...  report.json
//           <name>-<product>.dxf of each flat piece
//           unproved: the same with "<name>.unproved." before what follows the name, and the report as
//                     <name>.unproved.report.json, so that an earlier report.json stays with its earlier good files.
#include "exports/internal/delivery_steps.h"

#include "exports/dxf.h"
#include "exports/internal/file_names.h"
#include "exports/internal/placing.h"
#include "exports/internal/write_bytes.h"
#include "exports/report.h"
#include "exports/step.h"
#include "exports/stl.h"

#include <fmt/format.h>
#include <algorithm>

#include <optional>
#include <set>

namespace exports {
namespace {

using geom::Context;
using geom::Fault;
using geom::FaultCode;
using geom::check::Kind;
using geom::check::Verdict;
using geom::parts::EnclosureRequest;
using geom::parts::Made;

/// Of the first failed line of that kind that knows its place.
std::optional<geom::Point3> failed_place(const Verdict& verdict, Kind kind) {
    for (const auto& line : verdict.lines)
        if (!line.ok && line.kind == kind && line.place) return line.place;
    return std::nullopt;
}

/// One file suffix a product, no two alike.
std::vector<std::string> product_suffixes(const std::vector<geom::parts::Product>& products) {
    std::vector<std::string> suffixes;
    std::set<std::string> taken;
    for (const auto& product : products) {
        const std::string plain = suffix_of(product.name);
        std::string suffix = plain;
        for (int n = 2; !taken.insert(suffix).second; ++n) suffix = plain + "-" + std::to_string(n);
        suffixes.push_back(suffix);
    }
    return suffixes;
}

PictureInput picture_input(const Made& made, const EnclosureRequest& request, const geom::scan::Surface& surface,
                           const Verdict& verdict, const JobRecord& job, const std::vector<geom::TriMesh>& meshes) {
    PictureInput input;
    input.title = job.name;
    for (std::size_t i = 0; i < meshes.size(); ++i) {
        const auto& product = made.enclosure.products[i];
        if (product.is_tool || meshes[i].triangles.empty()) continue;
        input.products.push_back({product.name, meshes[i], product.solid, product.colour});
    }
    input.outward = made.enclosure.baffle_plane.outward;
    input.up = request.up;
    input.scan_points = &surface.points;
    input.scan_normals = &surface.normals;
    input.scan_spacing_mm = surface.spacing_mm;
    input.facts.push_back(fmt::format("net volume {:.2f} L", made.enclosure.net_by_brep.litres()));
    if (verdict.mass_kg > 0.0) input.facts.push_back(fmt::format("mass {:.2f} kg", verdict.mass_kg));
    return input;
}

}  // namespace

geom::Result<Delivered> deliver_by(const DeliverySteps& steps, const Made& made, const EnclosureRequest& request,
                                   const geom::scan::Surface& surface, const JobRecord& job,
                                   const std::filesystem::path& folder, const Context& context) {
    const auto& products = made.enclosure.products;
    EXPECTS(!products.empty());
    const geom::Stage stage(context, "files");
    GAPWRIGHT_TRY(target, TargetFolder::open(folder));

    std::vector<geom::TriMesh> meshes;
    {
        const geom::Stage meshing(context, "files/mesh");
        for (const auto& product : products) {
            if (context.is_cancelled()) return Context::interrupted();
            GAPWRIGHT_TRY(mesh, steps.tessellate(product.solid, request.make.chord_error, context));
            meshes.push_back(std::move(mesh));
        }
    }

    // Names that no verdict has touched yet; they are changed once it is known.
    const auto suffixes = product_suffixes(products);
    geom::check::Written written;
    {
        const geom::Stage writing(context, "files/write");
        written.step = target.temporary() / "part.step";
        GAPWRIGHT_CHECK(write_step(products, job.name, written.step));
        for (std::size_t i = 0; i < products.size(); ++i) {
            if (context.is_cancelled()) return Context::interrupted();
            written.products.push_back({products[i].name, target.temporary() / (std::to_string(i) + ".stl")});
            GAPWRIGHT_CHECK(write_stl(meshes[i], products[i].name, written.products.back().stl));
        }
    }
    if (context.is_cancelled()) return Context::interrupted();

    Delivered delivered;
    {
        const geom::Stage judging(context, "files/judge");
        GAPWRIGHT_TRY(verdict, steps.judge(made, request, surface, written, context));
        delivered.verdict = std::move(verdict);
    }
    const Verdict& verdict = delivered.verdict;
    if (!verdict.is_sound())
        return Fault{FaultCode::NotSound,
                     "the written part is no sound solid: " + failed_lines(verdict, Kind::SoundSolid),
                     "nothing was handed over; try a little more edge_radius or inner_radius, or another travel",
                     failed_place(verdict, Kind::SoundSolid), "files"};
    delivered.proved = verdict.fits();
    if (context.is_cancelled()) return Context::interrupted();

    const Names names(job.name, delivered.proved);
    const auto adopt = [&](const std::filesystem::path& made_file, const std::string& name) -> geom::Status {
        std::error_code error;
        std::filesystem::rename(made_file, target.temporary() / name, error);
        if (error)
            return Fault{FaultCode::CannotWrite,
                         name + " cannot be written: " + error.message(),
                         "see that the output folder may be written to and has room",
                         {},
                         "files"};
        delivered.files.push_back(name);
        return geom::Done{};
    };
    GAPWRIGHT_CHECK(adopt(written.step, names.with_ending("step")));
    for (std::size_t i = 0; i < products.size(); ++i)
        GAPWRIGHT_CHECK(adopt(written.products[i].stl,
                              products.size() == 1 ? names.with_ending("stl") : names.with_suffix(suffixes[i], "stl")));
    std::set<std::string> drawn;
    for (const geom::parts::FlatDrawing& flat : made.enclosure.flats) {
        std::string suffix = suffix_of(flat.name);
        for (int n = 2; !drawn.insert(suffix).second; ++n) suffix = suffix_of(flat.name) + "-" + std::to_string(n);
        const std::string name = names.with_suffix(suffix, "dxf");
        GAPWRIGHT_CHECK(write_dxf(flat, target.temporary() / name));
        delivered.files.push_back(name);
    }
    {
        const geom::Stage drawing(context, "files/pictures");
        GAPWRIGHT_TRY(pictures, steps.pictures(picture_input(made, request, surface, verdict, job, meshes), context));
        for (const Picture& picture : pictures) {
            const std::string name = names.with_suffix(picture.suffix, picture.ending);
            GAPWRIGHT_CHECK(write_bytes(target.temporary() / name, picture.bytes));
            delivered.files.push_back(name);
        }
    }
    delivered.files.push_back(names.report());
    const auto cautions = steps.cautions(request, verdict);
    delivered.report_json =
        report_text({made, request, surface, verdict, cautions, job, delivered.files, delivered.proved});
    GAPWRIGHT_CHECK(write_bytes(target.temporary() / names.report(), delivered.report_json));

    if (context.is_cancelled()) return Context::interrupted();
    GAPWRIGHT_CHECK(target.place(delivered.files));
    if (delivered.proved) remove_unproved(folder, names.unproved_start());
    return delivered;
}

}  // namespace exports
