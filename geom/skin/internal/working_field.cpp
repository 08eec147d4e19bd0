// Cropping first keeps the filter and everything after it to the part of the grid the skin can touch. The filter is
// run axis by axis; nodes at the crop's faces take their own value for the missing neighbour, which is harmless since
// the zero set is four voxels away from them (and on the near side of the baffle plane nothing is evaluated).
#include "geom/skin/internal/working_field.h"

#include <algorithm>
#include <cmath>

namespace geom::skin {

namespace {

struct IndexBox {
    std::array<int, 3> lo, hi;  // inclusive
};

// Nodes with f <= reach, per axis; hi < lo when there are none.
IndexBox nodes_below(const space::Field& body, int j_first, float reach) {
    const auto& g = body.grid;
    IndexBox box{{g.nx, g.ny, g.nz}, {-1, -1, -1}};
    for (int k = 0; k < g.nz; ++k)
        for (int j = j_first; j < g.ny; ++j) {
            const float* row = body.mm.data() + g.index(0, j, k);
            int first = 0, last = g.nx - 1;
            while (first < g.nx && row[first] > reach) ++first;
            if (first == g.nx) continue;
            while (row[last] > reach) --last;
            box.lo = {std::min(box.lo[0], first), std::min(box.lo[1], j), std::min(box.lo[2], k)};
            box.hi = {std::max(box.hi[0], last), std::max(box.hi[1], j), std::max(box.hi[2], k)};
        }
    return box;
}

// out = B in with B = [1 4 1]/6 along the axis whose stride is given by `axis`.
void blur_axis(const std::vector<float>& in, std::vector<float>& out, const std::array<int, 3>& n, int axis) {
    const std::size_t nx = static_cast<std::size_t>(n[0]), ny = static_cast<std::size_t>(n[1]);
    const std::size_t rows = ny * static_cast<std::size_t>(n[2]);
    for (std::size_t r = 0; r < rows; ++r) {
        const float* s = in.data() + r * nx;
        float* d = out.data() + r * nx;
        if (axis == 0) {
            d[0] = (5.0f * s[0] + s[std::min<std::size_t>(1, nx - 1)]) / 6.0f;
            for (std::size_t i = 1; i + 1 < nx; ++i) d[i] = (s[i - 1] + 4.0f * s[i] + s[i + 1]) / 6.0f;
            d[nx - 1] = (5.0f * s[nx - 1] + s[nx >= 2 ? nx - 2 : 0]) / 6.0f;
            continue;
        }
        const std::size_t stride = axis == 1 ? nx : nx * ny;
        const std::size_t at = axis == 1 ? r % ny : r / ny, count = static_cast<std::size_t>(n[axis == 1 ? 1 : 2]);
        const float* before = at > 0 ? s - stride : s;
        const float* after = at + 1 < count ? s + stride : s;
        for (std::size_t i = 0; i < nx; ++i) d[i] = (before[i] + 4.0f * s[i] + after[i]) / 6.0f;
    }
}

// Cubic B-spline weights and their derivatives on a unit span.
void spline_weights(double t, double* w, double* d) {
    const double s = 1.0 - t, t2 = t * t, t3 = t2 * t;
    w[0] = s * s * s / 6.0;
    w[1] = (4.0 - 6.0 * t2 + 3.0 * t3) / 6.0;
    w[3] = t3 / 6.0;
    w[2] = 1.0 - w[0] - w[1] - w[3];
    d[0] = -0.5 * s * s;
    d[1] = -2.0 * t + 1.5 * t2;
    d[3] = 0.5 * t2;
    d[2] = -d[0] - d[1] - d[3];
}

}  // namespace

Result<WorkingField> WorkingField::make(const space::Field& body, double baffle_y_mm) {
    const auto& g = body.grid;
    EXPECTS(g.h_mm > 0.0 && body.mm.size() == g.count() && g.nx > 8 && g.ny > 8 && g.nz > 8);
    const auto refused = [](std::string what, std::string hint, std::optional<Point3> where) -> Fault {
        return {FaultCode::MethodRefused, std::move(what), std::move(hint), where, "skin"};
    };
    const int j_first = std::clamp(static_cast<int>(std::floor((baffle_y_mm - g.lo.y) / g.h_mm)) - 5, 0, g.ny - 1);
    const IndexBox inside = nodes_below(body, std::min(j_first + 5, g.ny - 1), 0.0f);
    if (inside.hi[0] < inside.lo[0])
        return refused("skin: there is no body behind the baffle plane",
                       "move the baffle outward or lessen wall and clearance", {});
    const std::array<int, 3> count{g.nx, g.ny, g.nz};
    for (int a = 0; a < 3; ++a) {
        const auto i = static_cast<std::size_t>(a);
        if ((a != 1 && inside.lo[i] < 3) || inside.hi[i] > count[i] - 4) {
            std::array<int, 3> at{};
            for (std::size_t b = 0; b < 3; ++b) at[b] = (inside.lo[b] + inside.hi[b]) / 2;
            at[i] = a != 1 && inside.lo[i] < 3 ? inside.lo[i] : inside.hi[i];
            return refused("skin: the body reaches the border of the grid",
                           "close the gap there by a limit plane or give the grid more room",
                           g.vehicle_from_box.to_parent(g.node(at[0], at[1], at[2])));
        }
    }
    IndexBox crop = nodes_below(body, j_first, static_cast<float>(4.0 * g.h_mm));
    WorkingField field;
    field.body_ = &body;
    field.h_ = g.h_mm;
    field.lo_ = g.node(crop.lo[0], crop.lo[1], crop.lo[2]);
    for (std::size_t a = 0; a < 3; ++a) field.n_[a] = crop.hi[a] - crop.lo[a] + 1;
    const auto nx = static_cast<std::size_t>(field.n_[0]), ny = static_cast<std::size_t>(field.n_[1]),
               nz = static_cast<std::size_t>(field.n_[2]);
    std::vector<float> f(nx * ny * nz), a(f.size()), b(f.size());
    for (std::size_t k = 0; k < nz; ++k)
        for (std::size_t j = 0; j < ny; ++j)
            std::copy_n(body.mm.data() +
                            g.index(crop.lo[0], crop.lo[1] + static_cast<int>(j), crop.lo[2] + static_cast<int>(k)),
                        nx, f.data() + (k * ny + j) * nx);
    blur_axis(f, a, field.n_, 0);
    blur_axis(a, b, field.n_, 1);
    blur_axis(b, a, field.n_, 2);
    for (std::size_t i = 0; i < f.size(); ++i) f[i] = 2.0f * f[i] - a[i];
    field.coefficients_ = std::move(f);
    return field;
}

double WorkingField::value(Point3 p) const {
    Vec3 unused;
    return value(p, unused);
}

double WorkingField::value(Point3 p, Vec3& gradient) const {
    double w[3][4], d[3][4];
    std::array<std::size_t, 3> first;
    for (std::size_t a = 0; a < 3; ++a) {
        const double q = std::clamp((p[a] - lo_[a]) / h_, 1.0, n_[a] - 2.0001);
        const int i = static_cast<int>(q);
        spline_weights(q - i, w[a], d[a]);
        first[a] = static_cast<std::size_t>(i - 1);
    }
    const auto nx = static_cast<std::size_t>(n_[0]), ny = static_cast<std::size_t>(n_[1]);
    double v = 0.0, gx = 0.0, gy = 0.0, gz = 0.0;
    for (std::size_t k = 0; k < 4; ++k) {
        double vk = 0.0, xk = 0.0, yk = 0.0;
        for (std::size_t j = 0; j < 4; ++j) {
            const float* s = coefficients_.data() + ((first[2] + k) * ny + first[1] + j) * nx + first[0];
            const double a0 = s[0], a1 = s[1], a2 = s[2], a3 = s[3];
            const double value_x = w[0][0] * a0 + w[0][1] * a1 + w[0][2] * a2 + w[0][3] * a3;
            const double slope_x = d[0][0] * a0 + d[0][1] * a1 + d[0][2] * a2 + d[0][3] * a3;
            vk += w[1][j] * value_x;
            xk += w[1][j] * slope_x;
            yk += d[1][j] * value_x;
        }
        v += w[2][k] * vk;
        gx += w[2][k] * xk;
        gy += w[2][k] * yk;
        gz += d[2][k] * vk;
    }
    gradient = Vec3{gx, gy, gz} / h_;
    return v;
}

Vec3 WorkingField::normal(Point3 p) const {
    Vec3 g;
    value(p, g);
    return unit(g);
}

double WorkingField::raw(Point3 p) const {
    const auto& g = body_->grid;
    const std::array<int, 3> n{g.nx, g.ny, g.nz};
    std::array<int, 3> i{};
    double w[3][4];
    for (std::size_t a = 0; a < 3; ++a) {
        const double q = std::clamp((p[a] - g.lo[a]) / h_, 1.0, n[a] - 2.0001);
        i[a] = static_cast<int>(q);
        const double t = q - i[a], t2 = t * t, t3 = t2 * t;
        w[a][0] = -0.5 * t + t2 - 0.5 * t3;
        w[a][1] = 1.0 - 2.5 * t2 + 1.5 * t3;
        w[a][2] = 0.5 * t + 2.0 * t2 - 1.5 * t3;
        w[a][3] = -0.5 * t2 + 0.5 * t3;
    }
    double v = 0.0;
    for (int k = 0; k < 4; ++k) {
        double slab = 0.0;
        for (int j = 0; j < 4; ++j) {
            const float* s = body_->mm.data() + g.index(i[0] - 1, i[1] - 1 + j, i[2] - 1 + k);
            slab += w[1][j] * (w[0][0] * s[0] + w[0][1] * s[1] + w[0][2] * s[2] + w[0][3] * s[3]);
        }
        v += w[2][k] * slab;
    }
    return v;
}

Point3 WorkingField::project(Point3 p, int rounds) const {
    for (int r = 0; r < rounds; ++r) {
        Vec3 g;
        const double v = value(p, g), n2 = norm2(g);
        if (n2 < 1e-3) break;
        const double length = std::abs(v) / std::sqrt(n2);
        p = p - g * (v / n2 * (length > 2.0 ? 2.0 / length : 1.0));
        if (length < 1e-6) break;
    }
    return p;
}

Point3 WorkingField::project_to_ring(Point3 p, const RimPlace& rim, int rounds) const {
    for (int r = 0; r < rounds; ++r) {
        Vec3 g;
        if (rim.radius_mm > 0.0) {
            value(p, g);
            p.y = rim.baffle_y_mm + rim.radius_mm * (1.0 + unit(g).y);
        } else {
            p.y = rim.baffle_y_mm;
        }
        const double v = value(p, g);
        g.y = 0.0;
        const double n2 = norm2(g);
        if (n2 < 1e-2) break;
        const double length = std::abs(v) / std::sqrt(n2);
        p = p - g * (v / n2 * (length > 2.0 ? 2.0 / length : 1.0));
        if (length < 1e-6 && rim.radius_mm <= 0.0) break;
    }
    return p;
}

Aabb WorkingField::extent() const {
    Aabb box;
    box.grow(lo_);
    box.grow(lo_ + Vec3{(n_[0] - 1) * h_, (n_[1] - 1) * h_, (n_[2] - 1) * h_});
    return box;
}

}  // namespace geom::skin
