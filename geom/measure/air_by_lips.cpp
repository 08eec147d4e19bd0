#include "geom/measure/internal/air_by_lips.h"
#include "geom/core/triangle.h"
#include "geom/measure/internal/face_fit.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shells.h"
#include "geom/measure/triangle_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

namespace geom::measure::internal {

namespace {

struct Edge {
    std::uint32_t lo, hi, triangle;
};

/// The two triangles of every edge; of a closed mesh there are two, or more where solids touch.
class Neighbours {
public:
    explicit Neighbours(const TriMesh& mesh) {
        edges_.reserve(3 * mesh.triangles.size());
        for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t)
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t a = mesh.triangles[t][k], b = mesh.triangles[t][(k + 1) % 3];
                edges_.push_back({std::min(a, b), std::max(a, b), t});
            }
        std::sort(edges_.begin(), edges_.end(), [](const Edge& a, const Edge& b) {
            return std::tie(a.lo, a.hi, a.triangle) < std::tie(b.lo, b.hi, b.triangle);
        });
    }
    /// visit(neighbour) over the edge a b of t.
    template <class Visit>
    void over(std::uint32_t a, std::uint32_t b, std::uint32_t t, Visit&& visit) const {
        const std::uint32_t lo = std::min(a, b), hi = std::max(a, b);
        auto it = std::lower_bound(edges_.begin(), edges_.end(), std::pair{lo, hi}, [](const Edge& e, const auto& key) {
            return std::pair{e.lo, e.hi} < key;
        });
        for (; it != edges_.end() && it->lo == lo && it->hi == hi; ++it)
            if (it->triangle != t) visit(it->triangle);
    }

private:
    std::vector<Edge> edges_;
};

Fault not_found(const AskedOpening& asked, const std::string& more) {
    return {FaultCode::AirBlocked,
            fmt::format("opening: no sharp lip on a face that looks at the air lies round {:.4g}, {:.4g}, {:.4g}{}",
                        asked.at.x, asked.at.y, asked.at.z, more),
            "give a point in the hole near its inner end, and a width that takes all of it in",
            asked.at,
            {}};
}

class Lips {
public:
    Lips(const TriMesh& mesh, const std::vector<AskedOpening>& openings)
        : mesh_(mesh), openings_(openings), neighbours_(mesh), normals_(mesh.triangles.size()) {
        for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
            const Vec3 n = cross(mesh.corner(t, 1) - mesh.corner(t, 0), mesh.corner(t, 2) - mesh.corner(t, 0));
            normals_[t] = norm(n) > 0.0 ? unit(n) : Vec3{};
        }
    }

    /// Triangles reached from the first one, over edges that `may_pass(a, b, from, to)`.
    template <class MayPass>
    std::vector<std::uint32_t> reached(std::vector<std::uint32_t> first, MayPass&& may_pass) const {
        std::vector<char> seen(mesh_.triangles.size(), 0);
        for (const std::uint32_t t : first) seen[t] = 1;
        for (std::size_t i = 0; i < first.size(); ++i) {
            const std::uint32_t t = first[i];
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t a = mesh_.triangles[t][k], b = mesh_.triangles[t][(k + 1) % 3];
                neighbours_.over(a, b, t, [&](std::uint32_t next) {
                    if (seen[next] != 0 || !may_pass(a, b, t, next)) return;
                    seen[next] = 1;
                    first.push_back(next);
                });
            }
        }
        std::sort(first.begin(), first.end());
        return first;
    }

    Vec3 normal(std::uint32_t t) const { return normals_[t]; }
    bool is_sharp(std::uint32_t s, std::uint32_t t) const {
        static const double cos_lip = std::cos(kLip_deg * std::numbers::pi / 180.0);
        return dot(normals_[s], normals_[t]) < cos_lip;
    }
    bool is_near_opening(std::uint32_t v) const {
        return std::any_of(openings_.begin(), openings_.end(),
                           [&](const AskedOpening& o) { return distance(mesh_.vertices[v], o.at) <= o.width_mm; });
    }

    std::vector<std::uint32_t> air_faces(std::uint32_t seed) const {
        return reached({seed}, [&](std::uint32_t a, std::uint32_t b, std::uint32_t s, std::uint32_t t) {
            return !is_sharp(s, t) || !is_near_opening(a) || !is_near_opening(b);
        });
    }

private:
    const TriMesh& mesh_;
    const std::vector<AskedOpening>& openings_;
    Neighbours neighbours_;
    std::vector<Vec3> normals_;
};

/// What the continued face holds beyond the flat fan of the lip's lid, along the lid's normal.
struct Bulge {
    double mm3 = 0.0;
    double area_mm2 = 0.0;
};
Bulge bulge_of(const BorderLoop& loop, const TriMesh& mesh, const FaceFit& face) {
    constexpr int kParts = 16;
    Bulge out;
    const std::size_t n = loop.vertices.size();
    for (std::size_t i = 0; i < n; ++i) {
        const Point3 a = mesh.vertices[loop.vertices[i]], b = mesh.vertices[loop.vertices[(i + 1) % n]];
        // Rows from the middle outwards; the last one is the lip itself.
        const auto at = [&](int row, int k) {
            const Point3 end = k == 0 || row == 0 ? a : a + (b - a) * (static_cast<double>(k) / row);
            const Point3 flat = loop.middle + (end - loop.middle) * (static_cast<double>(row) / kParts);
            return row == kParts ? flat : laid_on(face, flat, loop.normal, loop.width_mm);
        };
        const auto add = [&](Point3 p, Point3 q, Point3 r) {
            out.mm3 += dot(p - loop.middle, cross(q - loop.middle, r - loop.middle)) / 6.0;
            out.area_mm2 += 0.5 * norm(cross(q - p, r - p));
        };
        for (int row = 0; row < kParts; ++row)
            for (int k = 0; k <= row; ++k) {
                add(at(row, k), at(row + 1, k), at(row + 1, k + 1));
                if (k < row) add(at(row, k), at(row + 1, k + 1), at(row, k + 1));
            }
    }
    return out;  // the fan itself, through the middle, holds nothing as seen from there
}

}  // namespace

Continued continued(const BorderLoop& loop, const TriMesh& wall_side, double width) {
    const std::vector<AskedOpening> none;
    const Lips wall(wall_side, none);
    std::vector<char> on_lip(wall_side.vertices.size(), 0);
    for (const std::uint32_t v : loop.vertices) on_lip[v] = 1;
    std::vector<std::uint32_t> at_lip;
    for (std::uint32_t t = 0; t < wall_side.triangles.size(); ++t) {
        int corners = 0;
        for (const std::uint32_t v : wall_side.triangles[t]) corners += on_lip[v];
        if (corners >= 2) at_lip.push_back(t);
    }
    const auto round = wall.reached(at_lip, [&](std::uint32_t, std::uint32_t, std::uint32_t s, std::uint32_t t) {
        return !wall.is_sharp(s, t) && distance(closest_on_triangle(loop.middle, wall_side.corner(t, 0),
                                                                    wall_side.corner(t, 1), wall_side.corner(t, 2)),
                                                loop.middle) <= width;
    });
    std::set<std::uint32_t> used(loop.vertices.begin(), loop.vertices.end());
    std::vector<Vec3> normals;
    std::vector<double> weights;
    for (const std::uint32_t t : round) {
        for (const std::uint32_t v : wall_side.triangles[t]) used.insert(v);
        const Vec3 n =
            cross(wall_side.corner(t, 1) - wall_side.corner(t, 0), wall_side.corner(t, 2) - wall_side.corner(t, 0));
        if (norm(n) <= 0.0) continue;
        normals.push_back(unit(n));
        weights.push_back(norm(n));
    }
    std::vector<Point3> places;
    for (const std::uint32_t v : used) places.push_back(wall_side.vertices[v]);
    Continued out;
    out.face = fit_face(places, normals, weights, loop.middle, loop.normal);
    const double cos_most = std::cos(50.0 * std::numbers::pi / 180.0);
    out.lies_in_it = std::all_of(at_lip.begin(), at_lip.end(), [&](std::uint32_t t) {
        return norm(wall.normal(t)) == 0.0 || std::abs(dot(wall.normal(t), loop.normal)) > cos_most;
    });
    const Bulge bulge = bulge_of(loop, wall_side, out.face);
    out.beyond_mm3 = bulge.mm3;
    out.area_mm2 = bulge.area_mm2;
    return out;
}

std::string Continued::how() const {
    return face.kind == "plane" ? kFlush
                                : fmt::format("by the inner face continued, a {} to {:.2g} mm", face.kind, face.off_mm);
}

Result<ShapeAir> air_by_lips(const TriMesh& mesh, Point3 inside, const std::vector<AskedOpening>& openings,
                             const Context& context) {
    if (context.is_cancelled()) return Context::interrupted();
    const Lips lips(mesh, openings);
    const TriangleTree tree(mesh);
    TriMesh wall_side;
    wall_side.vertices = mesh.vertices;
    for (const std::uint32_t t : lips.air_faces(static_cast<std::uint32_t>(tree.nearest(inside).triangle)))
        wall_side.triangles.push_back(mesh.triangles[t]);
    const Shells shells = take_apart(wall_side);
    ShapeAir out;
    out.method = "signed tetrahedra of the faces that look at the air, and of each face continued over its opening";
    out.other = "flat lids over the openings";
    double lids = 0.0, air = 0.0, slack = 0.0, area = 0.0;
    std::vector<char> used(openings.size(), 0);
    TriMesh closed = shells.mesh;
    for (const MeshShell& shell : shells.shells) {
        lids -= shell.volume_mm3;  // they look inwards
        area += shell.area_mm2;
        for (const BorderLoop& loop : shell.loops) {
            std::size_t which = openings.size();
            for (std::size_t i = 0; i < openings.size(); ++i)
                if (used[i] == 0 && distance(loop.middle, openings[i].at) <= openings[i].width_mm &&
                    loop.width_mm <= 1.25 * openings[i].width_mm &&
                    (which == openings.size() ||
                     distance(loop.middle, openings[i].at) < distance(loop.middle, openings[which].at)))
                    which = i;
            if (which == openings.size()) continue;
            used[which] = 1;
            const Continued over = continued(loop, shells.mesh, openings[which].width_mm);
            air -= over.beyond_mm3;
            const double off_mm3 = loop.lid_mm2 * 2.0 * over.face.off_mm;
            slack += std::abs(over.beyond_mm3) + off_mm3 + 1e-9 * loop.lid_mm2;
            out.uncertainty += Volume::mm3(off_mm3);
            // The lid's normal is that of material, whose outside is the air.
            out.closed.push_back(
                {openings[which].at, {loop.middle, -loop.normal}, over.area_mm2, loop.width_mm, over.how()});
            closed = merged({std::move(closed), shells.lid(loop)});
        }
    }
    for (std::size_t i = 0; i < openings.size(); ++i)
        if (used[i] == 0) return not_found(openings[i], fmt::format(", up to {:.4g} mm wide", openings[i].width_mm));
    const bool others = std::any_of(shells.shells.begin(), shells.shells.end(),
                                    [&](const MeshShell& s) { return s.loops.size() > openings.size(); });
    if (others || lids <= 0.0 || winding_number(closed, inside) > -0.5)
        return Fault{FaultCode::AirBlocked,
                     "with these openings closed the air still runs out",
                     "name every opening with --opening x,y,z,width; or the point lies outside of all hollows",
                     inside,
                     {}};
    out.by_lids = Volume::mm3(lids);
    out.volume = Volume::mm3(lids + air);
    out.wall = Area::mm2(area);
    out.bound = Volume::mm3(slack + 1e-9 * lids);
    return out;
}

}  // namespace geom::measure::internal
