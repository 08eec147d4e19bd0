// Where a smooth curve of frequency crosses a level, and where it is highest: a logarithmic grid fine enough for
// fourth-order curves, then bisection.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

namespace geom::sound::internal {

/// 24 steps to the octave: narrower than any ripple of a fourth-order response.
constexpr double kStep = 1.0293022366434921;

/// A root of `above(f)` turning between lo (not) and hi (so), or the other way round.
template <class F>
double bisected(const F& above, double lo, double hi) {
    const bool at_hi = above(hi);
    for (int i = 0; i < 100 && hi - lo > 1e-14 * hi; ++i) {
        const double mid = 0.5 * (lo + hi);
        (above(mid) == at_hi ? hi : lo) = mid;
    }
    return 0.5 * (lo + hi);
}

/// Going down from `hi`, the first place where curve(f) falls under `level`; none above `lo`.
template <class F>
std::optional<double> falls_under(const F& curve, double level, double hi, double lo) {
    const auto above = [&](double f) { return curve(f) >= level; };
    if (!above(hi)) return std::nullopt;
    for (double f = hi; f > lo; f /= kStep)
        if (!above(f / kStep)) return bisected(above, f / kStep, f);
    return std::nullopt;
}

struct Highest {
    double at = 0.0, value = 0.0;
};

/// Of the grid, then of the golden section about its best place.
template <class F>
Highest highest(const F& curve, double lo, double hi) {
    double best = lo, value = curve(lo);
    for (double f = lo; f < hi; f *= kStep)
        if (const double v = curve(f); v > value) best = f, value = v;
    if (const double v = curve(hi); v > value) best = hi, value = v;
    double a = std::max(lo, best / kStep), b = std::min(hi, best * kStep);
    constexpr double kGolden = 0.6180339887498949;
    for (int i = 0; i < 60; ++i) {
        const double c = b - kGolden * (b - a), d = a + kGolden * (b - a);
        (curve(c) >= curve(d) ? b : a) = curve(c) >= curve(d) ? d : c;
    }
    const double mid = 0.5 * (a + b), v = curve(mid);
    return v >= value ? Highest{mid, v} : Highest{best, value};
}

}  // namespace geom::sound::internal
