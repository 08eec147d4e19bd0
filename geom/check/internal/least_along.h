// The least of a convex function of one number, by golden section.
#pragma once

namespace geom::check {

struct LeastAlong {
    double at = 0.0, value = 0.0;  ///< of the function's own
    double lo = 0.0, hi = 0.0;     ///< it is least between them
};

/// From `lo` to `hi`, the place within `within`.
template <class Function>
LeastAlong least_along(Function&& f, double lo, double hi, double within) {
    constexpr double kGolden = 0.6180339887498949;
    double a = hi - kGolden * (hi - lo), b = lo + kGolden * (hi - lo), at_a = f(a), at_b = f(b);
    while (hi - lo > within) {
        if (at_a < at_b) {
            hi = b, b = a, at_b = at_a;
            a = hi - kGolden * (hi - lo), at_a = f(a);
        } else {
            lo = a, a = b, at_a = at_b;
            b = lo + kGolden * (hi - lo), at_b = f(b);
        }
    }
    return at_a < at_b ? LeastAlong{a, at_a, lo, hi} : LeastAlong{b, at_b, lo, hi};
}

}  // namespace geom::check
