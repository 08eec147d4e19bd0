// What of the outer skin faces no scanned surface. From spots all over the outer body a ray goes out along the normal,
// from sample to sample: each step is as long as the nearest sample allows. It ends at a scanned sample, at a sample of a
// closed hole's patch, at a limit, a keep-out or an open plane, which the job knows of, or leaves the scan.
#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace geom::check {

namespace {

constexpr double kLeastArea_mm2 = 25.0, kSpot_mm = 4.0;
constexpr int kMostSteps = 64;

enum class Faces : char { Known, ClosedHole, Nothing };

class Looking {
public:
    explicit Looking(const Case& c) : c_(c), nearest_(c.surface) {
        reach_mm_ = std::max(3.0, 2.5 * c.surface.spacing_mm);
        rule_mm_ = c.wanted_distance_mm() + 1.0;
        for (const space::Limit& l : c.request.room.limits) planes_.push_back(l.plane);
        for (const space::OpenPlane& o : c.request.room.open) planes_.push_back(o.plane);
        Plane mouth = c.request.baffle.plane;
        mouth.point += mouth.outward * c.enclosure().baffle_t_mm;
        planes_.push_back(mouth);
    }

    Faces from(Point3 p, Vec3 out) const {
        double gone = 0.0;
        for (int step = 0; step < kMostSteps; ++step) {
            const Point3 x = p + out * gone;
            std::size_t index = 0;
            const double d = nearest_.nearest(x, &index);
            if (d <= reach_mm_ || (step == 0 && d <= rule_mm_ && dot(c_.surface.points[index] - x, out) > 0.8 * d))
                return index < c_.surface.edge_end ? Faces::Known : Faces::ClosedHole;
            if (is_ruled(x)) return Faces::Known;
            const Vec3 beyond = x - c_.surface.box.lo, before = c_.surface.box.hi - x;
            if (std::min({beyond.x, beyond.y, beyond.z, before.x, before.y, before.z}) < -reach_mm_) return Faces::Nothing;
            gone += std::max(0.5, d - 0.7 * reach_mm_);
        }
        return Faces::Nothing;
    }

private:
    bool is_ruled(Point3 x) const {
        for (const Plane& plane : planes_)
            if (plane.height(x) > -rule_mm_) return true;
        for (const space::KeepOut& k : c_.request.room.keep_outs)
            if (!std::holds_alternative<TriMesh>(k.shape) ? distance_to(k.shape, x) < k.clearance.mm() + rule_mm_
                                                          : is_in(bounds(std::get<TriMesh>(k.shape)), x, k.clearance.mm() + rule_mm_))
                return true;
        return false;
    }
    static bool is_in(const Aabb& box, Point3 p, double margin) {
        const Vec3 lo = p - box.lo, hi = box.hi - p;
        return std::min({lo.x, lo.y, lo.z, hi.x, hi.y, hi.z}) > -margin;
    }

    const Case& c_;
    scan::SurfaceDistance nearest_;
    std::vector<Plane> planes_;  ///< that the job knows of: what lies at them need not be scanned
    double reach_mm_ = 0.0, rule_mm_ = 0.0;
};

/// A small piece of the outer body.
struct Spot {
    Point3 at;
    Vec3 out;
    double area_mm2 = 0.0;
    Faces faces = Faces::Known;
};

/// The mesh in spots of at most `edge_mm`.
std::vector<Spot> spots_of(const TriMesh& mesh, double edge_mm) {
    std::vector<Spot> spots;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 p = mesh.corner(t, 0);
        const Vec3 a = mesh.corner(t, 1) - p, b = mesh.corner(t, 2) - p, n = cross(a, b);
        if (!(norm(n) > 0.0)) continue;
        const int parts = std::max(1, static_cast<int>(std::ceil(std::sqrt(std::max({norm2(a), norm2(b), norm2(b - a)})) / edge_mm)));
        const double area = 0.5 * norm(n) / (static_cast<double>(parts) * parts);
        for (int i = 0; i < parts; ++i)
            for (int j = 0; i + j < parts; ++j)
                for (const double third : {1.0 / 3.0, 2.0 / 3.0}) {  // the upright small triangle, and the one upside down
                    if (third > 0.5 && i + j + 1 >= parts) continue;
                    spots.push_back({p + a * ((i + third) / parts) + b * ((j + third) / parts), unit(n), area, Faces::Known});
                }
    }
    return spots;
}

using Cell = std::array<int, 3>;

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
            pieces.push_back({kind == Faces::ClosedHole ? "a closed hole of the scan" : "no scanned surface", moment / area, area});
    }
    return pieces;
}

}  // namespace

void check_unscanned(const Case& c, Verdict& verdict) {
    if (c.surface.points.empty() || c.outer_body.triangles.empty()) return;
    const Looking looking(c);
    std::vector<Spot> spots = spots_of(c.outer_body, kSpot_mm);
    parallel_for(spots.size(), 256, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) spots[i].faces = looking.from(spots[i].at, spots[i].out);
    });
    for (const Faces kind : {Faces::ClosedHole, Faces::Nothing})
        for (UnscannedPiece& piece : pieces_of(spots, kind, 2.0 * kSpot_mm)) verdict.unscanned.push_back(std::move(piece));
    std::stable_sort(verdict.unscanned.begin(), verdict.unscanned.end(),
                     [](const UnscannedPiece& a, const UnscannedPiece& b) { return a.area_mm2 > b.area_mm2; });
}

}  // namespace geom::check
