#include "geom/measure/internal/mesh_precision.h"

#include "geom/core/parallel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::measure::internal {

Precision precision_of(const TriMesh& mesh, double file_unit_mm, bool single_by_format) {
    constexpr std::size_t kSeen = 20000;
    const std::size_t stride = mesh.vertices.size() / kSeen + 1;
    bool single = true;
    int decimals = 0;
    constexpr int kMostDecimals = 9;
    double largest = 0.0;
    for (std::size_t i = 0; i < mesh.vertices.size(); i += stride)
        for (std::size_t k = 0; k < 3; ++k) {
            const double v = mesh.vertices[i][k] / file_unit_mm;
            largest = std::max(largest, std::abs(v));
            // The way to millimetres and back may cost a last bit.
            const double near = static_cast<double>(static_cast<float>(v));
            if (std::abs(near - v) > 4e-16 * std::abs(v)) single = false;
            while (decimals <= kMostDecimals) {
                const double scaled = v * std::pow(10.0, decimals);
                if (std::abs(scaled - std::round(scaled)) <= 4e-16 * std::abs(scaled) + 1e-12) break;
                ++decimals;
            }
        }
    // Whole and short numbers are both: said to be as rough as their last decimal only where a float could not be it.
    if (single || single_by_format) return {"single precision", largest * std::ldexp(1.0, -24) * file_unit_mm};
    if (decimals <= kMostDecimals)
        return {fmt::format("{} decimals", decimals), 0.5 * std::pow(10.0, -decimals) * file_unit_mm};
    return {"double precision", largest * std::ldexp(1.0, -53) * file_unit_mm};
}

double curved_excess_mm3(const TriMesh& mesh) {
    const double kCos = std::cos(0.5235987755982988);
    constexpr std::uint32_t kMostAround = 500;
    std::vector<Vec3> areas(mesh.triangles.size()), normals(mesh.triangles.size());
    std::vector<std::uint32_t> first(mesh.vertices.size() + 1, 0), around(3 * mesh.triangles.size());
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        areas[t] = cross(mesh.corner(t, 1) - mesh.corner(t, 0), mesh.corner(t, 2) - mesh.corner(t, 0)) * 0.5;
        const double size = norm(areas[t]);
        normals[t] = size > 0.0 ? areas[t] / size : Vec3{};
        for (const std::uint32_t v : mesh.triangles[t]) ++first[v + 1];
    }
    std::partial_sum(first.begin(), first.end(), first.begin());
    std::vector<std::uint32_t> next(first.begin(), first.end() - 1);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        for (const std::uint32_t v : mesh.triangles[t]) around[next[v]++] = static_cast<std::uint32_t>(t);
    return parallel_sum(mesh.triangles.size(), 1 << 12, [&](std::size_t begin, std::size_t end) {
        double sum = 0.0;
        for (std::size_t t = begin; t < end; ++t) {
            Vec3 at[3];
            for (std::size_t c = 0; c < 3; ++c) {
                const std::uint32_t v = mesh.triangles[t][c];
                at[c] = normals[t];
                // The hub of a fan: flat or a tip, and its triangles would ask each other one by one.
                if (first[v + 1] - first[v] > kMostAround) continue;
                Vec3 n;
                for (std::uint32_t i = first[v]; i < first[v + 1]; ++i) {
                    if (dot(normals[t], normals[around[i]]) < kCos) continue;
                    // By the angle at the vertex, so that the cutting into triangles does not matter.
                    const auto& o = mesh.triangles[around[i]];
                    const auto k = static_cast<std::size_t>(std::find(o.begin(), o.end(), v) - o.begin());
                    const Vec3 e = mesh.vertices[o[(k + 1) % 3]] - mesh.vertices[v];
                    const Vec3 f = mesh.vertices[o[(k + 2) % 3]] - mesh.vertices[v];
                    n += normals[around[i]] * std::atan2(norm(cross(e, f)), dot(e, f));
                }
                if (norm(n) > 0.0) at[c] = unit(n);
            }
            double rise = 0.0;
            for (std::size_t c = 0; c < 3; ++c)
                rise += dot(at[(c + 1) % 3] - at[c],
                            mesh.corner(t, static_cast<int>((c + 1) % 3)) - mesh.corner(t, static_cast<int>(c))) /
                        8.0;
            sum += norm(areas[t]) * rise / 3.0;
        }
        return sum;
    });
}

}  // namespace geom::measure::internal
