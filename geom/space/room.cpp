// The chain, top to bottom: the grid, the room as it stands, the way in, the continuation past the mouth, signed
// distance, outside rounding, and of that the part that holds `air`.
#include "geom/space/room.h"

#include "geom/core/parallel.h"
#include "geom/space/cut.h"
#include "geom/space/internal/free_edge.h"
#include "geom/space/internal/insertion.h"
#include "geom/space/internal/mouth.h"
#include "geom/space/internal/moved_in.h"
#include "geom/space/internal/opening.h"
#include "geom/space/internal/past_limit.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/internal/room_job.h"
#include "geom/space/internal/standing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::space {
namespace {

using namespace internal;

constexpr double kWayNoise = 0.4, kWayNoiseMost_mm = 0.15;  // of the scan's standard deviation; at most
constexpr double kFieldBound =
    0.12;  // of a voxel: what rounding and the grid may add, worst seen over the tests' scenes

/// Standing field in, what can also come in: along a straight way, or by moves.
///
/// The highest of many noisy distances along a way is biased by the noise: a wall that runs along it would come out a
/// tenth of a millimetre too near. What stands out by less than the noise that levelling leaves is not in the way.
void take_way_in(const RoomJob& job, Standing& s, const scan::Surface& scanned, const Context& context) {
    const Stage stage(context, "space/insertion");
    const double tolerance_mm = std::min(kWayNoise * scanned.noise_mm, kWayNoiseMost_mm);
    if (!job.way.is_empty()) return take_moves_in(job, s, scanned, tolerance_mm);
    const GridSpec& grid = s.at.grid;
    const auto clearance = static_cast<float>(job.way_clearance_mm);
    Way way;
    way.tolerance_mm = static_cast<float>(tolerance_mm);
    way.is_beyond = [&](Point3 p) { return job.is_beyond_open(p); };
    // Beyond an open plane: the scanned surface and the keep-outs, but no limit.
    way.beyond_grid = grid;
    if (job.opens_at_mouth_alone) way.beyond_grid.ny = std::min(grid.ny, s.at.mouth + 3);
    std::vector<float> beyond(way.beyond_grid.count());
    parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t k = begin; k < end; ++k)
            for (int j = 0; j < way.beyond_grid.ny; ++j) {
                const std::size_t from = grid.index(0, j, static_cast<int>(k)),
                                  to = way.beyond_grid.index(0, j, static_cast<int>(k));
                for (std::size_t i = 0; i < static_cast<std::size_t>(grid.nx); ++i)
                    beyond[to + i] = clearance - s.surface[from + i];
                job.raise_to_obstacles(grid, j, static_cast<int>(k), Stand::GoingIn, beyond.data() + to);
            }
    });
    way.beyond = &beyond;
    // In front of the mouth the room's own field goes on as it arrives there, so that it is smooth across.
    for (int k = 0; k < grid.nz; ++k)
        for (int j = 0; j < s.at.mouth; ++j)
            std::copy_n(s.phi.begin() + static_cast<std::ptrdiff_t>(grid.index(0, s.at.mouth, k)), grid.nx,
                        s.phi.begin() + static_cast<std::ptrdiff_t>(grid.index(0, j, k)));
    // Standing and coming in differ when the clearances do, where an open plane closes the room but not the way, and
    // where a keep-out moves.
    std::vector<float> own;
    if (job.way_clearance_mm != job.clearance_mm || !job.opens_at_mouth_alone || job.moves_aside()) {
        own = s.phi;
        parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            std::vector<float> row(static_cast<std::size_t>(grid.nx));
            for (std::size_t k = begin; k < end; ++k)
                for (int j = s.at.mouth; j < grid.ny; ++j) {
                    std::fill(row.begin(), row.end(), -1e6f);
                    job.raise_to_planes(grid, j, static_cast<int>(k), true, row.data());
                    job.raise_to_obstacles(grid, j, static_cast<int>(k), Stand::GoingIn, row.data());
                    const std::size_t first = grid.index(0, j, static_cast<int>(k));
                    for (std::size_t i = 0; i < row.size(); ++i)
                        if (s.in[first + i] != 2) own[first + i] = std::max(row[i], clearance - s.surface[first + i]);
                }
        });
        for (int k = 0; k < grid.nz; ++k)
            for (int j = 0; j < s.at.mouth; ++j)
                std::copy_n(own.begin() + static_cast<std::ptrdiff_t>(grid.index(0, s.at.mouth, k)), grid.nx,
                            own.begin() + static_cast<std::ptrdiff_t>(grid.index(0, j, k)));
    }
    way.inside = own.empty() ? &s.phi : &own;
    s.phi = insertable(grid, s.phi, way, job.out);
    job.raise_to_swept_obstacles(grid, s.phi);
}

/// Drops the nodes in front of what the body needs there.
void cut_front(const RoomJob& job, Standing& s) {
    const int drop = s.at.mouth - nodes_past_mouth(job, s.at.grid.h_mm);
    if (drop <= 0) return;
    GridSpec g = s.at.grid;
    g.ny -= drop;
    g.lo.y += drop * g.h_mm;
    std::vector<float> phi(g.count());
    for (int k = 0; k < g.nz; ++k)
        std::copy_n(s.phi.begin() + static_cast<std::ptrdiff_t>(s.at.grid.index(0, drop, k)),
                    static_cast<std::ptrdiff_t>(g.nx) * g.ny,
                    phi.begin() + static_cast<std::ptrdiff_t>(g.index(0, 0, k)));
    s.phi = std::move(phi);
    s.at.grid = g;
    s.at.mouth -= drop;
    s.at.seed[1] -= drop;
}

/// The part of the body to keep: the one that holds `air`, or else the largest.
Flooded kept_part(const GridSpec& g, const std::vector<float>& body, std::array<int, 3> seed, bool& holds_air) {
    Flooded kept = flood(g, body, 0.0f, seed);
    holds_air = !kept.is_empty();
    if (holds_air) return kept;
    std::vector<float> left = body;
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                if (!(left[g.index(i, j, k)] < 0.0f)) continue;
                Flooded one = flood(g, left, 0.0f, {i, j, k});
                for (std::size_t q = 0; q < left.size(); ++q)
                    if (one.in[q]) left[q] = 1.0f;
                if (one.count > kept.count) kept = std::move(one);
            }
    return kept;
}

}  // namespace

Result<Room> free_room(const scan::Surface& surface, const RoomOptions& options, const Context& context) {
    EXPECTS(surface.points.size() == surface.normals.size() && surface.points.size() == surface.radius_mm.size());
    EXPECTS(options.travel_hi_mm >= options.travel_lo_mm);
    EXPECTS(options.clearance.mm() >= 0.0 && options.covering.mm() >= 0.0 && options.edge_radius.mm() >= 0.0 &&
            options.wall.mm() > 0.0);
    const Stage stage(context, "space");
    if (surface.points.empty())
        return space_fault(FaultCode::BadScan, "the scan holds no surface, wanted the sides of a gap",
                           "scan the gap again");
    GAPWRIGHT_TRY(job, resolved(options));
    GAPWRIGHT_TRY(at, laid(job, options, surface));
    const auto sweep = [&](const GridSpec& grid) {
        const Stage sweeping(context, "space/sweeps");
        job.sweep_on(grid);
    };
    sweep(at.grid);
    auto standing = standing_room(job, at, surface, options, context);
    if (!standing && at.is_cut && standing.error().code == FaultCode::Leak) {
        // Perhaps only out of the cut: look again with the whole scan, if that fits.
        if (auto all = laid(job, options, surface, true)) {
            sweep(all->grid);
            standing = standing_room(job, *all, surface, options, context);
        }
    }
    if (!standing) return std::move(standing).error();
    Standing& s = *standing;
    if (context.is_cancelled()) return Context::interrupted();

    if (options.comes_in) take_way_in(job, s, surface, context);
    if (context.is_cancelled()) return Context::interrupted();
    s.surface = {}, s.in = {};
    cut_front(job, s);
    const GridSpec& grid = s.at.grid;
    const double h = grid.h_mm, radius = job.radius_mm, deep = job.wall_mm + 6.0 * h;
    std::vector<SharpEdge> edges = sharp_edges_of(options);
    for (SharpEdge& edge : edges) edge.free = free_along(edge, grid, s.phi, radius, kFieldBound * h);
    continue_past_mouth(grid, s.at.mouth, job.wall_mm + 4.0 * h + 4.0, 4, s.phi);
    for (const Closing& c : job.closing)
        if (c.edges != LimitEdges::Rounded) continue_past_limit(grid, c, past_sharp_mm(job, h), s.phi);

    std::vector<float> body;
    {
        const Stage distance(context, "space/distance");
        body = redistance(grid, s.phi, {-std::max(deep, radius + 3.0 * h), radius > 0.0 ? 0.0 : 4.0 * h},
                          sharp_edges(grid, s.phi));
        s.phi = {};
    }
    if (context.is_cancelled()) return Context::interrupted();
    if (radius > 0.0) {
        const Stage rounding(context, "space/rounding");
        body = opened(grid, body, 0.0, radius, 4.0 * h);
    }
    bool holds_air = true;
    const Flooded kept = kept_part(grid, body, s.at.seed, holds_air);
    if (kept.is_empty() || kept.hi[1] <= s.at.mouth + 1)
        return space_fault(
            FaultCode::Impossible,
            fmt::format("nothing is left of the room after the way in and the outside rounding of {:.1f} mm", radius),
            "less clearance, a smaller edge_radius, or another direction of going in", options.air);
    if (!holds_air)
        s.notes.push_back(
            "`air` itself is not inside what is left after the way in and the rounding; the largest part was taken");
    for (std::size_t q = 0; q < body.size(); ++q)
        if (body[q] < 0.0f && !kept.in[q]) body[q] = std::max(0.5f * static_cast<float>(h), -body[q]);

    Room room;
    room.outer = {grid, std::move(body)};
    room.edges = std::move(edges);
    for (const Closing& c : job.closing)
        if (c.edges != LimitEdges::Rounded)
            room.cuts.push_back({c.name,
                                 {job.box.to_parent(c.plane.point - c.plane.outward * c.inset_mm),
                                  job.box.dir_to_parent(c.plane.outward)},
                                 c.edges == LimitEdges::Sharp});
    if (!room.cuts.empty()) room.beyond = room.outer;
    for (const SharpCut& c : room.cuts) cut(room.outer, c.face);
    room.report.voxel_mm = h;
    room.report.nodes = grid.count();
    room.report.field_bound_mm = kFieldBound * h;
    room.report.bound_mm = std::hypot(surface.bound_mm, kFieldBound * h);
    room.report.edge_bound_mm = std::hypot(surface.edge_bound_mm, kFieldBound * h);
    room.report.widest_leak_mm = static_cast<double>(s.widest_leak_mm);
    room.report.notes = std::move(job.notes);
    room.report.notes.insert(room.report.notes.end(), s.notes.begin(), s.notes.end());
    constexpr std::size_t kMostTold = 3;
    for (std::size_t i = 0; i < std::min(kMostTold, surface.layered.size()); ++i) {
        const scan::Layered& l = surface.layered[i];
        room.report.notes.push_back(
            fmt::format("the scan shows two layers {:.1f} mm apart near ({:.0f}, {:.0f}, {:.0f}), over {:.0f} mm: a "
                        "wall scanned twice whose "
                        "passes do not meet, or a thin sheet; the room ends at the nearer one",
                        l.apart_mm, l.place.x, l.place.y, l.place.z, l.size.mm()));
    }
    return room;
}

}  // namespace geom::space
