// The outline is laid into the plane of its area vector (Newell's), where turning left is turning out. Without a turn
// to the right the fan stands. Otherwise ears are cut (Meisters 1975): the first corner whose triangle turns left and
// holds no other corner, until three are left. A polygon that crosses itself has no right answer; where no ear is left,
// what remains stays a fan, so that the number of triangles is always corners less two.
#include "geom/scan/internal/polygons.h"

namespace geom::scan::internal {
namespace {

/// Ears cost the square of the corners; a longer outline is no polygon of a scan.
constexpr std::size_t kMostCorners = 4096;

struct Flat {
    double u, v;
};

double turn(Flat a, Flat b, Flat c) {
    return (b.u - a.u) * (c.v - a.v) - (b.v - a.v) * (c.u - a.u);
}

bool holds(Flat a, Flat b, Flat c, Flat p) {
    return turn(a, b, p) >= 0.0 && turn(b, c, p) >= 0.0 && turn(c, a, p) >= 0.0;
}

std::vector<Flat> flattened(const std::vector<Point3>& outline) {
    Vec3 area;
    for (std::size_t i = 1; i + 1 < outline.size(); ++i)
        area += cross(outline[i] - outline[0], outline[i + 1] - outline[0]);
    const Vec3 n = unit(area);
    const Vec3 u = any_perpendicular(n), v = cross(n, u);
    std::vector<Flat> flat;
    flat.reserve(outline.size());
    for (const Point3& p : outline) flat.push_back({dot(p - outline[0], u), dot(p - outline[0], v)});
    return flat;
}

}  // namespace

void Polygons::add(const std::vector<std::uint32_t>& corners, std::vector<std::array<std::uint32_t, 3>>& triangles) {
    if (corners.size() > 3) larger_.push_back({triangles.size(), corners.size()});
    for (std::size_t k = 2; k < corners.size(); ++k) triangles.push_back({corners[0], corners[k - 1], corners[k]});
}

void Polygons::finish(const std::vector<Point3>& points, std::vector<std::array<std::uint32_t, 3>>& triangles) const {
    std::vector<std::uint32_t> corners;
    std::vector<Point3> outline;
    std::vector<std::size_t> ring;
    for (const Range& range : larger_) {
        if (range.corners > kMostCorners) continue;
        corners.assign({triangles[range.first][0], triangles[range.first][1]});
        for (std::size_t t = 0; t + 2 < range.corners; ++t) corners.push_back(triangles[range.first + t][2]);
        outline.clear();
        bool finite = true;
        for (const std::uint32_t c : corners) {
            outline.push_back(points[c]);
            finite = finite && is_finite(points[c]);
        }
        if (!finite) continue;
        const std::vector<Flat> flat = flattened(outline);
        const std::size_t n = flat.size();
        bool turns_in = false;
        for (std::size_t i = 0; i < n && !turns_in; ++i)
            turns_in = turn(flat[i], flat[(i + 1) % n], flat[(i + 2) % n]) < 0.0;
        if (!turns_in) continue;

        ring.resize(n);
        for (std::size_t i = 0; i < n; ++i) ring[i] = i;
        std::size_t out = range.first;
        while (ring.size() > 3) {
            std::size_t ear = ring.size();
            for (std::size_t i = 0; i < ring.size() && ear == ring.size(); ++i) {
                const std::size_t a = ring[(i + ring.size() - 1) % ring.size()], b = ring[i],
                                  c = ring[(i + 1) % ring.size()];
                if (!(turn(flat[a], flat[b], flat[c]) > 0.0)) continue;
                bool is_free = true;
                for (const std::size_t p : ring)
                    if (p != a && p != b && p != c && corners[p] != corners[a] && corners[p] != corners[b] &&
                        corners[p] != corners[c] && holds(flat[a], flat[b], flat[c], flat[p])) {
                        is_free = false;
                        break;
                    }
                if (is_free) ear = i;
            }
            if (ear == ring.size()) break;
            triangles[out++] = {corners[ring[(ear + ring.size() - 1) % ring.size()]], corners[ring[ear]],
                                corners[ring[(ear + 1) % ring.size()]]};
            ring.erase(ring.begin() + static_cast<std::ptrdiff_t>(ear));
        }
        for (std::size_t k = 2; k < ring.size(); ++k)
            triangles[out++] = {corners[ring[0]], corners[ring[k - 1]], corners[ring[k]]};
    }
}

}  // namespace geom::scan::internal
