// An enclosure through the delivery of every part.
#include "exports/internal/delivery_steps.h"

#include "exports/cut_list.h"
#include "exports/dxf.h"
#include "exports/internal/part_delivery.h"
#include "exports/internal/view.h"
#include "exports/report.h"
#include "exports/response_plots.h"
#include "exports/step.h"

#include <fmt/format.h>

namespace exports {
namespace {

using geom::Context;
using geom::check::Verdict;
using geom::parts::EnclosureRequest;
using geom::parts::Made;

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
    if (!request.follows_scan()) {
        // A box from numbers is drawn upright, as its sizes are given, whichever way its baffle leans.
        const geom::Vec3 up = geom::unit(request.up);
        const geom::Vec3 level = input.outward - up * dot(input.outward, up);
        input.outward = norm(level) > 0.1 ? geom::unit(level) : geom::Vec3{0, -1, 0};
    }
    if (!made.enclosure.driver_seats.empty()) input.cut_at = made.enclosure.driver_seats.front().point;
    if (const auto& port = made.enclosure.port) {
        // Where its inner end looks sideways, a level section shows all of it.
        const geom::Vec3 end = port->path.end().along;
        const View front = look(input.outward, input.up);
        input.second_cut = {.through = port->path.start, .is_level = std::abs(dot(end, front.right)) > 0.5};
    }
    input.scan_points = &surface.points;
    input.scan_normals = &surface.normals;
    input.scan_spacing_mm = surface.spacing_mm;
    input.facts.push_back(fmt::format("net volume {:.2f} L", made.enclosure.net_by_brep.litres()));
    if (verdict.mass_kg > 0.0) input.facts.push_back(fmt::format("mass {:.2f} kg", verdict.mass_kg));
    return input;
}

/// Of each flat piece.
geom::Result<std::vector<std::string>> write_flats(const std::vector<geom::parts::FlatDrawing>& flats,
                                                   const Names& names, const std::filesystem::path& folder) {
    std::vector<std::string> pieces, files;
    for (const auto& flat : flats) pieces.push_back(flat.name);
    const auto suffixes = suffixes_of(pieces);
    for (std::size_t i = 0; i < flats.size(); ++i) {
        files.push_back(names.with_suffix(suffixes[i], "dxf"));
        GAPWRIGHT_CHECK(write_dxf(flats[i], folder / files.back()));
    }
    return files;
}

/// The cut list as a table, and the boards in place as solids.
geom::Result<std::vector<std::string>> write_cut_list(const std::vector<geom::parts::Board>& boards,
                                                      const geom::parts::Material& material, const Names& names,
                                                      const std::filesystem::path& folder) {
    std::vector<geom::parts::Product> solids;
    for (const auto& board : boards) solids.push_back({.name = board.name, .solid = board.solid, .material = material});
    const std::vector<std::string> files{names.with_suffix("boards", "step"), names.with_suffix("cut-list", "csv")};
    GAPWRIGHT_CHECK(write_step(solids, names.with_suffix("boards", "step"), folder / files[0]));
    GAPWRIGHT_CHECK(write_cut_list_csv(boards, material, folder / files[1]));
    return files;
}

/// Of the driver in the finished box: the response, and the air in a port.
std::vector<Picture> plots(const EnclosureRequest& request, const Verdict& verdict) {
    std::vector<Picture> out;
    if (!verdict.sound || verdict.sound->curves.f_hz.empty()) return out;
    const geom::sound::BoxSound& heard = *verdict.sound;
    const int count = request.wiring.count();
    const std::string label = (count > 1 && heard.unlike.empty() ? fmt::format("{} x ", count) : "") +
                              fmt::format("{} in {:.2f} L{}", heard.driver.name, heard.box.net.litres(),
                                          heard.box.has_port() ? fmt::format(" at {:.1f} Hz", heard.box.fb_hz) : "");
    const auto all =
        response_plots({{label, heard.driver, heard.curves, heard.watts}}, request.cabin ? &*request.cabin : nullptr);
    for (const auto& [name, plot] : all) {
        if (name == "relative") out.push_back({"response", "svg", plot_svg(plot)});
        if (name == "port") out.push_back({"port-air", "svg", plot_svg(plot)});
    }
    return out;
}

}  // namespace

geom::Result<Delivered> deliver_by(const DeliverySteps& steps, const Made& made, const EnclosureRequest& request,
                                   const geom::scan::Surface& surface, const JobRecord& job,
                                   const std::filesystem::path& folder, const Context& context) {
    return deliver_part(
        {.products = made.enclosure.products,
         .chord_error = request.make.chord_error,
         .if_not_sound = "a little more edge_radius or inner_radius, or another travel",
         .tessellate = steps.tessellate,
         .judge = [&](const auto& written) { return steps.judge(made, request, surface, written, context); },
         .draw = [&](const Names& names, const std::filesystem::path& into) -> geom::Result<std::vector<std::string>> {
             GAPWRIGHT_TRY(files, write_flats(made.enclosure.flats, names, into));
             if (!made.enclosure.boards.empty()) {
                 GAPWRIGHT_TRY(more, write_cut_list(made.enclosure.boards, request.material, names, into));
                 files.insert(files.end(), more.begin(), more.end());
             }
             return std::move(files);
         },
         .pictured = [&](const Verdict& verdict,
                         const auto& meshes) { return picture_input(made, request, surface, verdict, job, meshes); },
         .pictures = steps.pictures,
         .plots = [&](const Verdict& verdict) { return plots(request, verdict); },
         .report =
             [&](const Delivered& delivered) {
                 return report_text({made, request, surface, delivered.verdict,
                                     steps.cautions(request, delivered.verdict), job, delivered.files,
                                     delivered.proved});
             }},
        job.name, folder, context);
}

}  // namespace exports
