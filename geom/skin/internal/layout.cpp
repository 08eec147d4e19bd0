// Corners are support points of the rim and of the surface: on a rounded box they lie in the rounded corners. Arcs are
// cheapest edge paths, each kept to the mesh round its own straight segment in the disk map, where convex ridges are
// cheap and flat limits dear. Once four slits from the rim to the back corners are drawn without touching, what is left
// is still a disk, so each back arc cuts off exactly the piece it should: no drawing that comes out here can be wrong
// in its topology, only ugly, and that is judged on the fitted faces.
#include "geom/skin/internal/layout.h"

#include "geom/skin/internal/tutte.h"

#include <algorithm>
#include <cmath>
#include <queue>

namespace geom::skin {

namespace {

constexpr double kLeastCornerGapMm = 14.0;
constexpr int kSlideRounds = 30;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

Fault refused(std::string what) {
    return {FaultCode::MethodRefused, std::move(what), {}, {}, "skin"};
}

struct Corners {
    std::array<int, 4> ring_at{};  // index into the border loop
    std::array<int, 4> ring{}, back{};
};

// Signs of the four corners in loop order: the loop runs counter-clockwise seen from behind (along -y), so that in
// (x, z) it runs clockwise or counter-clockwise alike for every mesh; settled by the loop itself.
std::array<std::array<double, 2>, 4> corner_signs(bool turned, bool against) {
    std::array<std::array<double, 2>, 4> s =
        turned ? std::array<std::array<double, 2>, 4>{{{0, -1}, {1, 0}, {0, 1}, {-1, 0}}}
               : std::array<std::array<double, 2>, 4>{{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}};
    if (against) std::swap(s[1], s[3]);
    return s;
}

double loop_area_xz(const DiskMesh& mesh) {
    double area = 0.0;
    for (std::size_t i = 0; i < mesh.border.size(); ++i) {
        const Point3 a = mesh.points[at(mesh.border[i])],
                     b = mesh.points[at(mesh.border[(i + 1) % mesh.border.size()])];
        area += 0.5 * (a.x * b.z - b.x * a.z);
    }
    return area;
}

bool in_loop_order(const std::array<int, 4>& at_loop, int n, int least_steps) {
    int turns = 0;
    for (std::size_t k = 0; k < 4; ++k) {
        const int step = ((at_loop[(k + 1) % 4] - at_loop[k]) % n + n) % n;
        if (step < least_steps) return false;
        turns += step;
    }
    return turns == n;
}

Result<Corners> support_corners(const DiskMesh& mesh, CornerRule rule) {
    Aabb rim_box, body_box;
    for (const int v : mesh.border) rim_box.grow(mesh.points[at(v)]);
    for (const auto& p : mesh.points) body_box.grow(p);
    std::vector<char> on_border(mesh.points.size(), 0);
    for (const int v : mesh.border) on_border[at(v)] = 1;
    const auto signs = corner_signs(rule == CornerRule::Turned, loop_area_xz(mesh) < 0.0);
    const Vec3 size = body_box.size();
    const double apart = std::clamp(0.12 * norm(size), 16.0, 35.0);
    Corners c;
    const auto score = [&](std::size_t k, Point3 p, const Aabb& box) {
        const Vec3 mid = (box.lo + box.hi) / 2.0;
        return signs[k][0] * (p.x - mid.x) / box.size().x + signs[k][1] * (p.z - mid.z) / box.size().z;
    };
    for (std::size_t k = 0; k < 4; ++k) {
        double best = -1e300;
        for (std::size_t i = 0; i < mesh.border.size(); ++i) {
            const Point3 p = mesh.points[at(mesh.border[i])];
            double s = score(k, p, rim_box);
            for (std::size_t j = 0; j < k; ++j)
                s -= 4.0 * std::max(0.0, 1.0 - distance(p, mesh.points[at(c.ring[j])]) / apart);
            if (s > best) best = s, c.ring_at[k] = static_cast<int>(i);
        }
        c.ring[k] = mesh.border[at(c.ring_at[k])];
    }
    // A back corner that would come too near another one gives way along the body.
    for (std::size_t k = 0; k < 4; ++k) {
        const Point3 rim = mesh.points[at(c.ring[k])];
        double best = -1e300;
        for (std::size_t i = 0; i < mesh.points.size(); ++i) {
            if (on_border[i]) continue;
            const Point3 p = mesh.points[i];
            double s = score(k, p, body_box) + 2.0 * (p.y - body_box.lo.y) / size.y;
            if (rule != CornerRule::Free) s -= 0.5 * std::hypot((p.x - rim.x) / size.x, (p.z - rim.z) / size.z);
            for (std::size_t j = 0; j < k; ++j)
                s -= 4.0 * std::max(0.0, 1.0 - distance(p, mesh.points[at(c.back[j])]) / apart);
            if (s > best) best = s, c.back[k] = static_cast<int>(i);
        }
    }
    if (!in_loop_order(c.ring_at, static_cast<int>(mesh.border.size()), 2))
        return refused("skin: the rim's corners lie too close");
    return c;
}

Corners even_corners(const DiskMesh& mesh, int start) {
    const int n = static_cast<int>(mesh.border.size());
    std::vector<double> length(at(n) + 1, 0.0);
    const auto point = [&](int i) { return mesh.points[at(mesh.border[at((start + i) % n)])]; };
    for (int i = 0; i < n; ++i) length[at(i) + 1] = length[at(i)] + distance(point(i), point(i + 1));
    Corners c;
    for (std::size_t k = 0; k < 4; ++k) {
        const auto it = std::lower_bound(length.begin(), length.end(), length.back() * static_cast<double>(k) / 4.0);
        c.ring_at[k] = (start + static_cast<int>(it - length.begin())) % n;
        c.ring[k] = mesh.border[at(c.ring_at[k])];
    }
    return c;
}

constexpr std::array<Planar, 4> kSquare{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}};

// The disk over the unit square, ring corners to its corners, by arc length between them.
Result<std::vector<Planar>> square_map(const DiskMesh& mesh, const Corners& corners) {
    std::vector<Planar> map(mesh.points.size());
    std::vector<char> fixed(mesh.points.size(), 0);
    const int n = static_cast<int>(mesh.border.size());
    for (std::size_t k = 0; k < 4; ++k) {
        const int first = corners.ring_at[k], steps = ((corners.ring_at[(k + 1) % 4] - first) % n + n) % n;
        const auto point = [&](int i) { return mesh.points[at(mesh.border[at((first + i) % n)])]; };
        double total = 0.0, along = 0.0;
        for (int i = 0; i < steps; ++i) total += distance(point(i), point(i + 1));
        for (int i = 0; i < steps; ++i) {
            const int v = mesh.border[at((first + i) % n)];
            map[at(v)] = kSquare[k] + (kSquare[(k + 1) % 4] - kSquare[k]) * (along / total);
            fixed[at(v)] = 1;
            along += distance(point(i), point(i + 1));
        }
    }
    if (!tutte_map(mesh.points, mesh.triangles, fixed, 2, map)) return refused("skin: the disk map came out folded");
    return map;
}

double quad_least_turn(const std::array<Planar, 4>& q) {
    double least = 1e300;
    for (std::size_t i = 0; i < 4; ++i) {
        const Planar e = q[(i + 1) % 4] - q[i], f = q[(i + 3) % 4] - q[i];
        least = std::min(least, cross2(e, f) / (std::hypot(e.u, e.v) * std::hypot(f.u, f.v) + 1e-300));
    }
    return least;
}

// The back corners' places in the map, drawn towards a centred square until all five quads are convex and open.
std::array<Planar, 4> fair_back_places(std::array<Planar, 4> back) {
    const std::array<Planar, 4> wanted = back;
    for (int step = 0; step <= 10; ++step) {
        const double t = 0.1 * step;
        for (std::size_t k = 0; k < 4; ++k)
            back[k] = wanted[k] * (1.0 - t) + (Planar{0.5, 0.5} + (kSquare[k] - Planar{0.5, 0.5}) * 0.5) * t;
        double least = quad_least_turn(back);
        for (std::size_t k = 0; k < 4; ++k)
            least = std::min(least, quad_least_turn({kSquare[k], kSquare[(k + 1) % 4], back[(k + 1) % 4], back[k]}));
        if (least > 0.1) break;
    }
    return back;
}

double segment_distance(Planar p, Planar a, Planar b) {
    const Planar d = b - a, q = p - a;
    const double t = std::clamp((q.u * d.u + q.v * d.v) / (d.u * d.u + d.v * d.v + 1e-300), 0.0, 1.0);
    return std::hypot(q.u - t * d.u, q.v - t * d.v);
}

class Drawing {
public:
    Drawing(DiskMesh& mesh, const WorkingField& field, const std::vector<Plane>& flats, bool follow_ridges)
        : mesh_(mesh),
          rings_(mesh.points.size(), mesh.triangles),
          blocked_(mesh.points.size(), 0),
          price_(mesh.points.size(), 1.0),
          crowd_(mesh.points.size(), 1.0) {
        for (const int v : mesh.border) {
            blocked_[at(v)] = 1;
            rings_.for_each(v, [&](int w) { crowd_[at(w)] = 2.5; });
        }
        std::vector<Vec3> normal(mesh.points.size());
        for (std::size_t i = 0; i < normal.size(); ++i) normal[i] = field.normal(mesh.points[i]);
        for (std::size_t i = 0; i < normal.size(); ++i) {
            double bend = 0.0;
            rings_.for_each(static_cast<int>(i), [&](int w) {
                const Vec3 e = mesh.points[at(w)] - mesh.points[i];
                bend = std::max(bend, dot(normal[at(w)] - normal[i], e) / std::max(norm2(e), 1.0));
            });
            if (follow_ridges) price_[i] = 1.12 - std::clamp(10.0 * bend, 0.0, 1.0);
            for (const auto& plane : flats)
                if (std::abs(plane.height(mesh.points[i])) < 0.05 && dot(plane.outward, normal[i]) > 0.999)
                    price_[i] = 2.5;
        }
    }

    /// A cheapest path that keeps off everything drawn before; `owner` gives the arc whose cell a vertex lies in.
    std::vector<int> path(int from, int to, int arc, const std::vector<int>& owner,
                          const std::vector<int>& near_corner) {
        std::vector<double> cost(mesh_.points.size(), 1e300);
        std::vector<int> previous(mesh_.points.size(), -1);
        using Item = std::pair<double, int>;
        std::priority_queue<Item, std::vector<Item>, std::greater<>> queue;
        cost[at(from)] = 0.0;
        queue.push({0.0, from});
        while (!queue.empty()) {
            const auto [d, v] = queue.top();
            queue.pop();
            if (d > cost[at(v)]) continue;
            if (v == to) break;
            rings_.for_each(v, [&](int w) {
                if (w != to && blocked_[at(w)]) return;
                if (w != to && near_corner[at(w)] >= 0 && near_corner[at(w)] != from && near_corner[at(w)] != to)
                    return;
                const double foreign = owner[at(w)] == arc ? 1.0 : 6.0;
                const double next = d + distance(mesh_.points[at(v)], mesh_.points[at(w)]) * 0.5 *
                                            (price_[at(v)] + price_[at(w)]) * foreign * crowd_[at(w)];
                if (next >= cost[at(w)]) return;
                cost[at(w)] = next;
                previous[at(w)] = v;
                queue.push({next, w});
            });
        }
        std::vector<int> chain;
        if (previous[at(to)] < 0) return chain;
        for (int v = to; v >= 0; v = previous[at(v)]) chain.push_back(v);
        std::reverse(chain.begin(), chain.end());
        // The next arcs had better not run alongside: the sliver between would be a poor face.
        for (const int v : chain) {
            blocked_[at(v)] = 1;
            rings_.for_each(v, [&](int w) {
                crowd_[at(w)] = 4.0;
                rings_.for_each(w, [&](int x) { crowd_[at(x)] = std::max(crowd_[at(x)], 2.5); });
            });
        }
        return chain;
    }

    void block(int v) { blocked_[at(v)] = 1; }
    const VertexRings& rings() const { return rings_; }

private:
    DiskMesh& mesh_;
    VertexRings rings_;
    std::vector<char> blocked_;
    std::vector<double> price_, crowd_;
};

// Arcs slide towards straightness along themselves, the rest of the mesh follows, everything stays on the surface.
void slide(DiskMesh& mesh, const Layout& layout, const VertexRings& rings, const WorkingField& field,
           const RimPlace& rim) {
    enum : char { Free, Border, OnArc, Corner };
    std::vector<char> kind(mesh.points.size(), Free);
    std::vector<std::array<int, 2>> along(mesh.points.size(), {-1, -1});
    for (const int v : mesh.border) kind[at(v)] = Border;
    for (int a = 0; a < kArcs; ++a) {
        const auto& chain = layout.chains[at(a)];
        for (std::size_t i = 1; i + 1 < chain.size(); ++i) {
            if (a >= 4) kind[at(chain[i])] = OnArc;
            along[at(chain[i])] = {chain[i - 1], chain[i + 1]};
        }
        kind[at(chain.front())] = kind[at(chain.back())] = Corner;
    }
    std::array<std::array<int, 3>, 4> about{};  // the three next vertices round each back corner
    for (int k = 0; k < 4; ++k) {
        const auto& slit = layout.chains[at(slit_arc(k))];
        const auto& out = layout.chains[at(back_arc(k))];
        const auto& in = layout.chains[at(back_arc(k + 3))];
        about[at(k)] = {slit[slit.size() - 2], out[1], in[in.size() - 2]};
    }
    std::vector<Point3> moved = mesh.points;
    for (int round = 0; round < kSlideRounds; ++round) {
        for (std::size_t i = 0; i < mesh.points.size(); ++i) {
            const Point3 p = mesh.points[i];
            if (kind[i] == OnArc || kind[i] == Border) {
                const Point3 mean = (mesh.points[at(along[i][0])] + mesh.points[at(along[i][1])]) / 2.0;
                const Point3 q = (p + mean) / 2.0;
                moved[i] = kind[i] == OnArc ? field.project(q, 2) : field.project_to_ring(q, rim, 3);
            } else if (kind[i] == Free && round % 2 == 1) {
                Point3 mean;
                double count = 0.0;
                rings.for_each(static_cast<int>(i), [&](int w) { mean += mesh.points[at(w)], count += 1.0; });
                moved[i] = field.project(p * 0.3 + mean * (0.7 / count), 1);
            } else {
                moved[i] = p;
            }
        }
        for (int k = 0; k < 4; ++k) {
            const int v = layout.chains[at(back_arc(k))].front();
            const auto& w = about[at(k)];
            const Point3 mean = (mesh.points[at(w[0])] + mesh.points[at(w[1])] + mesh.points[at(w[2])]) / 3.0;
            moved[at(v)] = field.project(mesh.points[at(v)] * 0.6 + mean * 0.4, 3);
        }
        mesh.points.swap(moved);
    }
}

}  // namespace

std::array<PieceSide, 4> piece_sides(int piece) {
    if (piece == 4) return {{{back_arc(0), false}, {back_arc(1), false}, {back_arc(2), true}, {back_arc(3), true}}};
    return {
        {{ring_arc(piece), false}, {slit_arc(piece + 1), false}, {back_arc(piece), false}, {slit_arc(piece), false}}};
}

ArcFamily arc_family(int arc) {
    if (arc >= 4 && arc < 8) return {2, false};
    return {arc & 1, (arc & 2) != 0};
}

std::string LayoutPlan::name() const {
    const char* where = corners == CornerRule::Box      ? "box corners"
                        : corners == CornerRule::Free   ? "free corners"
                        : corners == CornerRule::Turned ? "turned corners"
                                                        : "even corners";
    return std::string(where) + (follow_ridges ? ", along ridges" : ", straight");
}

Result<Layout> draw_layout(DiskMesh& mesh, const WorkingField& field, const RimPlace& rim,
                           const std::vector<Plane>& flats_box, const LayoutPlan& plan) {
    Corners corners;
    std::vector<Planar> map;
    std::array<Planar, 4> back;
    if (plan.corners == CornerRule::Even) {
        GAPWRIGHT_TRY(start, support_corners(mesh, CornerRule::Box));
        corners = even_corners(mesh, start.ring_at[0]);
        GAPWRIGHT_TRY(square, square_map(mesh, corners));
        map = std::move(square);
        for (std::size_t k = 0; k < 4; ++k) back[k] = Planar{0.5, 0.5} + (kSquare[k] - Planar{0.5, 0.5}) * 0.5;
    } else {
        GAPWRIGHT_TRY(support, support_corners(mesh, plan.corners));
        corners = support;
        GAPWRIGHT_TRY(square, square_map(mesh, corners));
        map = std::move(square);
        for (std::size_t k = 0; k < 4; ++k) back[k] = map[at(corners.back[k])];
        back = fair_back_places(back);
    }
    std::vector<char> on_border(mesh.points.size(), 0);
    for (const int v : mesh.border) on_border[at(v)] = 1;
    for (std::size_t k = 0; k < 4; ++k) {
        double best = 1e300;
        for (std::size_t i = 0; i < mesh.points.size(); ++i) {
            if (on_border[i]) continue;
            const double d = std::hypot(map[i].u - back[k].u, map[i].v - back[k].v);
            if (d < best) best = d, corners.back[k] = static_cast<int>(i);
        }
    }
    for (std::size_t k = 0; k < 4; ++k) {
        if (distance(mesh.points[at(corners.ring[k])], mesh.points[at(corners.ring[(k + 1) % 4])]) < kLeastCornerGapMm)
            return refused("skin: the rim's corners lie too close");
        for (std::size_t j = 0; j < k; ++j)
            if (corners.back[k] == corners.back[j] ||
                distance(mesh.points[at(corners.back[k])], mesh.points[at(corners.back[j])]) < 6.0)
                return refused("skin: the back's corners lie too close");
    }

    Drawing drawing(mesh, field, flats_box, plan.follow_ridges);
    std::vector<int> near_corner(mesh.points.size(), -1);
    for (std::size_t k = 0; k < 4; ++k)
        for (const int corner : {corners.ring[k], corners.back[k]}) {
            near_corner[at(corner)] = corner;
            drawing.rings().for_each(corner, [&](int w) {
                if (near_corner[at(w)] < 0) near_corner[at(w)] = corner;
            });
        }
    for (std::size_t k = 0; k < 4; ++k) {
        near_corner[at(corners.ring[k])] = corners.ring[k];
        near_corner[at(corners.back[k])] = corners.back[k];
        drawing.block(corners.back[k]);
    }
    std::vector<int> owner(mesh.points.size(), -1);
    for (std::size_t i = 0; i < owner.size(); ++i) {
        double best = 1e300;
        for (std::size_t k = 0; k < 4; ++k) {
            const double slit = segment_distance(map[i], kSquare[k], back[k]),
                         arc = segment_distance(map[i], back[k], back[(k + 1) % 4]);
            if (slit < best) best = slit, owner[i] = slit_arc(static_cast<int>(k));
            if (arc < best) best = arc, owner[i] = back_arc(static_cast<int>(k));
        }
    }
    Layout layout;
    const int n = static_cast<int>(mesh.border.size());
    for (int k = 0; k < 4; ++k) {
        for (int i = corners.ring_at[at(k)];; i = (i + 1) % n) {
            layout.chains[at(ring_arc(k))].push_back(mesh.border[at(i)]);
            if (i == corners.ring_at[at((k + 1) % 4)]) break;
        }
    }
    for (int k = 0; k < 4; ++k)
        layout.chains[at(slit_arc(k))] =
            drawing.path(corners.ring[at(k)], corners.back[at(k)], slit_arc(k), owner, near_corner);
    for (int k = 0; k < 4; ++k)
        layout.chains[at(back_arc(k))] =
            drawing.path(corners.back[at(k)], corners.back[at((k + 1) % 4)], back_arc(k), owner, near_corner);
    for (const auto& chain : layout.chains)
        if (chain.size() < 3) return refused("skin: no way for an arc of the layout");
    slide(mesh, layout, drawing.rings(), field, rim);
    return layout;
}

}  // namespace geom::skin
