// The way of a box from numbers to part. The open size is a root of the inside's closed form; what the features take is
// known once the part is made, so it is made again with that until the net volume measured is the one asked for.
#include "geom/parts/box.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/features.h"
#include "geom/parts/internal/box_boards.h"
#include "geom/parts/internal/site.h"
#include "geom/parts/port.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr int kMostRounds = 5;
constexpr double kFieldCells = 90.0;  // along the longest side
constexpr double kLeastCell_mm = 1.0;
constexpr double kSolved_mm = 1e-9, kGood_rel = 1e-9;

/// The box's own outside as a field: for what is planned by distances.
space::Field field_of(const BareBox& box, Vec3 up) {
    constexpr int kBeyond = 5;
    const Frame frame = space::box_frame(box.baffle, up);
    Aabb local;
    for (int corner = 0; corner < 8; ++corner)
        local.grow(frame.to_local({(corner & 1) != 0 ? box.box.hi.x : box.box.lo.x,
                                   (corner & 2) != 0 ? box.box.hi.y : box.box.lo.y,
                                   (corner & 4) != 0 ? box.box.hi.z : box.box.lo.z}));
    const Vec3 size = local.size();
    space::Field field;
    space::GridSpec& g = field.grid;
    g.vehicle_from_box = frame;
    g.h_mm = std::max(kLeastCell_mm, std::max({size.x, size.y, size.z}) / kFieldCells);
    g.lo = local.lo - Vec3{1, 1, 1} * (kBeyond * g.h_mm);
    const auto nodes = [&](double length) { return static_cast<int>(std::ceil(length / g.h_mm)) + 2 * kBeyond + 1; };
    g.nx = nodes(size.x), g.ny = nodes(size.y), g.nz = nodes(size.z);
    field.mm.reserve(g.count());
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i)
                field.mm.push_back(static_cast<float>(box.distance_mm(frame.to_parent(g.node(i, j, k)))));
    return field;
}

/// The request of the features, with what the shape says.
EnclosureRequest of_shape(const BoxRequest& box, const BareBox& bare) {
    EnclosureRequest request = box.enclosure;
    request.baffle.plane = bare.baffle;
    request.baffle.thickness = Length::mm(bare.baffle_mm);
    request.baffle.travel_lo_mm = request.baffle.travel_hi_mm = 0.0;
    request.baffle.rim_radius = Length::mm(0);
    double least = 1e300;
    for (const WallSide& side : bare.sides)
        if (side.name != box.baffle) least = std::min(least, side.thickness_mm);
    request.wall = Length::mm(least);
    request.room.baffle = bare.baffle;
    request.room.wall = request.wall;
    request.room.up = request.up;
    request.room.air = (bare.box.lo + bare.box.hi) / 2.0;
    request.inner_radius = Length::mm(0);
    if (request.driver) request.driver->centre = box.driver_at.value_or(bare.baffle.point);
    request.sides = bare.sides;
    return request;
}

/// The open size at which the inside has a volume; none within the range.
Result<double> size_for(const BoxRequest& request, Volume inside) {
    const auto inside_at = [&](double mm) -> std::optional<Volume> {
        BoxRequest tried = request;
        tried.sizes[*request.solve] = Length::mm(mm);
        const auto inside_there = inside_of(tried);
        return inside_there ? std::optional(*inside_there) : std::nullopt;
    };
    double lo = request.solve_lo_mm, hi = request.solve_hi_mm;
    // Near its ends the range may hold no box at all: a nose as high as the box, walls that meet.
    std::optional<Volume> at_lo = inside_at(lo), at_hi = inside_at(hi);
    constexpr int kPieces = 64;
    for (int i = 1; i < kPieces && !at_lo; ++i) {
        lo = request.solve_lo_mm + (request.solve_hi_mm - request.solve_lo_mm) * i / kPieces;
        at_lo = inside_at(lo);
    }
    for (int i = kPieces - 1; i > 0 && !at_hi; --i) {
        hi = request.solve_lo_mm + (request.solve_hi_mm - request.solve_lo_mm) * i / kPieces;
        at_hi = inside_at(hi);
    }
    const std::string what = name_of(*request.solve);
    if (!at_lo || !at_hi)
        return impossible(fmt::format("box: no {} from {} mm to {} mm makes a box with these walls", what,
                                      plain_number(request.solve_lo_mm), plain_number(request.solve_hi_mm)),
                          "give other sizes, thinner walls or another range", {});
    const auto [least, most] = std::minmax(*at_lo, *at_hi);
    if (inside < least || inside > most)
        return impossible(
            fmt::format("box: an inside of {:.3f} L is wanted, and {} from {} mm to {} mm gives {:.3f} L to {:.3f} L",
                        inside.litres(), what, tenths(lo), tenths(hi), least.litres(), most.litres()),
            inside > most ? "make another size larger, or widen the range"
                          : "make another size smaller, or widen the range",
            {});
    const bool rises = *at_hi > *at_lo;
    while (hi - lo > kSolved_mm) {
        const double mid = (lo + hi) / 2.0;
        if (mid <= lo || mid >= hi) break;
        const auto v = inside_at(mid);
        if (!v) break;
        ((*v < inside) == rises ? lo : hi) = mid;
    }
    return (lo + hi) / 2.0;
}

Volume sum_of(const std::vector<LedgerLine>& lines) {
    double litres = 0.0;
    for (const LedgerLine& line : lines) litres += line.litres;
    return Volume::litres(litres);
}

/// The box with the sizes as they are.
Result<Made> make_once(const BoxRequest& request, const Context& context) {
    const Stage stage(context, "part");
    GAPWRIGHT_TRY(bare, bare_box(request));
    Made made;
    made.request = of_shape(request, bare);
    made.room.outer = field_of(bare, made.request.up);
    GAPWRIGHT_TRY(
        enclosure,
        add_features({.outer = bare.outer, .air = bare.air, .baffle_plane = bare.baffle, .air_mm = bare.air_mm},
                     made.room, made.request, context));
    // The closed form of the inside for the air as the B-rep has it; all else is a closed form or measured by itself.
    const Volume others = sum_of(enclosure.ledger) - Volume::litres(enclosure.ledger.front().litres);
    enclosure.net_by_field = bare.inside + others;
    enclosure.uncertainty_rel = volume_uncertainty_rel(made.request, enclosure);
    enclosure.outside = bare.outside;
    enclosure.inside = bare.inside;
    if (!made.request.asks_volume) made.request.net_volume = enclosure.net_by_brep;
    if (request.solve)
        enclosure.solved = {.what = name_of(*request.solve),
                            .value_mm = request.sizes.at(*request.solve).mm(),
                            .text = fmt::format("{} of {} mm {}", name_of(*request.solve),
                                                plain_number(rounded(request.sizes.at(*request.solve).mm(), 2)),
                                                request.sizes_are_inside ? "inside" : "outside")};
    if (made.request.make.method == Method::Boards) {
        enclosure.boards = std::move(bare.boards);
        GAPWRIGHT_CHECK(finish_boards(made.request, enclosure));
    }
    made.enclosure = std::move(enclosure);
    return made;
}

}  // namespace

Result<MadeBox> make_box(const BoxRequest& asked, const Context& context) {
    BoxRequest request = asked;
    if (request.enclosure.make.method == Method::Boards && request.enclosure.baffle.separate) {
        // A baffle that comes off lies over the ends of all others.
        std::erase(request.through, request.baffle);
        request.through.insert(request.through.begin(), request.baffle);
    }
    if (request.enclosure.port && !request.enclosure.asks_volume) {
        GAPWRIGHT_TRY(bare, inside_of(request));
        request.enclosure.net_volume = bare;
    }
    Volume inside = request.enclosure.net_volume - sum_of(features_ledger(request.enclosure));
    for (int round = 1;; ++round) {
        if (context.is_cancelled()) return Context::interrupted();
        if (request.solve) {
            const Stage stage(context, "size");
            GAPWRIGHT_TRY(mm, size_for(request, inside));
            request.sizes[*request.solve] = Length::mm(mm);
        }
        GAPWRIGHT_TRY(made, make_once(request, context));
        // A port's tube follows the volume that was measured: its own change of that is small.
        if (!request.solve && !is_in_tune(made.enclosure) && round < kMostRounds) {
            GAPWRIGHT_TRY(length, port_length(made.request, made.enclosure.net_by_brep));
            request.enclosure.port->length = length;
            continue;
        }
        const Volume off = request.enclosure.net_volume - made.enclosure.net_by_brep;
        if (!request.solve || std::abs(off / request.enclosure.net_volume) <= kGood_rel || round == kMostRounds)
            return MadeBox{std::move(made), std::move(request)};
        inside += off;
    }
}

}  // namespace geom::parts
