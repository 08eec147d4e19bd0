// Round each vertex the facets are grouped by walking across the edges that meet there; a group is one smooth side of
// the vertex and becomes one split vertex. Angle weights: Thuermer, Wuethrich, "Computing vertex normals from polygonal
// facets", J. Graphics Tools 3(1), 1998 (cited from memory).
#include "exports/internal/draw_mesh.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace exports {
namespace {

using geom::TriMesh;
using geom::Vec3;

struct Corner {
    std::uint32_t triangle = 0;
    std::uint32_t next = 0, previous = 0;  ///< the triangle's other two vertices, counter-clockwise
    std::uint32_t slot = 0;                ///< 0, 1, 2
    std::uint32_t group = 0;
};

/// Corners sorted by vertex: those of vertex v are [first[v], first[v + 1]).
struct Fans {
    std::vector<std::uint32_t> first;
    std::vector<Corner> corners;
};

Fans fans(const TriMesh& mesh) {
    Fans f;
    f.first.assign(mesh.vertices.size() + 1, 0);
    for (const auto& t : mesh.triangles)
        for (const std::uint32_t v : t) ++f.first[v + 1];
    for (std::size_t v = 0; v < mesh.vertices.size(); ++v) f.first[v + 1] += f.first[v];
    f.corners.resize(3 * mesh.triangles.size());
    std::vector<std::uint32_t> fill(f.first.begin(), f.first.end() - 1);
    for (std::uint32_t i = 0; i < mesh.triangles.size(); ++i)
        for (std::uint32_t c = 0; c < 3; ++c) {
            const auto& t = mesh.triangles[i];
            f.corners[fill[t[c]]++] = {i, t[(c + 1) % 3], t[(c + 2) % 3], c, 0};
        }
    return f;
}

/// Groups the corners of one vertex; returns how many groups.
std::uint32_t group_corners(Corner* begin, Corner* end, const std::vector<Vec3>& facet_normals, double cos_crease) {
    const std::size_t count = static_cast<std::size_t>(end - begin);
    std::vector<std::uint32_t> root(count);
    for (std::uint32_t i = 0; i < count; ++i) root[i] = i;
    const auto find = [&](std::uint32_t i) {
        while (root[i] != i) i = root[i] = root[root[i]];
        return i;
    };
    std::vector<std::pair<std::uint32_t, std::uint32_t>> by_next(count);
    for (std::uint32_t i = 0; i < count; ++i) by_next[i] = {begin[i].next, i};
    std::sort(by_next.begin(), by_next.end());
    for (std::uint32_t i = 0; i < count; ++i) {
        auto it = std::lower_bound(by_next.begin(), by_next.end(), std::pair{begin[i].previous, 0u});
        for (; it != by_next.end() && it->first == begin[i].previous; ++it)
            if (dot(facet_normals[begin[i].triangle], facet_normals[begin[it->second].triangle]) > cos_crease) {
                const std::uint32_t a = find(i), b = find(it->second);
                root[std::max(a, b)] = std::min(a, b);
            }
    }
    std::uint32_t groups = 0;
    for (std::uint32_t i = 0; i < count; ++i) begin[i].group = find(i) == i ? groups++ : begin[find(i)].group;
    return groups;
}

void append(DrawMesh& out, const TriMesh& mesh, std::uint8_t product, double cos_crease) {
    std::vector<Vec3> facet_normals(mesh.triangles.size());
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
        facet_normals[i] =
            geom::unit(cross(mesh.corner(i, 1) - mesh.corner(i, 0), mesh.corner(i, 2) - mesh.corner(i, 0)));

    Fans f = fans(mesh);
    std::vector<std::uint32_t> groups(mesh.vertices.size());
    geom::parallel_for(mesh.vertices.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t v = begin; v < end; ++v)
            groups[v] = group_corners(f.corners.data() + f.first[v], f.corners.data() + f.first[v + 1], facet_normals,
                                      cos_crease);
    });
    const std::size_t triangle_base = out.triangles.size();
    out.triangles.resize(triangle_base + mesh.triangles.size());
    out.product.resize(out.triangles.size(), product);
    for (std::size_t v = 0; v < mesh.vertices.size(); ++v) {
        const std::uint32_t base = static_cast<std::uint32_t>(out.points.size());
        out.points.resize(base + groups[v], mesh.vertices[v]);
        out.normals.resize(base + groups[v]);
        for (std::uint32_t k = f.first[v]; k < f.first[v + 1]; ++k) {
            const Corner& corner = f.corners[k];
            const Vec3 a = geom::unit(mesh.vertices[corner.next] - mesh.vertices[v]);
            const Vec3 b = geom::unit(mesh.vertices[corner.previous] - mesh.vertices[v]);
            const double angle = std::acos(std::clamp(dot(a, b), -1.0, 1.0));
            out.normals[base + corner.group] += facet_normals[corner.triangle] * angle;
            out.triangles[triangle_base + corner.triangle][corner.slot] = base + corner.group;
        }
        if (groups[v] > 0) out.box.grow(mesh.vertices[v]);
    }
}

}  // namespace

DrawMesh draw_mesh(const std::vector<PicturedProduct>& products, double crease_deg) {
    DrawMesh out;
    for (std::size_t p = 0; p < products.size(); ++p)
        append(out, products[p].mesh, static_cast<std::uint8_t>(p), std::cos(crease_deg * std::numbers::pi / 180.0));
    for (Vec3& n : out.normals) n = geom::unit(n);
    return out;
}

}  // namespace exports
