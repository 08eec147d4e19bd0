// Every facet that crosses the plane leaves one directed segment; segments are chained over the mesh's own edges, so
// the outlines of a closed mesh are closed. The plane is moved by a hair when it would pass exactly through a vertex.
#include "exports/internal/section_cut.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <unordered_map>

namespace exports {
namespace {

using geom::Plane;
using geom::Point3;
using geom::Vec3;

/// Heights over the plane, none exactly zero.
std::vector<double> heights(const std::vector<Point3>& points, const Plane& plane) {
    std::vector<double> h(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        h[i] = plane.height(points[i]);
        if (std::abs(h[i]) < 1e-6) h[i] = 1e-6;
    }
    return h;
}

std::uint64_t edge_key(std::uint32_t a, std::uint32_t b) {
    return static_cast<std::uint64_t>(std::min(a, b)) << 32 | std::max(a, b);
}

std::vector<std::vector<Point3>> loops_of(const geom::TriMesh& mesh, const Plane& plane) {
    const std::vector<double> h = heights(mesh.vertices, plane);
    std::unordered_map<std::uint64_t, std::uint64_t> next;  // from the edge where a segment starts to where it ends
    std::vector<std::uint64_t> order;                       // of the mesh, so that the loops have an order
    for (const auto& t : mesh.triangles) {
        std::uint64_t from = 0, to = 0;
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = t[c], b = t[(c + 1) % 3];
            if (h[a] < 0.0 && h[b] > 0.0) from = edge_key(a, b);
            if (h[a] > 0.0 && h[b] < 0.0) to = edge_key(a, b);
        }
        if (from == 0 && to == 0) continue;
        if (next.try_emplace(from, to).second) order.push_back(from);
    }
    const auto place = [&](std::uint64_t key) {
        const auto a = static_cast<std::uint32_t>(key >> 32), b = static_cast<std::uint32_t>(key);
        return mesh.vertices[a] + (mesh.vertices[b] - mesh.vertices[a]) * (h[a] / (h[a] - h[b]));
    };
    std::vector<std::vector<Point3>> loops;
    for (const std::uint64_t start : order) {
        std::vector<Point3> loop;
        std::uint64_t key = start;
        for (auto it = next.find(key); it != next.end(); it = next.find(key)) {
            loop.push_back(place(key));
            key = it->second;
            next.erase(it);
        }
        if (loop.size() >= 3 && key == start) loops.push_back(std::move(loop));
    }
    return loops;
}

/// Crossings of the line y = `y` with loops given in some 2D frame, sorted.
void crossings(const std::vector<std::vector<PicturePoint>>& loops, double y, std::vector<double>& out) {
    out.clear();
    for (const auto& loop : loops)
        for (std::size_t i = 0; i < loop.size(); ++i) {
            const PicturePoint a = loop[i], b = loop[(i + 1) % loop.size()];
            if ((a.y <= y) == (b.y <= y)) continue;
            out.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
        }
    std::sort(out.begin(), out.end());
}

std::vector<std::vector<PicturePoint>> on_picture(const std::vector<std::vector<Point3>>& loops, const View& view) {
    std::vector<std::vector<PicturePoint>> out;
    for (const auto& loop : loops) {
        auto& flat = out.emplace_back();
        for (const Point3& p : loop) {
            const Seen s = view.project(p);
            flat.push_back({s.x, s.y});
        }
    }
    return out;
}

}  // namespace

CutLoops cut_loops(const std::vector<PicturedProduct>& products, const Plane& plane) {
    CutLoops loops;
    for (const auto& product : products) loops.push_back(loops_of(product.mesh, plane));
    return loops;
}

DrawMesh clipped(const DrawMesh& mesh, const Plane& plane) {
    const std::vector<double> h = heights(mesh.points, plane);
    DrawMesh out;
    out.points = mesh.points;
    out.normals = mesh.normals;
    out.box = mesh.box;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) {
        const auto& t = mesh.triangles[i];
        std::vector<std::uint32_t> kept;  // the corners of what is left, in order
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = t[c], b = t[(c + 1) % 3];
            if (h[a] < 0.0) kept.push_back(a);
            if ((h[a] < 0.0) == (h[b] < 0.0)) continue;
            const double w = h[a] / (h[a] - h[b]);
            kept.push_back(static_cast<std::uint32_t>(out.points.size()));
            out.points.push_back(mesh.points[a] + (mesh.points[b] - mesh.points[a]) * w);
            out.normals.push_back(geom::unit(mesh.normals[a] * (1.0 - w) + mesh.normals[b] * w));
        }
        for (std::size_t k = 2; k < kept.size(); ++k) {
            out.triangles.push_back({kept[0], kept[k - 1], kept[k]});
            out.product.push_back(mesh.product[i]);
        }
    }
    return out;
}

CutAway cut_away(const CutLoops& loops, const Plane& plane, const View& view) {
    CutAway cut;
    cut.top_z = view.project(plane.point).z;
    cut.width = view.width;
    cut.height = view.height;
    cut.is_material.assign(static_cast<std::size_t>(view.width) * static_cast<std::size_t>(view.height), 0);
    std::vector<double> at;
    for (const auto& product : loops) {
        const auto flat = on_picture(product, view);
        for (int y = 0; y < view.height; ++y) {
            crossings(flat, y + 0.5, at);
            for (std::size_t k = 0; k + 1 < at.size(); k += 2)
                for (int x = std::max(0, static_cast<int>(std::ceil(at[k] - 0.5)));
                     x < view.width && x + 0.5 < at[k + 1]; ++x)
                    cut.is_material[static_cast<std::size_t>(y) * static_cast<std::size_t>(view.width) +
                                    static_cast<std::size_t>(x)] = 1;
        }
    }
    return cut;
}

std::vector<std::array<PicturePoint, 2>> hatch(const std::vector<std::vector<Point3>>& loops, const View& view,
                                               double spacing_px, bool leans_left) {
    // In a frame turned by 45 degrees the hatch lines are level.
    const double c = std::numbers::sqrt2 / 2.0, s = leans_left ? -c : c;
    auto turned = on_picture(loops, view);
    double low = 1e300, high = -1e300;
    for (auto& loop : turned)
        for (PicturePoint& p : loop) {
            p = {c * p.x - s * p.y, s * p.x + c * p.y};
            low = std::min(low, p.y);
            high = std::max(high, p.y);
        }
    std::vector<std::array<PicturePoint, 2>> lines;
    std::vector<double> at;
    for (double y = std::ceil(low / spacing_px) * spacing_px; y < high; y += spacing_px) {
        crossings(turned, y, at);
        for (std::size_t k = 0; k + 1 < at.size(); k += 2)
            lines.push_back({PicturePoint{c * at[k] + s * y, -s * at[k] + c * y},
                             PicturePoint{c * at[k + 1] + s * y, -s * at[k + 1] + c * y}});
    }
    return lines;
}

}  // namespace exports
