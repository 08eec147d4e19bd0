// Sweeps as a child would draw them: the body in thousands of poses, each with a distance of its own in closed form.
// Shares nothing with what it checks but the names of the shapes.
#pragma once

#include "geom/core/random.h"
#include "geom/core/triangle.h"
#include "geom/space/room.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

namespace brute {

using namespace geom;
using namespace geom::space;

/// A drawn body and its signed distance.
struct Body {
    std::string name;
    KeepOutShape shape;
    std::function<double(Point3)> distance;
};

/// Turns by a unit quaternion.
inline Vec3 turned(Vec3 axis, double angle, Vec3 v) {
    const Vec3 q = unit(axis) * std::sin(0.5 * angle);
    const double w = std::cos(0.5 * angle);
    const Vec3 t = cross(q, v) * 2.0;
    return v + t * w + cross(q, t);
}

/// The vehicle's place as the body sees it in one pose.
struct Pose {
    Point3 hinge;
    Vec3 axis{0, 0, 1}, shift;
    double angle = 0.0;
    Point3 seen(Point3 p) const { return hinge + turned(axis, -angle, p - shift - hinge); }
};

/// Poses so close that no place within `radius` of the hinge moves by more than `step` between two.
inline std::vector<Pose> poses_of(const Motion& motion, double radius, double step) {
    std::vector<Pose> poses;
    if (const auto* swing = std::get_if<Swing>(&motion)) {
        const double turn = swing->to.rad() - swing->from.rad();
        const int n = static_cast<int>(std::ceil(std::abs(turn) * radius / step)) + 1;
        for (int i = 0; i <= n; ++i) poses.push_back({swing->hinge, swing->axis, {}, swing->from.rad() + turn * i / n});
    } else {
        const auto& path = std::get<Travel>(motion).path;
        for (std::size_t s = 1; s < path.size(); ++s) {
            const int n = static_cast<int>(std::ceil(geom::distance(path[s - 1], path[s]) / step)) + 1;
            for (int i = 0; i <= n; ++i)
                poses.push_back(
                    {{}, {0, 0, 1}, path[s - 1] + (path[s] - path[s - 1]) * (static_cast<double>(i) / n), 0.0});
        }
    }
    return poses;
}

inline double least(const Body& body, const std::vector<Pose>& poses, Point3 p) {
    double d = 1e300;
    for (const Pose& pose : poses) d = std::min(d, body.distance(pose.seen(p)));
    return d;
}

inline TriMesh box_mesh(Point3 lo, Point3 hi) {
    TriMesh m;
    for (int c = 0; c < 8; ++c)
        m.vertices.push_back({(c & 1) ? hi.x : lo.x, (c & 2) ? hi.y : lo.y, (c & 4) ? hi.z : lo.z});
    m.triangles = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                   {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
    return m;
}

inline double box_distance(Point3 lo, Point3 hi, Point3 p) {
    double out2 = 0.0, in = -1e300;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max(lo[a] - p[a], p[a] - hi[a]);
        in = std::max(in, d);
        if (d > 0.0) out2 += d * d;
    }
    return out2 > 0.0 ? std::sqrt(out2) : in;
}

inline Body box_body(Point3 lo, Point3 hi, bool as_mesh) {
    const auto d = [=](Point3 p) { return box_distance(lo, hi, p); };
    if (as_mesh) return {"box mesh", box_mesh(lo, hi), d};
    return {"box", BoxShape{lo, hi}, d};
}

inline Body sphere_body(Point3 centre, double radius) {
    return {"sphere", SphereShape{centre, radius}, [=](Point3 p) { return geom::distance(p, centre) - radius; }};
}

inline Body rod_body(Point3 from, Point3 to, double radius) {
    return {"rod", CylinderShape{from, to, radius}, [=](Point3 p) {
                const Vec3 axis = unit(to - from);
                const double z = dot(p - from, axis), end = std::max(-z, z - geom::distance(from, to));
                const double side = norm(cross(p - from, axis)) - radius;
                return end > 0.0 && side > 0.0 ? std::hypot(end, side) : std::max(end, side);
            }};
}

/// A box mesh that stands askew: distances in its own axes.
inline Body askew_plate(const Frame& frame, Vec3 half) {
    TriMesh mesh = box_mesh(-half, half);
    for (Point3& p : mesh.vertices) p = frame.to_parent(p);
    return {"plate mesh", mesh, [=](Point3 p) { return box_distance(-half, half, frame.to_local(p)); }};
}

/// One triangle: a sheet.
inline Body sheet_body(Point3 a, Point3 b, Point3 c) {
    TriMesh mesh;
    mesh.vertices = {a, b, c};
    mesh.triangles = {{0, 1, 2}};
    return {"sheet", mesh, [=](Point3 p) { return geom::distance(p, closest_on_triangle(p, a, b, c)); }};
}

inline Vec3 random_direction(Random& random) {
    Vec3 v;
    do v = {random.uniform(-1, 1), random.uniform(-1, 1), random.uniform(-1, 1)};
    while (norm2(v) < 0.05 || norm2(v) > 1.0);
    return unit(v);
}

inline Point3 random_point(Random& random, double reach) {
    return {random.uniform(-reach, reach), random.uniform(-reach, reach), random.uniform(-reach, reach)};
}

inline Body random_body(Random& random) {
    const Point3 at = random_point(random, 30);
    const Vec3 half{random.uniform(3, 25), random.uniform(3, 25), random.uniform(3, 25)};
    switch (random.next() % 6) {
        case 0:
            return box_body(at - half, at + half, false);
        case 1:
            return box_body(at - half, at + half, true);
        case 2:
            return sphere_body(at, random.uniform(4, 20));
        case 3:
            return rod_body(at, at + random_direction(random) * random.uniform(10, 60), random.uniform(3, 12));
        case 4: {
            Frame frame;
            frame.origin = at;
            frame.z = random_direction(random);
            frame.x = any_perpendicular(frame.z);
            frame.y = cross(frame.z, frame.x);
            return askew_plate(frame, {random.uniform(10, 35), random.uniform(10, 35), random.uniform(0.5, 3)});
        }
        default:
            return sheet_body(at, at + random_direction(random) * random.uniform(20, 60),
                              at + random_direction(random) * random.uniform(20, 60));
    }
}

inline Motion random_motion(Random& random) {
    if (random.next() % 2 == 0) {
        const double from = random.uniform(-180, 180),
                     turn = random.uniform(5, 175) * (random.next() % 2 == 0 ? 1.0 : -1.0);
        return Swing{random_point(random, 30), random_direction(random) * random.uniform(0.2, 4), Angle::deg(from),
                     Angle::deg(from + turn)};
    }
    Travel slide;
    slide.path.push_back(random_point(random, 10));
    for (std::size_t n = 1 + random.next() % 3; n > 0; --n)
        slide.path.push_back(slide.path.back() + random_direction(random) * random.uniform(5, 60));
    return slide;
}

}  // namespace brute
