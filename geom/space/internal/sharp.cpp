// Erosion leaves sharp convex edges, and a grid function cuts them off by up to half a voxel; the opening that follows
// would come out too small by as much. So the edges are found again: in a cell at the level, the planes of those
// nodes whose one-sided gradients are trustworthy (a distance has unit slope) and spread beyond 26 degrees meet in a
// vertex by least squares (dual contouring's quadric; Kobbelt et al. 2001; Ju et al. 2002), two significant directions
// for an edge, three for a corner. Neighbouring vertices join into pieces; two edge lines that nearly meet give the
// corner between them. Papers cited from memory.
#include "geom/space/internal/sharp.h"

#include "geom/core/parallel.h"

#include <Eigen/Dense>

#include <array>
#include <cmath>
#include <cstdint>
#include <unordered_map>

namespace geom::space::internal {
namespace {

constexpr float kSpreadCos = 0.9f;     // node normals closer than this make no edge
constexpr float kSlopeDefect = 0.06f;  // of a trusted node: | |grad| - 1 |
constexpr float kVertexReach = 0.55f;  // voxels from the cell's middle
constexpr float kPlaneSlack = 0.03f;   // voxels a vertex may stand beyond a node's plane

}  // namespace

/// One-sided (ENO) gradient where the field bends least; false when its slope is not that of a distance.
bool node_plane(const GridSpec& g, const std::vector<float>& phi, int i, int j, int k, NodePlane& plane) {
    const int c[3] = {i, j, k}, n[3] = {g.nx, g.ny, g.nz};
    const std::size_t stride[3] = {1, static_cast<std::size_t>(g.nx),
                                   static_cast<std::size_t>(g.nx) * static_cast<std::size_t>(g.ny)};
    const float inv_h = 1.0f / static_cast<float>(g.h_mm);
    const float* p = phi.data() + g.index(i, j, k);
    float grad[3];
    for (int a = 0; a < 3; ++a) {
        if (c[a] < 2 || c[a] > n[a] - 3) return false;
        const std::size_t s = stride[a];
        const float m2 = *(p - 2 * s), m1 = *(p - s), f = p[0], p1 = p[s], p2 = p[2 * s];
        const float left = std::abs(f - 2 * m1 + m2), right = std::abs(p2 - 2 * p1 + f),
                    middle = std::abs(p1 - 2 * f + m1);
        if (middle <= left && middle <= right)
            grad[a] = 0.5f * (p1 - m1);
        else if (left < right)
            grad[a] = 0.5f * (3 * f - 4 * m1 + m2);
        else
            grad[a] = -0.5f * (3 * f - 4 * p1 + p2);
        grad[a] *= inv_h;
    }
    const Vec3f v{grad[0], grad[1], grad[2]};
    const float len = norm(v);
    if (std::abs(len - 1.0f) > kSlopeDefect) return false;
    plane.at = {static_cast<float>(i), static_cast<float>(j), static_cast<float>(k)};
    plane.normal = v * (1.0f / len);
    plane.value = p[0] * inv_h;
    return true;
}

namespace {

struct Vertex {
    Vec3f at, along;  // voxels; direction of the edge
    std::array<int, 3> cell{};
    int rank = 0;  // 2 edge, 3 corner
};

bool vertex_of_cell(const GridSpec& g, const std::vector<float>& phi, int i, int j, int k, Vertex& out) {
    const float h = static_cast<float>(g.h_mm);
    int negative = 0;
    float least = 1e9f;
    for (int q = 0; q < 8; ++q) {
        const float v = phi[g.index(i + (q & 1), j + ((q >> 1) & 1), k + (q >> 2))];
        negative += v < 0.0f ? 1 : 0;
        least = std::min(least, v);
    }
    if (least > h || negative == 8) return false;
    std::array<NodePlane, 8> planes;
    std::size_t count = 0;
    for (int q = 0; q < 8; ++q)
        if (node_plane(g, phi, i + (q & 1), j + ((q >> 1) & 1), k + (q >> 2), planes[count])) ++count;
    if (count < 2) return false;
    float spread = 1.0f;
    for (std::size_t a = 0; a < count; ++a)
        for (std::size_t b = 0; b < a; ++b) spread = std::min(spread, dot(planes[a].normal, planes[b].normal));
    if (spread > kSpreadCos) return false;

    const Vec3f middle{static_cast<float>(i) + 0.5f, static_cast<float>(j) + 0.5f, static_cast<float>(k) + 0.5f};
    Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen;
    Vec3f at = middle;
    int rank = 0;
    // Again with more weight on planes that touch the surface near the vertex: where a side is curved the others lie.
    for (int round = 0; round < 3; ++round) {
        Eigen::Matrix3d m = Eigen::Matrix3d::Zero();
        Eigen::Vector3d rhs = Eigen::Vector3d::Zero();
        for (std::size_t a = 0; a < count; ++a) {
            const NodePlane& p = planes[a];
            double weight = 1.0;
            if (round > 0) {
                const Vec3f off = p.at - p.normal * p.value - at;
                weight = 1.0 / (0.05 + static_cast<double>(dot(off, off)));
            }
            const Eigen::Vector3d normal(p.normal.x, p.normal.y, p.normal.z);
            m += weight * normal * normal.transpose();
            rhs -= weight * normal * static_cast<double>(p.value + dot(p.normal, middle - p.at));
        }
        const double scale = round == 0 ? 1.0 : m.trace() / static_cast<double>(count);
        eigen.computeDirect(m / scale);
        Eigen::Vector3d x = Eigen::Vector3d::Zero();
        int strong = 0;
        for (int e = 0; e < 3; ++e) {
            const double l = eigen.eigenvalues()[e];
            if (l <= 0.1 * eigen.eigenvalues()[2] || l <= 0.12) continue;
            x += eigen.eigenvectors().col(e) * (eigen.eigenvectors().col(e).dot(rhs) / (l * scale));
            ++strong;
        }
        if (round == 0) rank = strong;
        if (rank < 2 || x.cwiseAbs().maxCoeff() > static_cast<double>(kVertexReach)) return false;
        if (strong != rank) break;  // weighting lost a side: what stood before is kept
        at = middle + Vec3f{static_cast<float>(x[0]), static_cast<float>(x[1]), static_cast<float>(x[2])};
    }
    for (std::size_t a = 0; a < count; ++a)
        if (planes[a].value + dot(planes[a].normal, at - planes[a].at) > kPlaneSlack) return false;
    const auto along = eigen.eigenvectors().col(0);
    out = {at,
           {static_cast<float>(along[0]), static_cast<float>(along[1]), static_cast<float>(along[2])},
           {i, j, k},
           rank};
    return true;
}

/// True when a trusted node says that `p` is outside by more than `slack` voxels; only planes that touch the surface
/// near `p` are asked, as the others of a curved side lie.
bool outside_some_plane(const GridSpec& g, const std::vector<float>& phi, Vec3f p, float slack) {
    constexpr float kTouches = 1.3f;
    const int i = static_cast<int>(p.x), j = static_cast<int>(p.y), k = static_cast<int>(p.z);
    NodePlane plane;
    for (int c = std::max(2, k - 1); c <= std::min(g.nz - 3, k + 2); ++c)
        for (int b = std::max(2, j - 1); b <= std::min(g.ny - 3, j + 2); ++b)
            for (int a = std::max(2, i - 1); a <= std::min(g.nx - 3, i + 2); ++a) {
                if (!node_plane(g, phi, a, b, c, plane)) continue;
                const Vec3f off = plane.at - plane.normal * plane.value - p;
                if (dot(off, off) < kTouches * kTouches && plane.value + dot(plane.normal, p - plane.at) > slack)
                    return true;
            }
    return false;
}

/// The corner near `guess`: the meet of all trustworthy node planes that pass close to it, three directions strong.
bool corner_near(const GridSpec& g, const std::vector<float>& phi, Vec3f guess, Vec3f& corner) {
    const int i = static_cast<int>(guess.x), j = static_cast<int>(guess.y), k = static_cast<int>(guess.z);
    std::vector<NodePlane> planes;
    NodePlane plane;
    for (int c = std::max(2, k - 2); c <= std::min(g.nz - 3, k + 3); ++c)
        for (int b = std::max(2, j - 2); b <= std::min(g.ny - 3, j + 3); ++b)
            for (int a = std::max(2, i - 2); a <= std::min(g.nx - 3, i + 3); ++a)
                if (node_plane(g, phi, a, b, c, plane) &&
                    std::abs(plane.value + dot(plane.normal, guess - plane.at)) < 0.4f)
                    planes.push_back(plane);
    corner = guess;
    for (int round = 0; round < 3; ++round) {
        Eigen::Matrix3d m = Eigen::Matrix3d::Zero();
        Eigen::Vector3d rhs = Eigen::Vector3d::Zero();
        int used = 0;
        for (const NodePlane& p : planes) {
            const float off = p.value + dot(p.normal, corner - p.at);
            if (std::abs(off) > (round == 0 ? 0.4f : 0.1f)) continue;
            const Eigen::Vector3d normal(p.normal.x, p.normal.y, p.normal.z);
            m += normal * normal.transpose();
            rhs -= normal * static_cast<double>(off);
            ++used;
        }
        if (used < 6) return false;
        Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen;
        eigen.computeDirect(m);
        if (eigen.eigenvalues()[0] < 0.04 * used) return false;
        const Eigen::Vector3d x = m.ldlt().solve(rhs);
        corner = corner + Vec3f{static_cast<float>(x[0]), static_cast<float>(x[1]), static_cast<float>(x[2])};
        if (norm(corner - guess) > 0.8f) return false;
    }
    // Convex: no plane that passes near may leave the corner outside.
    return std::none_of(planes.begin(), planes.end(),
                        [&](const NodePlane& p) { return p.value + dot(p.normal, corner - p.at) > 0.1f; });
}

float value_near(const GridSpec& g, const std::vector<float>& phi, Vec3f p) {
    return Tricubic(g, phi.data()).value(p) / static_cast<float>(g.h_mm);
}

}  // namespace

std::vector<EdgePiece> sharp_edges(const GridSpec& grid, const std::vector<float>& phi) {
    const float near = 2.0f * static_cast<float>(grid.h_mm);
    std::vector<std::vector<Vertex>> slabs(static_cast<std::size_t>(grid.nz));
    parallel_for(slabs.size(), 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t kk = std::max<std::size_t>(begin, 2); kk < std::min(end, slabs.size() - 3); ++kk) {
            const int k = static_cast<int>(kk);
            for (int j = 2; j < grid.ny - 3; ++j)
                for (int i = 2; i < grid.nx - 3; ++i) {
                    if (std::abs(phi[grid.index(i, j, k)]) > near) continue;
                    Vertex v;
                    if (vertex_of_cell(grid, phi, i, j, k, v) && !outside_some_plane(grid, phi, v.at, 0.06f))
                        slabs[kk].push_back(v);
                }
        }
    });
    std::vector<Vertex> vertices;
    for (const auto& slab : slabs) vertices.insert(vertices.end(), slab.begin(), slab.end());
    std::unordered_map<std::size_t, std::size_t> of_cell;
    of_cell.reserve(vertices.size() * 2);
    for (std::size_t v = 0; v < vertices.size(); ++v)
        of_cell[grid.index(vertices[v].cell[0], vertices[v].cell[1], vertices[v].cell[2])] = v;
    const auto found = [&](const Vertex& from, int di, int dj, int dk) -> const Vertex* {
        const int i = from.cell[0] + di, j = from.cell[1] + dj, k = from.cell[2] + dk;
        if (i < 0 || j < 0 || k < 0 || i >= grid.nx || j >= grid.ny || k >= grid.nz) return nullptr;
        const auto it = of_cell.find(grid.index(i, j, k));
        return it == of_cell.end() ? nullptr : &vertices[it->second];
    };

    std::vector<std::vector<EdgePiece>> pieces((vertices.size() + 255) / 256);
    parallel_for(vertices.size(), 256, [&](std::size_t begin, std::size_t end) {
        auto& own = pieces[begin / 256];
        for (std::size_t index = begin; index < end; ++index) {
            const Vertex& v = vertices[index];
            own.push_back({v.at, v.at});
            // Along the edge: to the vertices of the cells around, each pair once.
            for (int dk = -1; dk <= 1; ++dk)
                for (int dj = -1; dj <= 1; ++dj)
                    for (int di = -1; di <= 1; ++di) {
                        if (dk * 9 + dj * 3 + di <= 0) continue;
                        const Vertex* w = found(v, di, dj, dk);
                        if (w == nullptr || norm(v.at - w->at) > 2.0f) continue;
                        const Vec3f middle = (v.at + w->at) * 0.5f;
                        if (value_near(grid, phi, middle) > 0.75f || outside_some_plane(grid, phi, middle, 0.05f))
                            continue;
                        own.push_back({v.at, w->at});
                    }
            // Corners: where two edge lines of different direction nearly meet.
            if (v.rank != 2) continue;
            for (int dk = -4; dk <= 4; ++dk)
                for (int dj = -4; dj <= 4; ++dj)
                    for (int di = -4; di <= 4; ++di) {
                        const Vertex* w = found(v, di, dj, dk);
                        if (w == nullptr || w <= &v || w->rank != 2) continue;
                        const float c = dot(v.along, w->along);
                        if (std::abs(c) > 0.85f) continue;
                        const Vec3f gap = v.at - w->at;
                        const float d = dot(v.along, gap), e = dot(w->along, gap), den = 1.0f - c * c;
                        const float s = (c * e - d) / den, t = (e - c * d) / den;
                        const Vec3f p = v.at + v.along * s, q = w->at + w->along * t;
                        if (norm(p - q) > 0.3f || std::abs(s) > 5.0f || std::abs(t) > 5.0f) continue;
                        Vec3f corner;
                        if (!corner_near(grid, phi, (p + q) * 0.5f, corner) || value_near(grid, phi, corner) > 1.0f)
                            continue;
                        own.push_back({v.at, corner});
                        own.push_back({w->at, corner});
                    }
        }
    });
    std::vector<EdgePiece> all;
    for (const auto& own : pieces) all.insert(all.end(), own.begin(), own.end());
    return all;
}

void stamp(const GridSpec& grid, const std::vector<EdgePiece>& edges, double reach_mm,
           std::vector<float>& distance_mm) {
    const float h = static_cast<float>(grid.h_mm), reach = static_cast<float>(reach_mm) / h;
    std::vector<std::vector<std::uint32_t>> of_slab(static_cast<std::size_t>(grid.nz));
    for (std::size_t e = 0; e < edges.size(); ++e) {
        const int lo = std::max(0, static_cast<int>(std::ceil(std::min(edges[e].a.z, edges[e].b.z) - reach)));
        const int hi =
            std::min(grid.nz - 1, static_cast<int>(std::floor(std::max(edges[e].a.z, edges[e].b.z) + reach)));
        for (int k = lo; k <= hi; ++k) of_slab[static_cast<std::size_t>(k)].push_back(static_cast<std::uint32_t>(e));
    }
    parallel_for(of_slab.size(), 2, [&](std::size_t begin, std::size_t end) {
        for (std::size_t kk = begin; kk < end; ++kk) {
            const auto z = static_cast<float>(kk);
            for (const std::uint32_t index : of_slab[kk]) {
                const EdgePiece& piece = edges[index];
                const Vec3f d = piece.b - piece.a;
                const float l2 = dot(d, d);
                const int j0 = std::max(0, static_cast<int>(std::ceil(std::min(piece.a.y, piece.b.y) - reach)));
                const int j1 =
                    std::min(grid.ny - 1, static_cast<int>(std::floor(std::max(piece.a.y, piece.b.y) + reach)));
                const int i0 = std::max(0, static_cast<int>(std::ceil(std::min(piece.a.x, piece.b.x) - reach)));
                const int i1 =
                    std::min(grid.nx - 1, static_cast<int>(std::floor(std::max(piece.a.x, piece.b.x) + reach)));
                for (int j = j0; j <= j1; ++j) {
                    float* row = distance_mm.data() + grid.index(0, j, static_cast<int>(kk));
                    for (int i = i0; i <= i1; ++i) {
                        if (row[i] <= 0.0f) continue;
                        const Vec3f p = Vec3f{static_cast<float>(i), static_cast<float>(j), z} - piece.a;
                        const float t = l2 > 0.0f ? std::clamp(dot(p, d) / l2, 0.0f, 1.0f) : 0.0f;
                        const Vec3f gap = p - d * t;
                        const float dist = h * norm(gap);
                        if (dist < row[i]) row[i] = dist;
                    }
                }
            }
        }
    });
}

}  // namespace geom::space::internal
