// How far the zero set on a grid's nodes, read linearly, lies from a swept space in thousands of poses.
#pragma once

#include "geom/space/field.h"
#include "geom/space/internal/swept.h"
#include "tests/space/brute_sweep.h"

namespace brute {

/// In voxels: by how much the true space, grown by its margin, reaches into what the grid says is free, and how far
/// beyond it the grid still says that it is occupied.
struct Misses {
    std::string name;
    double less = 0.0, more = 0.0;
    int points = 0;
};

/// How deep a place lies in {least < margin}: the least way out found among directions and lengths, never too little.
inline double depth_of(const Body& body, const std::vector<Pose>& poses, Point3 p, double margin, double h) {
    double depth = margin - least(body, poses, p);
    if (margin >= h) return depth;  // then the distance itself is exact
    depth = 2.0 * h;
    constexpr int kDirections = 60;
    for (int n = 0; n < kDirections; ++n) {
        const double z = 1.0 - 2.0 * (n + 0.5) / kDirections, r = std::sqrt(1.0 - z * z),
                     a = n * std::numbers::pi * (3.0 - std::sqrt(5.0));
        for (const double step : {0.25, 0.5, 0.75, 1.0, 1.5}) {
            const double out = least(body, poses, p + Vec3{r * std::cos(a), r * std::sin(a), z} * (step * h)) - margin;
            if (out > 0.0) {
                depth = std::min(depth, step * h - std::min(out, step * h));
                break;
            }
        }
    }
    return depth;
}

inline Misses swept_misses(Random& random, double h, int wanted) {
    const Body body = random_body(random);
    const Motion motion = random_motion(random);
    double margin = random.next() % 3 == 0 ? 0.0 : random.uniform(0.0, 2.5 * h);
    Misses misses;
    misses.name = body.name + (std::holds_alternative<Swing>(motion) ? ", swing" : ", slide") + ", margin " +
                  std::to_string(margin);
    if (body.name == "sheet") margin = std::max(margin, 0.6 * h);

    auto drawn = internal::shape_distance({"it", body.shape, Length::mm(0), true, motion});
    const internal::SweptDistance swept(std::move(*drawn), motion);
    GridSpec grid;
    grid.h_mm = h;
    grid.vehicle_from_box.origin = random_point(random, 20);
    grid.vehicle_from_box.z = random_direction(random);
    grid.vehicle_from_box.x = any_perpendicular(grid.vehicle_from_box.z);
    grid.vehicle_from_box.y = cross(grid.vehicle_from_box.z, grid.vehicle_from_box.x);
    Aabb near;
    const Aabb box = swept.box();
    for (int c = 0; c < 8; ++c)
        near.grow(grid.vehicle_from_box.to_local(
            {(c & 1) ? box.hi.x : box.lo.x, (c & 2) ? box.hi.y : box.lo.y, (c & 4) ? box.hi.z : box.lo.z}));
    const double reach = margin + 4.5 * h;
    grid.lo = near.lo - Vec3{1, 1, 1} * (reach + h * random.uniform());
    const Vec3 size = near.hi - grid.lo + Vec3{1, 1, 1} * (reach + h);
    grid.nx = static_cast<int>(size.x / h) + 2, grid.ny = static_cast<int>(size.y / h) + 2,
    grid.nz = static_cast<int>(size.z / h) + 2;
    const internal::SweptGrid on_grid(swept, grid, near, reach);
    Field field{on_grid.part(), {}};
    for (int k = 0; k < field.grid.nz; ++k)
        for (int j = 0; j < field.grid.ny; ++j)
            for (int i = 0; i < field.grid.nx; ++i)
                field.mm.push_back(static_cast<float>(on_grid.node(i, j, k) - margin));

    // The farthest place from the hinge moves most.
    double radius = 1.0;
    if (const auto* swing = std::get_if<Swing>(&motion))
        for (int c = 0; c < 8; ++c)
            radius =
                std::max(radius, distance(swing->hinge, {(c & 1) ? box.hi.x : box.lo.x, (c & 2) ? box.hi.y : box.lo.y,
                                                         (c & 4) ? box.hi.z : box.lo.z}));
    const std::vector<Pose> poses = poses_of(motion, radius, h / 50.0);
    const Vec3 whole{(field.grid.nx - 1) * h, (field.grid.ny - 1) * h, (field.grid.nz - 1) * h};
    for (int tried = 0; tried < 20000 && misses.points < wanted; ++tried) {
        const Point3 at =
            field.grid.lo + Vec3{whole.x * random.uniform(), whole.y * random.uniform(), whole.z * random.uniform()};
        const double value = field.at_box(at);
        if (std::abs(value) > 0.8 * h) continue;
        ++misses.points;
        const Point3 p = grid.vehicle_from_box.to_parent(at);
        const double truth = least(body, poses, p) - margin;
        if (value <= 0.0)
            misses.more = std::max(misses.more, truth / h);
        else if (truth < 0.0)
            misses.less = std::max(misses.less, depth_of(body, poses, p, margin, h) / h);
    }
    return misses;
}

}  // namespace brute
