#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/measure/shape_volume.h"

#include <cmath>

namespace geom::measure {

namespace {

/// Area of the section at `at` by Green's theorem: every triangle that crosses the height gives one directed piece of
/// the outline. A corner on the height counts as below it (`from_above` false: as above it).
double section_area(const TriMesh& mesh, std::size_t k, double at, bool from_above) {
    const std::size_t u = (k + 1) % 3, v = (k + 2) % 3;
    return parallel_sum(mesh.triangles.size(), 1 << 15, [&](std::size_t begin, std::size_t end) {
        double twice = 0.0;
        for (std::size_t t = begin; t < end; ++t) {
            double p[2][2] = {};
            bool found[2] = {};
            for (int c = 0; c < 3; ++c) {
                const Point3 a = mesh.corner(t, c), b = mesh.corner(t, (c + 1) % 3);
                const bool a_above = from_above ? a[k] > at : a[k] >= at, b_above = from_above ? b[k] > at : b[k] >= at;
                if (a_above == b_above) continue;
                const double share = (at - a[k]) / (b[k] - a[k]);
                const int side = a_above ? 0 : 1;  // counter-clockwise from outside: the outline goes from down to up
                p[side][0] = a[u] + (b[u] - a[u]) * share;
                p[side][1] = a[v] + (b[v] - a[v]) * share;
                found[side] = true;
            }
            if (found[0] && found[1]) twice += p[0][0] * p[1][1] - p[0][1] * p[1][0];
        }
        return 0.5 * twice;
    });
}

/// Simpson's rule; an odd number of slices ends with the rule of three eighths.
double simpson(const std::vector<SectionRow>& rows) {
    const std::size_t n = rows.size() - 1;
    if (n == 1) return 0.5 * (rows[0].area_mm2 + rows[1].area_mm2) * (rows[1].at_mm - rows[0].at_mm);
    const double h = (rows.back().at_mm - rows.front().at_mm) / static_cast<double>(n);
    const auto a = [&](std::size_t i) { return rows[i].area_mm2; };
    const std::size_t even = n % 2 == 0 ? n : n - 3;
    double sum = 0.0;
    for (std::size_t i = 0; i < even; i += 2) sum += h / 3.0 * (a(i) + 4.0 * a(i + 1) + a(i + 2));
    if (even < n) sum += 3.0 * h / 8.0 * (a(n - 3) + 3.0 * a(n - 2) + 3.0 * a(n - 1) + a(n));
    return sum;
}

}  // namespace

SectionTable section_table(const TriMesh& mesh, int axis, int slices) {
    EXPECTS(axis >= 0 && axis < 3 && slices >= 1);
    SectionTable table;
    table.axis = axis;
    const auto k = static_cast<std::size_t>(axis);
    const Aabb box = bounds(mesh);
    // About the middle of the box, so that places far from the origin lose no digits.
    TriMesh centred = mesh;
    const Point3 o = (box.lo + box.hi) * 0.5;
    for (Point3& p : centred.vertices) p -= o;
    for (int i = 0; i <= slices; ++i) {
        const double at = i == slices ? box.hi[k] : box.lo[k] + (box.hi[k] - box.lo[k]) * i / slices;
        const double here = i == 0 ? box.lo[k] - o[k] : at - o[k];
        table.rows.push_back({at, section_area(centred, k, here, i < slices)});
    }
    double sum = 0.0;
    for (std::size_t i = 1; i < table.rows.size(); ++i)
        sum += 0.5 * (table.rows[i - 1].area_mm2 + table.rows[i].area_mm2) *
               (table.rows[i].at_mm - table.rows[i - 1].at_mm);
    table.trapezoids = Volume::mm3(sum);
    table.simpson = Volume::mm3(simpson(table.rows));
    table.exact = Volume::mm3(volume_by_sections_mm3(mesh, axis));
    return table;
}

}  // namespace geom::measure
