#include "exports/ring_delivery.h"

#include "exports/internal/file_names.h"
#include "exports/internal/report_json.h"
#include "exports/internal/ring_drawings.h"
#include "exports/internal/write_bytes.h"
#include "exports/pictures.h"
#include "exports/step.h"
#include "exports/stl.h"
#include "geom/check/ring_check.h"
#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"

#include <fmt/format.h>

namespace exports {
namespace {

using geom::Context;
using geom::Fault;
using geom::FaultCode;
using geom::check::Kind;
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
                                     const std::filesystem::path& folder, const Context& context) {
    const geom::Stage stage(context, "files");
    GAPWRIGHT_TRY(target, TargetFolder::open(folder));
    GAPWRIGHT_TRY(mesh, geom::measure::tessellate(ring.product.solid, request.make.chord_error, context));
    const geom::check::Written written{.step = target.temporary() / "part.step",
                                       .products = {{ring.product.name, target.temporary() / "part.stl"}}};
    GAPWRIGHT_CHECK(write_step({ring.product}, job.name, written.step));
    GAPWRIGHT_CHECK(write_stl(mesh, ring.product.name, written.products.front().stl));

    Delivered delivered;
    GAPWRIGHT_TRY(verdict, geom::check::judge_ring(ring, request, written, around, context));
    delivered.verdict = verdict;
    if (!verdict.is_sound())
        return Fault{FaultCode::NotSound,
                     "the written part is no sound solid: " + failed_lines(verdict, Kind::SoundSolid),
                     "nothing was handed over; try other sizes of the ring",
                     {},
                     "files"};
    delivered.proved = verdict.fits();
    if (context.is_cancelled()) return Context::interrupted();

    const Names names(job.name, delivered.proved);
    GAPWRIGHT_TRY(pictures,
                  make_pictures({.title = job.name,
                                 .products = {{ring.product.name, mesh, ring.product.solid, ring.product.colour}},
                                 .front = "driver",
                                 .outward = geom::unit(request.seat.plane.outward),
                                 .up = request.up,
                                 .facts = {fmt::format("mass {:.3f} kg", verdict.mass_kg)}},
                                context));
    std::error_code error;
    const auto adopt = [&](const std::filesystem::path& file, const std::string& name) {
        if (!error) std::filesystem::rename(file, target.temporary() / name, error);
        delivered.files.push_back(name);
    };
    adopt(written.step, names.with_ending("step"));
    adopt(written.products.front().stl, names.with_ending("stl"));
    if (error)
        return Fault{FaultCode::CannotWrite,
                     "the part's files cannot be written: " + error.message(),
                     "see that the output folder may be written to and has room",
                     {},
                     "files"};
    GAPWRIGHT_TRY(drawings, write_ring_drawings(ring, request, names, target.temporary()));
    delivered.files.insert(delivered.files.end(), drawings.files.begin(), drawings.files.end());
    for (const Picture& picture : pictures) {
        const std::string name = names.with_suffix(picture.suffix, picture.ending);
        GAPWRIGHT_CHECK(write_bytes(target.temporary() / name, picture.bytes));
        delivered.files.push_back(name);
    }
    delivered.files.push_back(names.report());

    Json report = report_head(job, delivered.proved);
    report["solid"] = solid_json(verdict);
    report["ring"] = ring_json(ring, request);
    if (ring.layers) report["layers"] = drawings.layers;
    report["checks"] = checks_json(verdict.lines);
    report["cautions"] = cautions_json(geom::check::ring_cautions(request, verdict));
    report["notes"] = ring.notes;
    report["files"] = delivered.files;
    delivered.report_json = report.dump(2) + "\n";
    GAPWRIGHT_CHECK(write_bytes(target.temporary() / names.report(), delivered.report_json));
    if (context.is_cancelled()) return Context::interrupted();
    GAPWRIGHT_CHECK(target.place(delivered.files));
    if (delivered.proved) remove_unproved(folder, names.unproved_start());
    return delivered;
}

}  // namespace exports
