// Values by the recurrence of Cox and de Boor on the span; derivatives from the quadratic ones met on the way.
#include "geom/skin/internal/spline.h"

#include "geom/core/checks.h"

#include <algorithm>

namespace geom::skin {

CubicBasis::CubicBasis(std::vector<double> breaks) : breaks_(std::move(breaks)) {
    EXPECTS(breaks_.size() >= 2 && breaks_.front() == 0.0 && breaks_.back() == 1.0);
    knots_.assign(3, 0.0);
    knots_.insert(knots_.end(), breaks_.begin(), breaks_.end());
    knots_.insert(knots_.end(), 3, 1.0);
}

int CubicBasis::span_of(double t) const {
    return std::clamp(static_cast<int>(std::upper_bound(breaks_.begin(), breaks_.end(), t) - breaks_.begin()) - 1, 0,
                      spans() - 1);
}

CubicBasis::Values CubicBasis::at(double t) const {
    const std::size_t s = static_cast<std::size_t>(span_of(t)) + 3;
    Values out{};
    out.first = static_cast<int>(s) - 3;
    double n[4] = {1.0, 0.0, 0.0, 0.0}, quadratic[3] = {}, left[4], right[4];
    for (std::size_t j = 1; j <= 3; ++j) {
        if (j == 3) std::copy(n, n + 3, quadratic);
        left[j] = t - knots_[s + 1 - j];
        right[j] = knots_[s + j] - t;
        double carried = 0.0;
        for (std::size_t q = 0; q < j; ++q) {
            const double share = n[q] / (right[q + 1] + left[j - q]);
            n[q] = carried + right[q + 1] * share;
            carried = left[j - q] * share;
        }
        n[j] = carried;
    }
    for (std::size_t q = 0; q < 4; ++q) {
        const std::size_t i = s - 3 + q;
        const double rising = q > 0 ? quadratic[q - 1] / (knots_[i + 3] - knots_[i]) : 0.0;
        const double falling = q < 3 ? quadratic[q] / (knots_[i + 4] - knots_[i + 1]) : 0.0;
        out.w[q] = n[q];
        out.d[q] = 3.0 * (rising - falling);
    }
    return out;
}

double CubicBasis::greville(int i) const {
    const auto k = static_cast<std::size_t>(i);
    return (knots_[k + 1] + knots_[k + 2] + knots_[k + 3]) / 3.0;
}

std::vector<double> CubicBasis::samples(int per_span) const {
    std::vector<double> t;
    for (std::size_t s = 0; s + 1 < breaks_.size(); ++s)
        for (int q = 0; q < per_span; ++q) t.push_back(breaks_[s] + (breaks_[s + 1] - breaks_[s]) * q / per_span);
    t.push_back(1.0);
    return t;
}

Eigen::MatrixXd CubicBasis::rows(const std::vector<double>& t) const {
    Eigen::MatrixXd m = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(t.size()), size());
    for (std::size_t i = 0; i < t.size(); ++i) {
        const Values b = at(t[i]);
        for (int q = 0; q < 4; ++q) m(static_cast<Eigen::Index>(i), b.first + q) = b.w[static_cast<std::size_t>(q)];
    }
    return m;
}

std::vector<double> reversed_breaks(std::vector<double> breaks) {
    std::reverse(breaks.begin(), breaks.end());
    for (double& b : breaks) b = 1.0 - b;
    return breaks;
}

Point3 SplineCurve::at(double t) const {
    const auto b = basis.at(t);
    Point3 p;
    for (int q = 0; q < 4; ++q) p += control(b.first + q) * b.w[static_cast<std::size_t>(q)];
    return p;
}

Vec3 SplineCurve::derivative(double t) const {
    const auto b = basis.at(t);
    Vec3 d;
    for (int q = 0; q < 4; ++q) d += control(b.first + q) * b.d[static_cast<std::size_t>(q)];
    return d;
}

SplinePatch::Jet SplinePatch::at(const CubicBasis::Values& bu, const CubicBasis::Values& bv) const {
    Jet jet;
    for (std::size_t c = 0; c < 3; ++c) {
        double value = 0.0, du = 0.0, dv = 0.0;
        for (int j = 0; j < 4; ++j) {
            const double* column = &points[c](bu.first, bv.first + j);
            const double a = bu.w[0] * column[0] + bu.w[1] * column[1] + bu.w[2] * column[2] + bu.w[3] * column[3];
            const double b = bu.d[0] * column[0] + bu.d[1] * column[1] + bu.d[2] * column[2] + bu.d[3] * column[3];
            const auto q = static_cast<std::size_t>(j);
            value += bv.w[q] * a;
            du += bv.w[q] * b;
            dv += bv.d[q] * a;
        }
        jet.p[c] = value;
        jet.du[c] = du;
        jet.dv[c] = dv;
    }
    return jet;
}

double cone_volume_mm3(const SplinePatch& patch, Point3 origin) {
    constexpr double kNode[5] = {-0.9061798459386640, -0.5384693101056831, 0.0, 0.5384693101056831, 0.9061798459386640};
    constexpr double kWeight[5] = {0.2369268850561891, 0.4786286704993665, 0.5688888888888889, 0.4786286704993665,
                                   0.2369268850561891};
    struct Node {
        CubicBasis::Values b;
        double weight;
    };
    const auto nodes = [&](const CubicBasis& basis) {
        std::vector<Node> out;
        for (std::size_t s = 0; s + 1 < basis.breaks().size(); ++s) {
            const double a = basis.breaks()[s], h = basis.breaks()[s + 1] - a;
            for (int q = 0; q < 5; ++q) out.push_back({basis.at(a + 0.5 * h * (1.0 + kNode[q])), 0.5 * h * kWeight[q]});
        }
        return out;
    };
    const auto nu = nodes(patch.u), nv = nodes(patch.v);
    double volume = 0.0;
    for (const auto& b : nv) {
        double row = 0.0;
        for (const auto& a : nu) {
            const auto jet = patch.at(a.b, b.b);
            row += a.weight * dot(jet.p - origin, cross(jet.du, jet.dv));
        }
        volume += b.weight * row;
    }
    return volume / 3.0;
}

}  // namespace geom::skin
