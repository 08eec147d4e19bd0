// Half-edges lie in buckets by their lower vertex, each bucket sorted by the higher one: linear in all, and nothing
// depends on a hash's order.
#include "geom/measure/shells.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

namespace geom::measure {

namespace {

using Triangle = std::array<std::uint32_t, 3>;

struct HalfEdge {
    std::uint32_t high = 0;
    std::uint32_t triangle : 31;
    std::uint32_t rising : 1;  // runs from the lower vertex to the higher one
};

class Edges {
public:
    explicit Edges(const TriMesh& mesh) : first_(mesh.vertices.size() + 1, 0) {
        for (const Triangle& t : mesh.triangles)
            for (std::size_t k = 0; k < 3; ++k) ++first_[std::min(t[k], t[(k + 1) % 3]) + 1];
        std::partial_sum(first_.begin(), first_.end(), first_.begin());
        half_.resize(3 * mesh.triangles.size());
        std::vector<std::uint32_t> next(first_.begin(), first_.end() - 1);
        for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t a = mesh.triangles[i][k], b = mesh.triangles[i][(k + 1) % 3];
                half_[next[std::min(a, b)]++] = {std::max(a, b), static_cast<std::uint32_t>(i), a < b ? 1u : 0u};
            }
        parallel_for(mesh.vertices.size(), 1 << 14, [&](std::size_t begin, std::size_t end) {
            for (std::size_t v = begin; v < end; ++v)
                std::sort(half_.begin() + first_[v], half_.begin() + first_[v + 1],
                          [](const HalfEdge& a, const HalfEdge& b) {
                              return a.high < b.high || (a.high == b.high && a.triangle < b.triangle);
                          });
        });
    }
    /// visit(low vertex, half-edges of one edge)
    template <class Visit>
    void each(Visit&& visit) const {
        for (std::uint32_t v = 0; v + 1 < first_.size(); ++v)
            for (std::uint32_t i = first_[v]; i < first_[v + 1];) {
                std::uint32_t j = i + 1;
                while (j < first_[v + 1] && half_[j].high == half_[i].high) ++j;
                visit(v, std::span<const HalfEdge>(half_.data() + i, j - i));
                i = j;
            }
    }

private:
    std::vector<std::uint32_t> first_;
    std::vector<HalfEdge> half_;
};

Triangle sorted(Triangle t) {
    std::sort(t.begin(), t.end());
    return t;
}

/// Whether the triangle runs its sorted corners in their order.
bool is_even(const Triangle& t, const Triangle& in_order) {
    const auto at = static_cast<std::size_t>(std::find(t.begin(), t.end(), in_order[0]) - t.begin());
    return t[(at + 1) % 3] == in_order[1];
}

std::size_t drop_collapsed(TriMesh& mesh) {
    return std::erase_if(mesh.triangles,
                         [](const Triangle& t) { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0]; });
}

/// Of triangles on the same three vertices, the one side that outweighs the other is left once. A mesh in which all
/// have their opposite is a surface drawn from both sides: one of each is left.
std::size_t drop_doubled(TriMesh& mesh, const Edges& edges) {
    std::vector<std::uint32_t> suspects;
    edges.each([&](std::uint32_t, std::span<const HalfEdge> around) {
        if (around.size() < 2) return;
        if (around.size() == 2 &&
            sorted(mesh.triangles[around[0].triangle]) != sorted(mesh.triangles[around[1].triangle]))
            return;
        for (const HalfEdge& h : around) suspects.push_back(h.triangle);
    });
    std::sort(suspects.begin(), suspects.end());
    suspects.erase(std::unique(suspects.begin(), suspects.end()), suspects.end());
    if (suspects.empty()) return 0;
    std::stable_sort(suspects.begin(), suspects.end(), [&](std::uint32_t a, std::uint32_t b) {
        return sorted(mesh.triangles[a]) < sorted(mesh.triangles[b]);
    });
    std::vector<char> gone(mesh.triangles.size(), 0);
    std::size_t opposed = 0;
    std::vector<std::uint32_t> opposed_first;
    for (std::size_t i = 0; i < suspects.size();) {
        const Triangle key = sorted(mesh.triangles[suspects[i]]);
        std::size_t j = i;
        int balance = 0;
        for (; j < suspects.size() && sorted(mesh.triangles[suspects[j]]) == key; ++j)
            balance += is_even(mesh.triangles[suspects[j]], key) ? 1 : -1;
        if (j - i > 1) {
            bool kept = balance == 0;
            for (std::size_t k = i; k < j; ++k) {
                const bool stays = !kept && is_even(mesh.triangles[suspects[k]], key) == (balance > 0);
                kept = kept || stays;
                gone[suspects[k]] = stays ? 0 : 1;
            }
            if (balance == 0) opposed += j - i, opposed_first.push_back(suspects[i]);
        }
        i = j;
    }
    if (opposed == mesh.triangles.size())
        for (const std::uint32_t t : opposed_first) gone[t] = 0;
    std::size_t left = 0;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
        if (gone[i] == 0) mesh.triangles[left++] = mesh.triangles[i];
    const std::size_t dropped = mesh.triangles.size() - left;
    mesh.triangles.resize(left);
    return dropped;
}

/// The shell of each triangle, numbered in the order of their first triangles.
std::vector<std::uint32_t> numbered_shells(const Edges& edges, std::size_t triangles, std::size_t& count) {
    std::vector<std::uint32_t> parent(triangles);
    std::iota(parent.begin(), parent.end(), 0u);
    const auto root = [&](std::uint32_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    edges.each([&](std::uint32_t, std::span<const HalfEdge> around) {
        for (std::size_t k = 1; k < around.size(); ++k) {
            const std::uint32_t a = root(around[k - 1].triangle), b = root(around[k].triangle);
            if (a != b) parent[std::max(a, b)] = std::min(a, b);
        }
    });
    count = 0;
    std::vector<std::uint32_t> number(triangles);
    for (std::uint32_t t = 0; t < triangles; ++t) {
        const std::uint32_t r = root(t);  // never later than t
        number[t] = r == t ? static_cast<std::uint32_t>(count++) : number[r];
    }
    return number;
}

/// Turns triangles until the two of every edge of two run it opposite ways, the smaller part of each shell.
void turn_evenly(TriMesh& mesh, const Edges& edges, const std::vector<std::uint32_t>& number,
                 std::vector<MeshShell>& shells) {
    bool is_even_already = true;
    edges.each([&](std::uint32_t, std::span<const HalfEdge> around) {
        if (around.size() == 2 && around[0].rising == around[1].rising) is_even_already = false;
    });
    if (is_even_already) return;
    struct Side {
        std::uint32_t from, to;
        bool against;  // they run their edge the same way
    };
    std::vector<Side> sides;
    edges.each([&](std::uint32_t, std::span<const HalfEdge> around) {
        if (around.size() != 2) return;
        const bool against = around[0].rising == around[1].rising;
        sides.push_back({around[0].triangle, around[1].triangle, against});
        sides.push_back({around[1].triangle, around[0].triangle, against});
    });
    std::sort(sides.begin(), sides.end(), [](const Side& a, const Side& b) { return a.from < b.from; });
    std::vector<std::uint32_t> first(mesh.triangles.size() + 1, 0);
    for (const Side& s : sides) ++first[s.from + 1];
    std::partial_sum(first.begin(), first.end(), first.begin());
    std::vector<signed char> turn(mesh.triangles.size(), -1);
    std::vector<std::uint32_t> patch, stack;
    for (std::uint32_t seed = 0; seed < mesh.triangles.size(); ++seed) {
        if (turn[seed] >= 0) continue;
        patch.clear();
        stack = {seed};
        turn[seed] = 0;
        bool consistent = true;
        std::size_t turned = 0;
        while (!stack.empty()) {
            const std::uint32_t t = stack.back();
            stack.pop_back();
            patch.push_back(t);
            turned += turn[t] == 1;
            for (std::uint32_t i = first[t]; i < first[t + 1]; ++i) {
                const auto wanted = static_cast<signed char>(turn[t] ^ (sides[i].against ? 1 : 0));
                if (turn[sides[i].to] < 0) {
                    turn[sides[i].to] = wanted;
                    stack.push_back(sides[i].to);
                } else if (turn[sides[i].to] != wanted) {
                    consistent = false;
                }
            }
        }
        MeshShell& shell = shells[number[seed]];
        if (!consistent) {
            shell.two_sided = false;
            continue;
        }
        const signed char which = 2 * turned > patch.size() ? 0 : 1;
        for (const std::uint32_t t : patch)
            if (turn[t] == which) std::swap(mesh.triangles[t][1], mesh.triangles[t][2]), ++shell.turned;
    }
}

BorderLoop loop_of(const TriMesh& mesh, std::vector<std::uint32_t> vertices) {
    BorderLoop loop;
    loop.vertices = std::move(vertices);
    const std::size_t n = loop.vertices.size();
    const auto at = [&](std::size_t i) { return mesh.vertices[loop.vertices[i % n]]; };
    Vec3 sum;
    for (std::size_t i = 0; i < n; ++i) {
        const double length = distance(at(i), at(i + 1));
        loop.length_mm += length;
        sum += (at(i) + at(i + 1)) * (0.5 * length);
    }
    loop.middle = loop.length_mm > 0.0 ? sum / loop.length_mm : at(0);
    Vec3 turned;
    for (std::size_t i = 0; i < n; ++i) {
        const Vec3 twice = cross(at(i) - loop.middle, at(i + 1) - loop.middle);
        turned += twice * 0.5;
        loop.lid_mm2 += 0.5 * norm(twice);
        loop.width_mm = std::max(loop.width_mm, 2.0 * distance(at(i), loop.middle));
    }
    if (norm(turned) > 1e-12 * loop.width_mm * loop.width_mm && norm(turned) > 0.0) loop.normal = unit(turned);
    for (std::size_t i = 0; i < n; ++i)
        loop.flatness_mm = std::max(loop.flatness_mm, std::abs(dot(at(i) - loop.middle, loop.normal)));
    return loop;
}

/// Edges that a lid has to run, from and to; each is run once by the walk.
std::vector<BorderLoop> loops_of(const TriMesh& mesh, std::vector<std::pair<std::uint32_t, std::uint32_t>> edges) {
    std::sort(edges.begin(), edges.end());
    std::vector<char> used(edges.size(), 0);
    const auto next_from = [&](std::uint32_t v) {
        auto it = std::lower_bound(edges.begin(), edges.end(), std::pair{v, 0u});
        for (; it != edges.end() && it->first == v; ++it)
            if (used[static_cast<std::size_t>(it - edges.begin())] == 0) break;
        return it != edges.end() && it->first == v ? static_cast<std::size_t>(it - edges.begin()) : edges.size();
    };
    std::vector<BorderLoop> loops;
    for (std::size_t seed = 0; seed < edges.size(); ++seed) {
        if (used[seed] != 0) continue;
        // A way that comes by a vertex again has closed a loop there: it is cut off, so that two holes that touch at a
        // vertex stay two.
        std::vector<std::uint32_t> way{edges[seed].first};
        for (std::size_t e = seed; e < edges.size(); e = next_from(way.back())) {
            used[e] = 1;
            const std::uint32_t to = edges[e].second;
            const auto again = std::find(way.begin(), way.end(), to);
            if (again != way.end()) {
                loops.push_back(loop_of(mesh, {again, way.end()}));
                way.erase(again + 1, way.end());
                if (way.size() == 1 && next_from(way.back()) == edges.size()) break;
            } else {
                way.push_back(to);
            }
        }
    }
    return loops;
}

/// Twice the signed area that the section's segment sweeps, integrated along the axis over the triangle.
double section_share(Point3 a, Point3 b, Point3 c, int axis) {
    const auto k = static_cast<std::size_t>(axis), u = (k + 1) % 3, v = (k + 2) % 3;
    std::array<Point3, 3> p{a, b, c};
    bool swapped = false;
    const auto order = [&](std::size_t i, std::size_t j) {
        if (p[j][k] < p[i][k]) std::swap(p[i], p[j]), swapped = !swapped;
    };
    order(0, 1);
    order(1, 2);
    order(0, 1);
    const double lo = p[0][k], mid = p[1][k], hi = p[2][k];
    if (!(hi > lo)) return 0.0;
    struct Flat {
        double u, v;
    };
    const auto on = [&](std::size_t i, std::size_t j, double share) {
        return Flat{p[i][u] + (p[j][u] - p[i][u]) * share, p[i][v] + (p[j][v] - p[i][v]) * share};
    };
    const auto turn = [](Flat s, Flat t) { return s.u * t.v - s.v * t.u; };
    // On each side of the middle vertex the product is a quadratic: Simpson's rule is exact. Zero at the tips.
    const Flat across = on(0, 2, (mid - lo) / (hi - lo)), corner{p[1][u], p[1][v]};
    const double widest = turn(across, corner);
    const double low_half = turn(on(0, 2, 0.5 * (mid - lo) / (hi - lo)), on(0, 1, 0.5));
    const double high_half = turn(on(0, 2, 0.5 * (mid + hi - 2.0 * lo) / (hi - lo)), on(1, 2, 0.5));
    const double sum = (mid - lo) * (4.0 * low_half + widest) / 6.0 + (hi - mid) * (4.0 * high_half + widest) / 6.0;
    return swapped ? -sum : sum;
}

struct Sums {
    double volume = 0.0, sections = 0.0, area = 0.0;
    Vec3 moment;
};

void add(Sums& sums, Point3 a, Point3 b, Point3 c) {
    const double v = dot(a, cross(b, c)) / 6.0;
    sums.volume += v;
    sums.moment += (a + b + c) * (v / 4.0);
    sums.sections += 0.5 * section_share(a, b, c, 2);
}

}  // namespace

double volume_by_sections_mm3(const TriMesh& mesh, int axis) {
    EXPECTS(axis >= 0 && axis < 3);
    const Aabb box = bounds(mesh);
    const Point3 o = (box.lo + box.hi) * 0.5;
    return parallel_sum(mesh.triangles.size(), 1 << 14, [&](std::size_t begin, std::size_t end) {
        double sum = 0.0;
        for (std::size_t t = begin; t < end; ++t)
            sum += 0.5 * section_share(mesh.corner(t, 0) - o, mesh.corner(t, 1) - o, mesh.corner(t, 2) - o, axis);
        return sum;
    });
}

TriMesh Shells::of_shell(std::size_t i) const {
    const MeshShell& shell = shells[i];
    TriMesh out;
    std::vector<std::uint32_t> names;
    for (std::size_t t = shell.first; t < shell.first + shell.count; ++t)
        for (const std::uint32_t v : mesh.triangles[t]) names.push_back(v);
    std::sort(names.begin(), names.end());
    names.erase(std::unique(names.begin(), names.end()), names.end());
    for (const std::uint32_t v : names) out.vertices.push_back(mesh.vertices[v]);
    const auto name = [&](std::uint32_t v) {
        return static_cast<std::uint32_t>(std::lower_bound(names.begin(), names.end(), v) - names.begin());
    };
    for (std::size_t t = shell.first; t < shell.first + shell.count; ++t) {
        const Triangle& c = mesh.triangles[t];
        out.triangles.push_back({name(c[0]), name(c[1]), name(c[2])});
    }
    return out;
}

TriMesh Shells::lid(const BorderLoop& loop) const {
    TriMesh out;
    for (const std::uint32_t v : loop.vertices) out.vertices.push_back(mesh.vertices[v]);
    const auto n = static_cast<std::uint32_t>(out.vertices.size());
    out.vertices.push_back(loop.middle);
    for (std::uint32_t i = 0; i < n; ++i) out.triangles.push_back({i, (i + 1) % n, n});
    return out;
}

Shells take_apart(TriMesh mesh) {
    EXPECTS(mesh.triangles.size() < (std::size_t{1} << 30));
    Shells out;
    out.collapsed = drop_collapsed(mesh);
    Edges edges(mesh);
    out.doubled = drop_doubled(mesh, edges);
    if (out.doubled > 0) edges = Edges(mesh);
    std::size_t count = 0;
    const std::vector<std::uint32_t> number = numbered_shells(edges, mesh.triangles.size(), count);
    out.shells.resize(count);
    for (const std::uint32_t n : number) ++out.shells[n].count;
    for (std::size_t i = 1; i < count; ++i) out.shells[i].first = out.shells[i - 1].first + out.shells[i - 1].count;
    turn_evenly(mesh, edges, number, out.shells);
    bool any_turned = false;
    for (MeshShell& shell : out.shells) any_turned = any_turned || shell.turned > 0;
    if (any_turned) edges = Edges(mesh);

    std::vector<std::vector<std::pair<std::uint32_t, std::uint32_t>>> borders(count);
    edges.each([&](std::uint32_t low, std::span<const HalfEdge> around) {
        int balance = 0;
        for (const HalfEdge& h : around) balance += h.rising != 0 ? 1 : -1;
        const std::uint32_t n = number[around[0].triangle];
        if (around.size() > 2) ++out.shells[n].crowded;
        const std::uint32_t high = around[0].high;
        for (; balance > 0; --balance) borders[n].emplace_back(high, low);
        for (; balance < 0; ++balance) borders[n].emplace_back(low, high);
    });
    edges = Edges(TriMesh{});

    // Triangles in the order of their shells.
    if (count > 1) {
        std::vector<std::size_t> next(count);
        for (std::size_t i = 0; i < count; ++i) next[i] = out.shells[i].first;
        std::vector<Triangle> in_order(mesh.triangles.size());
        for (std::size_t t = 0; t < in_order.size(); ++t) in_order[next[number[t]]++] = mesh.triangles[t];
        mesh.triangles = std::move(in_order);
    }
    out.mesh = std::move(mesh);

    for (std::size_t i = 0; i < count; ++i) {
        MeshShell& shell = out.shells[i];
        shell.closed = borders[i].empty() && shell.two_sided;
        shell.loops = loops_of(out.mesh, std::move(borders[i]));
        for (std::size_t t = shell.first; t < shell.first + shell.count; ++t)
            for (const std::uint32_t v : out.mesh.triangles[t]) shell.box.grow(out.mesh.vertices[v]);
        const Point3 o = (shell.box.lo + shell.box.hi) * 0.5;
        constexpr std::size_t kGrain = 1 << 14;
        std::vector<Sums> parts(shell.count / kGrain + 1);
        std::vector<std::size_t> slivers(parts.size(), 0);
        parallel_for(shell.count, kGrain, [&](std::size_t begin, std::size_t end) {
            Sums sums;
            std::size_t thin = 0;
            for (std::size_t t = shell.first + begin; t < shell.first + end; ++t) {
                const Vec3 a = out.mesh.corner(t, 0) - o, b = out.mesh.corner(t, 1) - o, c = out.mesh.corner(t, 2) - o;
                const double twice = norm(cross(b - a, c - a));
                const double longest2 = std::max({norm2(b - a), norm2(c - b), norm2(a - c)});
                thin += twice <= 1e-12 * longest2;
                sums.area += 0.5 * twice;
                add(sums, a, b, c);
            }
            parts[begin / kGrain] = sums;
            slivers[begin / kGrain] = thin;
        });
        Sums all;
        for (const Sums& s : parts)
            all.volume += s.volume, all.sections += s.sections, all.area += s.area, all.moment += s.moment;
        for (const std::size_t thin : slivers) out.slivers += thin;
        shell.area_mm2 = all.area;
        for (const BorderLoop& loop : shell.loops) {
            const TriMesh lid = out.lid(loop);
            for (std::size_t t = 0; t < lid.triangles.size(); ++t)
                add(all, lid.corner(t, 0) - o, lid.corner(t, 1) - o, lid.corner(t, 2) - o);
        }
        shell.volume_mm3 = all.volume;
        shell.by_sections_mm3 = all.sections;
        shell.moment_mm4 = all.moment + o * all.volume;
    }
    return out;
}

TriMesh join_equal(const TriMesh& mesh) {
    std::vector<std::uint32_t> order(mesh.vertices.size());
    std::iota(order.begin(), order.end(), 0u);
    const auto is_less = [&](std::uint32_t a, std::uint32_t b) {
        const Point3 &p = mesh.vertices[a], &q = mesh.vertices[b];
        if (p.x != q.x) return p.x < q.x;
        if (p.y != q.y) return p.y < q.y;
        return p.z < q.z || (p.z == q.z && a < b);
    };
    std::sort(order.begin(), order.end(), is_less);
    std::vector<std::uint32_t> first(order.size());
    for (std::size_t k = 0; k < order.size(); ++k) {
        const bool same = k > 0 && mesh.vertices[order[k]] == mesh.vertices[order[k - 1]];
        first[order[k]] = same ? first[order[k - 1]] : order[k];
    }
    constexpr std::uint32_t kNone = 0xFFFFFFFFu;
    std::vector<std::uint32_t> place(order.size(), kNone);
    TriMesh out;
    out.triangles.reserve(mesh.triangles.size());
    for (const Triangle& t : mesh.triangles) {
        Triangle named{};
        for (std::size_t k = 0; k < 3; ++k) {
            std::uint32_t& at = place[first[t[k]]];
            if (at == kNone) {
                at = static_cast<std::uint32_t>(out.vertices.size());
                out.vertices.push_back(mesh.vertices[first[t[k]]]);
            }
            named[k] = at;
        }
        out.triangles.push_back(named);
    }
    return out;
}

double weld(TriMesh& mesh, std::vector<std::uint32_t> vertices, double within_mm) {
    EXPECTS(within_mm > 0.0);
    // Sorted along x: only a window of it can be near.
    std::sort(vertices.begin(), vertices.end(), [&](std::uint32_t a, std::uint32_t b) {
        const Point3 &p = mesh.vertices[a], &q = mesh.vertices[b];
        return p.x < q.x || (p.x == q.x && a < b);
    });
    vertices.erase(std::unique(vertices.begin(), vertices.end()), vertices.end());
    std::vector<std::uint32_t> parent(mesh.vertices.size());
    std::iota(parent.begin(), parent.end(), 0u);
    const auto root = [&](std::uint32_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    for (std::size_t i = 0; i < vertices.size(); ++i) {
        const Point3 p = mesh.vertices[vertices[i]];
        for (std::size_t j = i + 1; j < vertices.size() && mesh.vertices[vertices[j]].x - p.x <= within_mm; ++j) {
            if (norm2(mesh.vertices[vertices[j]] - p) > within_mm * within_mm) continue;
            const std::uint32_t a = root(vertices[i]), b = root(vertices[j]);
            if (a != b) parent[std::max(a, b)] = std::min(a, b);
        }
    }
    double farthest = 0.0;
    for (Triangle& t : mesh.triangles)
        for (std::uint32_t& v : t) {
            const std::uint32_t r = root(v);
            farthest = std::max(farthest, distance(mesh.vertices[v], mesh.vertices[r]));
            v = r;
        }
    return farthest;
}

}  // namespace geom::measure
