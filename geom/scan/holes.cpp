// Border samples by the widest empty angle among 24 neighbours in the tangent plane; rings by joining border samples
// that lie within four spacings of one another; a ring is a hole when its samples look towards its middle all round.
// The middle is then moved to the centre of the largest circle without samples, whose diameter is the hole's width.
// Patch: least-squares quadric over the plane of the ring, sampled at the spacing where no sample lies.
#include "geom/scan/holes.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/eigen3.h"
#include "geom/scan/internal/point_index.h"

#include <Eigen/Dense>

#include <algorithm>
#include <numbers>
#include <numeric>
#include <optional>

namespace geom::scan {

namespace {

using internal::PointIndex;

constexpr int kNeighbours = 24;
constexpr double kBorderAngle = 112.0 * std::numbers::pi / 180.0;
constexpr double kLinkSpacings = 4.0;     // border samples this near belong to one ring
constexpr double kRingWidth_mm = 14.0;    // of the surface round a hole that the patch is fitted to

struct Border {
    std::uint32_t place;
    Vec3 inward;  ///< unit, from the sample into the empty angle
};

/// Tangent axes at a unit normal.
struct Axes {
    Vec3 u, v, n;
    explicit Axes(Vec3 normal) : u(any_perpendicular(normal)), v(cross(normal, u)), n(normal) {}
};

std::vector<Border> borders(const PointIndex& index, const std::vector<std::uint32_t>& neighbours,
                            const std::vector<Vec3>& normals) {
    std::vector<Vec3> inward(index.size());
    parallel_for(index.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t p = begin; p < end; ++p) {
            const Axes axes(normals[p]);
            double angle[kNeighbours];
            int n = 0;
            for (int q = 0; q < kNeighbours; ++q) {
                const std::uint32_t other = neighbours[p * kNeighbours + static_cast<std::size_t>(q)];
                if (other == PointIndex::kNone) continue;
                const Vec3 d = index.points()[other] - index.points()[p];
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

/// Groups of border samples that hang together and look much the same way from one to the next, in order of their first
/// member. Without the second condition a hole beside an edge or the scan's rim would grow together with it.
std::vector<std::vector<std::uint32_t>> rings(const std::vector<Point3>& at, const std::vector<Border>& border, double link_mm) {
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
            if (dot(border[index.order()[p]].inward, border[index.order()[other]].inward) < 0.3) continue;
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

double nearest_mm(const PointIndex& index, Point3 x) {
    std::uint32_t place = 0;
    float distance2 = 0.0f;
    return index.nearest(x, 1, &place, &distance2) > 0 ? std::sqrt(static_cast<double>(distance2)) : 0.0;
}

struct Ring {
    Point3 centre;
    Axes axes;
    double reach_mm;  ///< of the farthest border sample
};

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
    return Ring{centre, axes, reach};
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
    const std::vector<Border> border = borders(index, index.all_nearest(kNeighbours), normals);
    std::vector<Point3> at;
    for (const Border& b : border) at.push_back(index.points()[b.place]);
    std::vector<Found> found;
    if (at.size() < 6) return found;
    for (const auto& members : rings(at, border, kLinkSpacings * surface.spacing_mm)) {
        std::vector<Point3> points;
        std::vector<Vec3> inward;
        for (const std::uint32_t m : members) points.push_back(at[m]), inward.push_back(border[m].inward);
        std::optional<Ring> ring = ring_of(points, inward);
        if (!ring) continue;
        double radius_mm = 0.0;
        settle(index, *ring, radius_mm);
        if (radius_mm < 2.0 * surface.spacing_mm) continue;
        found.push_back({{ring->centre, Length::mm(2.0 * radius_mm), false, 0.0}, *ring});
    }
    std::stable_sort(found.begin(), found.end(), [](const Found& a, const Found& b) { return a.hole.width > b.hole.width; });
    return found;
}

/// Height over the ring's plane as a quadric in (u, v).
struct Quadric {
    Eigen::Matrix<double, 6, 1> c;
    static Eigen::Matrix<double, 6, 1> terms(double u, double v) {
        Eigen::Matrix<double, 6, 1> t;
        t << 1.0, u, v, u * u, u * v, v * v;
        return t;
    }
    double at(double u, double v) const { return c.dot(terms(u, v)); }
};

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
    const double spacing_mm = std::max(surface.spacing_mm, 0.2);
    for (Found& f : find(index, surface)) {
        const auto& [u_axis, v_axis, n_axis] = f.ring.axes;
        const double fit_mm = f.ring.reach_mm + kRingWidth_mm;
        std::vector<Vec3> about;  // (u, v, height)
        for (std::size_t p = 0; p < index.size(); ++p) {
            const Vec3 d = index.points()[p] - f.ring.centre;
            const Vec3 local{dot(d, u_axis), dot(d, v_axis), dot(d, n_axis)};
            // What faces another way, beyond an edge, does not bend the patch.
            const bool faces_along = std::abs(dot(surface.normals[index.order()[p]], n_axis)) > 0.75;
            if (faces_along && std::hypot(local.x, local.y) < fit_mm && std::abs(local.z) < fit_mm) about.push_back(local);
        }
        if (f.hole.width <= most && about.size() >= 12) {
            Eigen::Matrix<double, 6, 6> a = Eigen::Matrix<double, 6, 6>::Zero();
            Eigen::Matrix<double, 6, 1> b = Eigen::Matrix<double, 6, 1>::Zero();
            for (const Vec3& p : about) {
                const auto t = Quadric::terms(p.x / fit_mm, p.y / fit_mm);
                a += t * t.transpose();
                b += t * p.z;
            }
            const Quadric quadric{a.ldlt().solve(b)};
            double sum = 0.0;
            for (const Vec3& p : about) sum += std::pow(p.z - quadric.at(p.x / fit_mm, p.y / fit_mm), 2);
            f.hole.misfit_mm = std::sqrt(sum / static_cast<double>(about.size()));
            if (f.hole.misfit_mm <= std::max(2.0 * surface.noise_mm, 0.6)) {
                const int steps = static_cast<int>(std::ceil(f.ring.reach_mm / spacing_mm));
                for (int j = -steps; j <= steps; ++j)
                    for (int i = -steps; i <= steps; ++i) {
                        const double u = i * spacing_mm, v = j * spacing_mm;
                        if (std::hypot(u, v) > f.ring.reach_mm) continue;
                        const double x = u / fit_mm, y = v / fit_mm;
                        const Point3 p = f.ring.centre + u_axis * u + v_axis * v + n_axis * quadric.at(x, y);
                        if (nearest_mm(index, p) < 0.8 * spacing_mm) continue;
                        const double du = (quadric.c[1] + 2.0 * quadric.c[3] * x + quadric.c[4] * y) / fit_mm;
                        const double dv = (quadric.c[2] + quadric.c[4] * x + 2.0 * quadric.c[5] * y) / fit_mm;
                        surface.points.push_back(p);
                        surface.normals.push_back(unit(n_axis - u_axis * du - v_axis * dv));
                        surface.radius_mm.push_back(static_cast<float>(0.9 * spacing_mm));
                    }
                f.hole.closed = true;
            }
        }
        surface.holes.push_back(f.hole);
    }
}

}  // namespace geom::scan
