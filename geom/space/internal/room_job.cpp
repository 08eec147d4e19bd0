#include "geom/space/internal/room_job.h"

#include "geom/core/checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr double kBytesPerNode = 44.0;   // measured peak, all stages
constexpr double kCoarsest_mm = 3.0;     // beyond it volumes are no longer right to 0.06 %
constexpr double kFarthestFront_mm = 400.0;

Plane to_box(const Frame& f, const Plane& p) { return {f.to_local(p.point), f.dir_to_local(unit(p.outward))}; }

Aabb to_box(const Frame& f, const Aabb& vehicle) {
    Aabb b;
    for (int c = 0; c < 8; ++c)
        b.grow(f.to_local({(c & 1) ? vehicle.hi.x : vehicle.lo.x, (c & 2) ? vehicle.hi.y : vehicle.lo.y, (c & 4) ? vehicle.hi.z : vehicle.lo.z}));
    return b;
}

/// The box cut back to where the closing planes leave something of it, `slack` kept beyond each.
Aabb cut_back(Aabb b, const std::vector<Closing>& closing, double slack) {
    for (int round = 0; round < 2; ++round)
        for (const Closing& c : closing)
            for (std::size_t a = 0; a < 3; ++a) {
                const Vec3 n = c.plane.outward;
                if (std::abs(n[a]) < 0.05) continue;
                double d = dot(n, c.plane.point) + slack;  // n . x <= d, the other two axes at their best
                for (std::size_t other = 0; other < 3; ++other)
                    if (other != a) d -= std::min(n[other] * b.lo[other], n[other] * b.hi[other]);
                if (n[a] > 0.0) b.hi[a] = std::min(b.hi[a], d / n[a]);
                else b.lo[a] = std::max(b.lo[a], d / n[a]);
            }
    return b;
}

double chosen_voxel(const RoomOptions& o, double spacing) {
    if (o.voxel.mm() > 0.0) return o.voxel.mm();
    double h = std::min(o.wall.mm() / 2.0, 2.5);
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

void RoomJob::raise_to_obstacles(const GridSpec& grid, int j, int k, float* row) const {
    const double h = grid.h_mm;
    for (const Obstacle& ob : obstacles) {
        const double reach = ob.margin_mm + 6.0 * h;
        const Point3 p = grid.node(0, j, k);
        if (p.y < ob.box.lo.y - reach || p.y > ob.box.hi.y + reach || p.z < ob.box.lo.z - reach || p.z > ob.box.hi.z + reach) continue;
        const int i0 = std::max(0, static_cast<int>(std::floor((ob.box.lo.x - reach - p.x) / h)));
        const int i1 = std::min(grid.nx - 1, static_cast<int>(std::ceil((ob.box.hi.x + reach - p.x) / h)));
        for (int i = i0; i <= i1; ++i)
            row[i] = std::max(row[i], static_cast<float>(ob.margin_mm - ob.shape->at(box.to_parent(grid.node(i, j, k)))));
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
    job.out = o.insert ? -job.box.dir_to_local(unit(*o.insert)) : Vec3{0, -1, 0};
    job.air = job.box.to_local(o.air);
    for (const Limit& l : o.limits)
        job.closing.push_back({l.name, to_box(job.box, l.plane), l.clearance.mm() + (l.covering ? covering : 0.0)});
    job.opens_at_mouth_alone = o.open.empty();
    for (const OpenPlane& p : o.open) {
        job.open.push_back(to_box(job.box, p.plane));
        job.closing.push_back({p.name, job.open.back(), 0.0});
    }
    if (o.open.empty()) job.open.push_back({{0, job.mouth_y_mm, 0}, {0, -1, 0}});
    for (const KeepOut& k : o.keep_outs) {
        GAPWRIGHT_TRY(shape, shape_distance(k));
        Obstacle ob{k.name, std::move(shape), k.clearance.mm() + (k.covering ? covering : 0.0), {}};
        ob.box = to_box(job.box, ob.shape->box());
        job.obstacles.push_back(std::move(ob));
    }
    return job;
}

int nodes_past_mouth(const RoomJob& job, double h) {
    return static_cast<int>(std::ceil((2.0 * job.wall_mm + job.radius_mm + 8.0 * h) / h)) + 5;
}

Result<RoomGrid> laid(const RoomJob& job, const RoomOptions& options, const scan::Surface& surface) {
    Aabb scan;
    for (const Point3& p : surface.points) scan.grow(job.box.to_local(p));
    const auto blocked = [&](std::string what, std::string hint) { return space_fault(FaultCode::AirBlocked, std::move(what), std::move(hint), options.air); };
    if (job.air.y < job.mouth_y_mm)
        return blocked(fmt::format("air: the point lies {:.1f} mm in front of the outermost baffle place, wanted behind it", job.mouth_y_mm - job.air.y),
                       "move `air` into the gap, or let the baffle travel farther out");
    for (std::size_t a = 0; a < 3; ++a)
        if (const double by = std::max(scan.lo[a] - job.air[a], job.air[a] - scan.hi[a]); by > 0.0)
            return blocked(fmt::format("air: the point lies {:.1f} mm outside the scanned surface's box, wanted inside the gap", by),
                           "give a point in the air of the gap, in the vehicle frame; check `place` and the scan's unit");
    for (const Closing& c : job.closing)
        if (const double by = c.value(job.air); by >= 0.0)
            return blocked(fmt::format("air: the point lies {:.1f} mm beyond '{}', wanted behind it", by, c.name), "move `air` or the plane");
    for (const Obstacle& ob : job.obstacles)
        if (const double d = ob.shape->at(options.air); d <= ob.margin_mm)
            return blocked(fmt::format("air: the point lies {:.1f} mm from keep-out '{}', more than {:.1f} mm wanted", d, ob.name, ob.margin_mm), "move `air` or the keep-out");

    const auto lay = [&](double h) {
        const double margin = job.clearance_mm + 4.0 * h + 8.0;
        Aabb b{scan.lo - Vec3{margin, margin, margin}, scan.hi + Vec3{margin, margin, margin}};
        int front = nodes_past_mouth(job, h);
        // What was scanned in front of the mouth may stand in the way in.
        const double scanned = std::min(job.mouth_y_mm - scan.lo.y + job.way_clearance_mm + 4.0 * h, kFarthestFront_mm);
        front = std::max(front, static_cast<int>(std::ceil(scanned / h)));
        b = cut_back(b, job.closing, 1.0);
        GridSpec g;
        g.vehicle_from_box = job.box;
        g.h_mm = h;
        g.lo = {b.lo.x - 4.0 * h, job.mouth_y_mm - front * h, b.lo.z - 4.0 * h};
        const auto nodes = [&](double from, double to) { return std::max(8, static_cast<int>(std::ceil((to - from) / h)) + 5); };
        g.nx = nodes(g.lo.x, b.hi.x), g.ny = nodes(g.lo.y, b.hi.y), g.nz = nodes(g.lo.z, b.hi.z);
        return RoomGrid{g, front, {}};
    };
    double h = chosen_voxel(options, surface.spacing_mm);
    const auto megabytes = [&](double step) { return static_cast<double>(lay(step).grid.count()) * kBytesPerNode / 1e6; };
    const double allowed = options.memory_limit_bytes / 1e6;
    if (megabytes(h) > allowed) {
        double finest = h;
        while (megabytes(finest) > allowed && finest < 100.0) finest *= 1.01;
        finest = std::ceil(finest * 100.0) / 100.0;
        if (options.voxel.mm() > 0.0 || finest > std::min(kCoarsest_mm, std::max(h, job.wall_mm / 2.0)))
            return space_fault(FaultCode::MemoryLimit, fmt::format("the room needs {:.0f} MB at a voxel of {:.2f} mm, {:.0f} MB are allowed", megabytes(h), h, allowed),
                               fmt::format("the finest voxel that fits is {:.2f} mm; limits nearer to the gap make the room smaller", finest));
        h = finest;
    }
    RoomGrid out = lay(h);
    const Vec3 at = (job.air - out.grid.lo) / h;
    out.seed = {static_cast<int>(std::lround(at.x)), std::max(out.mouth, static_cast<int>(std::lround(at.y))), static_cast<int>(std::lround(at.z))};
    INVARIANT(out.seed[0] > 0 && out.seed[1] > 0 && out.seed[2] > 0 && out.seed[0] < out.grid.nx - 1 && out.seed[1] < out.grid.ny - 1 && out.seed[2] < out.grid.nz - 1);
    return out;
}

}  // namespace geom::space::internal
