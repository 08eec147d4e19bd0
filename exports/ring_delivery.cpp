#include "exports/ring_delivery.h"

#include "exports/internal/part_delivery.h"
#include "exports/internal/report_json.h"
#include "exports/internal/ring_drawings.h"
#include "geom/check/ring_check.h"
#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"

#include <fmt/format.h>

namespace exports {
namespace {

using geom::check::Verdict;
using Json = nlohmann::ordered_json;

Json ring_json(const geom::parts::Ring& ring, const geom::parts::RingRequest& request) {
    Json j;
    j["volume_litres"] = geom::rounded(ring.volume.litres(), 6);
    j["least_height_mm"] = geom::rounded(ring.least_height.mm(), 4);
    j["most_height_mm"] = geom::rounded(ring.most_height.mm(), 4);
    j["inside_litres"] = geom::rounded(ring.inside.litres(), 6);
    if (ring.air_behind)
        j["air_behind"] = {{"door_litres", geom::rounded(request.door_volume->litres(), 6)},
                           {"litres", geom::rounded(ring.air_behind->litres(), 6)}};
    if (ring.free_area)
        j["free_area"] = {{"share", geom::rounded(ring.free_area->share, 4)},
                          {"open_cm2", geom::rounded(ring.free_area->open_mm2 / 100.0, 3)},
                          {"cone_cm2", geom::rounded(ring.free_area->cone_mm2 / 100.0, 3)},
                          {"at", point_json(ring.free_area->at)}};
    if (ring.flare_mm > 0.0) j["flare_mm"] = geom::rounded(ring.flare_mm, 4);
    j["bolt_circle_turn_deg"] = geom::rounded(ring.turn.deg(), 4);
    j["front"] = {{"point", point_json(ring.front.point)}, {"outward", direction_json(ring.front.outward)}};
    j["holes"] = Json::array();
    for (const auto& hole : ring.holes)
        j["holes"].push_back({{"name", hole.name},
                              {"from", point_json(hole.from)},
                              {"way", direction_json(hole.way)},
                              {"depth_mm", geom::rounded(hole.depth_mm, 4)},
                              {"diameter_mm", geom::rounded(hole.made_mm, 4)}});
    j["webs"] = Json::array();
    for (const auto& web : ring.webs)
        j["webs"].push_back({{"between", web.between},
                             {"left_mm", geom::rounded(web.left_mm, 4)},
                             {"wanted_mm", geom::rounded(web.wanted_mm, 4)},
                             {"at", point_json(web.at)}});
    return j;
}

}  // namespace

geom::Result<Delivered> deliver_ring(const geom::parts::Ring& ring, const geom::parts::RingRequest& request,
                                     const std::optional<geom::check::RingSurroundings>& around, const JobRecord& job,
                                     const std::filesystem::path& folder, const geom::Context& context) {
    const std::vector<geom::parts::Product> products{ring.product};
    Json layers;
    return deliver_part(
        {.products = products,
         .chord_error = request.make.chord_error,
         .if_not_sound = "other sizes of the ring",
         .tessellate = geom::measure::tessellate,
         .judge = [&](const auto& written) { return geom::check::judge_ring(ring, request, written, around, context); },
         .draw = [&](const Names& names, const std::filesystem::path& into) -> geom::Result<std::vector<std::string>> {
             GAPWRIGHT_TRY(drawings, write_ring_drawings(ring, request, names, into));
             layers = drawings.layers;
             return std::move(drawings.files);
         },
         .pictured =
             [&](const Verdict& verdict, const std::vector<geom::TriMesh>& meshes) {
                 PictureInput input;
                 input.title = job.name;
                 input.products = {{ring.product.name, meshes[0], ring.product.solid, ring.product.colour}};
                 input.front = "driver";
                 input.outward = geom::unit(request.seat.plane.outward);
                 input.up = request.up;
                 input.facts = {fmt::format("mass {:.3f} kg", verdict.mass_kg)};
                 return input;
             },
         .pictures = make_pictures,
         .report =
             [&](const Delivered& delivered) {
                 Json report = report_head(job, delivered.proved);
                 report["solid"] = solid_json(delivered.verdict);
                 report["ring"] = ring_json(ring, request);
                 if (ring.layers) report["layers"] = layers;
                 report["checks"] = checks_json(delivered.verdict.lines);
                 report["cautions"] = cautions_json(geom::check::ring_cautions(request, delivered.verdict));
                 report["notes"] = ring.notes;
                 report["files"] = delivered.files;
                 return report.dump(2) + "\n";
             }},
        job.name, folder, context);
}

}  // namespace exports
