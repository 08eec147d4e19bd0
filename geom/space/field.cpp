// Trilinear sampling on the dense grid, and the frame that the grid's axes follow.
#include "geom/space/field.h"

#include "geom/core/checks.h"

#include <algorithm>
#include <array>

namespace geom::space {
namespace {

/// The cell that holds a place and the fractions inside it, clamped to the grid.
struct Cell {
    std::size_t corner = 0;
    double fx = 0.0, fy = 0.0, fz = 0.0;
};

Cell cell_of(const GridSpec& g, Point3 p) {
    const auto along = [&](double v, double lo, int n, int& i) {
        const double t = std::clamp((v - lo) / g.h_mm, 0.0, static_cast<double>(n - 1));
        i = std::min(static_cast<int>(t), n - 2);
        return t - i;
    };
    int i = 0, j = 0, k = 0;
    Cell c;
    c.fx = along(p.x, g.lo.x, g.nx, i);
    c.fy = along(p.y, g.lo.y, g.ny, j);
    c.fz = along(p.z, g.lo.z, g.nz, k);
    c.corner = g.index(i, j, k);
    return c;
}

std::array<double, 8> corners(const Field& f, std::size_t at) {
    const std::size_t sy = static_cast<std::size_t>(f.grid.nx), sz = sy * static_cast<std::size_t>(f.grid.ny);
    const float* v = f.mm.data() + at;
    return {v[0], v[1], v[sy], v[sy + 1], v[sz], v[sz + 1], v[sz + sy], v[sz + sy + 1]};
}

double mix(double a, double b, double t) {
    return a + t * (b - a);
}

}  // namespace

double Field::at_box(Point3 box) const {
    EXPECTS(grid.nx >= 2 && grid.ny >= 2 && grid.nz >= 2 && mm.size() == grid.count());
    const Cell c = cell_of(grid, box);
    const auto v = corners(*this, c.corner);
    return mix(mix(mix(v[0], v[1], c.fx), mix(v[2], v[3], c.fx), c.fy),
               mix(mix(v[4], v[5], c.fx), mix(v[6], v[7], c.fx), c.fy), c.fz);
}

Vec3 Field::gradient_box(Point3 box) const {
    const double d = 0.5 * grid.h_mm;
    const auto slope = [&](Vec3 step) { return (at_box(box + step) - at_box(box - step)) / (2.0 * d); };
    return {slope({d, 0, 0}), slope({0, d, 0}), slope({0, 0, d})};
}

Frame box_frame(const Plane& baffle, Vec3 up) {
    EXPECTS(norm(baffle.outward) > 0.0 && norm(up) > 0.0);
    Frame f;
    f.origin = baffle.point;
    f.y = unit(-baffle.outward);
    const auto laid = [&](Vec3 v) { return v - f.y * dot(v, f.y); };
    Vec3 z = laid(unit(up));
    if (norm(z) < 0.2) {
        // `up` points out of the baffle: the vehicle axis that lies best in the plane, z before y before x.
        for (const Vec3 axis : {Vec3{1, 0, 0}, Vec3{0, 1, 0}, Vec3{0, 0, 1}})
            if (norm(laid(axis)) >= norm(z) - 1e-9) z = laid(axis);
    }
    f.z = unit(z);
    f.x = cross(f.y, f.z);
    return f;
}

}  // namespace geom::space
