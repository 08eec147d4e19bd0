// Seen along the dowels every wall is what it covers of the plane between two heights: polygons cut off at them. Which
// leaves distances of a point to line pieces, and a count of the faces over it that tells whether it lies in the ring.
#include "geom/parts/internal/dowel_places.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

namespace geom::parts {
namespace {

constexpr int kAngles = 72;
constexpr double kStep_mm = 1.5;
constexpr double kOpen_mm = 1e-3;  // over a face that a dowel comes out of
constexpr double kPi = std::numbers::pi;

using Polygon = std::vector<Point3>;

Polygon cut_off(const Polygon& polygon, double height, double side) {
    Polygon kept;
    for (std::size_t i = 0; i < polygon.size(); ++i) {
        const Point3 &a = polygon[i], &b = polygon[(i + 1) % polygon.size()];
        const double da = side * (a.z - height), db = side * (b.z - height);
        if (da >= 0.0) kept.push_back(a);
        if ((da > 0.0 && db < 0.0) || (da < 0.0 && db > 0.0)) kept.push_back(a + (b - a) * (da / (da - db)));
    }
    return kept;
}

bool covers(const Polygon& polygon, double x, double y) {
    bool is_in = false;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        const Point3 &a = polygon[i], &b = polygon[j];
        if ((a.y > y) != (b.y > y) && x < a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y)) is_in = !is_in;
    }
    return is_in;
}

double distance_to(const Polygon& polygon, double x, double y) {
    double least = 1e300;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        const Point3 &a = polygon[j], &b = polygon[i];
        const double ux = b.x - a.x, uy = b.y - a.y, uu = ux * ux + uy * uy;
        const double t = uu > 0.0 ? std::clamp(((x - a.x) * ux + (y - a.y) * uy) / uu, 0.0, 1.0) : 0.0;
        const double dx = x - a.x - t * ux, dy = y - a.y - t * uy;
        least = std::min(least, dx * dx + dy * dy);
    }
    return std::sqrt(least);
}

/// The walls between two heights, as seen along them.
class Shadow {
public:
    Shadow(const TriMesh& mesh, double from, double to) {
        for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
            Polygon p{mesh.corner(t, 0), mesh.corner(t, 1), mesh.corner(t, 2)};
            const auto [lo, hi] = std::minmax({p[0].z, p[1].z, p[2].z});
            if (hi < from || lo > to) continue;
            if (lo < from) p = cut_off(p, from, 1.0);
            if (hi > to) p = cut_off(p, to, -1.0);
            if (p.size() < 2) continue;
            Aabb box;
            for (const Point3& corner : p) box.grow(corner);
            polygons_.push_back({std::move(p), box});
        }
    }
    /// Of the nearest; where it is no more than `enough`, something no more than that.
    double distance(double x, double y, double enough) const {
        double least = 1e300;
        for (const auto& [polygon, box] : polygons_) {
            const double dx = std::max({box.lo.x - x, x - box.hi.x, 0.0});
            const double dy = std::max({box.lo.y - y, y - box.hi.y, 0.0});
            if (dx * dx + dy * dy >= least * least) continue;
            least = std::min(least, distance_to(polygon, x, y));
            if (dx == 0.0 && dy == 0.0 && covers(polygon, x, y)) return 0.0;
            if (least <= enough) break;
        }
        return least;
    }

private:
    std::vector<std::pair<Polygon, Aabb>> polygons_;
};

/// Of places by angle the most even choice that leaves `apart` between dowels; the gap is counted in steps.
std::vector<std::size_t> spread(const std::vector<std::optional<DowelPlace>>& at, int count, double phase,
                                double apart_mm) {
    const auto distance_between = [&](std::size_t a, std::size_t b) {
        return std::hypot(at[a]->x - at[b]->x, at[a]->y - at[b]->y);
    };
    std::vector<std::size_t> starts;
    for (std::size_t i = 0; i < at.size(); ++i)
        if (at[i]) starts.push_back(i);
    const auto off_phase = [&](std::size_t i) {
        const double pitch = 2.0 * kPi / count;
        return std::abs(std::remainder(2.0 * kPi * static_cast<double>(i) / kAngles - phase, pitch));
    };
    std::stable_sort(starts.begin(), starts.end(),
                     [&](std::size_t a, std::size_t b) { return off_phase(a) < off_phase(b) - 1e-9; });
    for (int gap = kAngles / count; gap >= 1; --gap)
        for (const std::size_t start : starts) {
            std::vector<std::size_t> chosen{start};
            for (int by = gap; by < kAngles && static_cast<int>(chosen.size()) < count;) {
                const std::size_t i = (start + static_cast<std::size_t>(by)) % kAngles;
                const bool fits = at[i] && kAngles - by >= gap &&
                                  std::all_of(chosen.begin(), chosen.end(),
                                              [&](std::size_t c) { return distance_between(c, i) >= apart_mm; });
                if (fits) chosen.push_back(i);
                by += fits ? gap : 1;
            }
            if (static_cast<int>(chosen.size()) == count) return chosen;
        }
    return {};
}

}  // namespace

std::vector<DowelPlace> DowelSearch::find(const DowelSpan& span, double phase, DowelPlace& best) const {
    const double radius = options_.diameter.mm() / 2.0, wall = options_.wall.mm();
    const double low = span.opens_below ? span.from_mm + kOpen_mm : span.from_mm;
    const Shadow beside(mesh_, low, span.to_mm);
    const Shadow below(mesh_, span.from_mm - wall, span.from_mm), above(mesh_, span.to_mm, span.to_mm + wall);
    double reach = 0.0;
    for (const Point3& p : mesh_.vertices) reach = std::max(reach, std::hypot(p.x, p.y));
    const auto is_inside = [&](double x, double y) {
        bool is_in = false;
        for (std::size_t t = 0; t < mesh_.triangles.size(); ++t) {
            const Point3 a = mesh_.corner(t, 0), b = mesh_.corner(t, 1), c = mesh_.corner(t, 2);
            if (std::min({a.x, b.x, c.x}) > x || std::max({a.x, b.x, c.x}) < x) continue;
            const Polygon p{a, b, c};
            if (!covers(p, x, y)) continue;
            const Vec3 n = cross(p[1] - p[0], p[2] - p[0]);
            if (p[0].z + ((p[0].x - x) * n.x + (p[0].y - y) * n.y) / n.z > span.joint_mm) is_in = !is_in;
        }
        return is_in;
    };
    best.wall_mm = -1e300;
    std::vector<std::optional<DowelPlace>> at(kAngles);
    for (std::size_t i = 0; i < kAngles; ++i) {
        const double a = 2.0 * kPi * static_cast<double>(i) / kAngles;
        for (double r = kStep_mm; r < reach; r += kStep_mm) {
            DowelPlace place{r * std::cos(a), r * std::sin(a), 0.0};
            double left = 1e300;
            for (const PutDowel& other : others_) {
                const double aside = std::hypot(place.x - other.place.x, place.y - other.place.y);
                const double gap = std::max({span.from_mm - other.span.to_mm, other.span.from_mm - span.to_mm, 0.0});
                left = std::min(left, std::hypot(aside, gap) - 2.0 * radius);
            }
            // No more is asked than whether it is better than what there is.
            const double kept = at[i] ? std::max(wall, at[i]->wall_mm) : wall - 1e-12;
            const double enough = std::min(kept, best.wall_mm);
            if (left <= enough) continue;
            left = std::min(left, beside.distance(place.x, place.y, enough + radius + chord_mm_) - radius - chord_mm_);
            if (left <= enough) continue;
            const bool is_kept = left > kept;
            // What lies before its ends counts for no more than it takes there.
            double ends = above.distance(place.x, place.y, 0.0);
            if (!span.opens_below) ends = std::min(ends, below.distance(place.x, place.y, 0.0));
            place.wall_mm = std::min(left, ends - radius - chord_mm_ + wall);
            if (!is_inside(place.x, place.y)) continue;
            if (place.wall_mm > best.wall_mm) best = place;
            if (!is_kept || ends - radius - chord_mm_ < 0.0) continue;
            place.wall_mm = left;
            at[i] = place;
        }
    }
    for (int count = options_.count; count >= 2; --count) {
        const auto chosen = spread(at, count, phase, 2.0 * radius + wall);
        if (chosen.empty()) continue;
        std::vector<DowelPlace> places;
        for (const std::size_t c : chosen) places.push_back(*at[c]);
        return places;
    }
    return {};
}

}  // namespace geom::parts
