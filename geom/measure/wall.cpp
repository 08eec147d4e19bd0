// Each triangle is cut into k x k like ones with sides no longer than the spacing; their centres carry their area.
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
    const double longest = std::sqrt(std::max({norm2(b - a), norm2(c - b), norm2(a - c)}));
    const int k = std::max(1, static_cast<int>(std::ceil(longest / spacing)));
    const double area = 0.5 * norm(cross(b - a, c - a)) / (static_cast<double>(k) * k);
    const Vec3 du = (b - a) / k, dv = (c - a) / k;
    for (int i = 0; i < k; ++i)
        for (int j = 0; i + j < k; ++j) {
            const Point3 corner = a + du * i + dv * j;
            out.push_back({corner + (du + dv) / 3.0, area});
            if (i + j + 1 < k) out.push_back({corner + (du + dv) * (2.0 / 3.0), area});
        }
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
