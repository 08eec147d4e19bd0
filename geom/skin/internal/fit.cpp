// Arcs are fitted once and used by both their faces, so that neighbours meet exactly. Tangent continuity comes from
// outside: both neighbours turn their second row of control points so that the cross derivative along the arc is at
// right angles to the field's own normal there. The correction is itself a spline along the arc, found by least
// squares, and the four sides of a face are swept a few times because they share the corner's twist point.
//
// Least squares on a grid of samples is separable (Eck, Hoppe 1996; Ma, Kruth 1995): X = (Au'Au)^-1 Au' R Av
// (Av'Av)^-1.
#include "geom/skin/internal/fit.h"

#include "geom/skin/internal/flats.h"

#include <Eigen/Cholesky>

#include <algorithm>
#include <cmath>

namespace geom::skin {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

constexpr int kCurveSamples = 4, kFaceSamples = 3, kRowSamples = 4, kRowSweeps = 6;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

// A basis at its samples, as the sparse matrix it is: four entries a row.
class Sampled {
public:
    Sampled(const CubicBasis& basis, int per_span) : size_(basis.size()), t(basis.samples(per_span)) {
        for (const double x : t) values_.push_back(basis.at(x));
    }
    Index count() const { return static_cast<Index>(values_.size()); }
    Index size() const { return size_; }

    /// A X
    MatrixXd times(const MatrixXd& x) const {
        MatrixXd out(count(), x.cols());
        for (Index c = 0; c < x.cols(); ++c) {
            const double* in = x.data() + c * x.rows();
            double* o = out.data() + c * count();
            for (std::size_t i = 0; i < values_.size(); ++i) {
                const auto& b = values_[i];
                const double* p = in + b.first;
                o[i] = b.w[0] * p[0] + b.w[1] * p[1] + b.w[2] * p[2] + b.w[3] * p[3];
            }
        }
        return out;
    }
    /// A' X
    MatrixXd transposed_times(const MatrixXd& x) const {
        MatrixXd out = MatrixXd::Zero(size_, x.cols());
        for (Index c = 0; c < x.cols(); ++c) {
            const double* in = x.data() + c * x.rows();
            double* o = out.data() + c * size_;
            for (std::size_t i = 0; i < values_.size(); ++i) {
                const auto& b = values_[i];
                for (int q = 0; q < 4; ++q) o[b.first + q] += b.w[at(q)] * in[i];
            }
        }
        return out;
    }
    /// Factor of (A'A) without the first and last `fixed` columns.
    Eigen::LLT<MatrixXd> factor(int fixed) const {
        MatrixXd n = MatrixXd::Zero(size_, size_);
        for (const auto& b : values_)
            for (int p = 0; p < 4; ++p)
                for (int q = 0; q < 4; ++q) n(b.first + p, b.first + q) += b.w[at(p)] * b.w[at(q)];
        const Index inner = size_ - 2 * fixed;
        return Eigen::LLT<MatrixXd>(n.block(fixed, fixed, inner, inner));
    }

private:
    Index size_;
    std::vector<CubicBasis::Values> values_;

public:
    std::vector<double> t;
};

Vec3 row3(const MatrixXd& m, Index i) {
    return {m(i, 0), m(i, 1), m(i, 2)};
}
void set_row3(MatrixXd& m, Index i, Vec3 v) {
    m(i, 0) = v.x, m(i, 1) = v.y, m(i, 2) = v.z;
}

// Least squares for the control points that are not among the first and last `fixed`.
void fit_inner(MatrixXd& control, const Sampled& a, const MatrixXd& data, int fixed) {
    const Index inner = control.rows() - 2 * fixed;
    if (inner <= 0) return;
    MatrixXd held = control;
    held.middleRows(fixed, inner).setZero();
    const MatrixXd right = a.transposed_times(data - a.times(held));
    control.middleRows(fixed, inner) = a.factor(fixed).solve(right.middleRows(fixed, inner));
}

Vec3 without(Vec3 v, Vec3 n) {
    return v - n * dot(v, n);
}

void fit_arc(SplineCurve& arc, int index, const FitSource& source) {
    const bool ring = index < 4, sharp = ring && source.rim.radius_mm <= 0.0;
    const auto& fair = source.curves[at(index)];
    const Sampled a(arc.basis, kCurveSamples);
    MatrixXd data(a.count(), 3);
    for (Index i = 0; i < a.count(); ++i) {
        Point3 p = fair.at(a.t[static_cast<std::size_t>(i)]);
        if (i > 0 && i + 1 < a.count())
            p = ring ? source.field.project_to_ring(p, source.rim, 3) : source.field.project(p, 3);
        set_row3(data, i, p);
    }
    const Index n = a.size();
    arc.points = MatrixXd::Zero(n, 3);
    set_row3(arc.points, 0, fair.points.front());
    set_row3(arc.points, n - 1, fair.points.back());
    fit_inner(arc.points, a, data, 1);
    for (const bool last : {false, true}) {
        const Index end = last ? n - 1 : 0, next = last ? n - 2 : 1;
        const Point3 corner = row3(arc.points, end);
        const Vec3 normal = source.field.normal(corner);
        Vec3 tangent = without(row3(arc.points, next) - corner, normal);
        if (sharp) {
            const Vec3 along = unit(cross(normal, Vec3{0, 1, 0}));
            tangent = along * dot(tangent, along);
        }
        set_row3(arc.points, next, corner + tangent);
    }
    if (n > 4) fit_inner(arc.points, a, data, 2);
    if (sharp) arc.points.col(1).setConstant(source.rim.baffle_y_mm);
}

// A face's control points seen from one of its sides: row r, counted inward, point i along it.
struct SideView {
    SplinePatch& face;
    int side;
    Index along() const { return side == 0 || side == 2 ? face.points[0].rows() : face.points[0].cols(); }
    std::pair<int, int> index(Index i, int r) const {
        const int k = static_cast<int>(i), nu = static_cast<int>(face.points[0].rows()),
                  nv = static_cast<int>(face.points[0].cols());
        return side == 0   ? std::pair{k, r}
               : side == 2 ? std::pair{k, nv - 1 - r}
               : side == 3 ? std::pair{r, k}
                           : std::pair{nu - 1 - r, k};
    }
    Vec3 get(Index i, int r) const {
        const auto [a, b] = index(i, r);
        return face.control(a, b);
    }
    void set(Index i, int r, Vec3 p) const {
        const auto [a, b] = index(i, r);
        face.set_control(a, b, p);
    }
};

class RowTurner {
public:
    RowTurner(SplinePatch& face, int side, const FitSource& source)
        : view_{face, side},
          sampled_(side == 0 || side == 2 ? face.u : face.v, kRowSamples),
          factor_(sampled_.factor(1)) {
        const MatrixXd border = sampled_.times(row(0));
        for (Index i = 0; i < border.rows(); ++i) normals_.push_back(source.field.normal(row3(border, i)));
    }
    void turn() {
        const MatrixXd inner = row(1), step = sampled_.times(inner - row(0));
        MatrixXd wanted(step.rows(), 3);
        for (Index i = 0; i < step.rows(); ++i) {
            const Vec3 n = normals_[static_cast<std::size_t>(i)];
            set_row3(wanted, i, n * -dot(row3(step, i), n));
        }
        const MatrixXd right = sampled_.transposed_times(wanted);
        const MatrixXd x = factor_.solve(right.middleRows(1, right.rows() - 2));
        for (Index i = 1; i + 1 < inner.rows(); ++i) view_.set(i, 1, row3(inner, i) + row3(x, i - 1));
    }

private:
    MatrixXd row(int r) const {
        MatrixXd m(view_.along(), 3);
        for (Index i = 0; i < m.rows(); ++i) set_row3(m, i, view_.get(i, r));
        return m;
    }
    SideView view_;
    Sampled sampled_;
    Eigen::LLT<MatrixXd> factor_;
    std::vector<Vec3> normals_;
};

void fit_face(SplinePatch& face, int piece, const FaceNet& net, const FitSource& source) {
    const auto sides = piece_sides(piece);
    const auto side_breaks = [&](std::size_t s) {
        const auto b = net.breaks_of(sides[s].arc);
        return sides[s].reversed ? reversed_breaks(b) : b;
    };
    face.u = CubicBasis(side_breaks(0));
    face.v = CubicBasis(side_breaks(3));
    for (auto& m : face.points) m = MatrixXd::Zero(face.u.size(), face.v.size());
    for (int s = 0; s < 4; ++s) {
        const auto& arc = net.arcs[at(sides[at(s)].arc)];
        const SideView view{face, s};
        for (Index i = 0; i < view.along(); ++i)
            view.set(i, 0, arc.control(static_cast<int>(sides[at(s)].reversed ? view.along() - 1 - i : i)));
    }
    const Sampled au(face.u, kFaceSamples), av(face.v, kFaceSamples);
    std::array<MatrixXd, 3> data;
    for (std::size_t c = 0; c < 3; ++c) data[c] = av.times(au.times(face.points[c]).transpose()).transpose();
    for (Index j = 1; j + 1 < av.count(); ++j)
        for (Index i = 1; i + 1 < au.count(); ++i) {
            const Point3 p = source.field.project(
                source.grids[at(piece)].at(au.t[static_cast<std::size_t>(i)], av.t[static_cast<std::size_t>(j)]), 2);
            for (std::size_t c = 0; c < 3; ++c) data[c](i, j) = p[c];
        }
    const auto solve = [&](int fixed) {
        const Index nu = au.size() - 2 * fixed, nv = av.size() - 2 * fixed;
        if (nu <= 0 || nv <= 0) return;
        const auto fu = au.factor(fixed), fv = av.factor(fixed);
        for (std::size_t c = 0; c < 3; ++c) {
            MatrixXd held = face.points[c];
            held.block(fixed, fixed, nu, nv).setZero();
            const MatrixXd rest = data[c] - av.times(au.times(held).transpose()).transpose();
            const MatrixXd right = av.transposed_times(au.transposed_times(rest).transpose());  // nv x nu
            const MatrixXd x = fu.solve(MatrixXd(right.block(fixed, fixed, nv, nu).transpose()));
            face.points[c].block(fixed, fixed, nu, nv) = fv.solve(MatrixXd(x.transpose())).transpose();
        }
    };
    solve(1);
    std::vector<RowTurner> turners;
    for (int s = 0; s < 4; ++s)
        if (sides[at(s)].arc >= 4 || source.rim.radius_mm > 0.0) turners.emplace_back(face, s, source);
    for (int sweep = 0; sweep < kRowSweeps; ++sweep)
        for (auto& t : turners) t.turn();
    solve(2);
}

}  // namespace

void place_first_knots(FaceNet& net, const FitSource& source, double widest_mm, double most_control_points) {
    constexpr int kBins = 256;
    std::array<std::vector<double>, 3> density;
    for (auto& d : density) d.assign(kBins, 0.0);
    for (int piece = 0; piece < kPieces; ++piece) {
        const auto& grid = source.grids[at(piece)];
        std::vector<Vec3> normal(grid.points.size());
        for (std::size_t i = 0; i < normal.size(); ++i) normal[i] = source.field.normal(grid.points[i]);
        const auto sides = piece_sides(piece);
        for (const bool along_u : {true, false}) {
            const auto side = sides[along_u ? 0 : 3];
            const auto family = arc_family(side.arc);
            const bool flip = family.reversed != side.reversed;
            const int n = along_u ? grid.nu : grid.nv, m = along_u ? grid.nv : grid.nu;
            const std::size_t row = at(grid.nu + 1);
            for (int i = 0; i < n; ++i) {
                double wanted = 0.0;  // spans per unit of parameter
                for (int j = 0; j <= m; ++j) {
                    const std::size_t a = along_u ? at(j) * row + at(i) : at(i) * row + at(j),
                                      b = along_u ? a + 1 : a + row;
                    const Vec3 e = grid.points[b] - grid.points[a];
                    const double bend = std::abs(dot(normal[b] - normal[a], e)) / std::max(norm2(e), 0.25);
                    const double spacing = std::clamp(0.95 * std::pow(std::max(bend, 1e-6), -0.75), 2.2, widest_mm);
                    wanted = std::max(wanted, norm(e) * n / spacing);
                }
                for (int q = i * kBins / n; q < std::max((i + 1) * kBins / n, i * kBins / n + 1); ++q) {
                    double& d = density[at(family.family)][at(flip ? kBins - 1 - q : q)];
                    d = std::max(d, wanted);
                }
            }
        }
    }
    std::array<double, 3> total{};
    for (std::size_t f = 0; f < 3; ++f) {
        auto& d = density[f];
        for (int round = 0; round < 4; ++round) {  // neighbouring spans should not differ much in width
            std::vector<double> s = d;
            for (std::size_t i = 0; i < d.size(); ++i)
                s[i] = std::max(d[i], 0.5 * (d[i > 0 ? i - 1 : 0] + d[std::min(i + 1, d.size() - 1)]));
            d.swap(s);
        }
        for (const double x : d) total[f] += x / kBins;
    }
    // A wild surface must leave room for refinement.
    const double wanted = 2.0 * total[2] * (total[0] + total[1]) + total[0] * total[1];
    const double scale = wanted > most_control_points ? std::sqrt(most_control_points / wanted) : 1.0;
    for (std::size_t f = 0; f < 3; ++f) {
        const auto& d = density[f];
        const int spans = std::max(4, static_cast<int>(std::ceil(scale * total[f])));
        std::vector<double> breaks{0.0};
        double sum = 0.0;
        for (std::size_t i = 0; i < d.size(); ++i) {
            const double more = d[i] / kBins;
            while (static_cast<int>(breaks.size()) < spans &&
                   sum + more >= total[f] * static_cast<double>(breaks.size()) / spans) {
                const double part = (total[f] * static_cast<double>(breaks.size()) / spans - sum) / more;
                breaks.push_back((static_cast<double>(i) + part) / kBins);
            }
            sum += more;
        }
        breaks.push_back(1.0);
        net.family_breaks[f] = std::move(breaks);
    }
}

void fit_net(FaceNet& net, const FitSource& source) {
    for (int a = 0; a < kArcs; ++a) {
        net.arcs[at(a)].basis = CubicBasis(net.breaks_of(a));
        fit_arc(net.arcs[at(a)], a, source);
        snap_arc(net.arcs[at(a)], a < 4 && source.rim.radius_mm <= 0.0, source);
    }
    for (int p = 0; p < kPieces; ++p) {
        fit_face(net.faces[at(p)], p, net, source);
        snap_face(net.faces[at(p)], source);
    }
    if (source.rim.radius_mm > 0.0) fit_collar(net, source);
}

void fit_collar(FaceNet& net, const FitSource& source) {
    const double r = source.rim.radius_mm;
    const Vec3 plane_normal{0, -1, 0};
    struct Section {
        std::array<Point3, 4> control;  // of the arc from the rim to the ring
    };
    const auto section_at = [&](Point3 ring) {
        const Vec3 side = source.field.normal(ring);
        const double c = std::clamp(dot(side, plane_normal), -0.98, 0.98);
        const double reach = 4.0 / 3.0 * std::tan(std::acos(c) / 4.0) * r;
        Point3 rim = ring - side * r;
        rim.y = source.rim.baffle_y_mm;
        return Section{
            {rim, rim + unit(side - plane_normal * c) * reach, ring + unit(plane_normal - side * c) * reach, ring}};
    };
    net.has_collar = true;
    for (int k = 0; k < 4; ++k) {
        const auto& ring = net.arcs[at(ring_arc(k))];
        const Sampled a(ring.basis, kCurveSamples);
        std::array<MatrixXd, 4> data;
        for (auto& m : data) m.resize(a.count(), 3);
        for (Index i = 0; i < a.count(); ++i) {
            const Section s = section_at(ring.at(a.t[static_cast<std::size_t>(i)]));
            for (std::size_t q = 0; q < 4; ++q) set_row3(data[q], i, s.control[q]);
        }
        auto& collar = net.collars[at(k)];
        collar.u = ring.basis;
        collar.v = CubicBasis({0.0, 1.0});
        for (auto& m : collar.points) m.resize(ring.basis.size(), 4);
        for (int q = 0; q < 4; ++q) {
            MatrixXd control = ring.points;
            if (q < 3) {
                control.setZero();
                control.row(0) = data[at(q)].row(0);
                control.row(control.rows() - 1) = data[at(q)].row(a.count() - 1);
                fit_inner(control, a, data[at(q)], 1);
            }
            if (q < 2) control.col(1).setConstant(source.rim.baffle_y_mm);
            if (q == 0) net.rim_arcs[at(k)] = {ring.basis, control};
            for (std::size_t c = 0; c < 3; ++c) collar.points[c].col(q) = control.col(static_cast<Index>(c));
        }
        auto& corner = net.corner_arcs[at(k)];
        corner.basis = collar.v;
        corner.points.resize(4, 3);
        for (int q = 0; q < 4; ++q) corner.set_control(q, collar.control(0, q));
    }
}

}  // namespace geom::skin
