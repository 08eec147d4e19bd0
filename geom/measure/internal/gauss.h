// Gauss-Legendre nodes and weights on [-1, 1], 1 to 32 points, exact for polynomials of degree 2 n - 1.
#pragma once

#include <vector>

namespace geom::measure::internal {

struct GaussRule {
    std::vector<double> node, weight;
};

/// EXPECTS: 1 <= points <= 32.
const GaussRule& gauss_rule(int points);

}  // namespace geom::measure::internal
