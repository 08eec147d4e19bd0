// Each lattice cube is cut into six tetrahedra round its long diagonal, so neighbouring cubes agree on their faces and
// the result is a manifold without a table of cases (Doi, Koide 1991). One lattice plane lies in the rim's plane: there
// the surface ends in a polygon. Edge cuts are held away from the lattice nodes to keep triangles from collapsing.
//
// The disk test counts: every edge in one or two triangles, one border loop, V - E + F = 1. Pieces other than the
// largest one with a border are dropped when they are dust (by volume) and named as a fault when they are not.
#include "geom/skin/internal/base_mesh.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::skin {

namespace {

constexpr double kDustRel = 5e-4;  // of the body's volume: pieces smaller than this are left out
constexpr int kSmoothingRounds = 6;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

struct Soup {
    std::vector<Point3> points;
    std::vector<char> on_rim;
    std::vector<Triangle> triangles;
};

class Lattice {
public:
    Lattice(const WorkingField& field, double y_rim, double step) : step_(step) {
        const Aabb box = field.extent();
        const double h = field.voxel_mm();
        origin_ = {box.lo.x - step, y_rim, box.lo.z - step};
        n_ = {static_cast<int>((box.hi.x - box.lo.x) / step) + 4,
              std::max(3, static_cast<int>((box.hi.y - y_rim) / step) + 3),
              static_cast<int>((box.hi.z - box.lo.z) / step) + 4};
        values_.resize(at(n_[0]) * at(n_[1]) * at(n_[2]));
        for (int k = 0; k < n_[2]; ++k)
            for (int j = 0; j < n_[1]; ++j)
                for (int i = 0; i < n_[0]; ++i) {
                    const Point3 p = node(i, j, k);
                    const double beyond = std::max({box.lo.x + h - p.x, p.x - box.hi.x + h, box.lo.z + h - p.z,
                                                    p.z - box.hi.z + h, p.y - box.hi.y + h});
                    double v = beyond > 0.0 ? std::max(beyond, field.value(p)) : field.value(p);
                    if (std::abs(v) < 1e-3 * step) v = 1e-3 * step;
                    values_[index(i, j, k)] = v;
                }
    }
    std::size_t index(int i, int j, int k) const { return (at(k) * at(n_[1]) + at(j)) * at(n_[0]) + at(i); }
    Point3 node(int i, int j, int k) const {
        return {origin_.x + i * step_, origin_.y + j * step_, origin_.z + k * step_};
    }

    Soup march() const {
        Soup soup;
        std::vector<int> cut(values_.size() * 7, -1);
        // Corners of the six tetrahedra; every edge runs from a corner to one whose bits include its own.
        static constexpr int kTets[6][4] = {{0, 1, 3, 7}, {0, 3, 2, 7}, {0, 2, 6, 7},
                                            {0, 6, 4, 7}, {0, 4, 5, 7}, {0, 5, 1, 7}};
        for (int k = 0; k + 1 < n_[2]; ++k)
            for (int j = 0; j + 1 < n_[1]; ++j)
                for (int i = 0; i + 1 < n_[0]; ++i) {
                    double v[8];
                    int inside = 0;
                    for (int b = 0; b < 8; ++b)
                        inside += (v[b] = values_[index(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2))]) < 0.0;
                    if (inside == 0 || inside == 8) continue;
                    const auto vertex = [&](int a, int b) {
                        if (a > b) std::swap(a, b);
                        const std::size_t edge =
                            index(i + (a & 1), j + (a >> 1 & 1), k + (a >> 2)) * 7 + at((a ^ b) - 1);
                        if (cut[edge] >= 0) return cut[edge];
                        const double t = std::clamp(v[a] / (v[a] - v[b]), 0.05, 0.95);
                        const Point3 pa = node(i + (a & 1), j + (a >> 1 & 1), k + (a >> 2)),
                                     pb = node(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2));
                        soup.points.push_back(pa * (1.0 - t) + pb * t);
                        soup.on_rim.push_back(j == 0 && (a & 2) == 0 && (b & 2) == 0);
                        return cut[edge] = static_cast<int>(soup.points.size()) - 1;
                    };
                    for (const auto& tet : kTets) march_tet(tet, v, i, j, k, vertex, soup);
                }
        return soup;
    }

private:
    template <class Vertex>
    void march_tet(const int (&tet)[4], const double (&v)[8], int i, int j, int k, const Vertex& vertex,
                   Soup& soup) const {
        int in[4], out[4], ni = 0, no = 0;
        for (const int corner : tet) (v[corner] < 0.0 ? in[ni++] : out[no++]) = corner;
        if (ni == 0 || no == 0) return;
        Vec3 outward;
        const auto corner_point = [&](int b) { return node(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2)); };
        for (int a = 0; a < no; ++a) outward += corner_point(out[a]) / no;
        for (int a = 0; a < ni; ++a) outward += corner_point(in[a]) / -ni;
        const auto emit = [&](int a, int b, int c) {
            const Vec3 n = cross(soup.points[at(b)] - soup.points[at(a)], soup.points[at(c)] - soup.points[at(a)]);
            if (dot(n, outward) < 0.0) std::swap(b, c);
            soup.triangles.push_back({a, b, c});
        };
        if (ni == 1) {
            const int a = vertex(in[0], out[0]), b = vertex(in[0], out[1]), c = vertex(in[0], out[2]);
            emit(a, b, c);
        } else if (no == 1) {
            const int a = vertex(in[0], out[0]), b = vertex(in[1], out[0]), c = vertex(in[2], out[0]);
            emit(a, b, c);
        } else {
            const int a = vertex(in[0], out[0]), b = vertex(in[0], out[1]), c = vertex(in[1], out[1]),
                      d = vertex(in[1], out[0]);
            emit(a, b, c);
            emit(a, c, d);
        }
    }

    double step_;
    Point3 origin_;
    std::array<int, 3> n_{};
    std::vector<double> values_;
};

int find_root(std::vector<int>& parent, int v) {
    while (parent[at(v)] != v) v = parent[at(v)] = parent[at(parent[at(v)])];
    return v;
}

Fault refused(const WorkingField& field, std::string what, std::string hint, Point3 box_place) {
    return {FaultCode::MethodRefused, std::move(what), std::move(hint), field.to_vehicle(box_place), "skin"};
}

// Volume between each component and the rim plane, by its root; exact where a component is closed or ends in the plane.
std::vector<double> component_volumes(const Soup& soup, std::vector<int>& parent, double y_rim) {
    std::vector<double> volume(soup.points.size(), 0.0);
    const Vec3 origin{0.0, y_rim, 0.0};
    for (const auto& t : soup.triangles) {
        const Vec3 a = soup.points[at(t[0])] - origin, b = soup.points[at(t[1])] - origin,
                   c = soup.points[at(t[2])] - origin;
        volume[at(find_root(parent, t[0]))] += dot(a, cross(b, c)) / 6.0;
    }
    return volume;
}

Result<DiskMesh> main_component(const Soup& soup, const WorkingField& field, double y_rim) {
    std::vector<int> parent(soup.points.size());
    std::iota(parent.begin(), parent.end(), 0);
    for (const auto& t : soup.triangles) {
        parent[at(find_root(parent, t[0]))] = find_root(parent, t[1]);
        parent[at(find_root(parent, t[1]))] = find_root(parent, t[2]);
    }
    const std::vector<double> volume = component_volumes(soup, parent, y_rim);
    std::vector<char> has_rim(soup.points.size(), 0);
    for (std::size_t i = 0; i < soup.points.size(); ++i)
        if (soup.on_rim[i]) has_rim[at(find_root(parent, static_cast<int>(i)))] = 1;
    int best = -1;
    for (std::size_t i = 0; i < volume.size(); ++i)
        if (has_rim[i] && (best < 0 || volume[i] > volume[at(best)])) best = static_cast<int>(i);
    if (best < 0)
        return Fault{FaultCode::MethodRefused,
                     "skin: the baffle plane does not cut the body",
                     "move the baffle along its travel",
                     {},
                     "skin"};
    for (std::size_t i = 0; i < volume.size(); ++i) {
        if (static_cast<int>(i) == best || std::abs(volume[i]) <= kDustRel * std::abs(volume[at(best)])) continue;
        Point3 centre;
        double count = 0.0;
        for (std::size_t p = 0; p < soup.points.size(); ++p)
            if (find_root(parent, static_cast<int>(p)) == static_cast<int>(i)) centre += soup.points[p], count += 1.0;
        return refused(field,
                       volume[i] < 0.0   ? "skin: there is an island of solid inside the body; wanted one outer surface"
                       : has_rim[i] != 0 ? "skin: the baffle plane cuts the body into two separate pieces; wanted one"
                                         : "skin: the body falls into two separate pieces; wanted one",
                       "move the baffle, lessen wall or rounding radius, or keep that place out", centre / count);
    }
    DiskMesh mesh;
    std::vector<int> renumbered(soup.points.size(), -1);
    for (const auto& t : soup.triangles) {
        if (find_root(parent, t[0]) != best) continue;
        Triangle q{};
        for (std::size_t c = 0; c < 3; ++c) {
            int& id = renumbered[at(t[c])];
            if (id < 0) {
                id = static_cast<int>(mesh.points.size());
                mesh.points.push_back(soup.points[at(t[c])]);
            }
            q[c] = id;
        }
        mesh.triangles.push_back(q);
    }
    return mesh;
}

struct HalfEdge {
    int a, b, triangle;
    friend bool operator<(const HalfEdge& x, const HalfEdge& y) { return x.a != y.a ? x.a < y.a : x.b < y.b; }
};

// Where a tunnel runs: an edge left over when a spanning tree of the vertices (grown from the rim) and one of the
// triangles that does not cross it are taken away.
Point3 tunnel_place(const DiskMesh& mesh, const std::vector<HalfEdge>& half) {
    const auto opposite = [&](const HalfEdge& e) {
        const auto it = std::lower_bound(half.begin(), half.end(), HalfEdge{e.b, e.a, 0});
        return it != half.end() && it->a == e.b && it->b == e.a ? static_cast<int>(it - half.begin()) : -1;
    };
    std::vector<char> tree_edge(half.size(), 0), seen(mesh.points.size(), 0);
    std::vector<int> queue = mesh.border;
    for (const int v : queue) seen[at(v)] = 1;
    for (std::size_t q = 0; q < queue.size(); ++q) {
        auto it = std::lower_bound(half.begin(), half.end(), HalfEdge{queue[q], -1, 0});
        for (; it != half.end() && it->a == queue[q]; ++it) {
            if (seen[at(it->b)]) continue;
            seen[at(it->b)] = 1;
            queue.push_back(it->b);
            tree_edge[static_cast<std::size_t>(it - half.begin())] = 1;
            if (const int o = opposite(*it); o >= 0) tree_edge[at(o)] = 1;
        }
    }
    std::vector<int> parent(mesh.triangles.size());
    std::iota(parent.begin(), parent.end(), 0);
    Point3 place = mesh.points[0];
    for (std::size_t e = 0; e < half.size(); ++e) {
        if (half[e].a > half[e].b || tree_edge[e]) continue;
        const int o = opposite(half[e]);
        if (o < 0) continue;
        const int r = find_root(parent, half[e].triangle), s = find_root(parent, half[at(o)].triangle);
        if (r == s) place = (mesh.points[at(half[e].a)] + mesh.points[at(half[e].b)]) / 2.0;
        parent[at(r)] = s;
    }
    return place;
}

Status find_border(DiskMesh& mesh, const WorkingField& field) {
    std::vector<HalfEdge> half;
    half.reserve(mesh.triangles.size() * 3);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        for (std::size_t c = 0; c < 3; ++c)
            half.push_back({mesh.triangles[t][c], mesh.triangles[t][(c + 1) % 3], static_cast<int>(t)});
    std::sort(half.begin(), half.end());
    std::vector<int> next(mesh.points.size(), -1);
    std::size_t border = 0;
    for (std::size_t e = 0; e < half.size(); ++e) {
        if (e > 0 && half[e].a == half[e - 1].a && half[e].b == half[e - 1].b)
            return refused(field, "skin: the surface touches itself", "try another baffle position",
                           mesh.points[at(half[e].a)]);
        if (std::binary_search(half.begin(), half.end(), HalfEdge{half[e].b, half[e].a, 0})) continue;
        next[at(half[e].a)] = half[e].b;
        ++border;
    }
    std::vector<std::vector<int>> loops;
    std::vector<char> seen(mesh.points.size(), 0);
    for (std::size_t v = 0; v < next.size(); ++v) {
        if (next[v] < 0 || seen[v]) continue;
        std::vector<int> loop;
        for (int w = static_cast<int>(v); w >= 0 && !seen[at(w)]; w = next[at(w)]) {
            seen[at(w)] = 1;
            loop.push_back(w);
        }
        loops.push_back(std::move(loop));
    }
    std::sort(loops.begin(), loops.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
    INVARIANT(!loops.empty());
    mesh.border = loops.front();
    if (loops.size() > 1) {
        Point3 centre;
        for (const int v : loops[1]) centre += mesh.points[at(v)] / static_cast<double>(loops[1].size());
        return refused(field, "skin: the baffle plane meets the body in two rims; wanted one",
                       "something stands through the body and reaches the baffle there: fill it, keep it out on one "
                       "side, or move the baffle",
                       centre);
    }
    const auto edges = static_cast<long>((half.size() + border) / 2);
    const long euler = static_cast<long>(mesh.points.size()) - edges + static_cast<long>(mesh.triangles.size());
    if (euler != 1)
        return refused(field, "skin: a tunnel runs through the body; wanted a surface without one",
                       "something stands through the body there: keep it out on one side, or fill it",
                       tunnel_place(mesh, half));
    return Done{};
}

void smooth(DiskMesh& mesh, const WorkingField& field, const RimPlace& rim) {
    const VertexRings rings(mesh.points.size(), mesh.triangles);
    std::vector<char> fixed(mesh.points.size(), 0);
    for (const int v : mesh.border) fixed[at(v)] = 1;
    for (std::size_t i = 0; i < mesh.points.size(); ++i)
        mesh.points[i] = fixed[i] ? field.project_to_ring(mesh.points[i], rim, 6) : field.project(mesh.points[i], 5);
    std::vector<Point3> moved(mesh.points.size());
    for (int round = 0; round < kSmoothingRounds; ++round) {
        for (std::size_t i = 0; i < mesh.points.size(); ++i) {
            if (fixed[i]) continue;
            Point3 mean;
            double count = 0.0;
            rings.for_each(static_cast<int>(i), [&](int w) { mean += mesh.points[at(w)], count += 1.0; });
            moved[i] = field.project(mesh.points[i] * 0.4 + mean * (0.6 / count), 2);
        }
        const std::size_t n = mesh.border.size();
        for (std::size_t b = 0; b < n; ++b) {
            const Point3 around =
                (mesh.points[at(mesh.border[(b + n - 1) % n])] + mesh.points[at(mesh.border[(b + 1) % n])]) / 2.0;
            const int v = mesh.border[b];
            moved[at(v)] = field.project_to_ring(mesh.points[at(v)] * 0.5 + around * 0.5, rim, 3);
        }
        mesh.points.swap(moved);
    }
}

}  // namespace

VertexRings::VertexRings(std::size_t points, const std::vector<Triangle>& triangles) : start(points + 1, 0) {
    std::vector<std::array<int, 2>> pairs;
    pairs.reserve(triangles.size() * 6);
    for (const auto& t : triangles)
        for (std::size_t c = 0; c < 3; ++c) {
            pairs.push_back({t[c], t[(c + 1) % 3]});
            pairs.push_back({t[(c + 1) % 3], t[c]});
        }
    std::sort(pairs.begin(), pairs.end());
    pairs.erase(std::unique(pairs.begin(), pairs.end()), pairs.end());
    neighbour.reserve(pairs.size());
    for (const auto& p : pairs) {
        neighbour.push_back(p[1]);
        ++start[at(p[0]) + 1];
    }
    std::partial_sum(start.begin(), start.end(), start.begin());
}

Result<DiskMesh> disk_mesh(const WorkingField& field, const RimPlace& rim, double step_mm) {
    EXPECTS(step_mm > 0.0);
    const double y_rim = rim.baffle_y_mm + rim.radius_mm;
    const Soup soup = Lattice(field, y_rim, step_mm).march();
    GAPWRIGHT_TRY(mesh, main_component(soup, field, y_rim));
    GAPWRIGHT_CHECK(find_border(mesh, field));
    smooth(mesh, field, rim);
    return std::move(mesh);
}

}  // namespace geom::skin
