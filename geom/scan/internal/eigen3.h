// Eigenvalues and the least eigenvector of a symmetric 3 x 3 matrix, in closed form.
//
// Source    the trigonometric form of Cardano's rule for a matrix shifted to trace zero (Smith 1961, cited from
//           memory); the vector is the largest cross product of two rows of A - lambda I, refined by one step of
//           inverse iteration through the adjugate, which repairs what the subtraction lost.
#pragma once

#include "geom/core/vec.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::scan::internal {

struct Sym3 {
    double xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0;
    Vec3 times(Vec3 v) const {
        return {xx * v.x + xy * v.y + xz * v.z, xy * v.x + yy * v.y + yz * v.z, xz * v.x + yz * v.y + zz * v.z};
    }
};

/// Ascending.
struct Eigenvalues {
    double least = 0, middle = 0, most = 0;
};

inline Eigenvalues eigenvalues(const Sym3& a) {
    const double q = (a.xx + a.yy + a.zz) / 3.0;
    const double x = a.xx - q, y = a.yy - q, z = a.zz - q;
    const double p2 = (x * x + y * y + z * z + 2.0 * (a.xy * a.xy + a.xz * a.xz + a.yz * a.yz)) / 6.0;
    if (!(p2 > 0.0)) return {q, q, q};
    const double p = std::sqrt(p2);
    const double det = x * (y * z - a.yz * a.yz) - a.xy * (a.xy * z - a.yz * a.xz) + a.xz * (a.xy * a.yz - y * a.xz);
    const double r = std::clamp(det / (2.0 * p2 * p), -1.0, 1.0);
    const double phi = std::acos(r) / 3.0;
    const double most = q + 2.0 * p * std::cos(phi);
    const double least = q + 2.0 * p * std::cos(phi + 2.0 * std::numbers::pi / 3.0);
    return {least, 3.0 * q - most - least, most};
}

/// Unit eigenvector of the least eigenvalue; `fallback` when all three are one.
inline Vec3 least_eigenvector(const Sym3& a, Vec3 fallback) {
    const double shift = eigenvalues(a).least;
    const double xx = a.xx - shift, yy = a.yy - shift, zz = a.zz - shift;
    // Adjugate of A - shift I: its columns are cross products of rows; all point along the vector.
    const double cxx = yy * zz - a.yz * a.yz, cyy = xx * zz - a.xz * a.xz, czz = xx * yy - a.xy * a.xy;
    const double cxy = a.xz * a.yz - a.xy * zz, cxz = a.xy * a.yz - a.xz * yy, cyz = a.xy * a.xz - a.yz * xx;
    const Vec3 c0{cxx, cxy, cxz}, c1{cxy, cyy, cyz}, c2{cxz, cyz, czz};
    const double n0 = norm2(c0), n1 = norm2(c1), n2 = norm2(c2);
    const Vec3 best = n0 >= n1 && n0 >= n2 ? c0 : n1 >= n2 ? c1 : c2;
    if (!(norm2(best) > 0.0)) return fallback;
    const Vec3 v = unit(best);
    // adj(B) v is B^-1 v up to a factor: one step of inverse iteration.
    const Vec3 w{dot(c0, v), dot(c1, v), dot(c2, v)};
    return norm2(w) > 0.0 ? unit(w) : v;
}

}  // namespace geom::scan::internal
