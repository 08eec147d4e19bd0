#include "geom/parts/capacity.h"

#include "geom/parts/features.h"
#include "geom/parts/size.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {

namespace {

double features_litres(const EnclosureRequest& request) {
    double sum = 0.0;
    for (const LedgerLine& line : features_ledger(request)) sum += line.litres;
    return sum;
}

/// Stages of these inner runs would only confuse the progress of the run that asked for them.
Context quiet(const Context& context) { return {nullptr, context.cancel, {}}; }

}  // namespace

Result<Volume> most_net_volume(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    GAPWRIGHT_TRY(room, space::free_room(surface, request.room, context));
    GAPWRIGHT_TRY(air, space::cavity(room.outer, request.wall, request.inner_radius, context));
    keep_largest_piece(air, -request.baffle.travel_hi_mm + request.baffle.thickness.mm());
    const Volume bare = bare_range(space::VolumeTable::of(air), request.baffle).most;
    return Volume::litres(std::max(0.0, bare.litres() + features_litres(request)));
}

std::vector<Relief> reliefs(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    const Context silent = quiet(context);
    EnclosureRequest coarse = request;
    // Coarse enough to be quick, fine enough for the wall; gain and baseline share the grid, so its bias cancels.
    coarse.room.voxel = Length::mm(std::clamp(request.wall.mm() / 2.0, 2.0, 3.0));
    const auto as_asked = most_net_volume(surface, coarse, silent);
    if (!as_asked) return {};

    std::vector<Relief> found;
    const auto attempt = [&](std::string what, auto&& change) {
        if (context.is_cancelled()) return;
        EnclosureRequest changed = coarse;
        change(changed);
        const auto most = most_net_volume(surface, changed, silent);
        if (most)
            found.push_back({std::move(what), most->litres() - as_asked->litres()});
        else if (most.error().code == FaultCode::Leak)
            found.push_back({std::move(what) + " (the room would be open there)", -1.0});
    };

    const double thinner = std::max(request.wall.mm() - 2.0, 3.0);
    if (thinner < request.wall.mm())
        attempt(fmt::format("wall {:g} instead of {:g} mm", thinner, request.wall.mm()), [&](EnclosureRequest& r) {
            r.wall = r.room.wall = Length::mm(thinner);
        });
    const double closer = std::max(request.room.clearance.mm() - 2.0, 1.0);
    if (closer < request.room.clearance.mm())
        attempt(fmt::format("clearance {:g} instead of {:g} mm", closer, request.room.clearance.mm()),
                [&](EnclosureRequest& r) {
                    r.room.clearance = Length::mm(closer);
                    if (!r.room.insert_clearance) r.room.insert_clearance = request.room.clearance;
                });
    if (request.room.covering.mm() > 0.0)
        attempt("no covering", [](EnclosureRequest& r) { r.room.covering = Length::mm(0); });
    if (request.room.edge_radius.mm() > 4.0)
        attempt("edge radius 4 mm", [](EnclosureRequest& r) { r.room.edge_radius = Length::mm(4); });
    for (std::size_t i = 0; i < request.room.limits.size(); ++i)
        attempt(fmt::format("without limit '{}'", request.room.limits[i].name), [i](EnclosureRequest& r) {
            r.room.limits.erase(r.room.limits.begin() + static_cast<std::ptrdiff_t>(i));
        });
    for (std::size_t i = 0; i < request.room.limits.size(); ++i)
        attempt(fmt::format("limit '{}' 20 mm further out", request.room.limits[i].name), [i](EnclosureRequest& r) {
            space::Limit& limit = r.room.limits[i];
            limit.plane.point += limit.plane.outward * 20.0;
        });
    for (std::size_t i = 0; i < request.room.keep_outs.size(); ++i)
        attempt(fmt::format("without keep-out '{}'", request.room.keep_outs[i].name), [i](EnclosureRequest& r) {
            r.room.keep_outs.erase(r.room.keep_outs.begin() + static_cast<std::ptrdiff_t>(i));
        });
    std::stable_sort(found.begin(), found.end(),
                     [](const Relief& a, const Relief& b) { return a.litres_more > b.litres_more; });
    return found;
}

std::string reliefs_text(const std::vector<Relief>& reliefs) {
    if (reliefs.empty()) return "move the baffle's travel further out, or ask for less";
    std::string text = "what would free how much: ";
    for (std::size_t i = 0; i < reliefs.size(); ++i) {
        if (i > 0) text += "; ";
        text += reliefs[i].what;
        if (reliefs[i].litres_more >= 0.0) text += fmt::format(": {:+.2f} L", reliefs[i].litres_more);
    }
    return text;
}

}  // namespace geom::parts
