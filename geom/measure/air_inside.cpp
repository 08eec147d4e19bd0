// Method. One plane at a time (openings in one plane together) the mesh is searched for triangles that the plane
// crosses; from each, the section is followed from triangle to triangle until it closes. A loop that stays within
// some opening's radius is cut open: every triangle on it is split, the new vertices are doubled, one set for either
// lip, and each lip is closed by a fan about the loop's middle. A fan's signed volume is right for any flat loop,
// star-shaped or not. The mesh stays closed through all this, so the next plane may cross earlier caps.
// In the end every component is a closed surface: with positive volume the outside of something solid, with negative
// volume a hollow. The hollow with winding number -1 round the given point is the air; hollows that meet it at a
// joining plane belong to it; solids that lie free in it are taken off.
#include "geom/measure/mesh_measure.h"

#include "geom/core/parallel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <unordered_map>

namespace geom::measure {

namespace {

/// How far behind the plane the cut lies; before it where products join, and where no loop is found behind.
constexpr double kBehind_mm = 0.005;
/// A loop may be this much wider than the opening's radius: callers give the hole's own.
constexpr double kSlack_mm = 0.1;

struct Cap {
    std::size_t opening_group = 0;
    double area_mm2 = 0.0;
    Point3 middle;
    std::vector<Point3> loop;
    std::uint32_t below_vertex = 0, above_vertex = 0;  // middles of the two fans
    bool before_plane = false;                         // cut on the outward side
};

/// Openings that lie in one plane.
struct Group {
    Plane plane;
    bool joins = false;
    std::vector<std::size_t> members;
};

Fault not_sound(std::string what, std::string hint, std::optional<Point3> where) {
    return {FaultCode::NotSound, std::move(what), std::move(hint), where, "proof"};
}

std::vector<Group> grouped(const std::vector<Opening>& openings) {
    std::vector<Group> groups;
    for (std::size_t i = 0; i < openings.size(); ++i) {
        const Opening& o = openings[i];
        const Plane plane{o.plane.point, unit(o.plane.outward)};
        auto it = std::find_if(groups.begin(), groups.end(), [&](const Group& g) {
            return g.joins == o.joins && dot(g.plane.outward, plane.outward) > 1.0 - 1e-12 &&
                   std::abs(g.plane.height(plane.point)) < 1e-6;
        });
        if (it == groups.end()) it = groups.insert(groups.end(), Group{plane, o.joins, {}});
        it->members.push_back(i);
    }
    return groups;
}

class Cutter {
public:
    Cutter(const TriMesh& part, const std::vector<Opening>& openings) : mesh_(part), openings_(openings) {
        is_cap_.assign(mesh_.triangles.size(), 0);
    }

    /// `before_plane`: on the outward side. With `skip_done` only openings not yet done are looked for.
    Status cut(const Group& group, std::size_t group_number, std::vector<char>& opening_done, bool before_plane,
               bool skip_done) {
        const std::vector<char> done_before = opening_done;
        const double offset = before_plane ? kBehind_mm : -kBehind_mm;
        const Plane plane{group.plane.point + group.plane.outward * offset, group.plane.outward};
        height_.resize(mesh_.vertices.size());
        parallel_for(height_.size(), 16384, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i) height_[i] = plane.height(mesh_.vertices[i]);
        });
        std::vector<std::uint32_t> crossing;
        std::unordered_map<std::uint64_t, std::array<std::uint32_t, 2>> on_edge;  // asked by key only, never walked
        for (std::uint32_t t = 0; t < mesh_.triangles.size(); ++t) {
            const auto& v = mesh_.triangles[t];
            const int above = is_above(v[0]) + is_above(v[1]) + is_above(v[2]);
            if (above == 0 || above == 3) continue;
            crossing.push_back(t);
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t a = v[k], b = v[(k + 1) % 3];
                if (is_above(a) == is_above(b)) continue;
                auto [it, is_new] = on_edge.try_emplace(key(a, b), std::array<std::uint32_t, 2>{t, kNone});
                if (is_new) continue;
                if (it->second[1] != kNone)
                    return not_sound("air: three triangles meet at one edge of the mesh", "the part is not manifold",
                                     mesh_.vertices[a]);
                it->second[1] = t;
            }
        }
        std::vector<char> seen(mesh_.triangles.size(), 0);
        for (const std::uint32_t start : crossing) {
            if (seen[start] != 0) continue;
            std::vector<std::uint32_t> loop;   // triangles in order
            std::vector<std::uint64_t> entry;  // edge by which each is entered
            std::uint32_t t = start;
            std::uint64_t in = falling_edge(t);
            bool closed = false;
            while (true) {
                seen[t] = 1;
                loop.push_back(t);
                entry.push_back(in);
                const std::uint64_t out = rising_edge(t);
                const auto& sides = on_edge.at(out);
                const std::uint32_t next = sides[0] == t ? sides[1] : sides[0];
                if (next == kNone || falling_edge(next) != out) break;
                if (next == start) {
                    closed = true;
                    break;
                }
                t = next;
                in = out;
            }
            if (!closed) continue;  // an open or turned mesh: the caller's other checks name it
            bool used = false;
            for (const std::size_t m : group.members) {
                const Opening& o = openings_[m];
                if (skip_done && done_before[m] != 0) continue;
                const bool inside = std::all_of(entry.begin(), entry.end(), [&](std::uint64_t e) {
                    const Vec3 d = crossing_point(e) - o.plane.point;
                    const double h = dot(d, plane.outward), reach = o.radius_mm + kSlack_mm;
                    if (o.half_width_mm > 0.0 &&
                        std::abs(dot(d, cross(plane.outward, o.along))) > o.half_width_mm + kSlack_mm)
                        return false;
                    return norm2(d) - h * h <= reach * reach;
                });
                if (!inside) continue;
                opening_done[m] = 1;
                used = true;
            }
            if (used) open_loop(loop, entry, plane, group_number, before_plane);
        }
        return Done{};
    }

    const TriMesh& mesh() const { return mesh_; }
    const std::vector<char>& is_cap() const { return is_cap_; }
    const std::vector<Cap>& caps() const { return caps_; }

private:
    static constexpr std::uint32_t kNone = ~0u;
    static std::uint64_t key(std::uint32_t a, std::uint32_t b) {
        return (static_cast<std::uint64_t>(std::min(a, b)) << 32) | std::max(a, b);
    }
    bool is_above(std::uint32_t v) const { return height_[v] >= 0.0; }

    /// The side of a crossing triangle that runs from above to below, or from below to above.
    std::uint64_t falling_edge(std::uint32_t t) const { return edge_where(t, true); }
    std::uint64_t rising_edge(std::uint32_t t) const { return edge_where(t, false); }
    std::uint64_t edge_where(std::uint32_t t, bool from_above) const {
        const auto& v = mesh_.triangles[t];
        for (std::size_t k = 0; k < 3; ++k) {
            const std::uint32_t a = v[k], b = v[(k + 1) % 3];
            if (is_above(a) == from_above && is_above(b) != from_above) return key(a, b);
        }
        return 0;
    }
    Point3 crossing_point(std::uint64_t edge) const {
        const auto a = static_cast<std::uint32_t>(edge >> 32), b = static_cast<std::uint32_t>(edge);
        return mesh_.vertices[a] + (mesh_.vertices[b] - mesh_.vertices[a]) * (height_[a] / (height_[a] - height_[b]));
    }

    void add_triangle(std::uint32_t a, std::uint32_t b, std::uint32_t c, bool is_cap) {
        mesh_.triangles.push_back({a, b, c});
        is_cap_.push_back(is_cap ? 1 : 0);
    }

    void open_loop(const std::vector<std::uint32_t>& loop, const std::vector<std::uint64_t>& entry, const Plane& plane,
                   std::size_t group, bool before_plane) {
        const std::size_t n = loop.size();
        const auto first = static_cast<std::uint32_t>(mesh_.vertices.size());
        // Vertex first + 2 i is the below lip's copy on entry edge i, first + 2 i + 1 the above lip's.
        Cap cap;
        for (std::size_t i = 0; i < n; ++i) {
            const Point3 p = crossing_point(entry[i]);
            mesh_.vertices.push_back(p);
            mesh_.vertices.push_back(p);
            cap.loop.push_back(p);
            cap.middle += p / static_cast<double>(n);
        }
        cap.below_vertex = static_cast<std::uint32_t>(mesh_.vertices.size());
        mesh_.vertices.push_back(cap.middle);
        cap.above_vertex = cap.below_vertex + 1;
        mesh_.vertices.push_back(cap.middle);
        // Heights of what is new: each lip on its own side.
        for (std::size_t i = 0; i <= n; ++i) {
            height_.push_back(-1.0);
            height_.push_back(1.0);
        }
        Vec3 twice_area;
        for (std::size_t i = 0; i < n; ++i) {
            const std::uint32_t t = loop[i];
            const auto below_in = static_cast<std::uint32_t>(first + 2 * i), above_in = below_in + 1;
            const auto below_out = static_cast<std::uint32_t>(first + 2 * ((i + 1) % n)), above_out = below_out + 1;
            const auto v = mesh_.triangles[t];
            // The lone corner is k; the section enters by the falling side and leaves by the rising one.
            std::size_t k = 0;
            while (is_above(v[k]) == is_above(v[(k + 1) % 3]) || is_above(v[k]) == is_above(v[(k + 2) % 3])) ++k;
            const std::uint32_t lone = v[k], next = v[(k + 1) % 3], last = v[(k + 2) % 3];
            if (is_above(lone)) {  // falls on lone-next, rises on last-lone
                mesh_.triangles[t] = {lone, above_in, above_out};
                add_triangle(below_in, next, last, false);
                add_triangle(below_in, last, below_out, false);
            } else {  // rises on lone-next, falls on last-lone
                mesh_.triangles[t] = {lone, below_out, below_in};
                add_triangle(above_out, next, last, false);
                add_triangle(above_out, last, above_in, false);
            }
            // The lip below runs in -> out along its triangles' cut side; its fan takes it the other way.
            add_triangle(cap.below_vertex, below_in, below_out, true);
            add_triangle(cap.above_vertex, above_out, above_in, true);
            twice_area += cross(cap.loop[i] - cap.middle, cap.loop[(i + 1) % n] - cap.middle);
        }
        cap.area_mm2 = 0.5 * std::abs(dot(twice_area, plane.outward));
        cap.opening_group = group;
        cap.before_plane = before_plane;
        caps_.push_back(std::move(cap));
    }

    TriMesh mesh_;
    const std::vector<Opening>& openings_;
    std::vector<char> is_cap_;
    std::vector<double> height_;
    std::vector<Cap> caps_;
};

/// Even-odd, in the plane's own axes.
bool loop_holds(const std::vector<Point3>& loop, const Plane& plane, Point3 p) {
    const Vec3 x = any_perpendicular(plane.outward), y = cross(plane.outward, x);
    const double px = dot(p, x), py = dot(p, y);
    bool inside = false;
    for (std::size_t i = 0, j = loop.size() - 1; i < loop.size(); j = i++) {
        const double ax = dot(loop[i], x), ay = dot(loop[i], y), bx = dot(loop[j], x), by = dot(loop[j], y);
        if ((ay > py) != (by > py) && px < ax + (bx - ax) * (py - ay) / (by - ay)) inside = !inside;
    }
    return inside;
}

/// Triangles of one component, vertices renumbered.
TriMesh extract(const TriMesh& mesh, const std::vector<int>& component, const std::vector<char>& wanted,
                const std::vector<char>* leave_out) {
    TriMesh out;
    std::vector<std::uint32_t> renamed(mesh.vertices.size(), ~0u);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        if (wanted[static_cast<std::size_t>(component[t])] == 0) continue;
        if (leave_out != nullptr && (*leave_out)[t] != 0) continue;
        std::array<std::uint32_t, 3> u{};
        for (std::size_t k = 0; k < 3; ++k) {
            std::uint32_t& name = renamed[mesh.triangles[t][k]];
            if (name == ~0u) {
                name = static_cast<std::uint32_t>(out.vertices.size());
                out.vertices.push_back(mesh.vertices[mesh.triangles[t][k]]);
            }
            u[k] = name;
        }
        out.triangles.push_back(u);
    }
    return out;
}

}  // namespace

Result<AirOfMesh> air_of_mesh(const TriMesh& part, const std::vector<Opening>& openings, Point3 air) {
    EXPECTS(is_finite(air));
    const std::vector<Group> groups = grouped(openings);
    Cutter cutter(part, openings);
    std::vector<char> done(openings.size(), 0);
    for (std::size_t g = 0; g < groups.size(); ++g) {
        GAPWRIGHT_CHECK(cutter.cut(groups[g], g, done, false, false));
        const bool all = std::all_of(groups[g].members.begin(), groups[g].members.end(),
                                     [&](std::size_t m) { return done[m] != 0; });
        if (groups[g].joins) {
            // The other product's loops lie before the plane; they alone do not make the opening found.
            std::vector<char> before(openings.size(), 0);
            GAPWRIGHT_CHECK(cutter.cut(groups[g], g, before, true, false));
        } else if (!all) {
            // A hole that begins at the plane and leads away from the air has its loop before it.
            GAPWRIGHT_CHECK(cutter.cut(groups[g], g, done, true, true));
        }
    }
    for (std::size_t i = 0; i < openings.size(); ++i)
        if (done[i] == 0)
            return not_sound(fmt::format("opening \"{}\": the mesh has no closed loop at its plane within {:.1f} mm",
                                         openings[i].name, openings[i].radius_mm),
                             "the mesh is open there, or the hole does not reach the plane", openings[i].plane.point);

    const TriMesh& mesh = cutter.mesh();
    const std::vector<int> component = components_of(mesh);
    const std::size_t n =
        component.empty() ? 0 : static_cast<std::size_t>(*std::max_element(component.begin(), component.end())) + 1;
    const Point3 o = bounds(mesh).lo;
    std::vector<double> volume(n, 0.0);
    std::vector<std::uint32_t> a_vertex(n, 0);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const auto c = static_cast<std::size_t>(component[t]);
        volume[c] += dot(mesh.corner(t, 0) - o, cross(mesh.corner(t, 1) - o, mesh.corner(t, 2) - o)) / 6.0;
        // One of the part's own: those of cuts lie on caps, where inside and outside meet.
        for (const std::uint32_t v : mesh.triangles[t])
            if (v < part.vertices.size()) a_vertex[c] = v;
    }
    const auto only = [&](std::size_t c) {
        std::vector<char> wanted(n, 0);
        wanted[c] = 1;
        return extract(mesh, component, wanted, nullptr);
    };
    std::size_t chosen = n;
    for (std::size_t c = 0; c < n; ++c) {
        if (volume[c] >= 0.0 || (chosen < n && volume[c] <= volume[chosen])) continue;
        if (std::abs(winding_number(only(c), air) + 1.0) < 0.5) chosen = c;
    }
    if (chosen == n)
        return not_sound("air: no hollow of the mesh encloses the air's point once its openings are capped",
                         "an opening is missing from the list, or the mesh is not closed", air);

    // The component on either side of each cap.
    const auto component_of_vertex = [&] {
        std::vector<int> of(mesh.vertices.size(), -1);
        for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
            for (const std::uint32_t v : mesh.triangles[t]) of[v] = component[t];
        return of;
    }();
    const std::vector<Cap>& caps = cutter.caps();
    std::vector<char> is_air(n, 0);
    is_air[chosen] = 1;
    for (bool grew = true; grew;) {
        grew = false;
        for (const Cap& a : caps) {
            const Group& group = groups[a.opening_group];
            if (!group.joins) continue;
            // The side of the cap that looks away from the joining plane: below for cuts behind it, above for cuts
            // before it.
            const auto own =
                static_cast<std::size_t>(component_of_vertex[a.before_plane ? a.above_vertex : a.below_vertex]);
            if (is_air[own] == 0) continue;
            for (const Cap& b : caps) {
                if (b.opening_group != a.opening_group || b.before_plane == a.before_plane) continue;
                const auto other =
                    static_cast<std::size_t>(component_of_vertex[b.before_plane ? b.above_vertex : b.below_vertex]);
                if (is_air[other] != 0 || volume[other] >= 0.0) continue;
                if (!loop_holds(a.loop, group.plane, b.middle) && !loop_holds(b.loop, group.plane, a.middle)) continue;
                is_air[other] = 1;
                grew = true;
            }
        }
    }
    double air_mm3 = 0.0;
    for (std::size_t c = 0; c < n; ++c)
        if (is_air[c] != 0) air_mm3 -= volume[c];
    for (const Cap& cap : caps) {
        const bool looks_back = cap.before_plane && groups[cap.opening_group].joins;
        const auto own =
            static_cast<std::size_t>(component_of_vertex[looks_back ? cap.above_vertex : cap.below_vertex]);
        if (is_air[own] == 0) continue;
        const bool short_of_plane = !cap.before_plane || looks_back;
        air_mm3 += (short_of_plane ? kBehind_mm : -kBehind_mm) * cap.area_mm2;
    }
    // Solids that stand free in the air.
    const TriMesh closed_air = extract(mesh, component, is_air, nullptr);
    if (const MeshMeasure m = measure_mesh(closed_air); !m.closed || !m.oriented)
        return not_sound("air: the mesh round it is not closed", "an edge is not shared by two triangles, one each way",
                         air);
    for (std::size_t c = 0; c < n; ++c) {
        if (volume[c] <= 0.0) continue;
        if (winding_number(closed_air, mesh.vertices[a_vertex[c]]) < -0.5) air_mm3 -= volume[c];
    }
    AirOfMesh out;
    out.volume = Volume::mm3(air_mm3);
    out.wall_side = extract(mesh, component, is_air, &cutter.is_cap());
    out.loops = caps.size();
    return out;
}

Result<Volume> air_inside(const TriMesh& part, const std::vector<Opening>& openings, Point3 air) {
    return air_of_mesh(part, openings, air).transform([](AirOfMesh&& found) { return found.volume; });
}

}  // namespace geom::measure
