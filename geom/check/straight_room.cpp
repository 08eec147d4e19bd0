// A triangle cut off at two heights is a convex polygon of at most five corners. Its distance to the axis is 0 where
// the axis goes through it and otherwise that of one of its sides. The lowest place of it within the room lies at a
// corner, where a side crosses the room's circle, or on the circle where the triangle falls most steeply.
#include "geom/check/internal/straight_room.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::check {

namespace {

/// A place seen along the axis, and its height.
struct Seen {
    double x = 0.0, y = 0.0, h = 0.0;
};
Seen mix(const Seen& a, const Seen& b, double t) {
    return {a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t, a.h + (b.h - a.h) * t};
}

struct Polygon {
    std::array<Seen, 5> corner{};
    std::size_t n = 0;
};

/// What lies on the side of `height` where sign * (h - height) >= 0.
Polygon cut_off(const Polygon& polygon, double height, double sign) {
    Polygon left;
    for (std::size_t i = 0; i < polygon.n; ++i) {
        const Seen &a = polygon.corner[i], &b = polygon.corner[(i + 1) % polygon.n];
        const double da = sign * (a.h - height), db = sign * (b.h - height);
        if (da >= 0.0) left.corner[left.n++] = a;
        if ((da > 0.0 && db < 0.0) || (da < 0.0 && db > 0.0)) left.corner[left.n++] = mix(a, b, da / (da - db));
    }
    return left;
}

class View {
public:
    explicit View(const StraightRoom& room) : room_(room), x_(any_perpendicular(room.out)), y_(cross(room.out, x_)) {}

    Seen seen(Point3 p) const {
        const Vec3 d = p - room_.seat;
        return {dot(d, x_), dot(d, y_), dot(d, room_.out)};
    }
    Point3 place(const Seen& s) const { return room_.at(s.h) + x_ * s.x + y_ * s.y; }

    RoomMet met(const Polygon& whole) const {
        const Polygon p = cut_off(cut_off(whole, room_.from_mm, 1.0), room_.to_mm, -1.0);
        RoomMet met;
        if (p.n == 0) return met;
        // Twice the area as seen along the axis, and the plane h = h0 + gx x + gy y where it has one.
        const Seen &a = whole.corner[0], &b = whole.corner[1], &c = whole.corner[2];
        const double area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        const double size = std::max({std::hypot(b.x - a.x, b.y - a.y), std::hypot(c.x - a.x, c.y - a.y), 1e-6});
        const bool has_plane = std::abs(area) > 1e-9 * size * size;
        const double gx = has_plane ? ((b.h - a.h) * (c.y - a.y) - (c.h - a.h) * (b.y - a.y)) / area : 0.0;
        const double gy = has_plane ? ((c.h - a.h) * (b.x - a.x) - (b.h - a.h) * (c.x - a.x)) / area : 0.0;
        const auto on_plane = [&](double x, double y) { return Seen{x, y, a.h + gx * (x - a.x) + gy * (y - a.y)}; };
        const auto contains = [&](double x, double y) {
            for (std::size_t i = 0; i < p.n; ++i) {
                const Seen &f = p.corner[i], &t = p.corner[(i + 1) % p.n];
                if (((t.x - f.x) * (y - f.y) - (t.y - f.y) * (x - f.x)) * area < 0.0) return false;
            }
            return true;
        };

        double nearest = std::numeric_limits<double>::infinity();
        Seen at;
        const double r = room_.radius_mm;
        const auto lower = [&](double h) { met.first_mm = std::min(met.first_mm, h); };
        for (std::size_t i = 0; i < p.n; ++i) {
            const Seen &f = p.corner[i], &t = p.corner[(i + 1) % p.n];
            const double dx = t.x - f.x, dy = t.y - f.y, length2 = dx * dx + dy * dy;
            const double along = -(f.x * dx + f.y * dy);
            const Seen foot = mix(f, t, length2 > 0.0 ? std::clamp(along / length2, 0.0, 1.0) : 0.0);
            const double d = std::hypot(foot.x, foot.y);
            if (d < nearest) nearest = d, at = foot;
            if (d >= r) continue;
            // The stretch of this side within the circle; seen end on, the whole of it.
            double from = 0.0, to = 1.0;
            if (length2 > 0.0) {
                const double middle = along / length2,
                             off2 = std::max(0.0, f.x * f.x + f.y * f.y - along * along / length2),
                             half = std::sqrt(std::max(0.0, r * r - off2) / length2);
                from = std::clamp(middle - half, 0.0, 1.0), to = std::clamp(middle + half, 0.0, 1.0);
            }
            lower(std::min(mix(f, t, from).h, mix(f, t, to).h));
        }
        if (has_plane && contains(0.0, 0.0)) {
            nearest = 0.0, at = on_plane(0.0, 0.0);
            lower(at.h);
        }
        if (has_plane && nearest < r)
            if (const double slope = std::hypot(gx, gy); slope > 0.0)
                if (const double x = -gx / slope * r, y = -gy / slope * r; contains(x, y)) lower(on_plane(x, y).h);
        met.left_mm = nearest - r;
        met.at = place(at);
        return met;
    }

private:
    const StraightRoom& room_;
    Vec3 x_, y_;
};

}  // namespace

RoomMet met_by_point(const StraightRoom& room, Point3 p) {
    const Vec3 d = p - room.seat;
    const double h = dot(d, room.out);
    RoomMet met;
    if (h < room.from_mm || h > room.to_mm) return met;
    met.left_mm = norm(d - room.out * h) - room.radius_mm;
    met.at = p;
    if (met.left_mm < 0.0) met.first_mm = h;
    return met;
}

RoomMet met_by_triangle(const StraightRoom& room, Point3 a, Point3 b, Point3 c) {
    const View view(room);
    Polygon whole;
    whole.corner[0] = view.seen(a), whole.corner[1] = view.seen(b), whole.corner[2] = view.seen(c);
    whole.n = 3;
    return view.met(whole);
}

RoomMet met_by_ball(const StraightRoom& room, Point3 centre, double radius_mm) {
    const Vec3 d = centre - room.seat;
    const double h = dot(d, room.out), nearest_h = std::clamp(h, room.from_mm, room.to_mm);
    RoomMet met;
    if (std::abs(h - nearest_h) > radius_mm) return met;
    // The ball's widest slice between the two heights.
    const double slice = std::sqrt(radius_mm * radius_mm - (h - nearest_h) * (h - nearest_h));
    const Vec3 aside = d - room.out * h;
    const double off = norm(aside);
    met.left_mm = std::max(off - slice, 0.0) - room.radius_mm;
    met.at = room.at(nearest_h) + unit(aside) * std::max(off - slice, 0.0);
    if (met.left_mm < 0.0) {
        // Lowest where the ball's own lowest place is moved to the room's nearest.
        const double in = std::max(off - room.radius_mm, 0.0);
        met.first_mm = std::max(room.from_mm, h - std::sqrt(std::max(0.0, radius_mm * radius_mm - in * in)));
    }
    return met;
}

RoomMet met_by_mesh(const StraightRoom& room, const TriMesh& mesh, double look_mm) {
    const View view(room);
    std::vector<Seen> seen(mesh.vertices.size());
    for (std::size_t i = 0; i < seen.size(); ++i) seen[i] = view.seen(mesh.vertices[i]);
    const double reach = room.radius_mm + look_mm;
    RoomMet met;
    for (const auto& t : mesh.triangles) {
        const Seen &a = seen[t[0]], &b = seen[t[1]], &c = seen[t[2]];
        if (std::max({a.h, b.h, c.h}) < room.from_mm || std::min({a.h, b.h, c.h}) > room.to_mm) continue;
        if (std::min({a.x, b.x, c.x}) > reach || std::max({a.x, b.x, c.x}) < -reach) continue;
        if (std::min({a.y, b.y, c.y}) > reach || std::max({a.y, b.y, c.y}) < -reach) continue;
        Polygon whole;
        whole.corner[0] = a, whole.corner[1] = b, whole.corner[2] = c;
        whole.n = 3;
        met.take(view.met(whole));
    }
    return met;
}

}  // namespace geom::check
