// The room before rounding is the largest of all rules. Where that is no larger than the heights over the two planes,
// no other rule is felt. Deeper than a voxel the field only says "inside" and is not asked for more.
#include "geom/space/internal/free_edge.h"

#include <algorithm>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr double kParallel = 1e-3;  // sine of the angle between two planes

Plane face_of(const Limit& limit, double covering_mm) {
    const Vec3 outward = unit(limit.plane.outward);
    const double in_mm = limit.clearance.mm() + (limit.covering ? covering_mm : 0.0);
    return {limit.plane.point - outward * in_mm, outward};
}

/// The place on both planes that is nearest to `p`.
Point3 on_both(const Plane& a, const Plane& b, Point3 p) {
    const double c = dot(a.outward, b.outward), ha = a.height(p), hb = b.height(p), s2 = 1.0 - c * c;
    return p - a.outward * ((ha - c * hb) / s2) - b.outward * ((hb - c * ha) / s2);
}

}  // namespace

std::vector<SharpEdge> sharp_edges_of(const RoomOptions& options) {
    std::vector<SharpEdge> edges;
    for (const Limit& limit : options.limits)
        for (const std::string& name : limit.sharp_with) {
            const auto other = std::find_if(options.limits.begin(), options.limits.end(),
                                            [&](const Limit& l) { return l.name == name; });
            if (other == options.limits.end()) continue;
            if (std::any_of(edges.begin(), edges.end(),
                            [&](const SharpEdge& e) { return e.first == name && e.second == limit.name; }))
                continue;
            SharpEdge edge{.first = limit.name,
                           .second = name,
                           .a = face_of(limit, options.covering.mm()),
                           .b = face_of(*other, options.covering.mm()),
                           .at = {},
                           .along = {},
                           .free = {}};
            const Vec3 along = cross(edge.a.outward, edge.b.outward);
            if (norm(along) < kParallel) continue;
            edge.along = unit(along);
            edge.at = on_both(edge.a, edge.b, options.air);
            edges.push_back(std::move(edge));
        }
    return edges;
}

std::vector<Stretch> free_along(const SharpEdge& edge, const GridSpec& g, const std::vector<float>& phi,
                                double radius_mm, double tolerance_mm) {
    const double h = g.h_mm, bin = 0.5 * h;
    // The rounding leaves each plane this deep under the other.
    const double deep = radius_mm * (1.0 - dot(edge.a.outward, edge.b.outward)) + h;
    double reach = 0.0;
    for (int corner = 0; corner < 8; ++corner) {
        const Point3 p = g.vehicle_from_box.to_parent(
            g.node((corner & 1) ? g.nx - 1 : 0, (corner & 2) ? g.ny - 1 : 0, (corner & 4) ? g.nz - 1 : 0));
        reach = std::max(reach, std::abs(dot(p - edge.at, edge.along)));
    }
    const auto bins = static_cast<std::size_t>(2.0 * reach / bin) + 4;
    std::vector<unsigned char> seen(bins, 0), blocked(bins, 0);
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                const Point3 p = g.vehicle_from_box.to_parent(g.node(i, j, k));
                const double ha = edge.a.height(p), hb = edge.b.height(p);
                if (ha < -deep || hb < -deep || ha > h || hb > h) continue;
                const bool is_free =
                    static_cast<double>(phi[g.index(i, j, k)]) <= std::max({ha, hb, -h}) + tolerance_mm;
                // What lies beside the planes' own nodes by a voxel is told by the node behind or before it.
                const double s = (dot(p - edge.at, edge.along) + reach) / bin;
                const auto first = static_cast<std::size_t>(std::max(0.0, s - 2.0)),
                           last = std::min(bins - 1, static_cast<std::size_t>(s + 2.0));
                for (std::size_t q = first; q <= last; ++q) (is_free ? seen : blocked)[q] = 1;
            }
    std::vector<Stretch> free;
    for (std::size_t q = 0; q < bins; ++q) {
        if (seen[q] == 0 || blocked[q] != 0) continue;
        const double from = static_cast<double>(q) * bin - reach;
        if (!free.empty() && free.back().to_mm > from - 1e-6)
            free.back().to_mm = from + bin;
        else
            free.push_back({from, from + bin});
    }
    return free;
}

}  // namespace geom::space::internal
