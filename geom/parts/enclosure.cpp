// The way of an enclosure from surface to part. make_enclosure() at the bottom is the whole of it; everything above
// it is one step each.
//
// Size    The field's table gives the first place of the baffle; the part is made there and its net volume measured
//         on the B-rep; while that is off by more than a quarter of the tolerance, the difference is added to the
//         wanted bare air and the part is made again. The number promised is the number measured.
#include "geom/parts/enclosure.h"

#include "geom/parts/capacity.h"
#include "geom/parts/features.h"
#include "geom/parts/size.h"

#include "geom/core/parallel.h"
#include "geom/space/field_file.h"

#include <fmt/format.h>

#include <cmath>

namespace geom::parts {

namespace {

constexpr int kMostRounds = 4;

Fault staged(Fault fault, const char* stage) {
    if (fault.stage.empty()) fault.stage = stage;
    return fault;
}

/// What makes no sense before any field is built.
Status refuse_senseless(const EnclosureRequest& request) {
    const Plane outermost{request.baffle.plane.point + request.baffle.plane.outward * request.baffle.travel_hi_mm,
                          request.baffle.plane.outward};
    const double in_front = outermost.height(request.room.air);
    if (in_front > 0.0)
        return Fault{FaultCode::BadJob,
                     fmt::format("baffle: `air` lies {:.1f} mm in front of the outermost baffle plane, wanted behind it",
                                 in_front),
                     "turn [enclosure] baffle.outward round (it points from the air to the listener), or let the travel "
                     "reach further out",
                     request.room.air, "size"};
    if (request.make.method == Method::Cnc && !request.baffle.separate)
        return Fault{FaultCode::MethodRefused,
                     "method 'cnc': a closed hollow shell with an integral baffle cannot be milled from outside, "
                     "wanted a separate baffle",
                     "set [enclosure] baffle.made = \"separate\", or [make] method = \"print\"", std::nullopt, "part"};
    return Done{};
}

double sum_litres(const std::vector<LedgerLine>& lines) {
    double sum = 0.0;
    for (const LedgerLine& line : lines) sum += line.litres;
    return sum;
}

/// Why no place of the travel gives `bare`.
Fault no_place(const scan::Surface& surface, const EnclosureRequest& request, const space::VolumeTable& table,
               double features_litres, const Context& context) {
    const BareRange range = bare_range(table, request.baffle);
    const double most = std::max(0.0, range.most.litres() + features_litres);
    const double least = std::max(0.0, range.least.litres() + features_litres);
    if (range.most.litres() <= 0.0)
        return {FaultCode::Impossible,
                fmt::format("baffle: its travel from {:g} to {:g} mm never meets the room, wanted a plane with air behind it",
                            request.baffle.travel_lo_mm, request.baffle.travel_hi_mm),
                "move [enclosure] baffle.point or travel, or make the wall thinner", request.baffle.plane.point, "size"};
    if (request.net_volume.litres() > most)
        return {FaultCode::Impossible,
                fmt::format("net volume: the gap holds at most {:.2f} L as asked, wanted {:.2f} L", most,
                            request.net_volume.litres()),
                reliefs_text(reliefs(surface, request, context)), std::nullopt, "size"};
    return {FaultCode::Impossible,
            fmt::format("net volume: at the innermost baffle place the box still holds {:.2f} L, wanted {:.2f} L", least,
                        request.net_volume.litres()),
            fmt::format("let the travel reach further in than {:g} mm, or draw the limits in", request.baffle.travel_lo_mm),
            std::nullopt, "size"};
}

/// Planes of the limits where they bound a body that keeps `inset` more from them.
std::vector<Plane> flats(const EnclosureRequest& request, Length inset) {
    std::vector<Plane> planes;
    for (const space::Limit& limit : request.room.limits) {
        const double in_mm = limit.clearance.mm() + (limit.covering ? request.room.covering.mm() : 0.0) + inset.mm();
        planes.push_back({limit.plane.point - limit.plane.outward * in_mm, limit.plane.outward});
    }
    return planes;
}

struct Skins {
    skin::Skin outer, inner;
};

/// Both shells at one baffle place, made at the same time.
Result<Skins> make_skins(const space::Field& outer, const space::Field& air, const EnclosureRequest& request,
                         const BafflePlace& place, const Context& context) {
    const skin::SkinOptions outer_options{.name = "outer",
                                          .baffle_y_mm = place.outer_y_mm,
                                          .rim_radius = request.baffle.rim_radius,
                                          .flats = flats(request, Length::mm(0))};
    const skin::SkinOptions inner_options{.name = "inner",
                                          .baffle_y_mm = place.air_y_mm,
                                          .rim_radius = Length::mm(0),
                                          .flats = flats(request, request.wall)};
    std::optional<Result<skin::Skin>> outer_skin, inner_skin;
    parallel_invoke({[&] { outer_skin = skin::make_skin(outer, outer_options, context); },
                     [&] { inner_skin = skin::make_skin(air, inner_options, context); }});
    if (!*outer_skin) return std::move(*outer_skin).error();
    if (!*inner_skin) return std::move(*inner_skin).error();
    return Skins{std::move(**outer_skin), std::move(**inner_skin)};
}

Result<BareBodies> bare_bodies(const Skins& skins, const EnclosureRequest& request, const BafflePlace& place) {
    GAPWRIGHT_TRY(outer, skin::solid_from_shells(skins.outer.shell, Brep{}));
    GAPWRIGHT_TRY(air, skin::solid_from_shells(skins.inner.shell, Brep{}));
    const Plane at_zero = request.baffle.plane;
    return BareBodies{outer, air, {at_zero.point + at_zero.outward * place.t_mm, at_zero.outward}};
}

/// Contributions that the three volumes cannot see against one another: each is a stated bound, added up.
double uncertainty(const EnclosureRequest& request, const Enclosure& made) {
    const double ways = std::abs(made.net_by_field.litres() - made.net_by_brep.litres());
    double displacement = 0.0;
    if (request.driver)
        if (const auto d = sound::displacement_of(request.driver->driver)) displacement = d->volume.litres() * d->spread_rel;
    return (ways + displacement) / made.net_by_brep.litres();
}

}  // namespace

Result<Made> make_enclosure(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    GAPWRIGHT_CHECK(refuse_senseless(request));

    auto room = space::free_room(surface, request.room, context);
    if (!room) return staged(std::move(room).error(), "space");
    auto air = space::cavity(room->outer, request.wall, request.inner_radius, context);
    if (!air) return staged(std::move(air).error(), "space");
    std::optional<Made> made(Made{std::move(*room), {}});
    if (!context.dump_dir.empty()) {
        GAPWRIGHT_CHECK(space::save_field(made->room.outer, context.dump_dir / "outer.field"));
        GAPWRIGHT_CHECK(space::save_field(*air, context.dump_dir / "air.field"));
    }

    const double features_litres = sum_litres(features_ledger(request));
    Volume wanted_bare = request.net_volume - Volume::litres(features_litres);
    double nearest_error_rel = 1e300;
    for (int round = 0; round < kMostRounds; ++round) {
        if (context.is_cancelled()) return Context::interrupted();
        std::optional<BafflePlace> place;
        {
            const Stage stage(context, "size");
            place = baffle_place(space::VolumeTable::of(*air), request.baffle, wanted_bare);
            // A plane may cut the room into pieces; what hangs together with the largest is the box.
            if (place && keep_largest_piece(*air, place->air_y_mm).litres() > 0.0) {
                keep_largest_piece(made->room.outer, place->outer_y_mm);
                place = baffle_place(space::VolumeTable::of(*air), request.baffle, wanted_bare);
            }
            if (place && round == 0 && request.baffle.separate) {
                wanted_bare += rim_flange_volume(*air, place->air_y_mm, request);
                place = baffle_place(space::VolumeTable::of(*air), request.baffle, wanted_bare);
            }
            if (!place) return no_place(surface, request, space::VolumeTable::of(*air), features_litres, context);
        }
        std::optional<Result<Skins>> skins;
        {
            const Stage stage(context, "skin");
            skins = make_skins(made->room.outer, *air, request, *place, context);
            if (!*skins) return staged(std::move(*skins).error(), "skin");
        }
        const Stage stage(context, "part");
        GAPWRIGHT_TRY(bodies, bare_bodies(**skins, request, *place));
        auto featured = add_features(bodies, made->room, request, context, &surface);
        if (!featured) return staged(std::move(featured).error(), "part");

        Enclosure& enclosure = made->enclosure = std::move(*featured);
        enclosure.outer_quality = (*skins)->outer.quality;
        enclosure.inner_quality = (*skins)->inner.quality;
        enclosure.baffle_t_mm = place->t_mm;
        enclosure.baffle_plane = bodies.baffle_plane;
        const double features_made = sum_litres(enclosure.ledger) - enclosure.ledger.front().litres;
        enclosure.net_by_field = place->bare_air + Volume::litres(features_made);
        enclosure.uncertainty_rel = uncertainty(request, enclosure);

        const Volume off = request.net_volume - enclosure.net_by_brep;
        const double error_rel = std::abs(off / request.net_volume);
        if (error_rel <= request.tolerance_rel / 4.0) break;
        if (error_rel >= nearest_error_rel) break;  // no nearer than the round before: the checks will say so
        nearest_error_rel = error_rel;
        wanted_bare += off;
    }
    return std::move(*made);
}

}  // namespace geom::parts
