// The chain, top to bottom:
//   lay the grid (its planes follow the baffle, one of them lies exactly in the outermost baffle place)
//   distance to the samples: rough everywhere, exact in the band that can hold the room's border
//   max with limits, open planes and keep-outs; flood from `air`; a way out is a leak
//   the way in; the continuation past the mouth
//   signed distance; outside rounding; the part of it that holds `air`
#include "geom/space/room.h"

#include "geom/core/parallel.h"
#include "geom/space/internal/flood.h"
#include "geom/space/internal/insertion.h"
#include "geom/space/internal/keep_out.h"
#include "geom/space/internal/mouth.h"
#include "geom/space/internal/opening.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/internal/rim.h"
#include "geom/space/internal/rough_distance.h"
#include "geom/space/internal/sample_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace geom::space {
namespace {

using namespace internal;

constexpr double kBytesPerNode = 44.0;
constexpr float kFree = -1e6f;

Fault fault(FaultCode code, std::string what, std::string hint, std::optional<Point3> where = {}) {
    return {code, std::move(what), std::move(hint), where, "space"};
}

/// A plane in box numbers that closes the room: the body stays where height <= -inset.
struct Closing {
    std::string name;
    Plane plane;
    double inset_mm = 0.0;
    double value(Point3 p) const { return plane.height(p) + inset_mm; }
};

struct Obstacle {
    std::string name;
    std::unique_ptr<ShapeDistance> shape;
    double margin_mm = 0.0;
    Aabb box;  ///< box frame, of where it can matter
};

struct Job {
    Frame box;
    double clearance_mm = 0.0;  ///< bare part to surface, standing
    double way_clearance_mm = 0.0;
    double mouth_y_mm = 0.0;
    Vec3 out;                   ///< direction of leaving, box axes
    Point3 air;
    std::vector<Closing> closing;  ///< limits, and open planes: nothing grows beyond
    std::vector<Plane> open;       ///< box frame; beyond them the way is free
    std::vector<Obstacle> obstacles;
};

Plane to_box(const Frame& f, const Plane& p) { return {f.to_local(p.point), f.dir_to_local(unit(p.outward))}; }

Aabb box_of(const Frame& f, const Aabb& vehicle) {
    Aabb b;
    for (int c = 0; c < 8; ++c)
        b.grow(f.to_local({(c & 1) ? vehicle.hi.x : vehicle.lo.x, (c & 2) ? vehicle.hi.y : vehicle.lo.y, (c & 4) ? vehicle.hi.z : vehicle.lo.z}));
    return b;
}

Result<Job> resolve(const RoomOptions& o) {
    Job job;
    job.box = box_frame(o.baffle, o.up);
    const double covering = o.covering.mm();
    job.clearance_mm = o.clearance.mm() + covering;
    job.way_clearance_mm = o.insert_clearance.value_or(o.clearance).mm() + covering;
    job.mouth_y_mm = -o.travel_hi_mm;
    const Vec3 insert = o.insert ? unit(*o.insert) : job.box.y;
    job.out = -job.box.dir_to_local(insert);
    job.air = job.box.to_local(o.air);
    for (const Limit& l : o.limits)
        job.closing.push_back({l.name, to_box(job.box, l.plane), l.clearance.mm() + (l.covering ? covering : 0.0)});
    for (const OpenPlane& p : o.open) {
        job.open.push_back(to_box(job.box, p.plane));
        job.closing.push_back({p.name, job.open.back(), 0.0});
    }
    if (o.open.empty()) job.open.push_back({{0, job.mouth_y_mm, 0}, {0, -1, 0}});
    for (const KeepOut& k : o.keep_outs) {
        GAPWRIGHT_TRY(shape, shape_distance(k));
        Obstacle ob{k.name, std::move(shape), k.clearance.mm() + (k.covering ? covering : 0.0), {}};
        ob.box = box_of(job.box, ob.shape->box());
        job.obstacles.push_back(std::move(ob));
    }
    return job;
}

/// Grid box from the scan's box, cut back by the planes that close the room.
Aabb extent(const Job& job, const Aabb& scan, double margin) {
    Aabb b{scan.lo - Vec3{margin, margin, margin}, scan.hi + Vec3{margin, margin, margin}};
    std::vector<Plane> planes;
    for (const Closing& c : job.closing) planes.push_back(c.plane);
    for (int round = 0; round < 2; ++round)
        for (const Plane& p : planes)
            for (std::size_t a = 0; a < 3; ++a) {
                if (std::abs(p.outward[a]) < 0.05) continue;
                // outward . x <= d, with the other two axes at their best
                double d = dot(p.outward, p.point) + 1.0;
                for (std::size_t other = 0; other < 3; ++other)
                    if (other != a) d -= std::min(p.outward[other] * b.lo[other], p.outward[other] * b.hi[other]);
                const double bound = d / p.outward[a];
                if (p.outward[a] > 0.0) b.hi[a] = std::min(b.hi[a], bound);
                else b.lo[a] = std::max(b.lo[a], bound);
            }
    return b;
}

/// Raises a row of nodes to what the keep-outs forbid.
void raise_to_obstacles(const Job& job, const GridSpec& grid, int j, int k, float* row) {
    const double h = grid.h_mm;
    for (const Obstacle& ob : job.obstacles) {
        const double reach = ob.margin_mm + 6.0 * h;
        const Point3 p = grid.node(0, j, k);
        if (p.y < ob.box.lo.y - reach || p.y > ob.box.hi.y + reach || p.z < ob.box.lo.z - reach || p.z > ob.box.hi.z + reach) continue;
        const int i0 = std::max(0, static_cast<int>(std::floor((ob.box.lo.x - reach - p.x) / h)));
        const int i1 = std::min(grid.nx - 1, static_cast<int>(std::ceil((ob.box.hi.x + reach - p.x) / h)));
        for (int i = i0; i <= i1; ++i)
            row[i] = std::max(row[i], static_cast<float>(ob.margin_mm - ob.shape->at(job.box.to_parent(grid.node(i, j, k)))));
    }
}

double chosen_voxel(const RoomOptions& o, double spacing) {
    if (o.voxel.mm() > 0.0) return o.voxel.mm();
    double h = std::min(o.wall.mm() / 2.0, 2.5);
    if (o.edge_radius.mm() > 0.0) h = std::min(h, o.edge_radius.mm() / 2.0);
    h = std::min(h, std::max(o.clearance.mm(), 2.0) / 2.0);
    return std::max({h, 0.5 * spacing, 0.5});
}

}  // namespace

Result<Room> free_room(const scan::Surface& surface, const RoomOptions& options, const Context& context) {
    EXPECTS(surface.points.size() == surface.normals.size() && surface.points.size() == surface.radius_mm.size());
    EXPECTS(options.travel_hi_mm >= options.travel_lo_mm);
    const Stage stage(context, "space");
    if (surface.points.empty()) return fault(FaultCode::BadScan, "the scan holds no surface", "scan the gap again");
    GAPWRIGHT_TRY(job, resolve(options));

    Room result;

    // --- the grid
    double h = chosen_voxel(options, surface.spacing_mm);
    const double radius = options.edge_radius.mm(), wall = options.wall.mm();
    Aabb scan;
    for (const Point3& p : surface.points) scan.grow(job.box.to_local(p));
    const double margin = job.clearance_mm + 4.0 * h + 8.0;
    Aabb room_box = extent(job, scan, margin);
    if (job.mouth_y_mm > scan.hi.y)
        return fault(FaultCode::AirBlocked, fmt::format("baffle: its outermost place lies {:.1f} mm behind the whole scan", job.mouth_y_mm - scan.hi.y),
                     "check the baffle's point, outward and travel", options.baffle.point);
    const auto past = [&](double step) { return static_cast<int>(std::ceil((wall + radius + wall + 8.0 * step) / step)) + 5; };
    const auto lay = [&](double step) {
        GridSpec g;
        g.vehicle_from_box = job.box;
        g.h_mm = step;
        g.lo = {room_box.lo.x - 4.0 * step, job.mouth_y_mm - past(step) * step, room_box.lo.z - 4.0 * step};
        g.nx = static_cast<int>(std::ceil((room_box.hi.x - g.lo.x) / step)) + 5;
        g.ny = static_cast<int>(std::ceil((room_box.hi.y - g.lo.y) / step)) + 5;
        g.nz = static_cast<int>(std::ceil((room_box.hi.z - g.lo.z) / step)) + 5;
        return g;
    };
    GridSpec grid = lay(h);
    const auto fits = [&](const GridSpec& g) { return static_cast<double>(g.count()) * kBytesPerNode <= options.memory_limit_bytes; };
    if (!fits(grid)) {
        double finest = h;
        while (!fits(lay(finest)) && finest < 50.0) finest *= 1.02;
        const bool usable = options.voxel.mm() <= 0.0 && finest <= std::min(3.0, wall / 2.0);
        if (!usable)
            return fault(FaultCode::MemoryLimit,
                         fmt::format("the room would need {:.0f} MB at a voxel of {:.2f} mm, {:.0f} MB are allowed",
                                     static_cast<double>(grid.count()) * kBytesPerNode / 1e6, h, options.memory_limit_bytes / 1e6),
                         fmt::format("the finest voxel that fits is {:.2f} mm; or close the room with limits nearer to the gap", std::ceil(finest * 100.0) / 100.0));
        h = finest;
        grid = lay(h);
    }
    const int mouth = past(h);

    // --- is `air` in the air?
    if (job.air.y < job.mouth_y_mm)
        return fault(FaultCode::AirBlocked, fmt::format("air: the point lies {:.1f} mm in front of the outermost baffle place, wanted behind it", job.mouth_y_mm - job.air.y),
                     "move `air` into the gap, or let the baffle travel farther out", options.air);
    for (const Closing& c : job.closing)
        if (c.value(job.air) >= 0.0)
            return fault(FaultCode::AirBlocked, fmt::format("air: the point lies {:.1f} mm beyond limit '{}', wanted behind it", c.value(job.air), c.name),
                         "move `air` or the limit", options.air);
    for (const Obstacle& ob : job.obstacles)
        if (const double d = ob.shape->at(options.air); d <= ob.margin_mm)
            return fault(FaultCode::AirBlocked, fmt::format("air: the point lies {:.1f} mm from keep-out '{}', more than {:.1f} mm wanted", d, ob.name, ob.margin_mm),
                         "move `air` or the keep-out", options.air);
    const Vec3 seed_at = (job.air - grid.lo) / h;
    std::array<int, 3> seed{static_cast<int>(std::lround(seed_at.x)), static_cast<int>(std::lround(seed_at.y)), static_cast<int>(std::lround(seed_at.z))};
    if (seed[0] < 1 || seed[1] < 1 || seed[2] < 1 || seed[0] > grid.nx - 2 || seed[1] > grid.ny - 2 || seed[2] > grid.nz - 2)
        return fault(FaultCode::AirBlocked, "air: the point lies outside the scan", "give a point in the air of the gap, in the vehicle frame", options.air);
    seed[1] = std::max(seed[1], mouth);

    // --- distance
    std::vector<LocalSample> samples(surface.points.size());
    parallel_for(samples.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t q = begin; q < end; ++q) {
            const Vec3 p = job.box.to_local(surface.points[q]) - grid.lo, n = job.box.dir_to_local(surface.normals[q]);
            samples[q] = {{static_cast<float>(p.x), static_cast<float>(p.y), static_cast<float>(p.z)},
                          {static_cast<float>(n.x), static_cast<float>(n.y), static_cast<float>(n.z)}, surface.radius_mm[q]};
        }
    });
    const double farthest = std::max(job.clearance_mm, job.way_clearance_mm) + 4.5 * h;
    RimCarriedOn rim;
    {
        const Stage s(context, "space/rim");
        std::vector<ClosingPlane> planes;
        const auto add = [&](const std::string& name, Vec3 outward, double at) {
            planes.push_back({name, {static_cast<float>(outward.x), static_cast<float>(outward.y), static_cast<float>(outward.z)},
                              static_cast<float>(at - dot(outward, grid.lo))});
        };
        add("the outermost baffle place", {0, -1, 0}, -job.mouth_y_mm);
        for (const Closing& c : job.closing) add("'" + c.name + "'", c.plane.outward, dot(c.plane.outward, c.plane.point) - c.inset_mm);
        rim = carry_on(samples, planes, static_cast<float>(2.0 * job.clearance_mm + 4.0 * surface.spacing_mm));
        if (rim.farthest_mm > 2.0f * static_cast<float>(surface.spacing_mm))
            result.report.notes.push_back(fmt::format("the scan stops up to {:.1f} mm short of {}; its walls were carried on straight to there",
                                                      rim.farthest_mm, planes[rim.plane].name));
    }
    std::vector<float> rough;
    {
        const Stage s(context, "space/rough distance");
        std::vector<Vec3f> places(samples.size());
        for (std::size_t q = 0; q < samples.size(); ++q) places[q] = samples[q].at;
        if (!rim.added.empty()) {
            // In front of the mouth only what was scanned counts: what was added must not stand in the way.
            GridSpec front = grid;
            front.ny = mouth;
            std::vector<float> real = rough_distance(front, places, farthest);
            for (const LocalSample& added : rim.added) places.push_back(added.at);
            rough = rough_distance(grid, places, farthest);
            for (int k = 0; k < grid.nz; ++k)
                std::copy_n(real.begin() + static_cast<std::ptrdiff_t>(front.index(0, 0, k)), static_cast<std::ptrdiff_t>(grid.nx) * mouth,
                            rough.begin() + static_cast<std::ptrdiff_t>(grid.index(0, 0, k)));
        } else {
            rough = rough_distance(grid, places, farthest);
        }
    }
    if (context.is_cancelled()) return Context::interrupted();
    std::unique_ptr<SampleTree> tree, with_rim;
    {
        const Stage s(context, "space/tree");
        if (!rim.added.empty()) {
            std::vector<LocalSample> all = samples;
            all.insert(all.end(), rim.added.begin(), rim.added.end());
            with_rim = std::make_unique<SampleTree>(std::move(all));
        }
        tree = std::make_unique<SampleTree>(std::move(samples));
    }
    const SampleTree& room_tree = with_rim ? *with_rim : *tree;
    const auto clearance = static_cast<float>(job.clearance_mm), hf = static_cast<float>(h);

    // --- what closes the room besides the scan
    std::vector<float> other(grid.count(), kFree);
    {
        const Stage s(context, "space/limits");
        parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t k = begin; k < end; ++k)
                for (int j = 0; j < grid.ny; ++j) {
                    float* row = other.data() + grid.index(0, j, static_cast<int>(k));
                    for (const Closing& c : job.closing) {
                        const Point3 first = grid.node(0, j, static_cast<int>(k));
                        const double v0 = c.value(first), step = c.plane.outward.x * h;
                        for (int i = 0; i < grid.nx; ++i) row[i] = std::max(row[i], static_cast<float>(v0 + i * step));
                    }
                    raise_to_obstacles(job, grid, j, static_cast<int>(k), row);
                }
        });
    }

    // --- the band in which the exact distance decides
    std::vector<float> phi(grid.count());
    std::vector<unsigned char> wanted;
    {
        const Stage s(context, "space/band");
        parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t q = grid.index(0, 0, static_cast<int>(begin)); q < begin * 0 + static_cast<std::size_t>(end) * static_cast<std::size_t>(grid.nx) * static_cast<std::size_t>(grid.ny); ++q)
                phi[q] = std::max(other[q], clearance - rough[q]);
        });
        // Nothing grows in front of the mouth; what lies there matters only for the way in.
        std::vector<float> behind = phi;
        for (int k = 0; k < grid.nz; ++k)
            for (int j = 0; j < mouth; ++j) std::fill_n(behind.begin() + static_cast<std::ptrdiff_t>(grid.index(0, j, k)), grid.nx, 1e6f);
        const float level = std::min(0.9f * hf, std::max(0.0f, clearance - 0.6f * hf));
        const Flooded about = flood(grid, behind, level, seed);
        wanted = grown(grid, about.in, 3);
        const float width = 3.5f * hf;
        const auto at_most = static_cast<float>(farthest);
        parallel_for(static_cast<std::size_t>(grid.ny) * static_cast<std::size_t>(grid.nz), 8, [&](std::size_t begin, std::size_t end) {
            for (std::size_t row = begin; row < end; ++row) {
                const int j = static_cast<int>(row % static_cast<std::size_t>(grid.ny)), k = static_cast<int>(row / static_cast<std::size_t>(grid.ny));
                std::size_t q = grid.index(0, j, k);
                const float y = static_cast<float>(j) * hf, z = static_cast<float>(k) * hf;
                for (int i = 0; i < grid.nx; ++i, ++q) {
                    if (!(wanted[q] || j < mouth) || std::abs(rough[q] - clearance) > width) continue;
                    if (j >= mouth && other[q] > 3.0f * hf) continue;
                    rough[q] = (j < mouth ? *tree : room_tree).blended({static_cast<float>(i) * hf, y, z}, at_most);
                    phi[q] = std::max(other[q], clearance - rough[q]);
                }
            }
        });
    }
    if (context.is_cancelled()) return Context::interrupted();

    // --- the room that holds `air`
    Flooded room;
    {
        const Stage s(context, "space/flood");
        std::vector<float> behind = phi;
        for (int k = 0; k < grid.nz; ++k)
            for (int j = 0; j < mouth; ++j) std::fill_n(behind.begin() + static_cast<std::ptrdiff_t>(grid.index(0, j, k)), grid.nx, 1e6f);
        room = flood(grid, behind, 0.0f, seed);
        if (room.is_empty()) {
            const double d = rough[grid.index(seed[0], seed[1], seed[2])];
            return fault(FaultCode::AirBlocked, fmt::format("air: the point is {:.1f} mm from the scanned surface, more than {:.1f} mm wanted (clearance and covering)", d, job.clearance_mm),
                         "give a point in the open air of the gap", options.air);
        }
        const bool escapes = room.lo[0] == 0 || room.lo[2] == 0 || room.hi[0] == grid.nx - 1 || room.hi[1] == grid.ny - 1 || room.hi[2] == grid.nz - 1;
        if (escapes)
            return fault(FaultCode::Leak, "the room has a way out wider than the clearance", "declare a limit or an open plane, move the baffle in, rescan");
        parallel_for(phi.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
            for (std::size_t q = begin; q < end; ++q)
                if (!room.in[q] && phi[q] < 0.0f) phi[q] = std::min(2.0f * hf, -phi[q]);
        });
    }

    // --- the way in
    {
        const Stage s(context, "space/insertion");
        const auto way_clearance = static_cast<float>(job.way_clearance_mm);
        Way way;
        way.is_beyond = [&](Point3 p) {
            return std::any_of(job.open.begin(), job.open.end(), [&](const Plane& o) { return o.height(p) > 1e-6; });
        };
        // Beyond an open plane: the scanned surface and the keep-outs, but no limit.
        way.beyond_grid = grid;
        if (options.open.empty()) way.beyond_grid.ny = mouth + 3;
        std::vector<float> beyond(way.beyond_grid.count());
        parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t k = begin; k < end; ++k)
                for (int j = 0; j < way.beyond_grid.ny; ++j) {
                    const std::size_t from = grid.index(0, j, static_cast<int>(k)), to = way.beyond_grid.index(0, j, static_cast<int>(k));
                    for (std::size_t i = 0; i < static_cast<std::size_t>(grid.nx); ++i) beyond[to + i] = way_clearance - rough[from + i];
                    raise_to_obstacles(job, grid, j, static_cast<int>(k), beyond.data() + to);
                }
        });
        // In front of the mouth the room's own field goes on as it arrives there, so that it is smooth across.
        for (int k = 0; k < grid.nz; ++k)
            for (int j = 0; j < mouth; ++j)
                std::copy_n(phi.begin() + static_cast<std::ptrdiff_t>(grid.index(0, mouth, k)), grid.nx, phi.begin() + static_cast<std::ptrdiff_t>(grid.index(0, j, k)));
        std::vector<float> lenient;
        if (job.way_clearance_mm != job.clearance_mm) {
            lenient = phi;
            parallel_for(phi.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
                for (std::size_t q = begin; q < end; ++q)
                    if (room.in[q]) lenient[q] = std::max(other[q], way_clearance - rough[q]);
            });
        }
        way.inside = lenient.empty() ? &phi : &lenient;
        way.beyond = &beyond;
        phi = insertable(grid, phi, way, job.out);
    }
    if (context.is_cancelled()) return Context::interrupted();
    rough = {}, other = {}, wanted = {};
    continue_past_mouth(grid, mouth, wall + 4.0 * h + 4.0, 4, phi);

    // --- distance and outside rounding
    const double reach = wall + 6.0 * h;
    std::vector<float> distance_mm;
    {
        const Stage s(context, "space/distance");
        distance_mm = redistance(grid, phi, {-std::max(reach, radius + 3.0 * h), radius > 0.0 ? 0.0 : reach});
        phi = {};
    }
    if (radius > 0.0) {
        const Stage s(context, "space/rounding");
        distance_mm = opened(grid, distance_mm, 0.0, radius, reach);
    }
    if (context.is_cancelled()) return Context::interrupted();
    Flooded kept = flood(grid, distance_mm, 0.0f, seed);
    if (kept.is_empty()) {
        // `air` itself did not survive: the largest of what is left of its room.
        std::vector<float> left = distance_mm;
        for (std::size_t q = 0; q < left.size(); ++q) {
            if (!(left[q] < 0.0f) || !room.in[q]) continue;
            const int i = static_cast<int>(q % static_cast<std::size_t>(grid.nx)), j = static_cast<int>(q / static_cast<std::size_t>(grid.nx) % static_cast<std::size_t>(grid.ny)),
                      k = static_cast<int>(q / (static_cast<std::size_t>(grid.nx) * static_cast<std::size_t>(grid.ny)));
            Flooded one = flood(grid, left, 0.0f, {i, j, k});
            for (std::size_t m = q; m < left.size(); ++m)
                if (one.in[m]) left[m] = 1.0f;
            if (one.count > kept.count) kept = std::move(one);
        }
        if (kept.is_empty())
            return fault(FaultCode::Impossible, "nothing is left of the room after the way in and the outside rounding",
                         fmt::format("less clearance, less edge_radius than {:.1f} mm, or another direction of going in", radius), options.air);
        result.report.notes.push_back("`air` itself is not inside what is left after the way in and the rounding; the largest part was taken");
    }
    for (std::size_t q = 0; q < distance_mm.size(); ++q)
        if (distance_mm[q] < 0.0f && !kept.in[q]) distance_mm[q] = std::max(0.5f * hf, -distance_mm[q]);

    result.outer.grid = grid;
    result.outer.mm = std::move(distance_mm);
    result.report.voxel_mm = h;
    result.report.nodes = grid.count();
    result.report.bound_mm = surface.bound_mm;
    return result;
}

Result<Field> cavity(const Field& outer, Length wall, Length inner_radius, const Context& context) {
    EXPECTS(outer.mm.size() == outer.grid.count() && wall.mm() >= 0.0 && inner_radius.mm() >= 0.0);
    const Stage stage(context, "space/cavity");
    const double h = outer.grid.h_mm, deep = wall.mm() + inner_radius.mm();
    Field inner{outer.grid, {}};
    const float least = *std::min_element(outer.mm.begin(), outer.mm.end());
    const std::vector<float> deeper = -static_cast<double>(least) < deep + 3.0 * h ? redistance(outer.grid, outer.mm, {-(deep + 3.0 * h), 0.0}) : outer.mm;
    if (!(*std::min_element(deeper.begin(), deeper.end()) < -static_cast<float>(deep)))
        return fault(FaultCode::Impossible, fmt::format("a wall of {:.1f} mm with an inner radius of {:.1f} mm leaves no air: the room is nowhere wider than {:.1f} mm",
                                                        wall.mm(), inner_radius.mm(), -2.0 * static_cast<double>(least)),
                     "a thinner wall, or more room");
    if (inner_radius.mm() > 0.0) {
        inner.mm = opened(outer.grid, deeper, wall.mm(), inner_radius.mm(), 6.0 * h);
    } else {
        inner.mm = deeper;
        for (float& v : inner.mm) v += static_cast<float>(wall.mm());
    }
    return inner;
}

}  // namespace geom::space
