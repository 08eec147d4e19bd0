// Edges are sorted as pairs of vertex numbers, so that nothing depends on a hash's order.
#include "geom/measure/mesh_measure.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <bit>
#include <numbers>
#include <numeric>
#include <unordered_map>

namespace geom::measure {

namespace {

struct HalfEdge {
    std::uint64_t key = 0;  // lower vertex, higher vertex
    std::uint32_t triangle = 0;
    bool rising = false;
};

std::vector<HalfEdge> sorted_edges(const TriMesh& mesh) {
    std::vector<HalfEdge> edges;
    edges.reserve(3 * mesh.triangles.size());
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        for (std::size_t k = 0; k < 3; ++k) {
            const std::uint64_t a = mesh.triangles[t][k], b = mesh.triangles[t][(k + 1) % 3];
            edges.push_back({(std::min(a, b) << 32) | std::max(a, b), static_cast<std::uint32_t>(t), a < b});
        }
    std::sort(edges.begin(), edges.end(), [](const HalfEdge& a, const HalfEdge& b) {
        return a.key < b.key || (a.key == b.key && a.triangle < b.triangle);
    });
    return edges;
}

std::vector<int> components_from(const std::vector<HalfEdge>& edges, std::size_t triangles) {
    std::vector<std::uint32_t> parent(triangles);
    std::iota(parent.begin(), parent.end(), 0u);
    const auto root = [&](std::uint32_t i) {
        while (parent[i] != i) i = parent[i] = parent[parent[i]];
        return i;
    };
    for (std::size_t i = 1; i < edges.size(); ++i) {
        if (edges[i].key != edges[i - 1].key) continue;
        const std::uint32_t a = root(edges[i - 1].triangle), b = root(edges[i].triangle);
        if (a != b) parent[std::max(a, b)] = std::min(a, b);
    }
    std::vector<int> number(triangles, -1), out(triangles);
    int next = 0;
    for (std::uint32_t t = 0; t < triangles; ++t) {
        int& n = number[root(t)];
        if (n < 0) n = next++;
        out[t] = n;
    }
    return out;
}

bool is_degenerate(const TriMesh& mesh, std::size_t t) {
    const auto& v = mesh.triangles[t];
    if (v[0] == v[1] || v[1] == v[2] || v[2] == v[0]) return true;
    const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
    const double longest2 = std::max({norm2(b - a), norm2(c - b), norm2(a - c)});
    return norm(cross(b - a, c - a)) <= 1e-12 * longest2;
}

}  // namespace

MeshMeasure measure_mesh(const TriMesh& mesh) {
    MeshMeasure out;
    out.box = bounds(mesh);
    out.centre = (out.box.lo + out.box.hi) * 0.5;
    if (mesh.triangles.empty()) return out;
    const std::vector<HalfEdge> edges = sorted_edges(mesh);
    out.closed = true;
    out.oriented = true;
    for (std::size_t i = 0; i < edges.size();) {
        std::size_t j = i + 1;
        while (j < edges.size() && edges[j].key == edges[i].key) ++j;
        if (j - i != 2) out.closed = false;
        if (j - i != 2 || edges[i].rising == edges[i + 1].rising) out.oriented = false;
        i = j;
    }
    const std::vector<int> part = components_from(edges, mesh.triangles.size());
    out.components = *std::max_element(part.begin(), part.end()) + 1;

    const Point3 o = out.centre;
    double volume = 0.0, area = 0.0;
    Vec3 moment;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        if (is_degenerate(mesh, t)) ++out.degenerate;
        const Vec3 a = mesh.corner(t, 0) - o, b = mesh.corner(t, 1) - o, c = mesh.corner(t, 2) - o;
        const double v = dot(a, cross(b, c)) / 6.0;
        volume += v;
        moment += (a + b + c) * (v / 4.0);
        area += 0.5 * norm(cross(b - a, c - a));
    }
    out.volume = Volume::mm3(volume);
    out.area = Area::mm2(area);
    if (volume != 0.0) out.centre = o + moment / volume;
    return out;
}

std::vector<int> components_of(const TriMesh& mesh) {
    return components_from(sorted_edges(mesh), mesh.triangles.size());
}

TriMesh in_single_precision(const TriMesh& mesh) {
    struct Key {
        std::uint32_t x, y, z;
        bool operator==(const Key&) const = default;
    };
    struct Hash {
        std::size_t operator()(const Key& k) const {
            std::uint64_t h = k.x * 0x9E3779B97F4A7C15ull;
            h = (h ^ (h >> 29) ^ k.y) * 0xBF58476D1CE4E5B9ull;
            h = (h ^ (h >> 32) ^ k.z) * 0x94D049BB133111EBull;
            return static_cast<std::size_t>(h ^ (h >> 31));
        }
    };
    std::unordered_map<Key, std::uint32_t, Hash> known;
    known.reserve(mesh.vertices.size());
    TriMesh out;
    constexpr std::uint32_t kNone = ~0u;
    std::vector<std::uint32_t> renamed(mesh.vertices.size(), kNone);
    const auto name = [&](std::uint32_t v) {
        if (renamed[v] != kNone) return renamed[v];
        // Adding zero makes one zero of the two.
        const float x = static_cast<float>(mesh.vertices[v].x) + 0.0f,
                    y = static_cast<float>(mesh.vertices[v].y) + 0.0f,
                    z = static_cast<float>(mesh.vertices[v].z) + 0.0f;
        const Key key{std::bit_cast<std::uint32_t>(x), std::bit_cast<std::uint32_t>(y),
                      std::bit_cast<std::uint32_t>(z)};
        const auto [it, is_new] = known.try_emplace(key, static_cast<std::uint32_t>(out.vertices.size()));
        if (is_new) out.vertices.push_back({x, y, z});
        return renamed[v] = it->second;
    };
    for (const auto& t : mesh.triangles) {
        const std::array<std::uint32_t, 3> u{name(t[0]), name(t[1]), name(t[2])};
        if (u[0] != u[1] && u[1] != u[2] && u[2] != u[0]) out.triangles.push_back(u);
    }
    return out;
}

TriMesh merged(const std::vector<TriMesh>& meshes) {
    TriMesh out;
    for (const TriMesh& m : meshes) {
        const auto first = static_cast<std::uint32_t>(out.vertices.size());
        out.vertices.insert(out.vertices.end(), m.vertices.begin(), m.vertices.end());
        for (const auto& t : m.triangles) out.triangles.push_back({t[0] + first, t[1] + first, t[2] + first});
    }
    return out;
}

double winding_number(const TriMesh& mesh, Point3 p) {
    const double sum = parallel_sum(mesh.triangles.size(), 4096, [&](std::size_t begin, std::size_t end) {
        double angle = 0.0;
        for (std::size_t t = begin; t < end; ++t) {
            const Vec3 a = mesh.corner(t, 0) - p, b = mesh.corner(t, 1) - p, c = mesh.corner(t, 2) - p;
            const double la = norm(a), lb = norm(b), lc = norm(c);
            angle +=
                2.0 * std::atan2(dot(a, cross(b, c)), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb);
        }
        return angle;
    });
    return sum / (4.0 * std::numbers::pi);
}

}  // namespace geom::measure
