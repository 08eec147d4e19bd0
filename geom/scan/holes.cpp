// Border samples by the widest empty angle among 24 neighbours in the tangent plane, into which neighbours beyond an
// edge are turned about it; rings by joining border samples that lie within four spacings of one another and look the
// same way, across an edge the same way along it; a ring is a hole when its samples look towards its middle all round.
// The middle is then moved to the centre of the largest circle without samples, whose diameter is the hole's width.
// Narrow holes have few border samples, so far apart by chance that no ring hangs together: from border samples of no
// hole the largest empty circle beside each is sought directly. Either way the samples next to the circle must lie all
// round it on a surface that leads up to it, and the circle be wide in spacings of its own surroundings.
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
using internal::PointIndex;
using internal::Ring;

constexpr int kNeighbours = 24;
constexpr double kBorderAngle = 112.0 * std::numbers::pi / 180.0;
constexpr double kLinkSpacings = 4.0;   // border samples this near belong to one ring
constexpr double kLeastSpacings = 2.0;  // radius of what is called a hole, in spacings there
constexpr double kLeastWithLone = 2.15;
constexpr double kThinQuarter = 0.85;  // chance makes the thinnest quarter of a ring look thinner than it is
constexpr double kWidestGap = 80.0 * std::numbers::pi / 180.0;  // round a hole, without samples next to it
constexpr double kStands = 0.8;  // |cosine| of a sample's normal and its way to the middle; 0.73 in a corner of three
constexpr double kMostStanding = 0.25;  // share of such samples round a hole
constexpr double kOneWay = 0.9;         // length of the mean normal from which what lies round a hole is one face
constexpr double kMostOff = 0.4;        // radii that the middle of a hole in one face may lie off it
constexpr double kLone =
    1.9;  // spacings of its surroundings that a sample stands alone: chance does it once in ten thousand
constexpr double kTurn = 0.75;  // cosine between normals, below which an edge lies between two samples

struct Border {
    std::uint32_t place;
    Vec3 inward;  ///< unit, from the sample into the empty angle
};

/// Which sixteenth of the turn (u, v) lies in, counted in any order that goes round.
unsigned sixteenth(double u, double v) {
    constexpr double kTan = 0.41421356237309503;  // of a sixteenth
    const double x = std::abs(u), y = std::abs(v);
    const unsigned left = u < 0.0 ? 1u : 0u, below = v < 0.0 ? 1u : 0u;
    const unsigned in_quarter = (y >= kTan * x ? 1u : 0u) + (y >= x ? 1u : 0u) + (kTan * y >= x ? 1u : 0u);
    return (in_quarter ^ 3u * (left ^ below)) + 4u * (left + 3u * below - 2u * left * below);
}

/// An empty angle of a border leaves at least three sixteenths in a row empty.
bool may_be_border(unsigned sectors) {
    static_assert(kBorderAngle > 4.0 * std::numbers::pi / 8.0);
    const unsigned twice = ~(sectors | sectors << 16);
    return (twice & twice >> 1 & twice >> 2 & 0xFFFFu) != 0;
}

std::vector<Border> borders(const PointIndex& index, const std::vector<std::uint32_t>& neighbours,
                            const std::vector<Vec3>& normals, const std::vector<char>& lone, const Surface& surface) {
    std::vector<Vec3> inward(index.size());
    parallel_for(index.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t p = begin; p < end; ++p) {
            const std::uint32_t sample = index.order()[p];
            if (sample >= surface.edge_begin && sample < surface.edge_end) continue;  // their faces end there
            if (lone[p]) continue;
            const Axes axes(normals[p]);
            double at_u[kNeighbours], at_v[kNeighbours];
            int n = 0;
            unsigned sectors = 0;
            for (int q = 0; q < kNeighbours; ++q) {
                if (q >= 12 && q % 4 == 0 && !may_be_border(sectors)) break;
                const std::uint32_t other = neighbours[p * kNeighbours + static_cast<std::size_t>(q)];
                if (other == PointIndex::kNone || lone[other]) continue;
                Vec3 d = index.points()[other] - index.points()[p];
                if (std::abs(dot(normals[p], normals[other])) < kTurn) {
                    const Vec3 edge = unit(cross(normals[p], normals[other]));
                    Vec3 across = cross(edge, normals[p]);
                    if (dot(across, d) < 0.0) across = -across;
                    const double along = dot(d, edge);
                    d = edge * along + across * std::sqrt(std::max(norm2(d) - along * along, 0.0));
                }
                const double u = dot(d, axes.u), v = dot(d, axes.v);
                if (u * u + v * v > 1e-12) at_u[n] = u, at_v[n++] = v, sectors |= 1u << sixteenth(u, v);
            }
            if (n < 8 || !may_be_border(sectors)) continue;
            double angle[kNeighbours];
            for (int q = 0; q < n; ++q) angle[q] = std::atan2(at_v[q], at_u[q]);
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
        c.xx += d.x * d.x, c.xy += d.x * d.y, c.xz += d.x * d.z, c.yy += d.y * d.y, c.yz += d.y * d.z,
            c.zz += d.z * d.z;
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

struct Found {
    Hole hole;
    Ring ring;
};

class Finding {
public:
    Finding(const PointIndex& index, const Surface& surface)
        : index_(index), surface_(surface), normals_(index.size()), spacing_mm_(index.size()) {
        for (std::size_t p = 0; p < normals_.size(); ++p) normals_[p] = surface.normals[index.order()[p]];
        const std::vector<std::uint32_t> neighbours = index.all_nearest(kNeighbours);
        for (std::size_t p = 0; p < normals_.size(); ++p) {
            const std::uint32_t eighth = neighbours[p * kNeighbours + 7];
            const double d8 = eighth == PointIndex::kNone ? 0.0 : distance(index.points()[p], index.points()[eighth]);
            spacing_mm_[p] = static_cast<float>(std::max(d8 * std::sqrt(std::numbers::pi / 8.0), surface.spacing_mm));
        }
        find_lone(neighbours);
        border_ = borders(index, neighbours, normals_, lone_, surface);
    }

    std::vector<Found> run() {
        if (border_.size() >= 3) {
            from_rings();
            from_empty_circles();
        }
        std::stable_sort(found_.begin(), found_.end(),
                         [](const Found& a, const Found& b) { return a.hole.width > b.hole.width; });
        return std::move(found_);
    }

private:
    /// A sample that stands alone, much farther from its nearest than its surroundings' samples do, is dirt that hovers
    /// before the surface or lies in a hole, and neither fills the hole nor ends it.
    void find_lone(const std::vector<std::uint32_t>& neighbours) {
        lone_.assign(normals_.size(), 0);
        parallel_for(normals_.size(), 4096, [&](std::size_t begin, std::size_t end) {
            for (std::size_t p = begin; p < end; ++p) {
                const std::uint32_t first = neighbours[p * kNeighbours];
                if (first == PointIndex::kNone) continue;
                const double alone_mm = distance(index_.points()[p], index_.points()[first]);
                if (alone_mm < kLone * surface_.spacing_mm) continue;
                std::vector<float> around;
                for (std::size_t q = 0; q < kNeighbours; ++q)
                    if (const std::uint32_t other = neighbours[p * kNeighbours + q]; other != PointIndex::kNone)
                        around.push_back(spacing_mm_[other]);
                const auto quarter = around.begin() + static_cast<std::ptrdiff_t>(around.size() / 4);
                std::nth_element(around.begin(), quarter, around.end());
                lone_[p] = alone_mm > kLone * *quarter;
            }
        });
    }
    /// What a hole's radius must be, in spacings there: more where a lone sample was left out, for then chance has had
    /// one more way to make it.
    double least_spacings(Point3 centre, double radius_mm) const {
        constexpr int kTried = 4;
        std::uint32_t place[kTried];
        float d2[kTried];
        const int n = index_.nearest(centre, kTried, place, d2);
        for (int i = 0; i < n; ++i)
            if (lone_[place[i]] && std::sqrt(static_cast<double>(d2[i])) < radius_mm) return kLeastWithLone;
        return kLeastSpacings;
    }
    /// To the nearest sample that is not lone.
    double nearest_mm(Point3 from) const {
        constexpr int kTried = 4;
        std::uint32_t place[kTried];
        float d2[kTried];
        const int n = index_.nearest(from, 1, place, d2);
        if (n == 0) return 1e300;
        if (!lone_[place[0]]) return std::sqrt(static_cast<double>(d2[0]));
        const int more = index_.nearest(from, kTried, place, d2);
        for (int i = 0; i < more; ++i)
            if (!lone_[place[i]]) return std::sqrt(static_cast<double>(d2[i]));
        return std::sqrt(static_cast<double>(d2[more - 1]));
    }

    /// Centre and radius of the largest empty circle about the ring's middle, by steps that halve; no wider than
    /// most_mm.
    void settle(Ring& ring, double first_step_mm, double most_mm, double& radius_mm) const {
        radius_mm = nearest_mm(ring.centre);
        for (double step = first_step_mm; step > 0.1; step /= 2.0)
            for (bool moved = true; moved;) {
                moved = false;
                for (int a = 0; a < 8; ++a) {
                    const double t = a * std::numbers::pi / 4.0;
                    const Point3 to = ring.centre + (ring.axes.u * std::cos(t) + ring.axes.v * std::sin(t)) * step;
                    const double r = nearest_mm(to);
                    if (r > radius_mm + 1e-3 && r < most_mm) radius_mm = r, ring.centre = to, moved = true;
                }
            }
    }

    void from_rings() {
        std::vector<Point3> at;
        for (const Border& b : border_) at.push_back(index_.points()[b.place]);
        for (const auto& members : rings(at, border_, normals_, kLinkSpacings * surface_.spacing_mm)) {
            std::vector<Point3> points;
            std::vector<Vec3> inward;
            for (const std::uint32_t m : members) points.push_back(at[m]), inward.push_back(border_[m].inward);
            std::optional<Ring> ring = ring_of(points, inward);
            if (!ring) continue;
            double radius_mm = 0.0;
            settle(*ring, ring->reach_mm / 2.0, ring->reach_mm * 1.2, radius_mm);
            ring->reach_mm = 0.0;
            for (const Point3& p : points) ring->reach_mm = std::max(ring->reach_mm, distance(p, ring->centre));
            for (const std::uint32_t m : members) ring->members.push_back(border_[m].place);
            // The surface passes through a hole's ring; where it runs along the ring's axis, the ring is a corner's or
            // mouth's.
            double across = 0.0;
            for (const std::uint32_t m : ring->members) across += std::abs(dot(normals_[m], ring->axes.n));
            if (across < 0.55 * static_cast<double>(ring->members.size())) continue;
            const Shell shell = shell_of(*ring, radius_mm);
            if (radius_mm < least_spacings(ring->centre, radius_mm) * shell.spacing_mm ||
                !shell.is_all_round(radius_mm))
                continue;
            add(*ring, radius_mm);
        }
    }
    /// Where a hole's border is thin, for few samples chance to lie there, no ring hangs together: from the border
    /// samples that belong to none, the largest empty circle next to each, if it is not one of open space.
    void from_empty_circles() {
        for (const Border& b : border_) {
            const Point3 from = index_.points()[b.place];
            const double s = spacing_mm_[b.place];
            Ring ring{from + b.inward * (kLeastSpacings * s), Axes(normals_[b.place]), 0.0, {}};
            if (nearest_mm(ring.centre) < 1.6 * s) continue;
            if (nearest_mm(from + b.inward * (8.0 * s)) > 6.5 * s) continue;
            const bool is_known = std::any_of(found_.begin(), found_.end(), [&](const Found& f) {
                return distance(ring.centre, f.ring.centre) < std::max(f.ring.reach_mm, f.hole.width.mm() / 2.0);
            });
            if (is_known) continue;
            double radius_mm = 0.0;
            for (int round = 0; round < 2; ++round) {
                settle(ring, s, 8.0 * s, radius_mm);
                const Shell shell = shell_of(ring, radius_mm);
                ring.axes = Axes(shell.normal);
                ring.centre += shell.normal * dot(shell.normal, shell.middle - ring.centre);
            }
            settle(ring, 0.5 * s, 8.0 * s, radius_mm);
            const Shell shell = shell_of(ring, radius_mm);
            if (radius_mm < least_spacings(ring.centre, radius_mm) * shell.spacing_mm || radius_mm > 7.5 * s ||
                !shell.is_all_round(radius_mm))
                continue;
            const bool is_again = std::any_of(found_.begin(), found_.end(), [&](const Found& f) {
                return distance(ring.centre, f.ring.centre) < std::max(f.ring.reach_mm, f.hole.width.mm() / 2.0);
            });
            if (is_again) continue;
            ring.members = shell.nearest;
            for (const std::uint32_t m : ring.members)
                ring.reach_mm = std::max(ring.reach_mm, distance(index_.points()[m], ring.centre));
            add(ring, radius_mm);
        }
    }

    /// The samples next to an empty circle. Round a hole they lie on all sides and its surface leads up to it; round a
    /// circle that settled in the air beside an edge, or where a boss stands on a wall, they do not.
    struct Shell {
        double spacing_mm = 0.0;  ///< about the circle
        double widest =
            2.0 * std::numbers::pi;          ///< angle about the circle's middle without any, nor a member of the ring
        double standing = 1.0;               ///< share of them whose surface stands across the way to the middle
        double one_way = 0.0;                ///< length of their mean normal
        double off_mm = 0.0;                 ///< of the circle's middle from theirs, along it
        Vec3 normal;                         ///< mean, unit
        Point3 middle;                       ///< of the samples
        std::vector<std::uint32_t> nearest;  ///< in each of the directions
        bool is_all_round(double radius_mm) const {
            return widest < kWidestGap && standing < kMostStanding &&
                   (one_way < kOneWay || off_mm < kMostOff * radius_mm);
        }
    };
    Shell shell_of(const Ring& ring, double radius_mm) const {
        const double wanted = std::numbers::pi * (5.0 * radius_mm / surface_.spacing_mm + 6.0);
        const int k = std::clamp(static_cast<int>(wanted), 24, 256);
        std::vector<std::uint32_t> place(static_cast<std::size_t>(k));
        std::vector<float> d2(place.size());
        place.resize(static_cast<std::size_t>(index_.nearest(ring.centre, k, place.data(), d2.data())));
        Shell shell;
        std::vector<double> angles;
        constexpr std::size_t kSectors = 24;
        std::vector<std::uint32_t> nearest(kSectors, PointIndex::kNone);  // they come by distance
        shell.standing = 0.0;
        std::erase_if(place, [&](std::uint32_t p) { return lone_[p] != 0; });
        for (const std::uint32_t p : place) {
            const Vec3 d = index_.points()[p] - ring.centre, n = normals_[p];
            shell.middle += index_.points()[p] / static_cast<double>(place.size());
            shell.normal += dot(n, ring.axes.n) < 0.0 ? -n : n;
            shell.standing += std::abs(dot(n, unit(d))) > kStands ? 1.0 / static_cast<double>(place.size()) : 0.0;
            const double angle = std::atan2(dot(d, ring.axes.v), dot(d, ring.axes.u));
            angles.push_back(angle);
            const auto sector =
                static_cast<std::size_t>((angle / (2.0 * std::numbers::pi) + 0.5) * kSectors) % kSectors;
            if (nearest[sector] == PointIndex::kNone) nearest[sector] = p;
        }
        // By their number on the ring's area, all and on its thinnest quarter: spacings of border samples tell too
        // much.
        const double farthest2 = place.empty() ? 0.0 : norm2(index_.points()[place.back()] - ring.centre);
        const double area = std::numbers::pi * std::max(farthest2 - radius_mm * radius_mm, 0.0);
        double quarter[4] = {};
        for (const double angle : angles)
            quarter[static_cast<std::size_t>((angle / (2.0 * std::numbers::pi) + 0.5) * 4.0) % 4] += 1.0;
        const double fewest = std::max(*std::min_element(quarter, quarter + 4), 1.0);
        shell.spacing_mm = std::max(std::sqrt(area / static_cast<double>(std::max<std::size_t>(place.size(), 1))),
                                    kThinQuarter * std::sqrt(area / 4.0 / fewest));
        shell.spacing_mm = std::max(shell.spacing_mm, surface_.spacing_mm);
        for (const std::uint32_t p : ring.members) {
            const Vec3 d = index_.points()[p] - ring.centre;
            angles.push_back(std::atan2(dot(d, ring.axes.v), dot(d, ring.axes.u)));
        }
        std::sort(angles.begin(), angles.end());
        shell.widest = angles.front() + 2.0 * std::numbers::pi - angles.back();
        for (std::size_t i = 0; i + 1 < angles.size(); ++i)
            shell.widest = std::max(shell.widest, angles[i + 1] - angles[i]);
        shell.one_way = norm(shell.normal) / static_cast<double>(std::max<std::size_t>(place.size(), 1));
        shell.normal = norm(shell.normal) > 0.0 ? unit(shell.normal) : ring.axes.n;
        shell.off_mm = std::abs(dot(shell.normal, shell.middle - ring.centre));
        for (const std::uint32_t p : nearest)
            if (p != PointIndex::kNone) shell.nearest.push_back(p);
        return shell;
    }
    void add(const Ring& ring, double radius_mm) {
        Hole hole;
        hole.place = ring.centre;
        hole.width = Length::mm(2.0 * radius_mm);
        found_.push_back({hole, ring});
    }

    const PointIndex& index_;
    const Surface& surface_;
    std::vector<Vec3> normals_;      ///< by place
    std::vector<float> spacing_mm_;  ///< by place, never under the cloud's
    std::vector<char> lone_;         ///< by place
    std::vector<Border> border_;
    std::vector<Found> found_;
};

}  // namespace

std::vector<Hole> find_holes(const Surface& surface) {
    EXPECTS(surface.points.size() == surface.normals.size());
    if (surface.points.size() < kNeighbours) return {};
    std::vector<Hole> holes;
    const PointIndex index(surface.points);
    for (const Found& f : Finding(index, surface).run()) holes.push_back(f.hole);
    return holes;
}

void close_holes(Surface& surface, Length most) {
    EXPECTS(surface.points.size() == surface.normals.size());
    surface.holes.clear();
    if (surface.points.size() < kNeighbours) return;
    const PointIndex index(surface.points);
    for (Found& f : Finding(index, surface).run()) {
        if (f.hole.width <= most) {
            const HolePatch patch = internal::patch_over(index, surface, f.ring);
            f.hole.misfit_mm = patch.misfit_mm;
            // What carrying the faces on leaves open, and what is open about the samples they were fitted to.
            f.hole.bound_mm = std::hypot(patch.bound_mm, patch.faces > 1 ? surface.edge_bound_mm : surface.bound_mm);
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
    std::stable_sort(surface.holes.begin(), surface.holes.end(),
                     [](const Hole& a, const Hole& b) { return a.width > b.width; });
}

}  // namespace geom::scan
