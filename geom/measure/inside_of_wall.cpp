#include "geom/core/parallel.h"
#include "geom/measure/shape_air.h"
#include "geom/measure/triangle_tree.h"
#include "geom/measure/winding_tree.h"

#include <algorithm>
#include <cmath>

namespace geom::measure {

namespace {

/// The share of a cube of side 1 about the origin where dot(n, p) + c > 0; n is a unit vector.
double share_of_cube(Vec3 n, double c) {
    double a[3] = {std::abs(n.x), std::abs(n.y), std::abs(n.z)};
    std::sort(a, a + 3);
    const double reach = 0.5 * (a[0] + a[1] + a[2]);
    if (c >= reach) return 1.0;
    if (c <= -reach) return 0.0;
    // Below a tenth of a percent a slope along an axis is none: the formula would divide by it.
    for (double& v : a) v = std::max(v, 1e-3);
    const double d = c + 0.5 * (a[0] + a[1] + a[2]);
    const auto cube = [](double v) { return v > 0.0 ? v * v * v : 0.0; };
    const double sum = cube(d) - cube(d - a[0]) - cube(d - a[1]) - cube(d - a[2]) + cube(d - a[0] - a[1]) +
                       cube(d - a[0] - a[2]) + cube(d - a[1] - a[2]) - cube(d - a[0] - a[1] - a[2]);
    return std::clamp(sum / (6.0 * a[0] * a[1] * a[2]), 0.0, 1.0);
}

class Depths {
public:
    Depths(const TriMesh& mesh, double wall_mm) : tree_(mesh), winding_(mesh), wall_mm_(wall_mm) {}

    struct Sums {
        double fine = 0.0, coarse = 0.0;  // mm^3, at the last level and one before
    };
    /// The box with this middle and side, cut `levels` times more; `inside`: 1 or 0 where all of it is known to be.
    void add(Point3 middle, double side, int levels, int inside, Sums& sums) const {
        // What is farther than this is all inside or all outside of the depth: not found counts as infinitely far.
        const Nearest near = tree_.nearest(middle, wall_mm_ + side);
        if (inside < 0 || near.distance_mm < 0.9 * side) inside = -1;
        const bool in = inside >= 0 ? inside == 1 : winding_.at(middle) > 0.5;
        const double depth = in ? near.distance_mm : -near.distance_mm;
        const double over = depth - wall_mm_, half_diagonal = 0.8661 * side;
        const double volume = side * side * side;
        if (over > half_diagonal || over < -half_diagonal) {
            if (over > 0.0) sums.fine += volume, sums.coarse += volume;
            return;
        }
        if (levels <= 1) {
            const Vec3 away = middle - near.at;
            const Vec3 n = norm(away) > 0.0 ? unit(away) * (in ? 1.0 : -1.0) : Vec3{0, 0, 1};
            const double here = volume * share_of_cube(n, over / side);
            (levels == 1 ? sums.coarse : sums.fine) += here;
            if (levels == 0) return;
        }
        const int known = near.distance_mm > half_diagonal ? (in ? 1 : 0) : -1;
        Sums inner;
        for (int i = 0; i < 8; ++i) {
            const Vec3 to{(i & 1 ? 0.25 : -0.25) * side, (i & 2 ? 0.25 : -0.25) * side, (i & 4 ? 0.25 : -0.25) * side};
            add(middle + to, 0.5 * side, levels - 1, known, inner);
        }
        sums.fine += inner.fine;
        if (levels > 1) sums.coarse += inner.coarse;
    }

private:
    TriangleTree tree_;
    WindingTree winding_;
    double wall_mm_;
};

}  // namespace

Result<InsideOfWall> inside_of_wall(const TriMesh& mesh, Length wall, const Context& context) {
    EXPECTS(wall.mm() > 0.0 && !mesh.triangles.empty());
    const Stage stage(context, "volume/wall");
    const Aabb box = bounds(mesh);
    const Vec3 size = box.size();
    const double longest = std::max({size.x, size.y, size.z});
    // Boxes of the first level are shared out over threads; their size does not fall in with the shape's own planes.
    constexpr int kFirst = 12, kLevels = 5;
    const double side = longest * 1.0037 / kFirst;
    const Point3 lo =
        (box.lo + box.hi) * 0.5 - Vec3{1, 1, 1} * (0.5 * kFirst * side) + Vec3{0.13, 0.29, 0.41} * (0.003 * side);
    const Depths depths(mesh, wall.mm());
    std::vector<Depths::Sums> parts(static_cast<std::size_t>(kFirst) * kFirst * kFirst);
    parallel_for(parts.size(), 8, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end && !context.is_cancelled(); ++i) {
            const Vec3 cell{static_cast<double>(i % kFirst) + 0.5, static_cast<double>(i / kFirst % kFirst) + 0.5,
                            static_cast<double>(i / kFirst / kFirst) + 0.5};
            depths.add(lo + cell * side, side, kLevels, -1, parts[i]);
        }
    });
    if (context.is_cancelled()) return Context::interrupted();
    Depths::Sums all;
    for (const Depths::Sums& s : parts) all.fine += s.fine, all.coarse += s.coarse;
    InsideOfWall out;
    out.inside = Volume::mm3(all.fine);
    out.wall = Volume::mm3(signed_volume_mm3(mesh) - all.fine);
    out.uncertainty = Volume::mm3(2.0 * std::abs(all.fine - all.coarse));
    out.step_mm = side / (1 << kLevels);
    return out;
}

}  // namespace geom::measure
