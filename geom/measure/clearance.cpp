// Where every point's own distance is wanted, points are taken cell by cell and the last foot found bounds
// the next search: it is a place of the part, so the nearest one cannot be farther.
#include "geom/measure/clearance.h"

#include "geom/core/parallel.h"
#include "geom/measure/internal/least_search.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::measure {

namespace {

constexpr std::size_t kGrain = 2048;

/// A point's cell in a box, and the points within a margin of the box in an order that keeps to cells.
class Cells {
public:
    Cells(const Aabb& box, double margin)
        : lo_(box.lo - Vec3{margin, margin, margin}), hi_(box.hi + Vec3{margin, margin, margin}) {}

    bool holds(Point3 p) const {
        return p.x >= lo_.x && p.x <= hi_.x && p.y >= lo_.y && p.y <= hi_.y && p.z >= lo_.z && p.z <= hi_.z;
    }
    /// Rows run to and fro, so that the next cell is mostly a neighbour.
    std::uint64_t key(Point3 p) const {
        std::array<std::uint64_t, 3> cell{};
        for (std::size_t a = 0; a < 3; ++a) cell[a] = static_cast<std::uint64_t>((p[a] - lo_[a]) / kCell_mm) & kMost;
        if (cell[2] % 2 == 1) cell[1] = kMost - cell[1];
        if (cell[1] % 2 == 1) cell[0] = kMost - cell[0];
        return (cell[2] << 40) | (cell[1] << 20) | cell[0];
    }
    Aabb box(Point3 p) const {
        Aabb out;
        for (std::size_t a = 0; a < 3; ++a) {
            out.lo[a] = lo_[a] + kCell_mm * std::floor((p[a] - lo_[a]) / kCell_mm);
            out.hi[a] = out.lo[a] + kCell_mm;
        }
        return out;
    }
    std::vector<std::uint32_t> order(const std::vector<Point3>& points) const {
        std::vector<std::pair<std::uint64_t, std::uint32_t>> keyed;
        for (std::size_t i = 0; i < points.size(); ++i)
            if (holds(points[i])) keyed.emplace_back(key(points[i]), static_cast<std::uint32_t>(i));
        std::sort(keyed.begin(), keyed.end());
        std::vector<std::uint32_t> out;
        for (const auto& k : keyed) out.push_back(k.second);
        return out;
    }

private:
    static constexpr double kCell_mm = 4.0;
    static constexpr std::uint64_t kMost = 0xfffff;
    Point3 lo_, hi_;
};

}  // namespace

Clearance least_clearance(const TriangleTree& part, const std::vector<Point3>& points,
                          const std::function<bool(std::size_t)>& counts) {
    return internal::least_search(points, std::numeric_limits<double>::infinity(), counts,
                                  [&](Point3 p, double within) { return part.nearest(p, within); });
}

Clearance least_clearance_going_in(const RayTree& part, const std::vector<Point3>& points, double bound_mm,
                                   const std::function<bool(std::size_t)>& counts) {
    return internal::least_search(points, bound_mm, counts,
                                  [&](Point3 p, double within) { return part.nearest(p, within); });
}

std::vector<NearPoint> points_nearer(const TriangleTree& part, const TriangleTree& filled,
                                     const std::vector<Point3>& points, double limit_mm,
                                     const std::function<bool(std::size_t)>& counts) {
    // A direction without meaning, so that no ray runs along an edge of a part made of planes.
    const Vec3 direction = unit({0.5773, 0.4142, 0.7071});
    Aabb box = part.box();
    box.grow(filled.box().lo);
    box.grow(filled.box().hi);
    const Cells cells(box, limit_mm);
    const std::vector<std::uint32_t> order = cells.order(points);
    std::vector<std::vector<NearPoint>> found((order.size() + kGrain - 1) / kGrain);
    parallel_for(order.size(), kGrain, [&](std::size_t begin, std::size_t end) {
        Nearest last;
        std::uint64_t cell = ~std::uint64_t{0};
        bool one_answer = false, inside = false;  // a cell that no triangle touches lies all inside or all outside
        for (std::size_t k = begin; k < end; ++k) {
            const std::size_t i = order[k];
            const Point3 p = points[i];
            if (counts && !counts(i)) continue;
            const std::uint64_t own_cell = cells.key(p);
            if (own_cell != cell || !one_answer) inside = filled.crossings(p, direction) % 2 == 1;
            if (own_cell != cell) one_answer = !filled.any_overlapping(cells.box(p));
            cell = own_cell;
            double within = inside ? std::numeric_limits<double>::infinity() : limit_mm;
            if (last.is_found()) within = std::min(within, distance(p, last.at) + 1e-9);
            const Nearest near = part.nearest(p, within);
            if (!near.is_found()) continue;
            last = near;
            if (inside)
                found[begin / kGrain].push_back({i, -near.distance_mm});
            else if (near.distance_mm < limit_mm)
                found[begin / kGrain].push_back({i, near.distance_mm});
        }
    });
    std::vector<NearPoint> out;
    for (const auto& f : found) out.insert(out.end(), f.begin(), f.end());
    std::sort(out.begin(), out.end(), [](const NearPoint& a, const NearPoint& b) {
        return a.distance_mm < b.distance_mm || (a.distance_mm == b.distance_mm && a.index < b.index);
    });
    return out;
}

// Over a triangle with middle c and corners v, a function f that changes by no more than the way gone is at least
// f(c) - r, r the distance of the farthest corner. A convex one is at least f(c) - 2 (max f(v) - f(c)) as well: every x
// of the triangle is c - sum l_i (v_i - c) with l_i >= 0 and sum l_i <= 2, so c is a mean of x and corners.
LeastOnMesh least_on_mesh(const TriMesh& mesh, const std::function<double(Point3)>& distance, double slack_mm,
                          DistanceKind kind, double enough_mm) {
    struct Valued {
        Point3 at;
        double value;
    };
    LeastOnMesh best;
    const auto sought = [&] { return std::min(best.value, enough_mm) - slack_mm; };
    const auto ask = [&](Point3 p) {
        const double d = distance(p);
        if (d < best.value) best = {d, p};
        return Valued{p, d};
    };
    std::vector<double> at_corner(mesh.vertices.size());
    parallel_for(at_corner.size(), 1024, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) at_corner[i] = distance(mesh.vertices[i]);
    });
    for (const auto& t : mesh.triangles)
        for (const std::uint32_t v : t)
            if (at_corner[v] < best.value) best = {at_corner[v], mesh.vertices[v]};
    std::vector<std::array<Valued, 3>> open;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        // From the corners' values first: no point of the triangle is farther from its nearest corner than the longest
        // side / sqrt 3.
        const double reach = std::sqrt(std::max({norm2(b - a), norm2(c - b), norm2(a - c)}) / 3.0);
        const auto& v = mesh.triangles[t];
        if (std::min({at_corner[v[0]], at_corner[v[1]], at_corner[v[2]]}) - reach >= sought()) continue;
        open.push_back({Valued{a, at_corner[v[0]]}, Valued{b, at_corner[v[1]]}, Valued{c, at_corner[v[2]]}});
        while (!open.empty()) {
            const auto [p, q, r] = open.back();
            open.pop_back();
            const Valued centre = ask((p.at + q.at + r.at) / 3.0);
            double below =
                std::sqrt(std::max({norm2(p.at - centre.at), norm2(q.at - centre.at), norm2(r.at - centre.at)}));
            if (kind == DistanceKind::Convex)
                below = std::min(below, 2.0 * std::max(0.0, std::max({p.value, q.value, r.value}) - centre.value));
            if (centre.value - below >= sought()) continue;
            // A sliver is halved across until it is none: in four it would stay as slender.
            const double l_pq = norm2(p.at - q.at), l_qr = norm2(q.at - r.at), l_rp = norm2(r.at - p.at);
            const auto halve = [&](const Valued& from, const Valued& to, const Valued& apex) {
                const Valued middle = ask((from.at + to.at) * 0.5);
                open.push_back({from, middle, apex});
                open.push_back({middle, to, apex});
            };
            if (const double longest = std::max({l_pq, l_qr, l_rp}); longest > 4.0 * std::min({l_pq, l_qr, l_rp})) {
                if (longest == l_pq)
                    halve(p, q, r);
                else if (longest == l_qr)
                    halve(q, r, p);
                else
                    halve(r, p, q);
                continue;
            }
            const Valued pq = ask((p.at + q.at) * 0.5), qr = ask((q.at + r.at) * 0.5), rp = ask((r.at + p.at) * 0.5);
            open.push_back({p, pq, rp});
            open.push_back({q, qr, pq});
            open.push_back({r, rp, qr});
            open.push_back({pq, qr, rp});
        }
    }
    return best;
}

LeastOnMesh least_convex_on_mesh(const TriMesh& mesh, const std::function<Sloped(Point3)>& distance, double slack_mm) {
    struct Known {
        Point3 at;
        Sloped f;
        double least_at(Point3 a, Point3 b, Point3 c) const {
            return f.value + std::min({dot(f.slope, a - at), dot(f.slope, b - at), dot(f.slope, c - at)});
        }
    };
    LeastOnMesh best;
    const auto ask = [&](Point3 p) {
        const Known known{p, distance(p)};
        if (known.f.value < best.value) best = {known.f.value, p};
        return known;
    };
    std::vector<Sloped> at_corner(mesh.vertices.size());
    parallel_for(at_corner.size(), 1024, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) at_corner[i] = distance(mesh.vertices[i]);
    });
    for (const auto& t : mesh.triangles)
        for (const std::uint32_t v : t)
            if (at_corner[v].value < best.value) best = {at_corner[v].value, mesh.vertices[v]};
    std::vector<std::array<Known, 3>> open;
    for (const auto& t : mesh.triangles) {
        const auto known = [&](std::uint32_t v) { return Known{mesh.vertices[v], at_corner[v]}; };
        open.push_back({known(t[0]), known(t[1]), known(t[2])});
        while (!open.empty()) {
            const auto [p, q, r] = open.back();
            open.pop_back();
            const auto below = [&](const Known& k) { return k.least_at(p.at, q.at, r.at); };
            if (std::max({below(p), below(q), below(r)}) >= best.value - slack_mm) continue;
            if (below(ask((p.at + q.at + r.at) / 3.0)) >= best.value - slack_mm) continue;
            const Known pq = ask((p.at + q.at) * 0.5), qr = ask((q.at + r.at) * 0.5), rp = ask((r.at + p.at) * 0.5);
            open.push_back({p, pq, rp});
            open.push_back({q, qr, pq});
            open.push_back({r, rp, qr});
            open.push_back({pq, qr, rp});
        }
    }
    return best;
}

}  // namespace geom::measure
