// One Laplace system a round, solved by a sparse LDLT whose symbolic part is done once. Weights start as the larger of
// the mean cotangent and 0.05, cotangents held to +-20; after each solution an edge's weight is divided by the root of
// the product of its ends' stretches (local L2 stretch over its mean). The map of least total stretch is kept.
#include "geom/skin/internal/tutte.h"

#include <Eigen/SparseCholesky>

#include <algorithm>
#include <cmath>

namespace geom::skin {

namespace {

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

struct WeightedEdge {
    int a, b;
    double weight;
};

std::vector<WeightedEdge> cotangent_edges(const std::vector<Point3>& points, const std::vector<Triangle>& triangles) {
    std::vector<WeightedEdge> half;
    half.reserve(triangles.size() * 3);
    for (const auto& t : triangles)
        for (std::size_t c = 0; c < 3; ++c) {
            const int a = t[c], b = t[(c + 1) % 3];
            const Vec3 x = points[at(a)] - points[at(t[(c + 2) % 3])], y = points[at(b)] - points[at(t[(c + 2) % 3])];
            const double cotangent = dot(x, y) / std::max(norm(cross(x, y)), 1e-12);
            half.push_back({std::min(a, b), std::max(a, b), std::clamp(cotangent, -20.0, 20.0)});
        }
    std::stable_sort(half.begin(), half.end(),
                     [](const WeightedEdge& x, const WeightedEdge& y) { return x.a != y.a ? x.a < y.a : x.b < y.b; });
    std::vector<WeightedEdge> edges;
    edges.reserve(half.size() / 2 + 1);
    for (const auto& e : half) {
        if (!edges.empty() && edges.back().a == e.a && edges.back().b == e.b)
            edges.back().weight += e.weight;
        else
            edges.push_back(e);
    }
    for (auto& e : edges) e.weight = std::max(0.5 * e.weight, 0.05);
    return edges;
}

// Stretch of every vertex over the mean; returns the total.
double vertex_stretch(const std::vector<Point3>& points, const std::vector<Triangle>& triangles,
                      const std::vector<Planar>& map, std::vector<double>& stretch) {
    std::vector<double> area(points.size(), 0.0);
    stretch.assign(points.size(), 0.0);
    double total = 0.0, total_area = 0.0;
    for (const auto& t : triangles) {
        const Vec3 e1 = points[at(t[1])] - points[at(t[0])], e2 = points[at(t[2])] - points[at(t[0])];
        const Planar p1 = map[at(t[1])] - map[at(t[0])], p2 = map[at(t[2])] - map[at(t[0])];
        const double det = std::max(cross2(p1, p2), 1e-300), area3 = 0.5 * norm(cross(e1, e2));
        const Vec3 su = (e1 * p2.v - e2 * p1.v) / det, sv = (e2 * p1.u - e1 * p2.u) / det;
        const double energy = area3 * 0.5 * (norm2(su) + norm2(sv));
        for (const int v : t) stretch[at(v)] += energy, area[at(v)] += area3;
        total += energy;
        total_area += area3;
    }
    const double mean = std::sqrt(total / std::max(total_area, 1e-300));
    for (std::size_t i = 0; i < stretch.size(); ++i)
        stretch[i] = std::sqrt(stretch[i] / std::max(area[i], 1e-300)) / mean;
    return total;
}

}  // namespace

bool tutte_map(const std::vector<Point3>& points, const std::vector<Triangle>& triangles,
               const std::vector<char>& fixed, int stretch_rounds, std::vector<Planar>& map) {
    EXPECTS(fixed.size() == points.size() && map.size() == points.size());
    std::vector<int> unknown(points.size(), -1);
    int count = 0;
    for (std::size_t i = 0; i < points.size(); ++i)
        if (!fixed[i]) unknown[i] = count++;
    std::vector<WeightedEdge> edges = cotangent_edges(points, triangles);

    using Matrix = Eigen::SparseMatrix<double>;
    Eigen::SimplicialLDLT<Matrix> solver;
    std::vector<Planar> best;
    double best_stretch = 1e300;
    for (int round = 0; round <= stretch_rounds; ++round) {
        if (count > 0) {
            std::vector<Eigen::Triplet<double>> entries;
            entries.reserve(edges.size() + at(count));
            std::vector<double> diagonal(at(count), 0.0);
            Eigen::MatrixXd right = Eigen::MatrixXd::Zero(count, 2);
            for (const auto& e : edges) {
                const int a = unknown[at(e.a)], b = unknown[at(e.b)];
                if (a >= 0) diagonal[at(a)] += e.weight;
                if (b >= 0) diagonal[at(b)] += e.weight;
                if (a >= 0 && b >= 0)
                    entries.emplace_back(std::max(a, b), std::min(a, b), -e.weight);
                else if (a >= 0)
                    right(a, 0) += e.weight * map[at(e.b)].u, right(a, 1) += e.weight * map[at(e.b)].v;
                else if (b >= 0)
                    right(b, 0) += e.weight * map[at(e.a)].u, right(b, 1) += e.weight * map[at(e.a)].v;
            }
            for (int i = 0; i < count; ++i) entries.emplace_back(i, i, diagonal[at(i)]);
            Matrix system(count, count);
            system.setFromTriplets(entries.begin(), entries.end());
            if (round == 0) solver.analyzePattern(system);
            solver.factorize(system);
            if (solver.info() != Eigen::Success) break;
            const Eigen::MatrixXd x = solver.solve(right);
            for (std::size_t i = 0; i < points.size(); ++i)
                if (unknown[i] >= 0) map[i] = {x(unknown[i], 0), x(unknown[i], 1)};
        }
        std::vector<double> stretch;
        const double total = vertex_stretch(points, triangles, map, stretch);
        if (!(total < best_stretch)) break;
        best_stretch = total;
        best = map;
        if (round == stretch_rounds) break;
        for (auto& e : edges)
            e.weight /= std::sqrt(std::max(stretch[at(e.a)], 1e-3) * std::max(stretch[at(e.b)], 1e-3));
    }
    if (best.empty()) return false;
    map = std::move(best);
    for (const auto& t : triangles)
        if (cross2(map[at(t[1])] - map[at(t[0])], map[at(t[2])] - map[at(t[0])]) <= 0.0) return false;
    return true;
}

}  // namespace geom::skin
