// Both searches first try one point in sixteen: the least of those bounds the search of all the others, which then
// mostly ends at the first boxes. Chunks report on their own and are compared in order, so that ties have one answer.
#include "geom/measure/clearance.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::measure {

namespace {

constexpr std::size_t kGrain = 2048, kCoarse = 16;

template <class Ask>
Clearance search(const std::vector<Point3>& points, double bound, const std::function<bool(std::size_t)>& counts,
                 const Ask& ask) {
    Clearance best;
    best.least_mm = bound;
    bool found = false;
    for (const std::size_t step : {kCoarse, std::size_t{1}}) {
        const std::size_t n = (points.size() + step - 1) / step, chunks = (n + kGrain - 1) / kGrain;
        std::vector<Clearance> least(chunks);
        const double start = best.least_mm;
        parallel_for(n, kGrain, [&](std::size_t begin, std::size_t end) {
            Clearance own;
            own.least_mm = start;
            bool any = false;
            for (std::size_t k = begin; k < end; ++k) {
                const std::size_t i = k * step;
                if (counts && !counts(i)) continue;
                const Nearest near = ask(points[i], own.least_mm);
                if (!near.is_found() || (any && near.distance_mm >= own.least_mm)) continue;
                own = {near.distance_mm, points[i], near.at, i};
                any = true;
            }
            if (!any) own.least_mm = std::numeric_limits<double>::infinity();
            least[begin / kGrain] = own;
        });
        for (const Clearance& c : least) {
            if (c.least_mm > best.least_mm) continue;
            if (c.least_mm < best.least_mm || !found || c.index < best.index) {
                best = c;
                found = true;
            }
        }
    }
    if (!found) best.least_mm = std::numeric_limits<double>::infinity();
    return best;
}

}  // namespace

Clearance least_clearance(const TriangleTree& part, const std::vector<Point3>& points,
                          const std::function<bool(std::size_t)>& counts) {
    return search(points, std::numeric_limits<double>::infinity(), counts,
                  [&](Point3 p, double within) { return part.nearest(p, within); });
}

Clearance least_clearance_going_in(const RayTree& part, const std::vector<Point3>& points, double bound_mm,
                                   const std::function<bool(std::size_t)>& counts) {
    return search(points, bound_mm, counts, [&](Point3 p, double within) { return part.nearest(p, within); });
}

std::vector<NearPoint> points_nearer(const TriangleTree& part, const TriangleTree& filled, const std::vector<Point3>& points,
                                     double limit_mm, const std::function<bool(std::size_t)>& counts) {
    // A direction without meaning, so that no ray runs along an edge of a part made of planes.
    const Vec3 direction = unit({0.5773, 0.4142, 0.7071});
    const std::size_t chunks = (points.size() + kGrain - 1) / kGrain;
    std::vector<std::vector<NearPoint>> found(chunks);
    Aabb box = part.box();
    box.grow(filled.box().lo);
    box.grow(filled.box().hi);
    parallel_for(points.size(), kGrain, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            const Point3 p = points[i];
            bool outside = false;
            for (std::size_t a = 0; a < 3; ++a)
                outside = outside || p[a] < box.lo[a] - limit_mm || p[a] > box.hi[a] + limit_mm;
            if (outside || (counts && !counts(i))) continue;
            const bool inside = filled.crossings(p, direction) % 2 == 1;
            const Nearest near = part.nearest(p, inside ? std::numeric_limits<double>::infinity() : limit_mm);
            if (inside)
                found[begin / kGrain].push_back({i, -near.distance_mm});
            else if (near.is_found() && near.distance_mm < limit_mm)
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

LeastOnMesh least_on_mesh(const TriMesh& mesh, const std::function<double(Point3)>& distance, double slack_mm) {
    LeastOnMesh best;
    const auto ask = [&](Point3 p) {
        const double d = distance(p);
        if (d < best.value) best = {d, p};
        return d;
    };
    std::vector<double> at_corner(mesh.vertices.size());
    for (std::size_t i = 0; i < mesh.vertices.size(); ++i) at_corner[i] = distance(mesh.vertices[i]);
    for (const auto& t : mesh.triangles)
        for (const std::uint32_t v : t)
            if (at_corner[v] < best.value) best = {at_corner[v], mesh.vertices[v]};
    std::vector<std::array<Point3, 3>> open;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        // From the corners' values first: no point of the triangle is farther from its nearest corner than the longest side / sqrt 3.
        const double reach = std::sqrt(std::max({norm2(b - a), norm2(c - b), norm2(a - c)}) / 3.0);
        const auto& v = mesh.triangles[t];
        if (std::min({at_corner[v[0]], at_corner[v[1]], at_corner[v[2]]}) - reach >= best.value - slack_mm) continue;
        open.push_back({a, b, c});
        while (!open.empty()) {
            const auto [p, q, r] = open.back();
            open.pop_back();
            const Point3 centre = (p + q + r) / 3.0;
            const double radius = std::sqrt(std::max({norm2(p - centre), norm2(q - centre), norm2(r - centre)}));
            if (ask(centre) - radius >= best.value - slack_mm) continue;
            const Point3 pq = (p + q) * 0.5, qr = (q + r) * 0.5, rp = (r + p) * 0.5;
            open.push_back({p, pq, rp});
            open.push_back({q, qr, pq});
            open.push_back({r, rp, qr});
            open.push_back({pq, qr, rp});
        }
    }
    return best;
}

}  // namespace geom::measure
