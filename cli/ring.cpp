#include "cli/ring.h"

#include "cli/steps.h"
#include "exports/ring_delivery.h"
#include "geom/check/ring_check.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>

namespace cli {

namespace fs = std::filesystem;
using geom::Result;

namespace {

struct Seat {
    std::optional<ScannedGap> gap;
    geom::Length foot_bound{};
};

/// What was scanned about the ring; nothing where the job names no scan. A scanned seat becomes the ring's foot.
Result<Seat> scanned_seat(geom::job::Job& job, std::vector<std::string>& notes, const geom::Context& context) {
    if (job.scans.empty()) return Seat{};
    geom::job::RingJob& ring = *job.ring;
    GAPWRIGHT_TRY(under, at_stage("part", geom::parts::foot_under(ring.request,
                                                                  ring.foot.value_or(geom::parts::RingFootOptions{}))));
    GAPWRIGHT_TRY(gap, scanned_gap(job, context, [&](const geom::scan::RawScan& raw) {
                      return geom::parts::scan_about(ring.request, under, raw);
                  }));
    if (!ring.foot) return Seat{std::move(gap)};
    GAPWRIGHT_TRY(foot, with_doubt(gap.doubt, at_stage("foot", geom::parts::scan_foot(gap.surface, under, context))));
    geom::parts::stand_on(foot, *ring.foot, ring.request);
    notes.push_back(
        fmt::format("foot: the scanned face lies {:.1f} to {:.1f} mm over the seat plane; it may come "
                    "nearer to the ring than the gasket by {:.2f} mm",
                    foot.lowest_mm, foot.highest_mm, foot.bound_mm));
    notes.insert(notes.end(), foot.notes.begin(), foot.notes.end());
    return Seat{std::move(gap), geom::Length::mm(foot.bound_mm)};
}

/// What the job says of the room round the ring; nothing where it says nothing. Refers to the seat's scan.
std::optional<geom::check::RingSurroundings> surroundings(const geom::job::Job& job, const Seat& seat) {
    const auto& room = job.enclosure.room;
    const auto& grille = job.ring->grille_room;
    if (!seat.gap && room.limits.empty() && room.keep_outs.empty() && !grille) return std::nullopt;
    return geom::check::RingSurroundings{.limits = room.limits,
                                         .keep_outs = room.keep_outs,
                                         .surface = seat.gap ? &seat.gap->surface : nullptr,
                                         .clearance = room.clearance,
                                         .grille_room = grille,
                                         .foot_bound = seat.foot_bound};
}

std::string layer_lines(const geom::parts::Ring& ring) {
    if (!ring.layers) return {};
    const auto& layers = ring.layers->layers;
    std::string out = fmt::format("layers       {} of a sheet of {} mm\n", layers.size(),
                                  geom::plain_number(layers.front().drawing.thickness_mm));
    for (const auto& layer : layers)
        out += fmt::format("  {:<32} {:.2f} mm, {:.1f} cm2, {:.4f} L, {} dowel holes\n", layer.name,
                           layer.to_mm - layer.from_mm, geom::parts::area_mm2(layer.drawing) / 100.0,
                           layer.volume.litres(), layer.dowels.size());
    return out;
}

std::string summary(const geom::job::Job& job, const geom::parts::Ring& ring, const exports::Delivered& delivered,
                    const fs::path& folder) {
    const auto& verdict = delivered.verdict;
    std::string out;
    const auto line = [&](const std::string& text) { out += text + "\n"; };
    line(verdict_line(job.name, verdict));
    line("");
    line(fmt::format("height       {:.2f} mm on the thin side, {:.2f} mm on the high side", ring.least_height.mm(),
                     ring.most_height.mm()));
    line(fmt::format("volume       {:.4f} L of material, {:.3f} kg in {}", ring.volume.litres(), verdict.mass_kg,
                     ring.product.material.name));
    if (const auto& free = ring.free_area)
        line(fmt::format("free area    {:.0f} % of the cone's {:.0f} cm2 stays open behind it", 100.0 * free->share,
                         free->cone_mm2 / 100.0));
    line(fmt::format("inside       {:.4f} L of air{}", ring.inside.litres(),
                     ring.air_behind ? fmt::format("; with the door's {:.2f} L and less the driver {:.2f} L",
                                                   job.ring->request.door_volume->litres(), ring.air_behind->litres())
                                     : std::string()));
    for (const auto& hole : ring.holes)
        line(fmt::format("  {:<32} {:.2f} mm, {:.2f} mm along its axis", hole.name, hole.made_mm, hole.depth_mm));
    out += layer_lines(ring);
    for (const std::string& note : ring.notes) line("note         " + note);
    out += failed_checks(verdict);
    for (const auto& caution : geom::check::ring_cautions(job.ring->request, verdict))
        line(fmt::format("caution      {}: {}", caution.name, caution.text));
    for (const std::string& file : delivered.files) line("written      " + (folder / file).string());
    return out;
}

Result<MadePart> make(const PartArguments& arguments, const geom::Context& context) {
    GAPWRIGHT_TRY(job, job_of_part(arguments.job, "ring", context));
    GAPWRIGHT_TRY(folder, target_folder(arguments, job));
    std::vector<std::string> notes;
    GAPWRIGHT_TRY(seat, scanned_seat(job, notes, context));
    std::vector<geom::scan::FilePlacing> placing;
    if (seat.gap) placing = seat.gap->files;
    const geom::parts::RingRequest& request = job.ring->request;
    GAPWRIGHT_TRY(ring, at_stage("part", geom::parts::make_ring(request, context)));
    ring.notes.insert(ring.notes.begin(), notes.begin(), notes.end());
    GAPWRIGHT_TRY(delivered, at_stage("files", exports::deliver_ring(ring, request, surroundings(job, seat),
                                                                     record_of(job, placing), folder, context)));
    std::string told = placing_notes(placing) + summary(job, ring, delivered, folder);
    return MadePart{std::move(delivered), std::move(told)};
}

}  // namespace

int run_ring(const PartArguments& arguments, const std::atomic<bool>& cancel) {
    return run_part(arguments, cancel, [&](const geom::Context& context) { return make(arguments, context); });
}

}  // namespace cli
