// What of the outer skin faces no scanned surface. From spots all over the outer body a ray goes out along the normal,
// through cells that know whether a sample is near. It ends at a scanned sample, at a sample of a
// closed hole's patch, at a limit, a keep-out or an open plane, which the job knows of, or leaves the scan.
#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"
#include "geom/space/keep_out_distance.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace geom::check {

namespace {

constexpr double kLeastArea_mm2 = 25.0, kSpot_mm = 4.0;
constexpr double kCell_mm = 2.0, kFarthest_mm = 300.0;

using Cell = std::array<int, 3>;

enum class Faces : char { Known, ClosedHole, Nothing };

/// Cells near samples, by kind of sample: scanned, or of a closed hole's patch.
class Seen {
public:
    Seen(const scan::Surface& surface, const Aabb& about) : cell_mm_(std::max(kCell_mm, 1.2 * surface.spacing_mm)) {
        const Vec3 around{kFarthest_mm, kFarthest_mm, kFarthest_mm};
        for (std::size_t a = 0; a < 3; ++a) {
            lo_[a] = std::max(about.lo[a] - around[a], surface.box.lo[a]) - 2.0 * cell_mm_;
            const double hi = std::min(about.hi[a] + around[a], surface.box.hi[a]) + 2.0 * cell_mm_;
            n_[a] = std::max(3, static_cast<int>(std::ceil((hi - lo_[a]) / cell_mm_)));
        }
        kinds_.assign(
            static_cast<std::size_t>(n_[0]) * static_cast<std::size_t>(n_[1]) * static_cast<std::size_t>(n_[2]), 0);
        for (std::size_t i = 0; i < surface.points.size(); ++i) {
            const Cell c = cell_of(surface.points[i]);
            const char kind = i < surface.edge_end ? kScanned : kPatch;
            mark(c, static_cast<char>(kind << 2));
            for (int n = 0; n < 27; ++n) mark({c[0] + n % 3 - 1, c[1] + n / 3 % 3 - 1, c[2] + n / 9 - 1}, kind);
        }
    }
    static constexpr char kScanned = 1, kPatch = 2;

    /// Kinds of the samples in the place's cell, or else of those in the cells round it.
    char near(Point3 p) const {
        const Cell c = cell_of(p);
        if (!is_in(c)) return 0;
        const char kinds = kinds_[index(c)];
        return static_cast<char>(kinds > 3 ? kinds >> 2 : kinds);
    }
    bool is_in(Point3 p) const { return is_in(cell_of(p)); }
    double cell_mm() const { return cell_mm_; }

private:
    Cell cell_of(Point3 p) const {
        Cell c;
        for (std::size_t a = 0; a < 3; ++a)
            c[a] = static_cast<int>(std::floor(std::clamp((p[a] - lo_[a]) / cell_mm_, -2.0, n_[a] + 1.0)));
        return c;
    }
    bool is_in(const Cell& c) const {
        return c[0] >= 0 && c[1] >= 0 && c[2] >= 0 && c[0] < n_[0] && c[1] < n_[1] && c[2] < n_[2];
    }
    std::size_t index(const Cell& c) const {
        return (static_cast<std::size_t>(c[2]) * static_cast<std::size_t>(n_[1]) + static_cast<std::size_t>(c[1])) *
                   static_cast<std::size_t>(n_[0]) +
               static_cast<std::size_t>(c[0]);
    }
    void mark(const Cell& c, char kind) {
        if (is_in(c)) kinds_[index(c)] = static_cast<char>(kinds_[index(c)] | kind);
    }

    double cell_mm_;
    Point3 lo_;
    std::array<int, 3> n_{};
    std::vector<char> kinds_;
};

class Looking {
public:
    explicit Looking(const Case& c) : c_(c), seen_(c.surface, bounds(c.outer_body)) {
        rule_mm_ = c.wanted_distance_mm() + 1.0;
        for (const space::Limit& l : c.request.room.limits) planes_.push_back(l.plane);
        for (const space::OpenPlane& o : c.request.room.open) planes_.push_back(o.plane);
        Plane mouth = c.request.baffle.plane;
        mouth.point += mouth.outward * c.enclosure().baffle_t_mm;
        planes_.push_back(mouth);
    }

    Faces from(Point3 p, Vec3 out) const {
        const double step = 0.75 * seen_.cell_mm();
        bool between = false;
        for (double gone = 0.0; gone < kFarthest_mm; gone += step) {
            const Point3 x = p + out * gone;
            if (!seen_.is_in(x)) return is_ruled(x) ? Faces::Known : Faces::Nothing;
            const char kind = seen_.near(x);
            if (kind == Seen::kPatch) return Faces::ClosedHole;
            if (kind == Seen::kScanned || (kind == 0 && between)) return Faces::Known;
            between = between || kind != 0;  // at a hole's border: the next cells tell
            if (is_ruled(x)) return Faces::Known;
        }
        return Faces::Nothing;
    }

private:
    bool is_ruled(Point3 x) const {
        for (const Plane& plane : planes_)
            if (plane.height(x) > -rule_mm_) return true;
        for (const space::KeepOut& k : c_.request.room.keep_outs)
            if (!std::holds_alternative<TriMesh>(k.shape) && !space::is_moving(k.motion)
                    ? distance_to(k.shape, x) < k.clearance.mm() + rule_mm_
                    : is_in(space::reach_of(k), x, k.clearance.mm() + rule_mm_))
                return true;
        return false;
    }
    static bool is_in(const Aabb& box, Point3 p, double margin) {
        const Vec3 lo = p - box.lo, hi = box.hi - p;
        return std::min({lo.x, lo.y, lo.z, hi.x, hi.y, hi.z}) > -margin;
    }

    const Case& c_;
    Seen seen_;
    std::vector<Plane> planes_;  ///< that the job knows of: what lies at them need not be scanned
    double rule_mm_ = 0.0;
};

/// A small piece of the outer body.
struct Spot {
    Point3 at;
    Vec3 out;
    double area_mm2 = 0.0;
    Faces faces = Faces::Known;
};

/// The mesh in spots of about `size_mm`: large triangles are cut, small ones that look the same way are put together.
std::vector<Spot> spots_of(const TriMesh& mesh, double size_mm) {
    struct Sum {
        Vec3 place, out;  ///< weighted by area
        double area = 0.0;
    };
    std::map<std::array<int, 4>, Sum> sums;
    const auto add = [&](Point3 p, Vec3 n, double area) {
        const Vec3 size{std::abs(n.x), std::abs(n.y), std::abs(n.z)};
        const int axis = size.x >= size.y && size.x >= size.z ? 0 : size.y >= size.z ? 1 : 2;
        const int way = 2 * axis + (n[static_cast<std::size_t>(axis)] > 0.0 ? 1 : 0);
        Sum& sum = sums[{static_cast<int>(std::floor(p.x / size_mm)), static_cast<int>(std::floor(p.y / size_mm)),
                         static_cast<int>(std::floor(p.z / size_mm)), way}];
        sum.place += p * area;
        sum.out += n * area;
        sum.area += area;
    };
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 p = mesh.corner(t, 0);
        const Vec3 a = mesh.corner(t, 1) - p, b = mesh.corner(t, 2) - p, n = cross(a, b);
        if (!(norm(n) > 0.0)) continue;
        const int parts =
            std::max(1, static_cast<int>(std::ceil(std::sqrt(std::max({norm2(a), norm2(b), norm2(b - a)})) / size_mm)));
        const double area = 0.5 * norm(n) / (static_cast<double>(parts) * parts);
        for (int i = 0; i < parts; ++i)
            for (int j = 0; i + j < parts; ++j)
                for (const double third :
                     {1.0 / 3.0, 2.0 / 3.0}) {  // the upright small triangle, and the one upside down
                    if (third > 0.5 && i + j + 1 >= parts) continue;
                    add(p + a * ((i + third) / parts) + b * ((j + third) / parts), unit(n), area);
                }
    }
    std::vector<Spot> spots;
    spots.reserve(sums.size());
    for (const auto& [key, sum] : sums) spots.push_back({sum.place / sum.area, unit(sum.out), sum.area, Faces::Known});
    return spots;
}

/// Area and middle of the pieces of one kind; spots in cells that touch hang together.
std::vector<UnscannedPiece> pieces_of(const std::vector<Spot>& spots, Faces kind, double cell_mm) {
    std::map<Cell, std::pair<double, Vec3>> cells;  // area and moment
    for (const Spot& s : spots) {
        if (s.faces != kind) continue;
        Cell cell;
        for (std::size_t a = 0; a < 3; ++a) cell[a] = static_cast<int>(std::floor(s.at[a] / cell_mm));
        auto& [area, moment] = cells[cell];
        area += s.area_mm2;
        moment += s.at * s.area_mm2;
    }
    std::vector<UnscannedPiece> pieces;
    while (!cells.empty()) {
        double area = 0.0;
        Vec3 moment;
        std::vector<Cell> open{cells.begin()->first};
        while (!open.empty()) {
            const Cell at = open.back();
            open.pop_back();
            const auto found = cells.find(at);
            if (found == cells.end()) continue;
            area += found->second.first;
            moment += found->second.second;
            cells.erase(found);
            for (int n = 0; n < 27; ++n) open.push_back({at[0] + n % 3 - 1, at[1] + n / 3 % 3 - 1, at[2] + n / 9 - 1});
        }
        if (area >= kLeastArea_mm2)
            pieces.push_back(
                {kind == Faces::ClosedHole ? "a closed hole of the scan" : "no scanned surface", moment / area, area});
    }
    return pieces;
}

}  // namespace

void check_unscanned(const Case& c, Verdict& verdict) {
    if (c.surface.points.empty() || c.outer_body.triangles.empty()) return;
    const Looking looking(c);
    std::vector<Spot> spots = spots_of(c.outer_body, kSpot_mm);
    // What looks across a dish looks at the dish.
    const auto& seat = c.enclosure().seat;
    if (seat && seat->face_mm > 0.0)
        std::erase_if(spots, [&](const Spot& s) {
            const Vec3 d = s.at - seat->centre, out = c.enclosure().baffle_plane.outward;
            const double depth = -dot(d, out);
            return depth > 0.0 && depth < seat->face_mm + 0.1 && norm(d + out * depth) < seat->foot_radius_mm + 0.1;
        });
    parallel_for(spots.size(), 256, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) spots[i].faces = looking.from(spots[i].at, spots[i].out);
    });
    for (const Faces kind : {Faces::ClosedHole, Faces::Nothing})
        for (UnscannedPiece& piece : pieces_of(spots, kind, 2.0 * kSpot_mm))
            verdict.unscanned.push_back(std::move(piece));
    std::stable_sort(verdict.unscanned.begin(), verdict.unscanned.end(),
                     [](const UnscannedPiece& a, const UnscannedPiece& b) { return a.area_mm2 > b.area_mm2; });
}

}  // namespace geom::check
