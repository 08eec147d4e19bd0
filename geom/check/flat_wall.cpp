// Growing goes twice: first about the seed's own plane, then about the plane of what was found. The rectangle is looked
// for on a raster of the area, by sums over its cells: first every rectangle of a coarse raster, then each edge of the
// best is moved cell by cell while that lowers its resonance.
#include "geom/check/internal/flat_wall.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {
namespace {

constexpr double kTurn_deg = 8.0;        // of normals off the area's plane
constexpr std::size_t kMostAreas = 24;   // that are looked at, from the largest triangles on
constexpr double kLeastSide_mm = 20.0;   // of areas that are told
constexpr double kLeastSplit_mm = 10.0;  // of what a support leaves
constexpr double kFilled = 0.85, kEdgeFilled = 0.6;
constexpr int kCells = 144, kCoarse = 24;  // along each side
constexpr int kTurns = 6;                  // of 15 degrees
constexpr int kEdgeCells = 2;

struct Flat2 {
    double x = 0.0, y = 0.0;
};

struct Neighbours {
    std::vector<std::array<std::uint32_t, 3>> of;  ///< by edge; itself where there is none
};

Neighbours neighbours_of(const TriMesh& mesh) {
    Neighbours n;
    n.of.resize(mesh.triangles.size());
    std::vector<std::array<std::uint32_t, 4>> edges;  // lower vertex, higher vertex, triangle, side
    edges.reserve(3 * mesh.triangles.size());
    for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t)
        for (std::uint32_t k = 0; k < 3; ++k) {
            const std::uint32_t a = mesh.triangles[t][k], b = mesh.triangles[t][(k + 1) % 3];
            edges.push_back({std::min(a, b), std::max(a, b), t, k});
            n.of[t][k] = t;
        }
    std::sort(edges.begin(), edges.end());
    for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
        const auto &e = edges[i], &f = edges[i + 1];
        if (e[0] != f[0] || e[1] != f[1]) continue;
        n.of[e[2]][e[3]] = f[2];
        n.of[f[2]][f[3]] = e[2];
    }
    return n;
}

/// Everything of the mesh that growing asks again and again.
struct Triangles {
    explicit Triangles(const TriMesh& m) : mesh(m), neighbours(neighbours_of(m)) {
        for (std::size_t t = 0; t < m.triangles.size(); ++t) {
            const Vec3 n = cross(m.corner(t, 1) - m.corner(t, 0), m.corner(t, 2) - m.corner(t, 0));
            area_mm2.push_back(0.5 * norm(n));
            normal.push_back(unit(n));
        }
    }
    Point3 middle(std::size_t t) const { return (mesh.corner(t, 0) + mesh.corner(t, 1) + mesh.corner(t, 2)) / 3.0; }

    const TriMesh& mesh;
    Neighbours neighbours;
    std::vector<double> area_mm2;
    std::vector<Vec3> normal;
};

std::vector<std::uint32_t> grown(const Triangles& all, std::uint32_t seed, const Plane& plane, double half_wall_mm,
                                 const std::vector<char>& counts, std::vector<std::uint32_t>& stamp,
                                 std::uint32_t number) {
    const double least_cos = std::cos(kTurn_deg * std::numbers::pi / 180.0);
    const auto belongs = [&](std::uint32_t t) {
        if (!counts[t]) return false;
        if (all.area_mm2[t] > 1e-6 && dot(all.normal[t], plane.outward) < least_cos) return false;
        for (int k = 0; k < 3; ++k)
            if (std::abs(plane.height(all.mesh.corner(t, k))) > half_wall_mm) return false;
        return true;
    };
    std::vector<std::uint32_t> area;
    if (!belongs(seed)) return area;
    area.push_back(seed);
    stamp[seed] = number;
    for (std::size_t i = 0; i < area.size(); ++i)
        for (const std::uint32_t next : all.neighbours.of[area[i]])
            if (stamp[next] != number && belongs(next)) {
                stamp[next] = number;
                area.push_back(next);
            }
    return area;
}

Plane plane_of(const Triangles& all, const std::vector<std::uint32_t>& area, double& mm2) {
    Vec3 normal, middle;
    mm2 = 0.0;
    for (const std::uint32_t t : area) {
        normal += all.normal[t] * all.area_mm2[t];
        middle += all.middle(t) * all.area_mm2[t];
        mm2 += all.area_mm2[t];
    }
    return {mm2 > 0.0 ? middle / mm2 : Point3{}, unit(normal)};
}

// Rectangles ----------------------------------------------------------------------------------------------------------

/// Turn of the tightest rectangle round the points: along one side of their hull.
double tightest_turn(std::vector<Flat2> points) {
    std::sort(points.begin(), points.end(),
              [](const Flat2& a, const Flat2& b) { return a.x < b.x || (a.x == b.x && a.y < b.y); });
    std::vector<Flat2> hull;
    const auto side = [](const Flat2& o, const Flat2& a, const Flat2& b) {
        return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
    };
    for (const bool is_upper : {false, true}) {
        const std::size_t start = hull.size();
        for (const Flat2& p : points) {
            while (hull.size() >= start + 2 && side(hull[hull.size() - 2], hull.back(), p) <= 1e-9) hull.pop_back();
            hull.push_back(p);
        }
        hull.pop_back();
        if (!is_upper) std::reverse(points.begin(), points.end());
    }
    double best = 0.0, least = 1e300;
    for (std::size_t i = 0; i < hull.size(); ++i) {
        const Flat2 &a = hull[i], &b = hull[(i + 1) % hull.size()];
        if (std::hypot(b.x - a.x, b.y - a.y) < 1.0) continue;
        const double turn = std::atan2(b.y - a.y, b.x - a.x), c = std::cos(turn), s = std::sin(turn);
        double lo_x = 1e300, hi_x = -1e300, lo_y = 1e300, hi_y = -1e300;
        for (const Flat2& p : hull) {
            const double x = c * p.x + s * p.y, y = c * p.y - s * p.x;
            lo_x = std::min(lo_x, x), hi_x = std::max(hi_x, x), lo_y = std::min(lo_y, y), hi_y = std::max(hi_y, y);
        }
        if (const double box = (hi_x - lo_x) * (hi_y - lo_y); box < least * (1.0 - 1e-9)) least = box, best = turn;
    }
    return best;
}

/// The area on a raster of kCells by kCells over its own box at one turn.
class Raster {
public:
    Raster(const std::vector<std::array<Flat2, 3>>& triangles, const std::vector<Flat2>& supports, double turn)
        : cos_(std::cos(turn)), sin_(std::sin(turn)) {
        for (const auto& t : triangles)
            for (const Flat2& p : t) {
                const Flat2 q = turned(p);
                lo_.x = std::min(lo_.x, q.x), lo_.y = std::min(lo_.y, q.y);
                hi_.x = std::max(hi_.x, q.x), hi_.y = std::max(hi_.y, q.y);
            }
        std::vector<char> filled(kCells * kCells, 0);
        for (const auto& t : triangles) fill(turned(t[0]), turned(t[1]), turned(t[2]), filled);
        for (int j = 0; j < kCells; ++j)
            for (int i = 0; i < kCells; ++i)
                sum(i + 1, j + 1) = sum(i, j + 1) + sum(i + 1, j) - sum(i, j) + filled[at(i, j)];
        for (const Flat2& p : supports) {
            const Flat2 q = turned(p);
            supports_.push_back({(q.x - lo_.x) / cell_x(), (q.y - lo_.y) / cell_y()});
        }
    }

    struct Box {
        int x0 = 0, x1 = 0, y0 = 0, y1 = 0;
    };
    double stiffness(const Box& b) const {
        const double w = (b.x1 - b.x0) * cell_x(), h = (b.y1 - b.y0) * cell_y();
        return 1.0 / (w * w) + 1.0 / (h * h);
    }
    bool holds(const Box& b) const {
        if (b.x0 < 0 || b.y0 < 0 || b.x1 > kCells || b.y1 > kCells) return false;
        if ((b.x1 - b.x0) * cell_x() < kLeastSplit_mm || (b.y1 - b.y0) * cell_y() < kLeastSplit_mm) return false;
        const auto is_filled = [&](const Box& part, double share) {
            const int cells = (part.x1 - part.x0) * (part.y1 - part.y0);
            return count(part) >= share * cells;
        };
        if (!is_filled(b, kFilled)) return false;
        const int ex = std::min(kEdgeCells, b.x1 - b.x0), ey = std::min(kEdgeCells, b.y1 - b.y0);
        if (!is_filled({b.x0, b.x0 + ex, b.y0, b.y1}, kEdgeFilled) ||
            !is_filled({b.x1 - ex, b.x1, b.y0, b.y1}, kEdgeFilled) ||
            !is_filled({b.x0, b.x1, b.y0, b.y0 + ey}, kEdgeFilled) ||
            !is_filled({b.x0, b.x1, b.y1 - ey, b.y1}, kEdgeFilled))
            return false;
        constexpr double kOnEdge_cells = 0.51;
        return std::none_of(supports_.begin(), supports_.end(), [&](const Flat2& s) {
            return s.x > b.x0 + kOnEdge_cells && s.x < b.x1 - kOnEdge_cells && s.y > b.y0 + kOnEdge_cells &&
                   s.y < b.y1 - kOnEdge_cells;
        });
    }
    /// The best of all, if it is better than `least`.
    std::optional<Box> best(double& least) const {
        constexpr int step = kCells / kCoarse;
        std::optional<Box> found;
        for (int x0 = 0; x0 < kCells; x0 += step)
            for (int x1 = kCells; x1 > x0; x1 -= step)
                for (int y0 = 0; y0 < kCells; y0 += step)
                    for (int y1 = kCells; y1 > y0; y1 -= step) {
                        const Box b{x0, x1, y0, y1};
                        const double s = stiffness(b);
                        if (s >= least * (1.0 - 1e-9)) break;  // smaller ones are stiffer still
                        if (holds(b)) found = b, least = s;
                    }
        return found;
    }
    /// Its edges moved while that lowers its stiffness.
    Box settled(Box b) const {
        for (bool is_moved = true; is_moved;) {
            is_moved = false;
            for (int edge = 0; edge < 4; ++edge)
                for (const int by : {8, 3, 1}) {
                    Box wider = b;
                    (edge == 0   ? wider.x0
                     : edge == 1 ? wider.x1
                     : edge == 2 ? wider.y0
                                 : wider.y1) += edge % 2 == 0 ? -by : by;
                    if (!holds(wider)) continue;
                    b = wider;
                    is_moved = true;
                }
        }
        return b;
    }
    WallRectangle rectangle(const Box& b, const Frame& frame) const {
        const double w = (b.x1 - b.x0) * cell_x(), h = (b.y1 - b.y0) * cell_y();
        const double x = lo_.x + 0.5 * (b.x0 + b.x1) * cell_x(), y = lo_.y + 0.5 * (b.y0 + b.y1) * cell_y();
        const Vec3 u = frame.dir_to_parent({cos_, sin_, 0.0}), v = frame.dir_to_parent({-sin_, cos_, 0.0});
        return {frame.origin + u * x + v * y, w >= h ? u : v, std::max(w, h), std::min(w, h)};
    }

private:
    double cell_x() const { return std::max((hi_.x - lo_.x) / kCells, 1e-9); }
    double cell_y() const { return std::max((hi_.y - lo_.y) / kCells, 1e-9); }
    Flat2 turned(const Flat2& p) const { return {cos_ * p.x + sin_ * p.y, cos_ * p.y - sin_ * p.x}; }
    static std::size_t at(int i, int j) { return static_cast<std::size_t>(j) * kCells + static_cast<std::size_t>(i); }
    int& sum(int i, int j) { return sums_[static_cast<std::size_t>(j) * (kCells + 1) + static_cast<std::size_t>(i)]; }
    int sum(int i, int j) const {
        return sums_[static_cast<std::size_t>(j) * (kCells + 1) + static_cast<std::size_t>(i)];
    }
    int count(const Box& b) const { return sum(b.x1, b.y1) - sum(b.x0, b.y1) - sum(b.x1, b.y0) + sum(b.x0, b.y0); }

    /// Cells whose middle lies in the triangle, its edges counted in.
    void fill(Flat2 a, Flat2 b, Flat2 c, std::vector<char>& filled) const {
        const auto to_cells = [&](Flat2 p) { return Flat2{(p.x - lo_.x) / cell_x(), (p.y - lo_.y) / cell_y()}; };
        a = to_cells(a), b = to_cells(b), c = to_cells(c);
        const double twice = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        if (std::abs(twice) < 1e-12) return;
        const auto first = [](double v) { return std::max(0, static_cast<int>(std::floor(v - 0.5))); };
        const auto last = [](double v) { return std::min(kCells - 1, static_cast<int>(std::ceil(v - 0.5))); };
        for (int j = first(std::min({a.y, b.y, c.y})); j <= last(std::max({a.y, b.y, c.y})); ++j)
            for (int i = first(std::min({a.x, b.x, c.x})); i <= last(std::max({a.x, b.x, c.x})); ++i) {
                const double x = i + 0.5, y = j + 0.5;
                const double wa = ((b.x - x) * (c.y - y) - (b.y - y) * (c.x - x)) / twice;
                const double wb = ((c.x - x) * (a.y - y) - (c.y - y) * (a.x - x)) / twice;
                if (wa >= -1e-9 && wb >= -1e-9 && wa + wb <= 1.0 + 1e-9) filled[at(i, j)] = 1;
            }
    }

    double cos_, sin_;
    Flat2 lo_{1e300, 1e300}, hi_{-1e300, -1e300};
    std::vector<int> sums_ = std::vector<int>((kCells + 1) * (kCells + 1), 0);
    std::vector<Flat2> supports_;  ///< in cells
};

/// Where a support meets the area's plane, if it does or ends near it.
std::optional<Point3> foot_of(const Support& support, const Plane& plane, double wall_mm) {
    const Vec3 along = support.to - support.from;
    const double length = norm(along), slope = length > 0.0 ? dot(along, plane.outward) / length : 0.0;
    constexpr double kSlant = 0.3;  // one that runs along the wall holds it elsewhere
    if (std::abs(slope) < kSlant) return std::nullopt;
    const double s = -plane.height(support.from) / slope;
    if (s < -(1.5 * wall_mm + 1.0) || s > length + 1.5 * wall_mm + 1.0) return std::nullopt;
    return support.from + along * (s / length);
}

Frame frame_of(const Plane& plane) {
    Frame frame;
    frame.origin = plane.point;
    frame.z = plane.outward;
    frame.x = any_perpendicular(plane.outward);
    frame.y = cross(frame.z, frame.x);
    return frame;
}

}  // namespace

std::optional<WallRectangle> rectangle_of(const TriMesh& mesh, const FlatWall& area, double wall_mm,
                                          const std::vector<Support>& supports) {
    const Frame frame = frame_of(area.plane);
    std::vector<std::array<Flat2, 3>> triangles;
    std::vector<Flat2> points, held;
    for (const std::uint32_t t : area.triangles) {
        std::array<Flat2, 3> flat;
        for (int k = 0; k < 3; ++k) {
            const Point3 p = frame.to_local(mesh.corner(t, k));
            flat[static_cast<std::size_t>(k)] = {p.x, p.y};
            points.push_back({p.x, p.y});
        }
        triangles.push_back(flat);
    }
    if (points.empty()) return std::nullopt;
    for (const Support& support : supports)
        if (const auto foot = foot_of(support, area.plane, wall_mm)) {
            const Point3 p = frame.to_local(*foot);
            held.push_back({p.x, p.y});
        }
    const double first = tightest_turn(points);
    std::optional<WallRectangle> best;
    double least = 1e300;
    for (int k = 0; k < kTurns; ++k) {
        const Raster raster(triangles, held, first + k * std::numbers::pi / 12.0);
        double stiffness = least;
        const auto box = raster.best(stiffness);
        if (!box) continue;
        const auto settled = raster.settled(*box);
        least = raster.stiffness(settled);
        best = raster.rectangle(settled, frame);
    }
    return best;
}

std::vector<FlatWall> flat_walls(const TriMesh& mesh, double wall_mm, const std::vector<Support>& supports,
                                 const std::function<bool(std::size_t)>& counts) {
    const Triangles all(mesh);
    const std::size_t n = mesh.triangles.size();
    std::vector<char> is_wall(n, 1), is_taken(n, 0);
    for (std::size_t t = 0; counts && t < n; ++t) is_wall[t] = counts(t) ? 1 : 0;
    std::vector<std::uint32_t> seeds(n), stamp(n, 0);
    for (std::uint32_t t = 0; t < n; ++t) seeds[t] = t;
    std::stable_sort(seeds.begin(), seeds.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return all.area_mm2[a] > all.area_mm2[b]; });
    std::vector<FlatWall> walls;
    std::uint32_t number = 0;
    std::size_t looked_at = 0;
    for (const std::uint32_t seed : seeds) {
        if (is_taken[seed] || !is_wall[seed] || all.area_mm2[seed] <= 1e-6) continue;
        if (looked_at == kMostAreas) break;
        FlatWall wall;
        wall.plane = {all.middle(seed), all.normal[seed]};
        wall.triangles = grown(all, seed, wall.plane, wall_mm / 2.0, is_wall, stamp, ++number);
        // Once more about the plane of what was found, from its largest triangle near its middle.
        for (int again = 0; again < 2 && !wall.triangles.empty(); ++again) {
            for (const std::uint32_t t : wall.triangles) is_taken[t] = 1;
            const Plane fitted = plane_of(all, wall.triangles, wall.area_mm2);
            auto better = grown(all, seed, fitted, wall_mm / 2.0, is_wall, stamp, ++number);
            if (better.empty()) break;
            wall.plane = fitted;
            wall.triangles = std::move(better);
        }
        is_taken[seed] = 1;
        for (const std::uint32_t t : wall.triangles) is_taken[t] = 1;
        plane_of(all, wall.triangles, wall.area_mm2);
        if (wall.area_mm2 < kLeastSide_mm * kLeastSide_mm) continue;
        ++looked_at;
        if (const auto rectangle = rectangle_of(mesh, wall, wall_mm, supports);
            rectangle && rectangle->shorter_mm >= kLeastSide_mm) {
            wall.rectangle = *rectangle;
            walls.push_back(std::move(wall));
        }
    }
    std::stable_sort(walls.begin(), walls.end(), [](const FlatWall& a, const FlatWall& b) {
        return a.rectangle.stiffness() < b.rectangle.stiffness();
    });
    return walls;
}

}  // namespace geom::check
