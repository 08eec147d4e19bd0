#include "geom/space/internal/room_job.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/space/internal/flood.h"
#include "geom/space/internal/rough_distance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr double kBytesPerNode = 44.0;  // measured peak, all stages
constexpr double kCoarsest_mm = 3.0;    // beyond it volumes are no longer right to 0.06 %
constexpr double kFarthestFront_mm = 400.0;
constexpr double kSheet = 0.6;        // of a voxel: half the thickness that the nodes cannot miss
constexpr double kSmallEnough = 8e6;  // nodes up to which the whole scan is taken without looking further

Plane to_box(const Frame& f, const Plane& p) {
    return {f.to_local(p.point), f.dir_to_local(unit(p.outward))};
}

Aabb to_box(const Frame& f, const Aabb& vehicle) {
    Aabb b;
    for (int c = 0; c < 8; ++c)
        b.grow(f.to_local({(c & 1) ? vehicle.hi.x : vehicle.lo.x, (c & 2) ? vehicle.hi.y : vehicle.lo.y,
                           (c & 4) ? vehicle.hi.z : vehicle.lo.z}));
    return b;
}

/// The box cut back to where the closing planes leave something of it, `slack` kept beyond each; `sharp` more where the
/// body goes on past one.
Aabb cut_back(Aabb b, const std::vector<Closing>& closing, double slack, double sharp = 0.0) {
    for (int round = 0; round < 2; ++round)
        for (const Closing& c : closing)
            for (std::size_t a = 0; a < 3; ++a) {
                const Vec3 n = c.plane.outward;
                if (std::abs(n[a]) < 0.05) continue;
                double d =
                    dot(n, c.plane.point) + slack +
                    (c.edges == LimitEdges::Rounded ? 0.0 : sharp);  // n . x <= d, the other two axes at their best
                for (std::size_t other = 0; other < 3; ++other)
                    if (other != a) d -= std::min(n[other] * b.lo[other], n[other] * b.hi[other]);
                if (n[a] > 0.0)
                    b.hi[a] = std::min(b.hi[a], d / n[a]);
                else
                    b.lo[a] = std::max(b.lo[a], d / n[a]);
            }
    return b;
}

/// What a flood from `air` reaches behind the mouth on a coarse grid over `whole`: box frame, empty when it is blocked.
Aabb coarse_reach(const RoomJob& job, const std::vector<Point3>& scanned, const Aabb& whole) {
    constexpr double kLeastStep_mm = 4.0, kMostNodes = 8e6;
    const Vec3 size = whole.size();
    const double step = std::max(kLeastStep_mm, std::cbrt(size.x * size.y * size.z / kMostNodes));
    GridSpec g;
    g.h_mm = step;
    g.lo = whole.lo;
    g.nx = static_cast<int>(size.x / step) + 2, g.ny = static_cast<int>(size.y / step) + 2,
    g.nz = static_cast<int>(size.z / step) + 2;
    std::vector<Vec3f> local(scanned.size());
    for (std::size_t q = 0; q < scanned.size(); ++q) {
        const Vec3 d = scanned[q] - g.lo;
        local[q] = {static_cast<float>(d.x), static_cast<float>(d.y), static_cast<float>(d.z)};
    }
    std::vector<float> closed = rough_distance(g, local, 4.0 * step);
    const auto level = static_cast<float>(std::max(0.9 * step, job.clearance_mm - 0.87 * step));
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                float& v = closed[g.index(i, j, k)];
                const Point3 p = g.node(i, j, k);
                const bool is_out =
                    p.y < job.mouth_y_mm - step || std::any_of(job.closing.begin(), job.closing.end(),
                                                               [&](const Closing& c) { return c.value(p) > step; });
                v = is_out ? 1.0f : level - v;
            }
    const Vec3 at = (job.air - g.lo) / step;
    const auto node = [](double v, int n) { return std::clamp(static_cast<int>(std::lround(v)), 0, n - 1); };
    const Flooded reached = flood(g, closed, 0.0f, {node(at.x, g.nx), node(at.y, g.ny), node(at.z, g.nz)});
    Aabb box;
    if (reached.is_empty()) return box;
    box.grow(g.node(reached.lo[0] - 1, reached.lo[1] - 1, reached.lo[2] - 1));
    box.grow(g.node(reached.hi[0] + 1, reached.hi[1] + 1, reached.hi[2] + 1));
    return box;
}

/// Whether planes close the room to all four sides of the way in.
bool is_walled(const std::vector<Closing>& closing) {
    constexpr double kAcross = 0.9;
    for (const Vec3 side : {Vec3{1, 0, 0}, Vec3{-1, 0, 0}, Vec3{0, 0, 1}, Vec3{0, 0, -1}})
        if (std::none_of(closing.begin(), closing.end(),
                         [&](const Closing& c) { return dot(c.plane.outward, side) > kAcross; }))
            return false;
    return true;
}

double chosen_voxel(const RoomOptions& o, double spacing) {
    if (o.voxel.mm() > 0.0) return o.voxel.mm();
    double h = std::min(o.least_wall.value_or(o.wall).mm() / 2.0, 2.5);
    if (o.edge_radius.mm() > 0.0) h = std::min(h, o.edge_radius.mm() / 2.0);
    h = std::min(h, std::max(o.clearance.mm(), 2.0) / 2.0);
    return std::max({h, 0.5 * spacing, 0.5});
}

}  // namespace

Fault space_fault(FaultCode code, std::string what, std::string hint, std::optional<Point3> where) {
    return {code, std::move(what), std::move(hint), where, "space"};
}

bool RoomJob::is_beyond_open(Point3 p) const {
    return std::any_of(open.begin(), open.end(), [&](const Plane& o) { return o.height(p) > 1e-6; });
}

void RoomJob::raise_to_planes(const GridSpec& grid, int j, int k, bool limits_alone, float* row) const {
    for (const Closing& c : closing) {
        if (limits_alone && c.is_open) continue;
        const double first = c.value(grid.node(0, j, k)), step = c.plane.outward.x * grid.h_mm;
        for (int i = 0; i < grid.nx; ++i) row[i] = std::max(row[i], static_cast<float>(first + i * step));
    }
}

void RoomJob::sweep_on(const GridSpec& grid) {
    for (Obstacle& ob : obstacles) {
        const auto* swept = dynamic_cast<const SweptDistance*>(ob.shape.get());
        if (swept == nullptr) continue;
        // A sheet without clearance would slip between the nodes.
        if (swept->is_sheet()) ob.margin_mm = std::max(ob.margin_mm, kSheet * grid.h_mm);
        ob.on_grid = std::make_unique<SweptGrid>(*swept, grid, ob.box, ob.margin_mm + 4.5 * grid.h_mm,
                                                 ob.on_way_in == OnWayIn::Swept && !way.is_empty());
    }
}

bool RoomJob::moves_aside() const {
    return std::any_of(obstacles.begin(), obstacles.end(),
                       [](const Obstacle& ob) { return ob.in_way() != ob.shape.get(); });
}

void RoomJob::raise_to_obstacles(const GridSpec& grid, int j, int k, Stand stand, float* row) const {
    const double h = grid.h_mm;
    for (const Obstacle& ob : obstacles) {
        const ShapeDistance* shape = stand == Stand::Seated ? ob.shape.get() : ob.in_way();
        if (shape == nullptr) continue;
        if (shape == ob.shape.get() && ob.on_grid != nullptr && ob.on_grid->is_for(grid)) {
            ob.on_grid->raise(grid, j, k, ob.margin_mm, row);
            continue;
        }
        const Aabb& around = stand == Stand::Seated ? ob.box : ob.box_in_way();
        const double reach = ob.margin_mm + 6.0 * h;
        const Point3 p = grid.node(0, j, k);
        if (p.y < around.lo.y - reach || p.y > around.hi.y + reach || p.z < around.lo.z - reach ||
            p.z > around.hi.z + reach)
            continue;
        const int i0 = std::max(0, static_cast<int>(std::floor((around.lo.x - reach - p.x) / h)));
        const int i1 = std::min(grid.nx - 1, static_cast<int>(std::ceil((around.hi.x + reach - p.x) / h)));
        for (int i = i0; i <= i1; ++i)
            row[i] = std::max(
                row[i], static_cast<float>(ob.margin_mm - shape->at_most(box.to_parent(grid.node(i, j, k)), reach)));
    }
}

void RoomJob::raise_to_swept_obstacles(const GridSpec& grid, std::vector<float>& mm) const {
    const Vec3 back = box.dir_to_parent(out);
    for (const Obstacle& ob : obstacles) {
        const ShapeDistance* shape = ob.in_way();
        if (shape == nullptr || !shape->is_convex()) continue;
        const Aabb& around = ob.box_in_way();
        const Point3 middle = around.lo + around.size() * 0.5;
        const double reach = 0.5 * norm(around.size()) + ob.margin_mm + 4.0 * grid.h_mm;
        parallel_for(static_cast<std::size_t>(grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t k = begin; k < end; ++k)
                for (int j = 0; j < grid.ny; ++j)
                    for (int i = 0; i < grid.nx; ++i) {
                        float& v = mm[grid.index(i, j, static_cast<int>(k))];
                        if (v > static_cast<float>(4.0 * grid.h_mm)) continue;
                        const Point3 p = grid.node(i, j, static_cast<int>(k));
                        const Vec3 d = middle - p;
                        const double along = std::max(0.0, dot(d, out));
                        if (norm2(d - out * along) > reach * reach) continue;
                        v = std::max(
                            v, static_cast<float>(ob.margin_mm - least_on_half_line(*shape, box.to_parent(p), back)));
                    }
        });
    }
}

Result<RoomJob> resolved(const RoomOptions& o) {
    RoomJob job;
    job.box = box_frame(o.baffle, o.up);
    const double covering = o.covering.mm();
    job.clearance_mm = o.clearance.mm() + covering;
    job.way_clearance_mm = o.insert_clearance.value_or(o.clearance).mm() + covering;
    job.mouth_y_mm = -o.travel_hi_mm;
    job.radius_mm = o.edge_radius.mm();
    job.wall_mm = o.wall.mm();
    job.inner_radius_mm = o.inner_radius.mm();
    job.out = o.insert && o.moves.empty() ? -job.box.dir_to_local(unit(*o.insert)) : Vec3{0, -1, 0};
    job.way = WayIn(o.moves).seen_from(job.box);
    job.air = job.box.to_local(o.air);
    for (const Limit& l : o.limits)
        job.closing.push_back(
            {l.name, to_box(job.box, l.plane), l.clearance.mm() + (l.covering ? covering : 0.0), false, l.edges});
    job.opens_at_mouth_alone = o.open.empty();
    for (const OpenPlane& p : o.open) {
        job.open.push_back(to_box(job.box, p.plane));
        job.closing.push_back({p.name, job.open.back(), 0.0, true, LimitEdges::Rounded});
    }
    if (o.open.empty()) job.open.push_back({{0, job.mouth_y_mm, 0}, {0, -1, 0}});
    for (const KeepOut& k : o.keep_outs) {
        GAPWRIGHT_TRY(shape, shape_distance(k));
        Obstacle ob{k.name, std::move(shape), k.clearance.mm() + (k.covering ? covering : 0.0), {}};
        if (is_moving(k.motion)) {
            GAPWRIGHT_CHECK(check_motion(k.name, k.motion));
            if (ob.shape->is_sheet())
                job.notes.push_back(fmt::format(
                    "keep-out '{}': its mesh is not closed and is taken as a sheet without thickness", k.name));
            ob.on_way_in = k.on_way_in;
            if (k.on_way_in == OnWayIn::From || k.on_way_in == OnWayIn::To) {
                GAPWRIGHT_TRY(drawn, shape_distance(k));
                ob.posed = std::make_unique<PosedDistance>(std::move(drawn), k.motion,
                                                           k.on_way_in == OnWayIn::From ? 0.0 : run_of(k.motion));
                ob.posed_box = to_box(job.box, ob.posed->box());
            }
            ob.shape = std::make_unique<SweptDistance>(std::move(ob.shape), k.motion);
        }
        ob.box = to_box(job.box, ob.shape->box());
        job.obstacles.push_back(std::move(ob));
    }
    return job;
}

double past_sharp_mm(const RoomJob& job, double h) {
    return 2.0 * std::max(job.radius_mm, job.inner_radius_mm) + 3.0 * h;
}

int nodes_past_mouth(const RoomJob& job, double h) {
    return static_cast<int>(std::ceil((2.0 * job.wall_mm + job.radius_mm + 8.0 * h) / h)) + 5;
}

Result<RoomGrid> laid(const RoomJob& job, const RoomOptions& options, const scan::Surface& surface, bool whole) {
    Aabb scan;
    std::vector<Point3> scanned(surface.points.size());
    for (std::size_t q = 0; q < scanned.size(); ++q) scan.grow(scanned[q] = job.box.to_local(surface.points[q]));
    const auto blocked = [&](std::string what, std::string hint) {
        return space_fault(FaultCode::AirBlocked, std::move(what), std::move(hint), options.air);
    };
    if (job.air.y < job.mouth_y_mm)
        return blocked(
            fmt::format("air: the point lies {:.1f} mm in front of the outermost baffle place, wanted behind it",
                        job.mouth_y_mm - job.air.y),
            "move `air` into the gap, or let the baffle travel farther out");
    // In front of what was scanned the room has no sides but limits.
    const double foremost = is_walled(job.closing) ? job.mouth_y_mm : scan.lo.y;
    for (std::size_t a = 0; a < 3; ++a)
        if (const double by = std::max((a == 1 ? foremost : scan.lo[a]) - job.air[a], job.air[a] - scan.hi[a]);
            by > 0.0)
            return blocked(
                fmt::format("air: the point lies {:.1f} mm outside the scanned surface's box, wanted inside the gap",
                            by),
                "give a point in the air of the gap, in the vehicle frame; check `place` and the scan's unit");
    for (const Closing& c : job.closing)
        if (const double by = c.value(job.air); by >= 0.0)
            return blocked(fmt::format("air: the point lies {:.1f} mm beyond '{}', wanted behind it", by, c.name),
                           "move `air` or the plane");
    for (const Obstacle& ob : job.obstacles)
        if (const double d = ob.shape->at(options.air); d <= ob.margin_mm) {
            const std::string pose = ob.shape->pose_at(options.air);
            return blocked(fmt::format("air: the point lies {:.1f} mm from keep-out '{}'{}, more than {:.1f} mm wanted",
                                       d, ob.name, pose.empty() ? "" : " when it has " + pose, ob.margin_mm),
                           "move `air` or the keep-out");
        }

    double first_mm = scan.lo.y;  // of what was scanned in front of the mouth and may stand in the way in
    bool is_cut = false;
    const auto lay = [&](double h) {
        const double margin = job.clearance_mm + 4.0 * h + 8.0;
        const double past = past_sharp_mm(job, h) + 4.0 * h;
        Aabb all{scan.lo - Vec3{margin, margin, margin}, scan.hi + Vec3{margin, margin, margin}};
        for (const Closing& c : job.closing)
            for (std::size_t a = 0; a < 3 && c.edges != LimitEdges::Rounded; ++a)
                if (std::abs(c.plane.outward[a]) > 0.05)
                    (c.plane.outward[a] > 0.0 ? all.hi[a] : all.lo[a]) += c.plane.outward[a] * past;
        const Aabb b = cut_back(all, job.closing, 1.0, past);
        const double front_mm = std::min(job.mouth_y_mm - first_mm + job.way_clearance_mm + 4.0 * h, kFarthestFront_mm);
        const int front = std::max(nodes_past_mouth(job, h), static_cast<int>(std::ceil(front_mm / h)));
        GridSpec g;
        g.vehicle_from_box = job.box;
        g.h_mm = h;
        g.lo = {b.lo.x - 4.0 * h, job.mouth_y_mm - front * h, b.lo.z - 4.0 * h};
        const auto nodes = [&](double from, double to) {
            return std::max(8, static_cast<int>(std::ceil((to - from) / h)) + 5);
        };
        g.nx = nodes(g.lo.x, b.hi.x), g.ny = nodes(g.lo.y, b.hi.y), g.nz = nodes(g.lo.z, b.hi.z);
        return RoomGrid{g, front, {}, is_cut};
    };
    double h = chosen_voxel(options, surface.spacing_mm);
    if (!whole && static_cast<double>(lay(h).grid.count()) > kSmallEnough) {
        const Aabb all = cut_back({scan.lo - Vec3{20, 20, 20}, scan.hi + Vec3{20, 20, 20}}, job.closing, 20.0);
        const Aabb reach = coarse_reach(job, scanned, all);
        if (!reach.is_empty()) {
            Aabb part;  // of the scan
            for (std::size_t a = 0; a < 3; ++a)
                part.lo[a] = std::max(scan.lo[a], reach.lo[a]), part.hi[a] = std::min(scan.hi[a], reach.hi[a]);
            // On the way out the room drifts sideways; what was scanned in front of it there counts.
            const double run = job.out.y < -0.05 ? kFarthestFront_mm / -job.out.y : 0.0;
            Aabb way = part;
            for (const std::size_t a : {std::size_t{0}, std::size_t{2}}) {
                way.lo[a] += std::min(0.0, job.out[a] * run) - job.way_clearance_mm - 4.0 * h;
                way.hi[a] += std::max(0.0, job.out[a] * run) + job.way_clearance_mm + 4.0 * h;
            }
            first_mm = job.mouth_y_mm;
            double low_x = part.lo.x, high_x = part.hi.x, low_z = part.lo.z, high_z = part.hi.z;
            for (const Point3& p : scanned) {
                if (p.y >= first_mm || p.x < way.lo.x || p.x > way.hi.x || p.z < way.lo.z || p.z > way.hi.z) continue;
                first_mm = p.y;
            }
            const double front = std::min(job.mouth_y_mm - first_mm, kFarthestFront_mm),
                         drift = job.out.y < -0.05 ? front / -job.out.y : 0.0;
            low_x += std::min(0.0, job.out.x * drift), high_x += std::max(0.0, job.out.x * drift);
            low_z += std::min(0.0, job.out.z * drift), high_z += std::max(0.0, job.out.z * drift);
            is_cut = part.lo != scan.lo || part.hi != scan.hi;
            scan = {{low_x, part.lo.y, low_z}, {high_x, part.hi.y, high_z}};
        }
    }
    const auto megabytes = [&](double step) {
        return static_cast<double>(lay(step).grid.count()) * kBytesPerNode / 1e6;
    };
    const double allowed = options.memory_limit_bytes / 1e6;
    if (megabytes(h) > allowed) {
        double finest = h;
        while (megabytes(finest) > allowed && finest < 100.0) finest *= 1.01;
        finest = std::ceil(finest * 100.0) / 100.0;
        if (options.voxel.mm() > 0.0 || finest > std::min(kCoarsest_mm, std::max(h, job.wall_mm / 2.0)))
            return space_fault(
                FaultCode::MemoryLimit,
                fmt::format("the room needs {:.0f} MB at a voxel of {:.2f} mm, {:.0f} MB are allowed", megabytes(h), h,
                            allowed),
                fmt::format("the finest voxel that fits is {:.2f} mm; limits nearer to the gap make the room smaller",
                            finest));
        h = finest;
    }
    RoomGrid out = lay(h);
    const Vec3 at = (job.air - out.grid.lo) / h;
    out.seed = {static_cast<int>(std::lround(at.x)), std::max(out.mouth, static_cast<int>(std::lround(at.y))),
                static_cast<int>(std::lround(at.z))};
    INVARIANT(out.seed[0] > 0 && out.seed[1] > 0 && out.seed[2] > 0 && out.seed[0] < out.grid.nx - 1 &&
              out.seed[1] < out.grid.ny - 1 && out.seed[2] < out.grid.nz - 1);
    return out;
}

}  // namespace geom::space::internal
