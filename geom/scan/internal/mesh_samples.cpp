// Each triangle is sampled by rows along its longest edge: as many rows as its height asks for, as many samples a row
// as its length asks for, at least one, each in the middle of the piece it stands for. Small triangles give one sample
// each, so a mesh finer than the spacing is thinned afterwards to the first sample of each cell of that size and side.
#include "geom/scan/internal/mesh_samples.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <unordered_set>

namespace geom::scan::internal {
namespace {

constexpr double kWanted_mm = 1.0;

/// Corners with the longest edge first, and the triangle's height over it.
struct Shape {
    Point3 a, b, c;
    double base_mm = 0.0, height_mm = 0.0;
    Vec3 normal;
};

Shape shape_of(const RawScan& mesh, std::size_t t) {
    Point3 p[3];
    for (std::size_t k = 0; k < 3; ++k) p[k] = mesh.points[mesh.triangles[t][k]];
    std::size_t longest = 0;
    for (std::size_t k = 1; k < 3; ++k)
        if (norm2(p[(k + 1) % 3] - p[k]) > norm2(p[(longest + 1) % 3] - p[longest])) longest = k;
    Shape s{p[longest], p[(longest + 1) % 3], p[(longest + 2) % 3], 0, 0, {}};
    s.base_mm = distance(s.a, s.b);
    const Vec3 twice = cross(s.b - s.a, s.c - s.a);
    const double twice_area = norm(twice);
    // A triangle thinner than a thousandth of a micrometre has no side to face.
    if (s.base_mm > 0.0 && twice_area > 1e-6 * s.base_mm) {
        s.height_mm = twice_area / s.base_mm;
        s.normal = twice / twice_area;
    }
    return s;
}

std::size_t pieces(double length_mm, double spacing_mm) {
    return std::max<std::size_t>(1, static_cast<std::size_t>(std::ceil(length_mm / spacing_mm - 1e-9)));
}

template <class Take>
void rows_of(const Shape& s, double spacing_mm, Take take) {
    if (!(s.height_mm > 0.0)) return;
    const std::size_t rows = pieces(s.height_mm, spacing_mm);
    for (std::size_t r = 0; r < rows; ++r) {
        const double v = (static_cast<double>(r) + 0.5) / static_cast<double>(rows);
        const Point3 from = s.a + (s.c - s.a) * v, to = s.b + (s.c - s.b) * v;
        const std::size_t in_row = pieces(s.base_mm * (1.0 - v), spacing_mm);
        for (std::size_t k = 0; k < in_row; ++k)
            take(from + (to - from) * ((static_cast<double>(k) + 0.5) / static_cast<double>(in_row)));
    }
}

}  // namespace

MeshSamples sample_mesh(const RawScan& mesh, std::size_t most) {
    MeshSamples out;
    double area_mm2 = 0.0;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Shape s = shape_of(mesh, t);
        area_mm2 += s.base_mm * s.height_mm / 2.0;
    }
    out.spacing_mm = std::max(kWanted_mm, std::sqrt(area_mm2 / (0.7 * static_cast<double>(most))));
    const std::size_t triangles = mesh.triangles.size();
    std::vector<std::size_t> start(triangles + 1, 0);
    parallel_for(triangles, 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t t = begin; t < end; ++t)
            rows_of(shape_of(mesh, t), out.spacing_mm, [&](Point3) { ++start[t + 1]; });
    });
    for (std::size_t t = 0; t < triangles; ++t) start[t + 1] += start[t];
    std::vector<Point3> points(start.back());
    std::vector<Vec3> normals(start.back());
    parallel_for(triangles, 1024, [&](std::size_t begin, std::size_t end) {
        for (std::size_t t = begin; t < end; ++t) {
            const Shape s = shape_of(mesh, t);
            std::size_t at = start[t];
            rows_of(s, out.spacing_mm, [&](Point3 p) { points[at] = p, normals[at++] = s.normal; });
        }
    });
    out.gap_mm = out.spacing_mm * std::sqrt(0.5);
    if (points.size() > most) {
        // Fine triangles: one sample a cell and side. The side is the normal's largest axis and sign.
        std::unordered_set<std::uint64_t> taken;
        Aabb box;
        for (const Point3& p : points) box.grow(p);
        const double cell = out.spacing_mm;
        std::size_t n = 0;
        for (std::size_t i = 0; i < points.size(); ++i) {
            const Vec3 d = (points[i] - box.lo) / cell;
            const Vec3 a{std::abs(normals[i].x), std::abs(normals[i].y), std::abs(normals[i].z)};
            const std::size_t axis = a.x >= a.y && a.x >= a.z ? 0 : a.y >= a.z ? 1 : 2;
            const std::uint64_t side = axis * 2 + (normals[i][axis] < 0.0 ? 1 : 0);
            const auto whole = [](double v) { return static_cast<std::uint64_t>(v) & 0xFFFFF; };
            if (!taken.insert(whole(d.x) | whole(d.y) << 20 | whole(d.z) << 40 | side << 60).second) continue;
            points[n] = points[i], normals[n++] = normals[i];
        }
        points.resize(n), normals.resize(n);
        out.gap_mm += cell * std::sqrt(3.0);
    }
    out.points = std::move(points);
    out.normals = std::move(normals);
    out.radius_mm.assign(out.points.size(), static_cast<float>(0.5 * out.spacing_mm));
    return out;
}

}  // namespace geom::scan::internal
