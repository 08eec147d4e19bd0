#include "geom/scan/internal/thin_plate.h"

#include "geom/core/checks.h"

#include <Eigen/SparseCholesky>

#include <array>
#include <cmath>
#include <cstddef>

namespace geom::scan::internal {
namespace {

constexpr double kLevel = 1e-9;  // of a known height's weight: holds what nothing else holds

struct Term {
    std::array<std::array<int, 2>, 4> at;  ///< offsets
    std::array<double, 4> factor;
    int count;
    double weight;
};

// Second differences along both axes, and the mixed one, which counts twice.
constexpr std::array<Term, 3> kTerms{{
    {{{{-1, 0}, {0, 0}, {1, 0}, {0, 0}}}, {1.0, -2.0, 1.0, 0.0}, 3, 1.0},
    {{{{0, -1}, {0, 0}, {0, 1}, {0, 0}}}, {1.0, -2.0, 1.0, 0.0}, 3, 1.0},
    {{{{0, 0}, {1, 0}, {0, 1}, {1, 1}}}, {1.0, -1.0, -1.0, 1.0}, 4, 2.0},
}};

}  // namespace

std::vector<float> thin_plate(int n, const std::vector<unsigned char>& part, const std::vector<float>& known,
                              const std::vector<float>& weight, double stiffness) {
    EXPECTS(n > 0 && part.size() == static_cast<std::size_t>(n) * static_cast<std::size_t>(n) &&
            known.size() == part.size() && weight.size() == part.size() && stiffness > 0.0);
    std::vector<float> heights(part.size(), 0.0f);
    std::vector<int> unknown(part.size(), -1);
    int count = 0;
    double sum = 0.0, all = 0.0;
    for (std::size_t c = 0; c < part.size(); ++c) {
        if (!part[c]) continue;
        unknown[c] = count++;
        if (weight[c] > 0.0f) sum += static_cast<double>(weight[c] * known[c]), all += static_cast<double>(weight[c]);
    }
    if (all == 0.0) return heights;
    const double mean = sum / all;
    const auto number_of = [&](int i, int j) {
        if (i < 0 || j < 0 || i >= n || j >= n) return -1;
        return unknown[static_cast<std::size_t>(j) * static_cast<std::size_t>(n) + static_cast<std::size_t>(i)];
    };
    std::vector<Eigen::Triplet<double>> entries;
    entries.reserve(static_cast<std::size_t>(count) * 18);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(count);
    for (int j = 0; j < n; ++j)
        for (int i = 0; i < n; ++i) {
            const int self = number_of(i, j);
            if (self < 0) continue;
            const std::size_t c =
                static_cast<std::size_t>(j) * static_cast<std::size_t>(n) + static_cast<std::size_t>(i);
            const auto w = static_cast<double>(weight[c]);
            entries.emplace_back(self, self, w > 0.0 ? w : kLevel);
            if (w > 0.0) right[self] = w * (static_cast<double>(known[c]) - mean);
            for (const Term& term : kTerms) {
                std::array<int, 4> cells{};
                bool is_whole = true;
                for (std::size_t t = 0; t < static_cast<std::size_t>(term.count); ++t) {
                    cells[t] = number_of(i + term.at[t][0], j + term.at[t][1]);
                    is_whole = is_whole && cells[t] >= 0;
                }
                if (!is_whole) continue;
                for (std::size_t a = 0; a < static_cast<std::size_t>(term.count); ++a)
                    for (std::size_t b = 0; b <= a; ++b)
                        if (cells[a] >= cells[b])
                            entries.emplace_back(cells[a], cells[b],
                                                 stiffness * term.weight * term.factor[a] * term.factor[b]);
                        else
                            entries.emplace_back(cells[b], cells[a],
                                                 stiffness * term.weight * term.factor[a] * term.factor[b]);
            }
        }
    Eigen::SparseMatrix<double> matrix(count, count);
    matrix.setFromTriplets(entries.begin(), entries.end());
    const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> solver(matrix);  // reads the lower half
    INVARIANT(solver.info() == Eigen::Success);
    const Eigen::VectorXd solved = solver.solve(right);
    for (std::size_t c = 0; c < part.size(); ++c)
        if (unknown[c] >= 0) heights[c] = static_cast<float>(mean + solved[unknown[c]]);
    return heights;
}

}  // namespace geom::scan::internal
