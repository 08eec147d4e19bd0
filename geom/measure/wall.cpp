// Triangles are halved across their longest side until none is longer than the spacing; the centres carry the area.
#include "geom/measure/wall.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/measure/triangle_tree.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace geom::measure {

namespace {

struct Sample {
    Point3 at;
    double area = 0.0;
};

void spread(Point3 a, Point3 b, Point3 c, double spacing, std::vector<Sample>& out) {
    // The longest side from a to b.
    const double ab = norm2(b - a), bc = norm2(c - b), ca = norm2(a - c);
    if (bc > ab && bc >= ca) return spread(b, c, a, spacing, out);
    if (ca > ab) return spread(c, a, b, spacing, out);
    if (ab <= spacing * spacing) {
        out.push_back({(a + b + c) / 3.0, 0.5 * norm(cross(b - a, c - a))});
        return;
    }
    const Point3 m = (a + b) * 0.5;
    spread(a, m, c, spacing, out);
    spread(m, b, c, spacing, out);
}

}  // namespace

WallMeasure measure_wall(const TriMesh& inner, const TriMesh& outer, const std::function<bool(Point3)>& counts,
                         double spacing_mm) {
    EXPECTS(spacing_mm > 0.0);
    std::vector<Sample> samples;
    std::vector<char> seen(inner.vertices.size(), 0);
    for (std::size_t t = 0; t < inner.triangles.size(); ++t) {
        for (const std::uint32_t v : inner.triangles[t])
            if (std::exchange(seen[v], 1) == 0) samples.push_back({inner.vertices[v], 0.0});
        spread(inner.corner(t, 0), inner.corner(t, 1), inner.corner(t, 2), spacing_mm, samples);
    }
    if (counts)
        samples.erase(std::remove_if(samples.begin(), samples.end(), [&](const Sample& s) { return !counts(s.at); }),
                      samples.end());
    WallMeasure out;
    out.samples = samples.size();
    if (samples.empty() || outer.triangles.empty()) {
        out.samples = 0;
        return out;
    }
    const TriangleTree tree(outer);
    std::vector<Nearest> found(samples.size());
    parallel_for(samples.size(), 1024, [&](std::size_t begin, std::size_t end) {
        // The last foot is a place of the outer surface: the nearest one cannot be farther.
        for (std::size_t i = begin; i < end; ++i)
            found[i] = tree.nearest(samples[i].at, i == begin ? std::numeric_limits<double>::infinity()
                                                              : distance(samples[i].at, found[i - 1].at) + 1e-9);
    });
    std::vector<std::pair<double, double>> spread_of(samples.size());
    std::size_t least = 0;
    double whole = 0.0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        if (found[i].distance_mm < found[least].distance_mm) least = i;
        spread_of[i] = {found[i].distance_mm, samples[i].area};
        whole += samples[i].area;
    }
    out.least_mm = found[least].distance_mm;
    out.at = samples[least].at;
    out.outer_at = found[least].at;
    std::sort(spread_of.begin(), spread_of.end());
    double sum = 0.0;
    out.p1_mm = out.median_mm = out.p99_mm = spread_of.back().first;
    bool p1 = false, median = false, p99 = false;
    for (const auto& [mm, area] : spread_of) {
        sum += area;
        const auto take = [&](bool& done, double share, double& figure) {
            if (!done && sum >= share * whole) {
                figure = mm;
                done = true;
            }
        };
        take(p1, 0.01, out.p1_mm);
        take(median, 0.5, out.median_mm);
        take(p99, 0.99, out.p99_mm);
    }
    return out;
}

}  // namespace geom::measure
