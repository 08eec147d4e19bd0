// Border samples by the widest empty angle among 24 neighbours in the tangent plane, into which neighbours beyond an edge
// are turned about it; rings by joining border samples that lie within four spacings of one another and look the same
// way, across an edge the same way along it; a ring is a hole when its samples look towards its middle all round.
// The middle is then moved to the centre of the largest circle without samples, whose diameter is the hole's width.
// Patch: the faces round the ring carried on to where they meet (internal/hole_patch.h).
#include "geom/scan/holes.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/eigen3.h"
#include "geom/scan/internal/hole_patch.h"

#include <algorithm>
#include <numbers>
#include <numeric>
#include <optional>

namespace geom::scan {

namespace {

using internal::Axes;
using internal::HolePatch;
using internal::nearest_mm;
using internal::PointIndex;
using internal::Ring;

constexpr int kNeighbours = 24;
constexpr double kBorderAngle = 112.0 * std::numbers::pi / 180.0;
constexpr double kLinkSpacings = 4.0;     // border samples this near belong to one ring
constexpr double kTurn = 0.75;            // cosine between normals, below which an edge lies between two samples

struct Border {
    std::uint32_t place;
    Vec3 inward;  ///< unit, from the sample into the empty angle
};

std::vector<Border> borders(const PointIndex& index, const std::vector<std::uint32_t>& neighbours,
                            const std::vector<Vec3>& normals, const Surface& surface) {
    std::vector<Vec3> inward(index.size());
    parallel_for(index.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t p = begin; p < end; ++p) {
            const std::uint32_t sample = index.order()[p];
            if (sample >= surface.edge_begin && sample < surface.edge_end) continue;  // their faces end there
            const Axes axes(normals[p]);
            double angle[kNeighbours];
            int n = 0;
            for (int q = 0; q < kNeighbours; ++q) {
                const std::uint32_t other = neighbours[p * kNeighbours + static_cast<std::size_t>(q)];
                if (other == PointIndex::kNone) continue;
                Vec3 d = index.points()[other] - index.points()[p];
                if (std::abs(dot(normals[p], normals[other])) < kTurn) {
                    const Vec3 edge = unit(cross(normals[p], normals[other]));
                    Vec3 across = cross(edge, normals[p]);
                    if (dot(across, d) < 0.0) across = -across;
                    const double along = dot(d, edge);
                    d = edge * along + across * std::sqrt(std::max(norm2(d) - along * along, 0.0));
                }
                const double u = dot(d, axes.u), v = dot(d, axes.v);
                if (u * u + v * v > 1e-12) angle[n++] = std::atan2(v, u);
            }
            if (n < 8) continue;
            std::sort(angle, angle + n);
            double widest = angle[0] + 2.0 * std::numbers::pi - angle[n - 1], middle = angle[n - 1] + widest / 2.0;
            for (int q = 0; q + 1 < n; ++q)
                if (angle[q + 1] - angle[q] > widest) {
                    widest = angle[q + 1] - angle[q];
                    middle = angle[q] + widest / 2.0;
                }
            if (widest > kBorderAngle) inward[p] = axes.u * std::cos(middle) + axes.v * std::sin(middle);
        }
    });
    std::vector<Border> found;
    for (std::size_t p = 0; p < inward.size(); ++p)
        if (norm2(inward[p]) > 0.0) found.push_back({static_cast<std::uint32_t>(p), inward[p]});
    return found;
}

/// Whether two neighbouring border samples can belong to one ring.
bool look_alike(const Border& a, const Border& b, const std::vector<Vec3>& normals) {
    const Vec3 na = normals[a.place], nb = normals[b.place];
    if (std::abs(dot(na, nb)) >= kTurn) return dot(a.inward, b.inward) >= 0.3;
    const Vec3 edge = unit(cross(na, nb));
    return dot(a.inward, edge) * dot(b.inward, edge) >= 0.15;
}

/// Groups of border samples that hang together and look much the same way from one to the next, in order of their first
/// member. Without the second condition a hole beside an edge or the scan's rim would grow together with it.
std::vector<std::vector<std::uint32_t>> rings(const std::vector<Point3>& at, const std::vector<Border>& border,
                                              const std::vector<Vec3>& normals, double link_mm) {
    std::vector<std::uint32_t> parent(at.size());
    std::iota(parent.begin(), parent.end(), 0u);
    const auto root = [&](std::uint32_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    const PointIndex index(at);
    constexpr int kNear = 12;
    const std::vector<std::uint32_t> near = index.all_nearest(kNear);
    for (std::size_t p = 0; p < at.size(); ++p)
        for (int q = 0; q < kNear; ++q) {
            const std::uint32_t other = near[p * kNear + static_cast<std::size_t>(q)];
            if (other == PointIndex::kNone || distance(index.points()[p], index.points()[other]) > link_mm) continue;
            if (!look_alike(border[index.order()[p]], border[index.order()[other]], normals)) continue;
            const std::uint32_t a = root(index.order()[p]), b = root(index.order()[other]);
            parent[std::max(a, b)] = std::min(a, b);
        }
    std::vector<std::vector<std::uint32_t>> groups(at.size());
    for (std::uint32_t i = 0; i < at.size(); ++i) groups[root(i)].push_back(i);
    std::erase_if(groups, [](const auto& g) { return g.size() < 6; });
    return groups;
}

/// Plane through points: centre and normal of least spread.
Axes plane_of(const std::vector<Point3>& points, Point3 centre) {
    internal::Sym3 c;
    for (const Point3& p : points) {
        const Vec3 d = p - centre;
        c.xx += d.x * d.x, c.xy += d.x * d.y, c.xz += d.x * d.z, c.yy += d.y * d.y, c.yz += d.y * d.z, c.zz += d.z * d.z;
    }
    return Axes(internal::least_eigenvector(c, {0, 0, 1}));
}

/// A ring that looks inwards all round; none otherwise.
std::optional<Ring> ring_of(const std::vector<Point3>& points, const std::vector<Vec3>& inward) {
    Point3 centre;
    for (const Point3& p : points) centre += p;
    centre = centre / static_cast<double>(points.size());
    const Axes axes = plane_of(points, centre);
    double looks_in = 0.0, reach = 0.0;
    std::vector<double> angles;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const Vec3 d = points[i] - centre;
        const double u = dot(d, axes.u), v = dot(d, axes.v);
        angles.push_back(std::atan2(v, u));
        looks_in += dot(inward[i], unit(-d));
        reach = std::max(reach, std::hypot(u, v));
    }
    std::sort(angles.begin(), angles.end());
    double widest = angles.front() + 2.0 * std::numbers::pi - angles.back();
    for (std::size_t i = 0; i + 1 < angles.size(); ++i) widest = std::max(widest, angles[i + 1] - angles[i]);
    if (looks_in < 0.4 * static_cast<double>(points.size()) || widest > 0.85 * std::numbers::pi) return std::nullopt;
    return Ring{centre, axes, reach, {}};
}

/// Centre and radius of the largest empty circle about the ring's middle, by steps that halve.
void settle(const PointIndex& index, Ring& ring, double& radius_mm) {
    radius_mm = nearest_mm(index, ring.centre);
    for (double step = ring.reach_mm / 2.0; step > 0.1; step /= 2.0)
        for (bool moved = true; moved;) {
            moved = false;
            for (int a = 0; a < 8; ++a) {
                const double t = a * std::numbers::pi / 4.0;
                const Point3 to = ring.centre + (ring.axes.u * std::cos(t) + ring.axes.v * std::sin(t)) * step;
                const double r = nearest_mm(index, to);
                if (r > radius_mm + 1e-3 && r < ring.reach_mm * 1.2) radius_mm = r, ring.centre = to, moved = true;
            }
        }
}

struct Found {
    Hole hole;
    Ring ring;
};

std::vector<Found> find(const PointIndex& index, const Surface& surface) {
    std::vector<Vec3> normals(index.size());
    for (std::size_t p = 0; p < normals.size(); ++p) normals[p] = surface.normals[index.order()[p]];
    const std::vector<Border> border = borders(index, index.all_nearest(kNeighbours), normals, surface);
    std::vector<Point3> at;
    for (const Border& b : border) at.push_back(index.points()[b.place]);
    std::vector<Found> found;
    if (at.size() < 6) return found;
    for (const auto& members : rings(at, border, normals, kLinkSpacings * surface.spacing_mm)) {
        std::vector<Point3> points;
        std::vector<Vec3> inward;
        for (const std::uint32_t m : members) points.push_back(at[m]), inward.push_back(border[m].inward);
        std::optional<Ring> ring = ring_of(points, inward);
        if (!ring) continue;
        double radius_mm = 0.0;
        settle(index, *ring, radius_mm);
        ring->reach_mm = 0.0;
        for (const Point3& p : points) ring->reach_mm = std::max(ring->reach_mm, distance(p, ring->centre));
        for (const std::uint32_t m : members) ring->members.push_back(border[m].place);
        if (radius_mm < 2.0 * surface.spacing_mm) continue;
        // The surface passes through a hole's ring; where it runs along the ring's axis, the ring is a corner's or mouth's.
        double across = 0.0;
        for (const std::uint32_t m : ring->members) across += std::abs(dot(normals[m], ring->axes.n));
        if (across < 0.55 * static_cast<double>(ring->members.size())) continue;
        Hole hole;
        hole.place = ring->centre;
        hole.width = Length::mm(2.0 * radius_mm);
        found.push_back({hole, *ring});
    }
    std::stable_sort(found.begin(), found.end(), [](const Found& a, const Found& b) { return a.hole.width > b.hole.width; });
    return found;
}

}  // namespace

std::vector<Hole> find_holes(const Surface& surface) {
    EXPECTS(surface.points.size() == surface.normals.size());
    if (surface.points.size() < kNeighbours) return {};
    std::vector<Hole> holes;
    for (const Found& f : find(PointIndex(surface.points), surface)) holes.push_back(f.hole);
    return holes;
}

void close_holes(Surface& surface, Length most) {
    EXPECTS(surface.points.size() == surface.normals.size());
    surface.holes.clear();
    if (surface.points.size() < kNeighbours) return;
    const PointIndex index(surface.points);
    for (Found& f : find(index, surface)) {
        if (f.hole.width <= most) {
            const HolePatch patch = internal::patch_over(index, surface, f.ring);
            f.hole.misfit_mm = patch.misfit_mm;
            f.hole.bound_mm = patch.bound_mm;
            f.hole.faces = patch.faces;
            if (patch.faces > 1) f.hole.place = patch.deepest, f.hole.width = Length::mm(2.0 * patch.depth_mm);
            f.hole.closed = patch.is_trusted && f.hole.width <= most;
            if (f.hole.closed) {
                surface.points.insert(surface.points.end(), patch.points.begin(), patch.points.end());
                surface.normals.insert(surface.normals.end(), patch.normals.begin(), patch.normals.end());
                surface.radius_mm.insert(surface.radius_mm.end(), patch.radius_mm.begin(), patch.radius_mm.end());
            }
        }
        surface.holes.push_back(f.hole);
    }
    std::stable_sort(surface.holes.begin(), surface.holes.end(), [](const Hole& a, const Hole& b) { return a.width > b.width; });
}

}  // namespace geom::scan
