// The way of an enclosure from surface to part. make_enclosure() at the bottom is the whole of it; everything above
// it is one step each.
//
// Size    The fields give the first value of what is adjusted (adjust.h); the part is made there and its net volume
//         measured on the B-rep; while that is off by more than a quarter of the tolerance, the difference is added to
//         the wanted volume and the part is made again. The number promised is the number measured.
#include "geom/parts/enclosure.h"

#include "geom/parts/adjust.h"
#include "geom/parts/features.h"
#include "geom/parts/mount_plate.h"
#include "geom/parts/port.h"
#include "geom/parts/sharp_edge.h"

#include "geom/core/parallel.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {

namespace {

constexpr int kMostRounds = 4;
// Sharpest that the skins follow in general (a rim rolls along edges that are rounder than itself).
constexpr double kLeastEdge_mm = 4.0, kLeastInner_mm = 2.0;

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
        return Fault{
            FaultCode::BadJob,
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

/// Planes of the limits where they bound a body that keeps `inset` more from them; those that `cuts` make apart.
std::vector<Plane> flats(const EnclosureRequest& request, Length inset, bool is_air) {
    std::vector<Plane> planes;
    for (const space::Limit& limit : request.room.limits) {
        if (limit.edges == space::LimitEdges::Sharp || (limit.edges == space::LimitEdges::SharpOutside && !is_air))
            continue;
        const double in_mm = limit.clearance.mm() + (limit.covering ? request.room.covering.mm() : 0.0) + inset.mm();
        planes.push_back({limit.plane.point - limit.plane.outward * in_mm, limit.plane.outward});
    }
    return planes;
}

struct Skins {
    skin::Skin outer, inner;
};
/// Which of them found no fair faces.
struct Refused {
    bool outer = false, inner = false;
};

/// Both shells at one baffle place, made at the same time; before the cuts of sharp limits.
Result<Skins> make_skins(const Sized& sized, Refused& refused, const Context& context) {
    const EnclosureRequest& request = sized.request;
    const space::Field& outer = sized.room.beyond.mm.empty() ? sized.room.outer : sized.room.beyond;
    const space::Field& air = sized.cavity.beyond.mm.empty() ? sized.cavity.air : sized.cavity.beyond;
    const skin::SkinOptions outer_options{.name = "outer",
                                          .baffle_y_mm = sized.place.outer_y_mm,
                                          .rim_radius = request.baffle.rim_radius,
                                          .flats = flats(request, Length::mm(0), false)};
    const skin::SkinOptions inner_options{.name = "inner",
                                          .baffle_y_mm = sized.place.air_y_mm,
                                          .rim_radius = Length::mm(0),
                                          .flats = flats(request, request.wall, true)};
    std::optional<Result<skin::Skin>> outer_skin, inner_skin;
    parallel_invoke({[&] { outer_skin = skin::make_skin(outer, outer_options, context); },
                     [&] { inner_skin = skin::make_skin(air, inner_options, context); }});
    const auto is_refused = [](const auto& skin) { return !*skin && skin->error().code == FaultCode::MethodRefused; };
    refused = {is_refused(outer_skin), is_refused(inner_skin)};
    if (!*outer_skin) return std::move(*outer_skin).error();
    if (!*inner_skin) return std::move(*inner_skin).error();
    return Skins{std::move(**outer_skin), std::move(**inner_skin)};
}

Result<BareBodies> bare_bodies(const Skins& skins, const Sized& sized, const Context& context) {
    GAPWRIGHT_TRY(outer, skin::solid_from_shells(skins.outer.shell, Brep{}));
    GAPWRIGHT_TRY(air, skin::solid_from_shells(skins.inner.shell, Brep{}));
    const Plane at_zero = sized.request.baffle.plane;
    BareBodies bodies{outer, air, {at_zero.point + at_zero.outward * sized.place.t_mm, at_zero.outward}};
    for (const space::SharpCut& c : sized.room.cuts) {
        GAPWRIGHT_TRY(cut, cut_body("limit '" + c.name + "'", bodies.outer, c.face));
        bodies.outer = cut;
    }
    for (const Plane& c : sized.cavity.cuts) {
        GAPWRIGHT_TRY(cut, cut_body("air at a sharp limit", bodies.air, c));
        bodies.air = cut;
    }
    GAPWRIGHT_CHECK(sharpen(bodies, sized.room, sized.request, context));
    if (sized.pad_y_mm) bodies.pad_plane = Plane{at_zero.point - at_zero.outward * *sized.pad_y_mm, -at_zero.outward};
    return bodies;
}

/// Net volume by the field: all but the bare air and the pad is closed forms, or solids measured for themselves.
void measure_by_field(const Sized& sized, Enclosure& made) {
    double more = sum_litres(made.ledger) - made.ledger.front().litres + made.pad_by_brep.litres();
    for (const SharpEdgeMade& edge : made.sharp_edges) more += (edge.inside_by_form_mm3 - edge.inside_mm3) * 1e-6;
    const Volume pad = sized.pad_y_mm ? sized.filled : Volume();
    made.net_by_field = sized.place.bare_air - pad + Volume::litres(more);
}

/// What the box holds too much is told to a millilitre and counts as solid that stands in the air.
void tell_filling(const EnclosureRequest& request, Enclosure& made) {
    const double over = (made.net_by_brep - request.net_volume).litres();
    const Volume told = Volume::litres(std::max(0.0, std::round(over * 1e3) * 1e-3));
    made.ledger.push_back({"to be filled by hand", -told.litres()});
    made.net_by_brep = made.net_by_brep - told;
    made.net_by_field = made.net_by_field - told;
    made.solids_in_air += told;
}

Volume filled_by_brep(const Sized& sized, const Enclosure& made) {
    if (sized.pad_y_mm) return made.pad_by_brep;
    return sized.request.adjust.what == Adjust::What::Fill ? Volume::litres(-made.ledger.back().litres) : Volume();
}

/// Radii are the least that is asked. What is sharper than the skin can draw, and was refused, is rounded to what it
/// can.
bool round_more(const Refused& refused, EnclosureRequest& request, std::vector<std::string>& notes) {
    bool is_changed = false;
    const auto raise = [&](const char* key, Length& radius, double least_mm) {
        if (radius.mm() >= least_mm) return;
        notes.push_back(fmt::format("{}: {} mm asked is sharper than smooth faces can follow here; {} mm was taken",
                                    key, plain_number(radius.mm()), plain_number(least_mm)));
        radius = Length::mm(least_mm);
        is_changed = true;
    };
    if (refused.outer)
        raise("edge_radius", request.room.edge_radius, std::max(kLeastEdge_mm, request.baffle.rim_radius.mm() + 1.0));
    if (refused.inner) raise("inner_radius", request.inner_radius, kLeastInner_mm);
    request.room.inner_radius = request.inner_radius;
    return is_changed;
}

Result<Made> make_with_radii(const scan::Surface& surface, const EnclosureRequest& request, Refused& refused,
                             const Context& context) {
    Sizer sizer(surface, request, context);
    Enclosure enclosure;
    Volume wanted = request.net_volume;
    double nearest_error_rel = 1e300;
    for (int round = 0; round < kMostRounds; ++round) {
        if (context.is_cancelled()) return Context::interrupted();
        if (auto solved = sizer.solve(wanted); !solved) return staged(std::move(solved).error(), "size");
        const Sized& sized = sizer.now();
        std::optional<Result<Skins>> skins;
        {
            const Stage stage(context, "skin");
            skins = make_skins(sized, refused, context);
            if (!*skins) return staged(std::move(*skins).error(), "skin");
        }
        const Stage stage(context, "part");
        GAPWRIGHT_TRY(bodies, bare_bodies(**skins, sized, context));
        auto featured = add_features(bodies, sized.room, sized.request, context, &surface);
        if (!featured) return staged(std::move(featured).error(), "part");

        enclosure = std::move(*featured);
        enclosure.outer_quality = (*skins)->outer.quality;
        enclosure.inner_quality = (*skins)->inner.quality;
        enclosure.baffle_t_mm = sized.place.t_mm;
        enclosure.baffle_plane = bodies.baffle_plane;
        measure_by_field(sized, enclosure);
        if (request.adjust.what == Adjust::What::Fill && request.adjust.fill == Adjust::Fill::Told)
            tell_filling(request, enclosure);
        enclosure.uncertainty_rel = volume_uncertainty_rel(request, enclosure);
        enclosure.solved = solved_of(sized, filled_by_brep(sized, enclosure));

        note_tuning(sized.request, enclosure);
        const Volume off = request.net_volume - enclosure.net_by_brep;
        const double error_rel = std::abs(off / request.net_volume);
        if (error_rel <= request.tolerance_rel / 4.0 && is_in_tune(enclosure)) break;
        if (enclosure.port && enclosure.port->asked_hz > 0.0) {
            GAPWRIGHT_TRY(length, port_length(request, error_rel <= request.tolerance_rel / 4.0 ? enclosure.net_by_brep
                                                                                                : request.net_volume));
            sizer.set_port_length(length);
            if (error_rel <= request.tolerance_rel / 4.0) continue;
        }
        if (error_rel >= nearest_error_rel) break;  // no nearer than the round before: the checks will say so
        nearest_error_rel = error_rel;
        wanted += off;
    }
    Sized sized = sizer.take();
    if (enclosure.port) sized.request.port->length = Length::mm(enclosure.port->length_mm);
    return Made{std::move(sized.room), std::move(enclosure), std::move(sized.request)};
}

}  // namespace

Result<Made> make_enclosure(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    GAPWRIGHT_CHECK(refuse_senseless(request));
    GAPWRIGHT_CHECK(check_sharp_edges(request));
    GAPWRIGHT_TRY(limited, with_plate_limits(request));
    EnclosureRequest rounded = limited;
    std::vector<std::string> notes;
    for (;;) {
        Refused refused;
        auto made = make_with_radii(surface, rounded, refused, context);
        if (made) {
            auto& all = made->enclosure.notes;
            all.insert(all.begin(), notes.begin(), notes.end());
            limits_at_plates(made->request);
            return made;
        }
        if (context.is_cancelled() || !round_more(refused, rounded, notes)) return made;
    }
}

}  // namespace geom::parts
