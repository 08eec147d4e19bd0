// The volume where a linear function on a tetrahedron is negative has a closed form in the sorted corner values (Doi,
// Koide 1991). A linear interpolant overestimates a convex function by h^2/12 times its Laplacian on average over these
// six tetrahedra; that much is taken off the corner values first. The cells that the baffle plane cuts are taken as
// lower boxes whose front corners are interpolated in the plane.
#include "geom/skin/internal/field_volume.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::skin {

namespace {

// Part of a tetrahedron where the linear function with these corner values is negative.
double negative_part(std::array<double, 4> v) {
    std::sort(v.begin(), v.end());
    if (v[0] >= 0.0) return 0.0;
    if (v[3] <= 0.0) return 1.0;
    if (v[1] >= 0.0) return -v[0] * v[0] * v[0] / ((v[1] - v[0]) * (v[2] - v[0]) * (v[3] - v[0]));
    if (v[2] <= 0.0) return 1.0 - v[3] * v[3] * v[3] / ((v[3] - v[0]) * (v[3] - v[1]) * (v[3] - v[2]));
    const double a = -v[0], b = -v[1], c = v[2], d = v[3];
    return a * a / ((a + c) * (a + d)) + a * b * c / ((a + c) * (a + d) * (b + c)) +
           b * b * d / ((b + c) * (a + d) * (b + d));
}

double negative_part_of_box(const std::array<double, 8>& v) {
    static constexpr int kTets[6][4] = {{0, 1, 3, 7}, {0, 3, 2, 7}, {0, 2, 6, 7},
                                        {0, 6, 4, 7}, {0, 4, 5, 7}, {0, 5, 1, 7}};
    double sum = 0.0;
    for (const auto& t : kTets)
        sum += negative_part({v[static_cast<std::size_t>(t[0])], v[static_cast<std::size_t>(t[1])],
                              v[static_cast<std::size_t>(t[2])], v[static_cast<std::size_t>(t[3])]});
    return sum / 6.0;
}

}  // namespace

double field_volume_mm3(const space::Field& body, double baffle_y_mm) {
    const auto& g = body.grid;
    const double h = g.h_mm;
    const auto corrected = [&](int i, int j, int k) {
        const float* f = body.mm.data() + g.index(i, j, k);
        const double centre = *f;
        if (std::abs(centre) > 2.0 * h || i < 1 || j < 1 || k < 1 || i > g.nx - 2 || j > g.ny - 2 || k > g.nz - 2)
            return centre;
        const std::ptrdiff_t sy = g.nx, sz = sy * g.ny;
        const double laplacian =
            (static_cast<double>(f[1]) + f[-1] + f[sy] + f[-sy] + f[sz] + f[-sz] - 6.0 * centre) / (h * h);
        return centre - h * h / 12.0 * std::clamp(laplacian, -0.4, 0.4);
    };
    const double row = (baffle_y_mm - g.lo.y) / h;
    const int j_first = std::clamp(static_cast<int>(std::floor(row)), 0, g.ny - 2);
    const double cut = std::clamp(row - j_first, 0.0, 1.0);
    double volume = 0.0;
    for (int k = 0; k + 1 < g.nz; ++k)
        for (int j = j_first; j + 1 < g.ny; ++j) {
            double along = 0.0;
            const float* rows[4] = {body.mm.data() + g.index(0, j, k), body.mm.data() + g.index(0, j + 1, k),
                                    body.mm.data() + g.index(0, j, k + 1), body.mm.data() + g.index(0, j + 1, k + 1)};
            const float near = static_cast<float>(2.5 * h);
            for (int i = 0; i + 1 < g.nx; ++i) {
                float least = rows[0][i], most = least;
                for (const float* r : rows)
                    for (const float x : {r[i], r[i + 1]}) least = std::min(least, x), most = std::max(most, x);
                if (least > near) continue;
                if (most < -near) {
                    along += 1.0;
                    continue;
                }
                std::array<double, 8> v{};
                for (int b = 0; b < 8; ++b)
                    v[static_cast<std::size_t>(b)] = corrected(i + (b & 1), j + (b >> 1 & 1), k + (b >> 2));
                if (j == j_first)
                    for (const std::size_t b : {0u, 1u, 4u, 5u}) v[b] += (v[b + 2] - v[b]) * cut;
                along += negative_part_of_box(v);
            }
            volume += along * (j == j_first ? 1.0 - cut : 1.0);
        }
    return volume * h * h * h;
}

double rounding_volume_mm3(const DiskMesh& mesh, const WorkingField& field, const RimPlace& rim) {
    const std::size_t n = mesh.border.size();
    std::vector<Point3> edge(n);
    std::vector<double> area(n);
    for (std::size_t i = 0; i < n; ++i) {
        const Point3 ring = mesh.points[static_cast<std::size_t>(mesh.border[i])];
        const Vec3 side = field.normal(ring), plane{0, -1, 0};
        const double c = std::clamp(dot(side, plane), -0.98, 0.98), angle = std::acos(c), r = rim.radius_mm;
        const Point3 centre = ring - side * r;
        edge[i] = centre + (side + plane) * (r / (1.0 + c)) * 0.92;  // about the centroid of the sliver
        area[i] = r * r * (std::tan(0.5 * angle) - 0.5 * angle);
    }
    double volume = 0.0;
    for (std::size_t i = 0; i < n; ++i)
        volume += 0.5 * (area[i] + area[(i + 1) % n]) * distance(edge[i], edge[(i + 1) % n]);
    return volume;
}

}  // namespace geom::skin
