// Newton's iteration on the Legendre polynomial from the usual cosine guess; all rules are made once.
#include "geom/measure/internal/gauss.h"

#include "geom/core/checks.h"

#include <array>
#include <cmath>
#include <numbers>

namespace geom::measure::internal {

namespace {

constexpr int kMost = 32;

GaussRule make_rule(int n) {
    GaussRule rule;
    rule.node.resize(static_cast<std::size_t>(n));
    rule.weight.resize(static_cast<std::size_t>(n));
    for (int i = 0; i < n; ++i) {
        double x = -std::cos(std::numbers::pi * (i + 0.75) / (n + 0.5));
        double slope = 1.0;
        for (int round = 0; round < 100; ++round) {
            double p = 1.0, before = 0.0;
            for (int k = 1; k <= n; ++k) {
                const double next = ((2 * k - 1) * x * p - (k - 1) * before) / k;
                before = p;
                p = next;
            }
            slope = n * (x * p - before) / (x * x - 1.0);
            const double step = p / slope;
            x -= step;
            if (std::abs(step) < 1e-16) break;
        }
        rule.node[static_cast<std::size_t>(i)] = x;
        rule.weight[static_cast<std::size_t>(i)] = 2.0 / ((1.0 - x * x) * slope * slope);
    }
    return rule;
}

std::array<GaussRule, kMost + 1> make_rules() {
    std::array<GaussRule, kMost + 1> rules;
    rules[1] = {{0.0}, {2.0}};
    for (int n = 2; n <= kMost; ++n) rules[static_cast<std::size_t>(n)] = make_rule(n);
    return rules;
}

}  // namespace

const GaussRule& gauss_rule(int points) {
    EXPECTS(points >= 1 && points <= kMost);
    static const std::array<GaussRule, kMost + 1> rules = make_rules();
    return rules[static_cast<std::size_t>(points)];
}

}  // namespace geom::measure::internal
