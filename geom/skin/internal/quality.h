// How good a fitted net is: deviation from the field, tangent breaks, regularity; and which knot spans need halving.
//
// Frame  box, mm and degrees.
#pragma once

#include "geom/skin/internal/fit.h"

#include <vector>

namespace geom::skin {

struct Judgement {
    std::vector<double> deviation_mm;  ///< against the field as given, at every sample
    std::vector<double> fit_mm;        ///< the same against the working field
    std::vector<double> break_deg;     ///< across smooth edges
    double worst_break_deg = 0.0;
    Point3 worst_break_at;
    double worst_deviation_mm = 0.0;
    Point3 worst_deviation_at;
    double most_proud_mm = 0.0;   ///< how far a face stands out of the body at most
    double least_jacobian = 1.0;  ///< least (Su x Sv).n / (|Su||Sv|)
    Point3 least_jacobian_at;
};

/// `per_span` samples a span and way.
Judgement judge(const FaceNet& net, const FitSource& source, int per_span);

struct RefineLimits {
    double deviation_mm = 0.12;  ///< against the working field
    double break_deg = 2.0;
    double least_span_mm = 1.5;
    std::size_t most_control_points = 25000;
};

/// Halves the spans that miss the limits; false when there is none (or no room left for control points).
bool halve_bad_spans(FaceNet& net, const FitSource& source, const RefineLimits& limits);

double percentile(std::vector<double> values, double q);

}  // namespace geom::skin
