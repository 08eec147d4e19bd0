// A section is the smallest closed loop of the plane round the place that is looked from. The way on is what the bore's
// own triangles there are square to; each section is cut once across the way before it and once more across its own.
// The last one lies in the straight piece before the inner end, whose triangles reach to the rim: how far is what is
// left of the length. Where a step leaves the bore, a shorter one is tried.
#include "geom/check/internal/port_measure.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <unordered_map>
#include <vector>

namespace geom::check {
namespace {

constexpr double kStep_mm = 1.0, kLeastStep_mm = 0.02;
constexpr double kAhead_mm = 40.0;
constexpr double kFirst_mm = 0.25;    // behind the flare
constexpr double kWidens_rel = 1.15;  // a section that is so much larger than the one before is no bore's
constexpr double kFarthest_mm = 5000.0;
constexpr double kSame_mm = 0.02, kStraight_rad = 5e-3;
constexpr double kCorner_rad = 0.6;  // a border that turns by more has a corner there

struct Place2 {
    double x = 0.0, y = 0.0;
};
double cross(Place2 a, Place2 b) {
    return a.x * b.y - a.y * b.x;
}

struct Section {
    Point3 middle;
    double area_mm2 = 0.0;
    double reaches_mm = 0.0;  ///< how far its triangles go on along the plane's normal
    double widest_mm = 0.0;   ///< of the places of its loop from the one that it was looked for from
    Vec3 way;                 ///< that its triangles are square to, unit, on the plane's outward side
};

/// The way that is least along all normals: of the sum of n n^T, each times its weight, what the least eigenvalue
/// belongs to. By powers of trace less that sum.
class Square {
public:
    void add(Vec3 n, double weight) {
        for (std::size_t i = 0; i < 3; ++i)
            for (std::size_t k = 0; k < 3; ++k) sum_[i][k] += weight * n[i] * n[k];
    }
    Vec3 way(Vec3 near) const {
        const double trace = sum_[0][0] + sum_[1][1] + sum_[2][2];
        Vec3 v = near;
        for (int round = 0; round < 200; ++round) {
            Vec3 next = v * trace;
            for (std::size_t i = 0; i < 3; ++i)
                for (std::size_t k = 0; k < 3; ++k) next[i] -= sum_[i][k] * v[k];
            v = unit(next);
        }
        return v;
    }

private:
    std::array<std::array<double, 3>, 3> sum_{};
};

/// Loops of the mesh in a plane.
class Sections {
public:
    explicit Sections(const TriMesh& mesh) : mesh_(mesh), heights_(mesh.vertices.size()) {
        for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t) near_.push_back(t);
    }

    /// From now on only triangles that come this near to a place count.
    void look_near(Point3 at, double within_mm) {
        near_.clear();
        for (std::uint32_t t = 0; t < mesh_.triangles.size(); ++t) {
            Aabb box;
            for (std::size_t k = 0; k < 3; ++k) box.grow(mesh_.corner(t, k));
            bool is_near = true;
            for (std::size_t a = 0; a < 3; ++a)
                is_near = is_near && box.lo[a] <= at[a] + within_mm && box.hi[a] >= at[a] - within_mm;
            if (is_near) near_.push_back(t);
        }
    }

    /// The smallest loop round the plane's own point.
    std::optional<Section> round(const Plane& plane) {
        for (const std::uint32_t t : near_)
            for (const std::uint32_t v : mesh_.triangles[t]) heights_[v] = plane.height(mesh_.vertices[v]);
        const Vec3 x = any_perpendicular(plane.outward), y = geom::cross(plane.outward, x);
        struct Crossing {
            std::uint64_t in, out;
            std::uint32_t triangle;
        };
        std::vector<Crossing> crossings;
        std::unordered_map<std::uint64_t, std::size_t> entered;  // asked by key only
        for (const std::uint32_t t : near_) {
            const auto& v = mesh_.triangles[t];
            const bool a = heights_[v[0]] >= 0.0, b = heights_[v[1]] >= 0.0, c = heights_[v[2]] >= 0.0;
            if (a == b && b == c) continue;
            Crossing crossing{0, 0, t};
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t from = v[k], to = v[(k + 1) % 3];
                if ((heights_[from] >= 0.0) == (heights_[to] >= 0.0)) continue;
                (heights_[from] >= 0.0 ? crossing.in : crossing.out) = key(from, to);
            }
            entered.emplace(crossing.in, crossings.size());
            crossings.push_back(crossing);
        }
        std::optional<Section> least;
        std::vector<char> seen(crossings.size(), 0);
        for (std::size_t start = 0; start < crossings.size(); ++start) {
            if (seen[start] != 0) continue;
            std::vector<Place2> loop;
            double reaches = 0.0, widest = 0.0;
            Square square;
            std::size_t at = start;
            bool is_closed = false;
            while (seen[at] == 0) {
                seen[at] = 1;
                const Vec3 d = where(crossings[at].in) - plane.point;
                loop.push_back({dot(d, x), dot(d, y)});
                widest = std::max(widest, norm(d));
                const auto& t = mesh_.triangles[crossings[at].triangle];
                for (const std::uint32_t v : t) reaches = std::max(reaches, heights_[v]);
                const Vec3 normal = geom::cross(mesh_.vertices[t[1]] - mesh_.vertices[t[0]],
                                                mesh_.vertices[t[2]] - mesh_.vertices[t[0]]);
                square.add(unit(normal), distance(where(crossings[at].in), where(crossings[at].out)));
                const auto next = entered.find(crossings[at].out);
                if (next == entered.end()) break;
                at = next->second;
                is_closed = at == start;
            }
            if (!is_closed || !holds_origin(loop)) continue;
            Section section = told(loop);
            section.middle = plane.point + x * section.middle.x + y * section.middle.y;
            section.reaches_mm = reaches;
            section.widest_mm = widest;
            section.way = square.way(plane.outward);
            if (!least || section.area_mm2 < least->area_mm2) least = section;
        }
        return least;
    }

private:
    static std::uint64_t key(std::uint32_t a, std::uint32_t b) {
        return (static_cast<std::uint64_t>(std::min(a, b)) << 32) | std::max(a, b);
    }
    Point3 where(std::uint64_t edge) const {
        const auto a = static_cast<std::uint32_t>(edge >> 32), b = static_cast<std::uint32_t>(edge);
        return mesh_.vertices[a] +
               (mesh_.vertices[b] - mesh_.vertices[a]) * (heights_[a] / (heights_[a] - heights_[b]));
    }

    static bool holds_origin(const std::vector<Place2>& loop) {
        bool inside = false;
        for (std::size_t i = 0, j = loop.size() - 1; i < loop.size(); j = i++) {
            const Place2 a = loop[i], b = loop[j];
            if ((a.y > 0.0) != (b.y > 0.0) && 0.0 < a.x - a.y * (b.x - a.x) / (b.y - a.y)) inside = !inside;
        }
        return inside;
    }

    /// Middle (in the plane's numbers) and area of a loop.
    static Section told(const std::vector<Place2>& loop) {
        Section section;
        double twice = 0.0, mx = 0.0, my = 0.0;
        for (std::size_t i = 0; i < loop.size(); ++i) {
            const Place2 p = loop[i], q = loop[(i + 1) % loop.size()];
            const double c = cross(p, q);
            twice += c;
            mx += (p.x + q.x) * c, my += (p.y + q.y) * c;
        }
        if (twice == 0.0) return section;
        section.middle = {mx / (3.0 * twice), my / (3.0 * twice), 0.0};
        section.area_mm2 = std::abs(twice) / 2.0 + beyond_chords(loop);
        return section;
    }

    /// What arcs hold beyond their chords: c^2 a / 12 at each corner of chords c that turns by a; where an arc meets a
    /// line, half as much, as the corner turns by half as much there.
    static double beyond_chords(std::vector<Place2> loop) {
        // Triangles that lie in one plane cut what is one chord; written numbers are not exact.
        std::erase_if(loop, [&, last = loop.back()](Place2 p) mutable {
            if (std::hypot(p.x - last.x, p.y - last.y) < kSame_mm) return true;
            last = p;
            return false;
        });
        std::vector<Place2> corners;
        for (std::size_t i = 0; i < loop.size() && loop.size() > 2; ++i) {
            const Place2 before = corners.empty() ? loop.back() : corners.back(), p = loop[i],
                         after = loop[(i + 1) % loop.size()];
            const Place2 u{p.x - before.x, p.y - before.y}, w{after.x - p.x, after.y - p.y};
            const double lengths = std::hypot(u.x, u.y) * std::hypot(w.x, w.y);
            if (std::abs(cross(u, w)) > kStraight_rad * lengths) corners.push_back(p);
        }
        double beyond = 0.0;
        for (std::size_t i = 0; i < corners.size() && corners.size() > 2; ++i) {
            const Place2 p = corners[i], q = corners[(i + 1) % corners.size()], r = corners[(i + 2) % corners.size()];
            const Place2 u{q.x - p.x, q.y - p.y}, w{r.x - q.x, r.y - q.y};
            const double turn = std::abs(std::atan2(cross(u, w), u.x * w.x + u.y * w.y));
            const double chord = std::min(std::hypot(u.x, u.y), std::hypot(w.x, w.y));
            if (turn < kCorner_rad) beyond += chord * chord * turn / 12.0;
        }
        return beyond;
    }

    const TriMesh& mesh_;
    std::vector<std::uint32_t> near_;
    std::vector<double> heights_;  ///< of the vertices of those
};

}  // namespace

std::optional<MeasuredPort> measure_port(const TriMesh& part, Point3 mouth, Vec3 inward, double flare_mm) {
    Sections sections(part);
    const auto like = [](const Section& a, const Section& b) {
        return a.area_mm2 < kWidens_rel * b.area_mm2 && b.area_mm2 < kWidens_rel * a.area_mm2;
    };
    const double first_mm = flare_mm + kFirst_mm;
    auto last = sections.round({mouth + inward * first_mm, inward});
    if (!last) return std::nullopt;
    MeasuredPort port;
    port.length_mm = first_mm;
    // What is looked at goes along: the bore, and no more round it than a few steps need.
    const auto look_round = [&](const Section& section) {
        sections.look_near(section.middle, 2.0 * section.widest_mm + kAhead_mm);
        return section.middle;
    };
    Point3 looked_from = look_round(*last);
    for (double step = kStep_mm; step >= kLeastStep_mm && port.length_mm < kFarthest_mm;) {
        if (distance(last->middle, looked_from) > kAhead_mm / 2.0) looked_from = look_round(*last);
        auto next = sections.round({last->middle + last->way * step, last->way});
        if (next && like(*next, *last)) next = sections.round({next->middle, next->way});
        if (!next || !like(*next, *last)) {
            step /= 2.0;
            continue;
        }
        port.length_mm += distance(next->middle, last->middle);
        last = next;
    }
    port.length_mm += last->reaches_mm;
    port.area_mm2 = last->area_mm2;
    port.end = last->middle + last->way * last->reaches_mm;
    port.turned_rad = std::acos(std::clamp(dot(last->way, inward), -1.0, 1.0));
    return port;
}

}  // namespace geom::check
