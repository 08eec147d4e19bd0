// A plane may leave several pieces of the air behind it, and only the largest is the box. Which hang together changes
// only where a piece parts from another: one sweep from the deepest plane of nodes to the front, joining sets of nodes,
// tells the pieces behind every plane. A new volume table is needed only where, going inwards, a piece appears that was
// part of another before, or another becomes the largest; mostly there is one for all planes.
#include "geom/parts/capacity.h"

#include "geom/parts/driver_room.h"
#include "geom/parts/features.h"
#include "geom/parts/sharp_edge.h"
#include "geom/parts/size.h"

#include "geom/core/checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace geom::parts {

namespace {

/// The pieces of {body < 0} behind a plane of nodes, oldest first. A piece is named by its deepest node, so that its
/// name stays while planes in front of it are added.
struct Pieces {
    std::vector<std::uint32_t> names;
    std::uint32_t largest = 0;
};

class Joined {
public:
    explicit Joined(std::size_t count) : parent_(count, kNone), order_(count), size_(count) {}
    bool has(std::size_t node) const { return parent_[node] != kNone; }
    void add(std::uint32_t node) {
        parent_[node] = node;
        order_[node] = next_++;
        size_[node] = 1;
    }
    std::uint32_t name(std::uint32_t node) {
        while (parent_[node] != node) node = parent_[node] = parent_[parent_[node]];
        return node;
    }
    void join(std::uint32_t a, std::uint32_t b) {
        a = name(a), b = name(b);
        if (a == b) return;
        if (order_[b] < order_[a]) std::swap(a, b);
        parent_[b] = a;
        size_[a] += size_[b];
    }
    std::size_t size(std::uint32_t name) const { return size_[name]; }

private:
    static constexpr std::uint32_t kNone = 0xffffffffu;
    std::vector<std::uint32_t> parent_, order_, size_;
    std::uint32_t next_ = 0;
};

std::vector<Pieces> pieces_behind(const space::Field& body) {
    const space::GridSpec& g = body.grid;
    std::vector<Pieces> behind(static_cast<std::size_t>(g.ny));
    Joined joined(g.count());
    std::vector<std::uint32_t> names, layer;
    for (int j = g.ny - 1; j >= 0; --j) {
        layer.clear();
        for (int k = 0; k < g.nz; ++k)
            for (int i = 0; i < g.nx; ++i) {
                const std::size_t node = g.index(i, j, k);
                if (!(body.mm[node] < 0.0f)) continue;
                const auto n = static_cast<std::uint32_t>(node);
                joined.add(n);
                layer.push_back(n);
                if (i > 0 && joined.has(node - 1)) joined.join(n, n - 1);
                if (k > 0 && joined.has(g.index(i, j, k - 1)))
                    joined.join(n, static_cast<std::uint32_t>(g.index(i, j, k - 1)));
                if (j + 1 < g.ny && joined.has(g.index(i, j + 1, k)))
                    joined.join(n, static_cast<std::uint32_t>(g.index(i, j + 1, k)));
            }
        for (const std::uint32_t n : layer)
            if (joined.name(n) == n) names.push_back(n);
        std::erase_if(names, [&](std::uint32_t n) { return joined.name(n) != n; });
        Pieces& here = behind[static_cast<std::size_t>(j)];
        here.names = names;
        if (!names.empty())
            here.largest = *std::max_element(names.begin(), names.end(),
                                             [&](auto a, auto b) { return joined.size(a) < joined.size(b); });
    }
    return behind;
}

double y_of_air_mm(const EnclosureRequest& request, double t_mm) {
    return request.baffle.thickness.mm() - t_mm;
}

/// Net of what the table says; 0 where there is no air.
Volume net_of(Volume bare, Volume features, const space::Field& air, double t_mm, const EnclosureRequest& request,
              const space::Room* room) {
    if (bare.mm3() <= 0.0) return Volume::mm3(0);
    const Volume edges = room != nullptr ? sharp_edges_in_air(*room, air, request, t_mm) : Volume();
    return std::max(Volume::mm3(0), bare + features + edges - solids_in_air(air, y_of_air_mm(request, t_mm), request));
}

}  // namespace

Result<GapField> gap_field(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    const auto in_space = [](Fault fault) {
        if (fault.stage.empty()) fault.stage = "space";
        return fault;
    };
    auto room = space::free_room(surface, request.room, context);
    if (!room) return in_space(std::move(room).error());
    auto cavity = space::cavity(*room, request.wall, request.inner_radius, context);
    if (!cavity) return in_space(std::move(cavity).error());
    return GapField{std::move(*room), std::move(cavity->air)};
}

Volume features_volume(const EnclosureRequest& request) {
    double litres = 0.0;
    for (const LedgerLine& line : features_ledger(request)) litres += line.litres;
    return Volume::litres(litres);
}

Volume net_volume_at(const space::Field& air, const EnclosureRequest& request, double t_mm, const space::Room* room) {
    space::Field kept = air;
    const double y_mm = y_of_air_mm(request, t_mm);
    keep_largest_piece(kept, y_mm);
    return net_of(space::VolumeTable::of(kept).volume_behind(y_mm), features_volume(request), kept, t_mm, request,
                  room);
}

Result<Volume> most_net_volume(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    GAPWRIGHT_TRY(gap, gap_field(surface, request, context));
    return net_volume_at(gap.air, request, request.baffle.travel_hi_mm, &gap.room);
}

CapacityCurve::CapacityCurve(const space::Field& air, const EnclosureRequest& request, const space::Room* room)
    : air_(air), request_(request), room_(room), features_(features_volume(request)) {
    const std::vector<Pieces> behind = pieces_behind(air);
    for (const Pieces& p : behind) pieces_.push_back(p.names.size());
    const int first = plane_index(air_y_mm(request.baffle.travel_hi_mm));
    const int last = plane_index(air_y_mm(request.baffle.travel_lo_mm));
    std::shared_ptr<const space::VolumeTable> whole;
    const Pieces* of_run = nullptr;
    for (int j = first; j <= last; ++j) {
        const Pieces& here = behind[static_cast<std::size_t>(j)];
        const auto is_known = [&](std::uint32_t name) {
            return std::find(of_run->names.begin(), of_run->names.end(), name) != of_run->names.end();
        };
        if (of_run != nullptr && here.largest == of_run->largest &&
            std::all_of(here.names.begin(), here.names.end(), is_known)) {
            runs_.back().end = j + 1;
            continue;
        }
        of_run = &here;
        if (here.names.size() > 1) {
            space::Field kept = air;
            keep_largest_piece(kept, air.grid.lo.y + j * air.grid.h_mm);
            runs_.push_back({j, j + 1, std::make_shared<space::VolumeTable>(space::VolumeTable::of(kept))});
        } else {
            if (!whole) whole = std::make_shared<space::VolumeTable>(space::VolumeTable::of(air));
            runs_.push_back({j, j + 1, whole});
        }
    }
}

/// The first plane of nodes at or behind `y`: those that keep_largest_piece() looks at begin there.
int CapacityCurve::plane_index(double y_mm) const {
    const space::GridSpec& g = air_.grid;
    return std::clamp(static_cast<int>(std::ceil((y_mm - g.lo.y) / g.h_mm)), 0, g.ny - 1);
}

const space::VolumeTable* CapacityCurve::table_at(double y_mm) const {
    const int j = plane_index(y_mm);
    for (const Run& run : runs_)
        if (j >= run.first && j < run.end) return run.table.get();
    return nullptr;
}

std::size_t CapacityCurve::pieces_at(double t_mm) const {
    return pieces_[static_cast<std::size_t>(plane_index(air_y_mm(t_mm)))];
}

Volume CapacityCurve::net_at(double t_mm) const {
    const double y_mm = air_y_mm(t_mm);
    const space::VolumeTable* table = table_at(y_mm);
    EXPECTS(table != nullptr);  // within the travel
    return net_of(table->volume_behind(y_mm), features_, air_, t_mm, request_, room_);
}

Area CapacityCurve::section_at(double t_mm) const {
    const double y_mm = air_y_mm(t_mm);
    const space::VolumeTable* table = table_at(y_mm);
    EXPECTS(table != nullptr);
    return table->section_at(y_mm);
}

std::optional<double> CapacityCurve::place_for(Volume net) const {
    double lo = request_.baffle.travel_lo_mm, hi = request_.baffle.travel_hi_mm;
    if (net_at(hi) < net || net_at(lo) > net) return std::nullopt;
    while (hi - lo > 1e-7) {
        const double middle = 0.5 * (lo + hi);
        (net_at(middle) < net ? lo : hi) = middle;
    }
    return hi;
}

namespace {

/// 1, 2 or 5 times a power of ten, so that a hundred or so of it make the travel.
double round_step(double travel_mm) {
    const double raw = std::max(travel_mm, 1.0) / 100.0, power = std::pow(10.0, std::floor(std::log10(raw)));
    for (const double m : {1.0, 2.0, 5.0})
        if (m * power >= raw * (1.0 - 1e-9)) return m * power;
    return 10.0 * power;
}

}  // namespace

Result<Capacity> capacity_of(const GapField& gap, const EnclosureRequest& asked_for) {
    EnclosureRequest request = asked_for;
    Baffle& baffle = request.baffle;
    const bool is_fixed = baffle.travel_hi_mm - baffle.travel_lo_mm < 1e-6;
    if (is_fixed) {
        const space::GridSpec& g = gap.air.grid;
        baffle.travel_lo_mm = std::min(baffle.travel_lo_mm, baffle.thickness.mm() - (g.lo.y + g.h_mm * (g.ny - 1)));
    }
    const CapacityCurve curve(gap.air, request, &gap.room);
    const DriverRoom driver_room(gap.air, request);
    const auto place = [&](double t_mm) {
        const DriverDepth depth = driver_room.depth_at(t_mm);
        return CapacityPlace{
            t_mm, curve.net_at(t_mm), curve.section_at(t_mm), depth.magnet_mm, depth.basket_mm, curve.pieces_at(t_mm)};
    };
    Capacity capacity;
    capacity.is_fixed = is_fixed;
    capacity.features = features_ledger(request);
    capacity.depth_is = driver_room.what();
    std::vector<double> at{baffle.travel_lo_mm, baffle.travel_hi_mm};
    const double step = round_step(baffle.travel_hi_mm - baffle.travel_lo_mm);
    for (double n = std::ceil(baffle.travel_lo_mm / step); n * step < baffle.travel_hi_mm; ++n) at.push_back(n * step);
    const std::optional<double> asked = curve.place_for(request.net_volume);
    if (asked) at.push_back(*asked);
    std::sort(at.begin(), at.end());
    at.erase(std::unique(at.begin(), at.end(), [](double a, double b) { return b - a < 1e-6; }), at.end());
    for (const double t_mm : at) capacity.places.push_back(place(t_mm));
    if (asked) capacity.asked = place(*asked);
    if (is_fixed) {  // of the places without air none but the last says anything
        const auto first = std::find_if(capacity.places.begin(), capacity.places.end(),
                                        [](const auto& p) { return p.net.mm3() > 0.0; });
        if (first != capacity.places.end() && first != capacity.places.begin())
            capacity.places.erase(capacity.places.begin(), first - 1);
    }
    for (const CapacityPlace& p : capacity.places)
        if (p.net >= capacity.most) capacity.most = p.net, capacity.most_t_mm = p.t_mm;
    if (capacity.most.mm3() <= 0.0)
        return Fault{
            FaultCode::Impossible,
            fmt::format(
                "baffle: its travel from {:g} to {:g} mm never meets the room, wanted a plane with air behind it",
                baffle.travel_lo_mm, baffle.travel_hi_mm),
            "move [enclosure] baffle.point or travel, or make the wall thinner", baffle.plane.point, "size"};
    return capacity;
}

}  // namespace geom::parts
