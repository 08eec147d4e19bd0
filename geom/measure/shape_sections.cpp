#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/measure/shape_volume.h"

#include <algorithm>
#include <array>
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

/// Simpson's rule between two rows, three of them or (three eighths) four; within, no area jumps.
double simpson(const std::vector<SectionRow>& rows, std::size_t first, std::size_t last) {
    const auto above = [&](std::size_t i) { return rows[i].area_mm2; };
    const std::size_t n = last - first;
    const double h = rows[first + 1].at_mm - rows[first].at_mm, end = rows[last].below_mm2;
    if (n == 1) return 0.5 * h * (above(first) + end);
    if (n == 3) return 3.0 * h / 8.0 * (above(first) + 3.0 * above(first + 1) + 3.0 * above(first + 2) + end);
    double sum = 0.0;
    const std::size_t even = n % 2 == 0 ? last : last - 3;
    for (std::size_t i = first; i < even; i += 2)
        sum += h / 3.0 * (above(i) + 4.0 * above(i + 1) + (i + 2 == last ? end : above(i + 2)));
    return even < last ? sum + simpson(rows, even, last) : sum;
}

/// Volumes between the heights, exact: a triangle's share of the section is a quadratic either side of its middle
/// corner, so Simpson's rule between corners and heights leaves nothing.
std::vector<double> slices_mm3(const TriMesh& mesh, std::size_t k, const std::vector<double>& at) {
    const std::size_t u = (k + 1) % 3, v = (k + 2) % 3;
    std::vector<double> out(at.size() - 1, 0.0);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        std::array<Point3, 3> p{mesh.corner(t, 0), mesh.corner(t, 1), mesh.corner(t, 2)};
        double sign = 1.0;
        const auto order = [&](std::size_t i, std::size_t j) {
            if (p[j][k] < p[i][k]) std::swap(p[i], p[j]), sign = -sign;
        };
        order(0, 1);
        order(1, 2);
        order(0, 1);
        const double lo = p[0][k], mid = p[1][k], hi = p[2][k];
        if (!(hi > lo)) continue;
        const auto twice_at = [&](double z, bool lower) {
            const auto on = [&](std::size_t i, std::size_t j, std::size_t a) {
                return p[i][a] + (p[j][a] - p[i][a]) * ((z - p[i][k]) / (p[j][k] - p[i][k]));
            };
            const std::size_t i = lower ? 0 : 1, j = lower ? 1 : 2;
            return on(0, 2, u) * on(i, j, v) - on(0, 2, v) * on(i, j, u);
        };
        const auto add = [&](std::size_t slice, double from, double to, bool lower) {
            if (!(to > from)) return;
            const double half = 0.5 * (from + to);
            out[slice] += sign * 0.5 * (to - from) / 6.0 *
                          (twice_at(from, lower) + 4.0 * twice_at(half, lower) + twice_at(to, lower));
        };
        const auto first = std::upper_bound(at.begin() + 1, at.end() - 1, lo) - at.begin() - 1;
        for (auto s = static_cast<std::size_t>(first); s < out.size() && (s == 0 || at[s] < hi); ++s) {
            const double from = s == 0 ? lo : std::max(lo, at[s]),
                         to = s + 1 == out.size() ? hi : std::min(hi, at[s + 1]);
            add(s, from, std::min(to, mid), true);
            add(s, std::max(from, mid), to, false);
        }
    }
    return out;
}

/// Single precision leaves this much of an area.
constexpr double kJump_rel = 1e-6;

}  // namespace

bool SectionRow::jumps() const {
    return std::abs(area_mm2 - below_mm2) > kJump_rel * std::max(std::abs(area_mm2), std::abs(below_mm2));
}

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
    // A height that all but is that of many corners is theirs: a level face is met on its plane, not beside it.
    std::vector<double> corners;
    for (const Point3& p : centred.vertices) corners.push_back(p[k]);
    std::sort(corners.begin(), corners.end());
    const double near = 1e-9 * (box.hi[k] - box.lo[k]);
    std::vector<double> at;
    for (int i = 0; i <= slices; ++i) {
        double here = i == 0        ? box.lo[k] - o[k]
                      : i == slices ? box.hi[k] - o[k]
                                    : box.lo[k] - o[k] + (box.hi[k] - box.lo[k]) * i / slices;
        const auto next = std::lower_bound(corners.begin(), corners.end(), here - near);
        if (next != corners.end() && std::abs(*next - here) <= near) here = *next;
        at.push_back(here);
    }
    const std::vector<double> volumes = slices_mm3(centred, k, at);
    for (std::size_t i = 0; i < at.size(); ++i) {
        const bool is_first = i == 0, is_last = i + 1 == at.size();
        const double below = is_first ? 0.0 : section_area(centred, k, at[i], false);
        const double above = is_last ? below : section_area(centred, k, at[i], true);
        const double told = is_last ? box.hi[k] : is_first ? box.lo[k] : at[i] + o[k];
        table.rows.push_back({told, above, below, is_last ? 0.0 : volumes[i]});
    }
    double sum = 0.0, by_simpson = 0.0;
    for (std::size_t i = 1; i < table.rows.size(); ++i)
        sum += 0.5 * (table.rows[i - 1].area_mm2 + table.rows[i].below_mm2) *
               (table.rows[i].at_mm - table.rows[i - 1].at_mm);
    std::size_t first = 0;
    for (std::size_t i = 1; i < table.rows.size(); ++i)
        if (i + 1 == table.rows.size() || table.rows[i].jumps()) {
            by_simpson += simpson(table.rows, first, i);
            first = i;
        }
    table.trapezoids = Volume::mm3(sum);
    table.simpson = Volume::mm3(by_simpson);
    double exact = 0.0;
    for (const double v : volumes) exact += v;
    table.exact = Volume::mm3(exact);
    return table;
}

}  // namespace geom::measure
